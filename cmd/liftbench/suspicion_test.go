// Input that contradicts the drive: what is most likely wrong is said first, in the same
// words by every command and the page.

package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/page"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/web"
)

// unpackedDay writes the bad day, its log unpacked, and returns the folder.
func unpackedDay(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	keepBadDay(t, dir)
	in, err := files.OpenLog(filepath.Join(dir, "day.nmea.gz"), files.NMEALog, nil, io.Discard)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	packed, err := gzip.NewReader(in)
	if err != nil {
		t.Fatal(err)
	}
	log, err := io.ReadAll(packed)
	if err != nil {
		t.Fatal(err)
	}
	keep(t, filepath.Join(dir, "day.nmea"), log)
	return dir
}

func keep(t *testing.T, file string, data []byte) {
	t.Helper()
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
}

// cutMinutes leaves so many decimals to the minutes of every position.
func cutMinutes(t *testing.T, log []byte, decimals int) []byte {
	t.Helper()
	minutes := regexp.MustCompile(`(\d{4,5}\.\d{` + string(rune('0'+decimals)) + `})\d*,([NSEW])`)
	var out []byte
	for line := range bytes.Lines(log) {
		head, _, ok := bytes.Cut(bytes.TrimSpace(line), []byte("*"))
		if i := bytes.IndexByte(head, '$'); ok && i >= 0 {
			body := minutes.ReplaceAll(head[i+1:], []byte("$1,$2"))
			sum := byte(0)
			for _, b := range body {
				sum ^= b
			}
			line = fmt.Appendf(nil, "%s$%s*%02X\r\n", head[:i], body, sum)
		}
		out = append(out, line...)
	}
	return out
}

