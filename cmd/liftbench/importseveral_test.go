package main

import (
	"bytes"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// TestImportSeveral: the logs of three loggers that ran one after the other, with some
// seconds in two of them, are the day as it was; a bus likewise; what is not one day is
// listed and refused.
func TestImportSeveral(t *testing.T) {
	t.Chdir(t.TempDir())
	write := func(name string, lines [][]byte) {
		if err := os.WriteFile(name, bytes.Join(lines, nil), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	ok := func(args ...string) (stdout, stderr string) {
		t.Helper()
		status, stdout, stderr := command("", args...)
		if status != 0 {
			t.Fatal(args, stderr)
		}
		return stdout, stderr
	}
	positions := func(name string) map[string][2]float64 { // by time
		stdout, _ := ok("fixes", "--format", "csv", name)
		at := map[string][2]float64{}
		for _, row := range strings.Split(strings.TrimSpace(stdout), "\n")[1:] {
			f := strings.Split(row, ",")
			lat, err1 := strconv.ParseFloat(f[2], 64)
			lon, err2 := strconv.ParseFloat(f[3], 64)
			if err1 != nil || err2 != nil {
				t.Fatal(row)
			}
			at[f[0]] = [2]float64{lat, lon}
		}
		return at
	}
	// The receiver's sentences: the same positions at the same times.
	ok("drive", "--out", "day.nmea")
	raw, err := os.ReadFile("day.nmea")
	if err != nil {
		t.Fatal(err)
	}
	lines := bytes.SplitAfter(raw, []byte("\n"))
	n := len(lines)
	for n%3 != 0 || !bytes.Contains(lines[n/3], []byte("GGA")) { // each begins with an epoch
		n--
	}
	write("a.nmea", lines[:n/3])
	write("b.nmea", lines[n/3-300:2*n/3])
	write("c.nmea", lines[2*n/3:])
	stdout, _ := ok("import", "c.nmea", "a.nmea", "b.nmea", "--out", "joined")
	if !strings.Contains(stdout, "3 of 3 recordings of one day, a log of NMEA sentences") || !strings.Contains(stdout, "positions of b.nmea up to") {
		t.Errorf("said %s", stdout)
	}
	got, want := positions("joined/day.nmea"), positions("day.nmea")
	if d := len(want) - len(got); d < 0 || d > 3 { // epochs that the cuts tore
		t.Errorf("%d positions; the whole has %d", len(got), len(want))
	}
	for at, p := range got {
		const stepDeg = 2e-10 // of the last decimal
		if w := want[at]; math.Abs(p[0]-w[0]) > stepDeg || math.Abs(p[1]-w[1]) > stepDeg {
			t.Fatalf("%s: %v; the whole has %v", at, p, w)
		}
	}

	// The bus, with work states: diagnosed as whole.
	ok("drive", "--out", "candump=bus.log")
	if raw, err = os.ReadFile("bus.log"); err != nil {
		t.Fatal(err)
	}
	lines = bytes.SplitAfter(raw, []byte("\n"))
	n = len(lines)
	write("early.log", lines[:n/2+4000])
	write("late.log", lines[n/2:])
	ok("import", "--out", "whole", "bus.log")
	ok("import", "--out", "halves", "late.log", "early.log")
	states := func(dir string) int {
		b, err := os.ReadFile(dir + "/states.csv")
		if err != nil {
			t.Fatal(err)
		}
		return bytes.Count(b, []byte("\n"))
	}
	if a, b := states("halves"), states("whole"); a != b {
		t.Errorf("%d rows of states; the whole has %d", a, b)
	}
	if a, b := len(positions("halves/day.nmea")), len(positions("whole/day.nmea")); a < b-2 || a > b {
		t.Errorf("%d positions; the whole has %d", a, b)
	}

	// Another day.
	ok("check", "--write-demo", "demo")
	text, err := os.ReadFile("demo/scenario.yaml")
	if err != nil {
		t.Fatal(err)
	}
	write("demo/scenario.yaml", [][]byte{bytes.Replace(text, []byte("2026-05-12T"), []byte("2026-05-14T"), 1)})
	ok("drive", "--out", "candump=other.log", "demo/scenario.yaml")
	status, _, stderr := command("", "import", "--out", "x", "bus.log", "other.log")
	if status != 2 || !strings.Contains(stderr, "not one day of one machine") || !strings.Contains(stderr, "import them one by one") || strings.Count(stderr, "\n") < 4 {
		t.Errorf("status %d, %s", status, stderr)
	}
}
