// Days whose log breaks off, and days with a position that is nowhere near.

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A gzipped log that is cut short or damaged is read up to there by every command
// that takes one, with a warning; a page, by the same code, shows it too.
func TestLogIncomplete(t *testing.T) {
	t.Run("cut short", func(t *testing.T) {
		incompleteLog(t, "cut short", func(day []byte) []byte { return day[:len(day)*3/4] })
	})
	t.Run("damaged", func(t *testing.T) {
		incompleteLog(t, "damaged", func(day []byte) []byte {
			for i := len(day) * 3 / 4; i < len(day)*3/4+512; i++ { // a sector of a card
				day[i] = 0xff
			}
			return day
		})
	})
}

func incompleteLog(t *testing.T, what string, spoil func(day []byte) []byte) {
	dir := t.TempDir()
	t.Chdir(dir)
	keepBadDay(t, ".")
	whole, err := os.ReadFile("day.nmea.gz")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("day.nmea.gz", spoil(whole), 0o644); err != nil {
		t.Fatal(err)
	}
	want := "day.nmea.gz: gzip data is " + what + " after line "
	files := []string{"--machine", "machine.yaml", "--field", "field.geojson"}
	for _, args := range [][]string{
		append([]string{"run", "--out", "run"}, append(files, "day.nmea.gz")...),
		append([]string{"diagnose", "--out", "why"}, append(files, "--states", "day.states.csv", "day.nmea.gz")...),
		append([]string{"live", "--in", "file:day.nmea.gz", "--pace", "1000000", "--out", "line=file:lines.txt"}, files...),
		append([]string{"run", "--to", "file:played.nmea", "--pace", "1000000"}, append(files, "day.nmea.gz")...),
		{"fixes", "day.nmea.gz"},
	} {
		status, stdout, stderr := command("", args...)
		said := strings.Join(strings.Fields(stdout+stderr), " ")
		if status != 0 || !strings.Contains(said, want) {
			t.Errorf("%q: exit status %d without the warning: %.2000s", args, status, said)
		}
	}
	for _, name := range []string{"run/report.html", "why/diagnosis.html"} {
		if data, err := os.ReadFile(filepath.FromSlash(name)); err != nil || !strings.Contains(string(data), want) {
			t.Errorf("%s lacks the warning (%v)", name, err)
		}
	}
	if info, err := os.Stat("lines.txt"); err != nil || info.Size() == 0 {
		t.Errorf("live decided nothing on what was there: %v", err)
	}
}

// Positions far from the field are no part of the day: the first is named by its
// line, with what to do. Where all are, the day is refused in the same way.
func TestPositionsFarAway(t *testing.T) {
	_, lines := strayLog(t)
	north := func(line string) string { // 9 degrees further
		at := strings.IndexByte(line, '$')
		field := map[string]int{"GGA,": 2, "RMC,": 3}[line[at+3:at+7]]
		if field == 0 {
			return line
		}
		body, _, _ := strings.Cut(line[at:], "*")
		f := strings.Split(body, ",")
		var latitude float64
		fmt.Sscanf(f[field], "%f", &latitude)
		f[field] = fmt.Sprintf("%.6f", latitude+900)
		return line[:at] + summed(strings.Join(f, ","))
	}
	run := func(first, end int) (status int, said string) {
		day := append([]string{}, lines...)
		for i := first; i < end; i++ {
			day[i] = north(day[i])
		}
		if err := os.WriteFile("far.nmea", []byte(strings.Join(day, "")), 0o644); err != nil {
			t.Fatal(err)
		}
		status, stdout, stderr := command("", "run", "--machine", "machine.yaml", "--field", "field.geojson", "far.nmea")
		return status, strings.Join(strings.Fields(stdout+stderr), " ")
	}
	if _, said := run(0, 0); strings.Contains(said, "km from the field") {
		t.Errorf("a sound day: %s", said)
	}
	at := nthRMC(lines, 2000) // its GGA is the line before it
	for sentences, counted := range map[int]string{1: "km from the field; not scored.", 2: "km from the field, the first of 2 sentences that are; not scored.", 200: "the first of 200 sentences"} {
		status, said := run(at, at+3*sentences/2) // RMC, VTG, GGA, RMC …
		want := fmt.Sprintf("far.nmea:%d: latitude 61.", at+1)
		if status != 0 || !strings.Contains(said, want) || !strings.Contains(said, counted) || !strings.Contains(said, "Look at that line") {
			t.Errorf("%d sentences far away: exit status %d, %s\nwant %q and %q", sentences, status, said, want, counted)
		}
	}
	status, said := run(0, len(lines))
	if want := "far.nmea: the drive comes no nearer to the field than "; status != 2 || !strings.Contains(said, want) || !strings.Contains(said, "(line 1: latitude 61.") {
		t.Errorf("all far away: exit status %d, %s", status, said)
	}
}