func TestSuspicion(t *testing.T) {
	dir := unpackedDay(t)
	at := func(name string) string { return filepath.Join(dir, name) }
	read := func(name string) string {
		data, err := os.ReadFile(at(name))
		if err != nil {
			t.Fatal(err)
		}
		return string(data)
	}
	// Its first third says the same.
	log := read("day.nmea")
	third := strings.LastIndexByte(log[:len(log)/3], '\n') + 1
	keep(t, at("day.nmea"), []byte(log[:third]))
	field, _ := edit(t, read("field.geojson"), `"row_bearing_deg": 12}`, `"row_bearing_deg": -12}`)
	keep(t, at("turned.geojson"), []byte(field))
	keep(t, at("elsewhere.geojson"), []byte(strings.NewReplacer("52.059", "52.066", "52.060", "52.067", "52.061", "52.068", "52.062", "52.069").Replace(read("field.geojson"))))
	keep(t, at("coarse.nmea"), cutMinutes(t, []byte(read("day.nmea")), 3))
	keep(t, at("idle.csv"), []byte("time,section,setpoint,actual\n2026-05-12T08:00:00Z,6,0,0\n"))
	machine, _ := edit(t, read("machine.yaml"), "controller:", "controller:\n  max_age_ms: 101\n  hold_ms: 0")
	keep(t, at("young.yaml"), []byte(machine))

	for _, c := range []struct {
		name, machine, field, log, states string
		want                              string // in the first sentences; a pattern
		wrong                             bool   // status 2
	}{
		{"row bearing", "machine.yaml", "turned.geojson", "day.nmea", "", `^Nothing was worked: the rows of beets are said to run at 348\.0°, but (9\d|100) % of the \d+ m driven there in passes ran at 1[12]\.\d°\. Row bearing off by 24° \(row_tolerance_deg is 10\)\. Write 1[12]\.\d for it`, true},
		{"position digits", "machine.yaml", "field.geojson", "coarse.nmea", "", `^Of \d+ lifts and drops \d+ were missed, and \d+ were extra: the positions have 3 decimals of a minute and so come in steps of 1\.9 m; lifts and drops need steps of 2 cm or less\.`, true},
		{"field elsewhere", "machine.yaml", "elsewhere.geojson", "day.nmea", "", `^Nothing was worked: the drive comes no nearer to the field than \d\d\d m; is it the right field, or the right day\?`, true},
		{"no work recorded", "machine.yaml", "field.geojson", "day.nmea", "idle.csv", `^Nothing was worked: the recorded work states say of no section that it was in work`, false},
		{"age", "young.yaml", "field.geojson", "day.nmea", "", `^Nothing was worked: a position comes every 100 ms and is 100 ms old on arrival, but controller\.max_age_ms and hold_ms are 101 and 0, so the fail-safe lifts between two positions\. Set max_age_ms above \d+\.`, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			out := t.TempDir()
			args := []string{"run", "--machine", at(c.machine), "--field", at(c.field), "--out", out, at(c.log)}
			if c.states != "" {
				args = append(args, "--states", at(c.states))
			}
			want := regexp.MustCompile(c.want)
			check := func(command, stdout, stderr string, status int) {
				t.Helper()
				said := strings.Join(strings.Fields(stdout), " ")
				if !want.MatchString(said) {
					t.Errorf("%s says first:\n%.500s\nwant %s\n%s", command, stdout, c.want, stderr)
				}
				if (status == 2) != c.wrong || status != 0 && status != 2 {
					t.Errorf("%s: status %d: %s", command, status, stderr)
				}
			}
			status, stdout, stderr := command("", args...)
			check("run", stdout, stderr, status)
			var s struct{ Suspicion string }
			data, err := os.ReadFile(filepath.Join(out, "summary.json"))
			if err != nil || json.Unmarshal(data, &s) != nil || !want.MatchString(s.Suspicion) {
				t.Errorf("summary.json: %q, %v", s.Suspicion, err)
			}
			html, err := os.ReadFile(filepath.Join(out, "report.html"))
			if err != nil || !bytes.Contains(html, []byte(`<p class="answer">`+strings.SplitN(s.Suspicion, ":", 2)[0])) {
				t.Errorf("report.html does not begin with it: %v", err)
			}

			scenario := "machine: " + c.machine + "\nfield: " + c.field + "\nlog: " + c.log + "\n"
			if c.states != "" {
				scenario += "states: " + c.states + "\n"
			}
			keep(t, at("scenario.yaml"), []byte(scenario))
			status, stdout, stderr = command("", "check", at("scenario.yaml"))
			_, warnings, _ := strings.Cut(stdout, "\nWarnings\n  - ")
			check("check", warnings, stderr, status)

			bench, err := page.New(&settings.Selection{})
			if err != nil {
				t.Fatal(err)
			}
			upload := func(name string) web.Upload { return web.Upload{Name: name, Data: []byte(read(name))} }
			ask := web.Ask{Files: map[string]web.Upload{"machine": upload(c.machine), "field": upload(c.field), "log": upload(c.log)}}
			if c.states != "" {
				ask.Files["states"] = upload(c.states)
			}
			d, err := bench.Run(context.Background(), &ask)
			if err != nil || len(d.Warnings) == 0 || !want.MatchString(d.Warnings[0]) {
				t.Errorf("page: %v", err)
			}
		})
	}

	// A day that is diagnosed says it too.
	for _, c := range []struct{ field, log, want string }{
		{"turned.geojson", "day.nmea", "Row bearing off by 24°"},
		{"field.geojson", "coarse.nmea", "steps of 1.9 m"},
	} {
		status, stdout, stderr := command("", "diagnose", "--machine", at("machine.yaml"), "--field", at(c.field), "--states", at("day.states.csv"), at(c.log))
		if said := strings.Join(strings.Fields(stdout+stderr), " "); status != 2 || !strings.Contains(said, c.want) {
			t.Errorf("diagnose, %s, %s: status %d, %s\n%.600s", c.field, c.log, status, stderr, stdout)
		}
	}
}

// A scenario that asks for coarse positions gets them, with a warning.
func TestSuspicionOfGeneratedDrives(t *testing.T) {
	dir := t.TempDir()
	if status, _, stderr := command("", "check", "--write-demo", dir); status != 0 {
		t.Fatal(stderr)
	}
	file := filepath.Join(dir, "coarse.yaml")
	scenario, _ := edit(t, demoText(t, "scenario.yaml"), "  noise_cm: 1.4", "  noise_cm: 1.4\n  minute_digits: 3")
	scenario, _, _ = strings.Cut(scenario, "limits:")
	keep(t, file, []byte(scenario))
	status, stdout, stderr := command("", "run", file)
	if status != 0 || !strings.Contains(strings.Join(strings.Fields(stdout), " "), "were extra: the positions have 3 decimals of a minute and so come in steps of 1.9 m") {
		t.Errorf("status %d: %s\n%.400s", status, stderr, stdout)
	}
}
