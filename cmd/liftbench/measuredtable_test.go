//go:build linux

// One table of what things take, beside others at the same task. By hand.

package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"liftbench/cmd/liftbench/settings"
	"liftbench/sections/score"
)

// TestMeasuredTable prints tables of DEVELOPERS.md. It takes some minutes and
// 2 GB of disk: LIFTBENCH_TABLE=1.
func TestMeasuredTable(t *testing.T) {
	if os.Getenv("LIFTBENCH_TABLE") == "" {
		t.SkipNow()
	}
	dir := t.TempDir()
	var out strings.Builder
	row := func(format string, args ...any) {
		fmt.Fprintf(&out, format+"\n", args...)
		t.Logf(format, args...) // as it comes
	}
	t.Cleanup(func() { fmt.Println(out.String()) })
	load, _ := os.ReadFile("/proc/loadavg")
	row("%s, %d cores, load before: %s", runtime.GOARCH, runtime.NumCPU(), bytes.TrimSpace(load))

	row("\n| `run` | log | wall time | user time | peak memory | s/h | MiB/h |\n| --- | ---: | ---: | ---: | ---: | ---: | ---: |")
	hour := measureRuns(t, dir, row)
	row("\n| decoding the same %s | time |\n| --- | ---: |", megabytes(hour))
	ours := measureProcess(t, os.Args[0], "fixes", hour)
	row("| `liftbench fixes`, the whole process, JSON out | %.2f s |", ours.wall.Seconds())
	if path, err := exec.LookPath("gpsdecode"); err != nil {
		outside(t, "gpsdecode (Debian gpsd-clients)")
	} else {
		row("| `gpsdecode`, the same | %.2f s |", measureProcess(t, path, "-j", hour).wall.Seconds())
	}
	bench := func(dir, which, log string) string {
		cmd := exec.Command("go", "test", "-run", "^$", "-bench", which, "-cpu", "1", "-benchtime", "200ms", ".")
		cmd.Dir, cmd.Env = dir, append(os.Environ(), "LIFTBENCH_LOG="+log)
		text, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %s", err, text)
		}
		return string(text)
	}
	figure := func(text, name, unit string) float64 {
		m := regexp.MustCompile(`(?m)^Benchmark` + name + `\s.*?([0-9.]+) ` + unit + `\b`).FindStringSubmatch(text)
		if m == nil {
			t.Fatalf("no %s of %s in %s", unit, name, text)
		}
		x, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	text := bench("../../nmea/testdata/reference", "Nmea", hour)
	row("| one sentence: scan, checksum, fields | %.0f ns |", figure(text, "Nmea", "ns/sentence"))
	row("| … go-nmea, already cut into strings | %.0f ns |", figure(text, "GoNmea", "ns/sentence"))

	row("\n| vertices | share of a section, at a border | three points by orb/planar | three points by GEOS, prepared |\n| ---: | ---: | ---: | ---: |")
	text = bench("../../sections/field", "Share/radius=180m/.*/section=3m/border|PlanarContains|GEOSContains", "")
	for _, n := range []string{"20", "200", "2000", "20000"} {
		row("| %s | %.0f ns | %.0f ns | %.0f ns |", n, figure(text, "Share/radius=180m/vertices="+n+"/section=3m/border", "ns/op"),
			figure(text, "PlanarContains/vertices="+n, "ns/op"), figure(text, "GEOSContains/vertices="+n, "ns/question"))
	}

	u, err := new(settings.Selection).Load()
	if err != nil {
		t.Fatal(err)
	}
	o, s := sweptBy(t, u)
	geos := s.ask(t, 0)
	began := time.Now()
	if _, err := score.Run(o.Track, s.gate, o.Changes, nil, score.Options{}); err != nil {
		t.Fatal(err)
	}
	row("\n| the demo's ground | time |\n| --- | ---: |\n| all scores, union of what was worked among them | %.1f ms |", 1e3*time.Since(began).Seconds())
	row("| the union alone by GEOS (`unary_union`), of quadrilaterals every 0.3 s | %.0f ms |", 1e3*geos.UnionS)
	load, _ = os.ReadFile("/proc/loadavg")
	row("\nload after: %s", bytes.TrimSpace(load))
}

// measureRuns measures run on drives of about 1, 10 and 100 hours, on fields
// as many times as wide, and returns the shortest log.
func measureRuns(t *testing.T, dir string, row func(string, ...any)) (shortest string) {
	const from = "../../testdata/ten-hours/"
	read := func(name string) string {
		data, err := os.ReadFile(from + name)
		if err != nil {
			t.Fatal(err)
		}
		return string(data)
	}
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	machine := read("machine.yaml")
	write("machine.yaml", machine)
	few := strings.Replace(machine, "sections: 24", "sections: 6", 1)
	many := strings.NewReplacer("sections: 24", "sections: 96", "count: 24", "count: 96", "spacing_m: 0.25", "spacing_m: 0.0625",
		"tool_width_m: 0.18", "tool_width_m: 0.045").Replace(machine)
	machines := []struct{ sections, file string }{{"6", write("6.yaml", few)}, {"24", filepath.Join(dir, "machine.yaml")}, {"96", write("96.yaml", many)}}
	for _, d := range []struct{ name, east string }{{"1", "10.9316400"}, {"10", "10.9406000"}, {"100", "11.0362000"}} {
		fieldFile := write("field.geojson", strings.ReplaceAll(read("field.geojson"), "10.9394248", d.east))
		scenario := write("scenario.yaml", read("scenario.yaml"))
		log := filepath.Join(dir, d.name+".nmea")
		measureProcess(t, os.Args[0], "drive", "--out", log, scenario)
		if shortest == "" {
			shortest = log
		}
		for _, m := range machines {
			p := measureProcess(t, os.Args[0], "run", "--machine", m.file, "--field", fieldFile, "--headland", "24", "--row-bearing", "0", log)
			driven := regexp.MustCompile(`(?m)^\s*drive\s+(\S+),`).FindStringSubmatch(p.stdout)
			if driven == nil {
				t.Fatalf("no duration in %s", p.stdout)
			}
			long, err := time.ParseDuration(driven[1])
			if err != nil {
				t.Fatal(err)
			}
			h := long.Hours()
			row("| %.1f h, %s sections | %s | %.2f s | %.2f s | %.0f MiB | %.3f | %.1f |", h, m.sections, megabytes(log),
				p.wall.Seconds(), p.user.Seconds(), p.peakMiB, p.wall.Seconds()/h, p.peakMiB/h)
		}
	}
	return shortest
}

func megabytes(file string) string {
	info, err := os.Stat(file)
	if err != nil {
		return "?"
	}
	return fmt.Sprintf("%.0f MB", float64(info.Size())/1e6)
}

// measured is what a process took.
type measured struct {
	wall, user time.Duration // user: of all cores
	peakMiB    float64
	stdout     string
}

// measureProcess runs a program to its end; the test binary is liftbench.
func measureProcess(t *testing.T, name string, args ...string) measured {
	t.Helper()
	cmd := exec.Command(name, args...)
	cmd.Env = append(os.Environ(), asVariable+"=liftbench")
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	if filepath.Base(name) == "gpsdecode" {
		f, err := os.Open(args[len(args)-1])
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		cmd.Args, cmd.Stdin = cmd.Args[:len(cmd.Args)-1], f
	}
	began := time.Now()
	if err := cmd.Run(); err != nil {
		t.Fatalf("%v: %v: %s", cmd.Args, err, stderr.String())
	}
	m := measured{wall: time.Since(began), user: cmd.ProcessState.UserTime(), stdout: stdout.String()}
	if usage, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
		m.peakMiB = float64(usage.Maxrss) / 1024
	}
	return m
}
