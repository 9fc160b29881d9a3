// Days as machines record them, through the commands: task data and CAN traces.

package main

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/web"
	"liftbench/sections"
)

// recordedFile returns the path of a file of recorded data, or skips.
func recordedFile(t *testing.T, name string) string {
	t.Helper()
	return filepath.Join(recordings(t), name)
}

// columns returns some columns of CSV, by their names.
func columns(t *testing.T, csv string, names ...string) string {
	t.Helper()
	lines := strings.Split(strings.TrimSpace(csv), "\n")
	heads := strings.Split(lines[0], ",")
	var b strings.Builder
	for _, line := range lines {
		cells := strings.Split(line, ",")
		for _, name := range names {
			for i, h := range heads {
				if h == name {
					b.WriteString(cells[i] + ",")
				}
			}
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// TestTaskDataAndItsTraces: the same day as task data and on the bus gives the same
// positions and the same work; three forms of the trace give the same bytes.
func TestTaskDataAndItsTraces(t *testing.T) {
	zip := recordedFile(t, "taskdata/rows-32.zip")
	status, fixes, stderr := command("", "fixes", "--format", "csv", zip)
	if status != 0 || strings.Count(fixes, "\n") != 3634 || !strings.Contains(stderr, "77\n    changes from 2022-10-19 07:33:26 to 07:36:22 UTC, 0.21 ha; 54 on and 23 off") {
		t.Fatalf("status %d, %d lines, %s", status, strings.Count(fixes, "\n"), stderr)
	}
	var first string
	for _, name := range []string{"rows-32.candump.log", "rows-32.asc", "rows-32.blf"} {
		status, trace, stderr := command("", "fixes", "--format", "csv", recordedFile(t, "can/"+name))
		if status != 0 || !strings.Contains(stderr, "77 changes of work state, 54 on and 23 off") {
			t.Fatalf("%s: status %d, %s", name, status, stderr)
		}
		if first == "" {
			first = trace
		}
		if trace != first {
			t.Errorf("%s has other fixes than the log of candump", name)
		}
	}
	same := []string{"time", "lat", "lon", "quality", "speed_mps", "course_deg"}
	if columns(t, fixes, same...) != columns(t, first, same...) {
		t.Error("the positions of the task data are not those on the bus")
	}
}

// TestDiagnoseOfAStick types the one command that a technician types. The same day's
// switch-ons lie 0.99 ± 0.32 m inside the boundary, by a computation that shares nothing with
// this one (recorded data's notes): the report is of when the section was seen on, so that
// the mean may be later by a poll.
func TestDiagnoseOfAStick(t *testing.T) {
	zip := recordedFile(t, "taskdata/rows-32.zip")
	status, said, stderr := command("", "diagnose", zip)
	if status != 0 {
		t.Fatalf("status %d, %s", status, stderr)
	}
	for _, want := range []string{"32 sections, 12.19 m", "Usual values", "hydraulics those", "No zones are known"} {
		if !strings.Contains(strings.Join(strings.Fields(said), " "), want) {
			t.Errorf("%q is not in\n%s", want, said)
		}
	}
	late := regexp.MustCompile(`lateness, mean .*\+([0-9.]+) cm`).FindStringSubmatch(said)
	if late == nil {
		t.Fatal(said)
	}
	if cm, _ := strconv.ParseFloat(late[1], 64); cm < 80 || cm > 140 {
		t.Errorf("drops are %g cm late on average; want 99 and at most a poll more", cm)
	}

	// The same from plain files, but for the reminder of usual values, which stands in them.
	t.Chdir(t.TempDir())
	if status, out, stderr := command("", "import", "--out", "day", zip); status != 0 || !strings.Contains(out, "Next: liftbench diagnose day/day.yaml") {
		t.Fatalf("status %d, %s%s", status, out, stderr)
	}
	status, plain, stderr := command("", "diagnose", "day/day.yaml")
	if status != 0 {
		t.Fatalf("status %d, %s", status, stderr)
	}
	_, answer, _ := strings.Cut(said, "How late")
	if _, again, _ := strings.Cut(plain, "How late"); again != answer {
		t.Errorf("imported, it is diagnosed as\n%s\nand was\n%s", again, answer)
	}
	for _, name := range []string{"day.nmea", "states.csv", "machine.yaml", "field.geojson", "day.yaml", "day.html"} {
		data, err := os.ReadFile("day/" + name)
		if err != nil || len(data) == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
	// What a person changed is kept.
	if err := os.WriteFile("day/machine.yaml", []byte("changed"), 0o644); err != nil {
		t.Fatal(err)
	}
	if status, _, stderr := command("", "import", "--out", "day", zip); status != 2 || !strings.Contains(stderr, "machine.yaml") {
		t.Errorf("over a changed file: status %d, %s", status, stderr)
	}

	// A machine file that holds one block changes that block alone.
	if err := os.WriteFile("oil.yaml", []byte("hydraulics: {pump_l_min: 25}\ntool: {drawbar_m: 6}\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	status, said, stderr = command("", "diagnose", "--machine", "oil.yaml", zip)
	said = strings.Join(strings.Fields(said), " ")
	if status != 0 || strings.Contains(said, "hydraulics those") || strings.Contains(said, "drawbar_m") || !strings.Contains(said, "32 sections") {
		t.Errorf("with hydraulics given: status %d, %s%s", status, said, stderr)
	}
}

// TestFormIsToldByContent: names say nothing, gzip is unpacked, and standard input is
// read as well.
func TestFormIsToldByContent(t *testing.T) {
	var packed bytes.Buffer
	data, err := os.ReadFile(recordedFile(t, "can/rows-32.candump.log"))
	if err != nil {
		t.Fatal(err)
	}
	w := gzip.NewWriter(&packed)
	w.Write(data)
	w.Close()
	zip, err := os.ReadFile(recordedFile(t, "taskdata/rows-32.zip"))
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	for name, content := range map[string][]byte{"a.nmea": data, "b.zip": packed.Bytes(), "c.log": zip, "d.gz": packed.Bytes()[:packed.Len()/2]} {
		if err := os.WriteFile(name, content, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	_, want, _ := command("", "fixes", "a.nmea")
	for _, name := range []string{"b.zip", "-"} {
		if status, got, stderr := command(string(data), "fixes", name); status != 0 || got != want {
			t.Errorf("%s: status %d, %d bytes, want %d; %s", name, status, len(got), len(want), stderr)
		}
	}
	_, whole, _ := command("", "fixes", "--format", "csv", "a.nmea")
	status, part, stderr := command("", "fixes", "--format", "csv", "d.gz")
	if status != 0 || !strings.Contains(stderr, "left out: ") || strings.Count(part, "\n") < 1000 ||
		!strings.HasPrefix(columns(t, whole, "time", "lat", "lon"), columns(t, part, "time", "lat", "lon")) {
		t.Errorf("cut short: status %d, %d lines; %s", status, strings.Count(part, "\n"), stderr)
	}
	if status, _, stderr := command("", "fixes", "c.log"); status != 0 || !strings.Contains(stderr, "c.log: ISO 11783-10 task data") {
		t.Errorf("task data: status %d, %s", status, stderr)
	}
}

// TestSeveralTasks: where there are several, they are listed, and one can be taken.
func TestSeveralTasks(t *testing.T) {
	zip := recordedFile(t, "taskdata/three-operations.zip")
	status, _, stderr := command("", "diagnose", zip)
	if status != 2 || !strings.Contains(stderr, "choose with --task:") || !regexp.MustCompile(`TSK14 +2020-01-04 00:44:22 to 01:06:42 +1053 +1 +4\.34`).MatchString(stderr) {
		t.Errorf("status %d, %s", status, stderr)
	}
	status, fixes, stderr := command("", "fixes", "--format", "csv", "--task", "TSK14", zip)
	if status != 0 || strings.Count(fixes, "\n") != 1052 {
		t.Errorf("status %d, %d lines, %s", status, strings.Count(fixes, "\n"), stderr)
	}
	if status, _, stderr := command("", "fixes", "--sender", "3", zip); status != 2 || !strings.Contains(stderr, "no senders") {
		t.Errorf("status %d, %s", status, stderr)
	}
}

// TestUploadedStick drops a stick's zip into the page: it is judged as by the command, and
// a machine file beside it need hold no more than what is not in it.
func TestUploadedStick(t *testing.T) {
	data, err := os.ReadFile(recordedFile(t, "taskdata/rows-32.zip"))
	if err != nil {
		t.Fatal(err)
	}
	h := web.Handler(newTestBench(t).Web())
	for _, files := range [][][3]string{
		{{"log", "stick.zip", string(data)}},
		{{"log", "stick.zip", string(data)}, {"machine", "oil.yaml", "hydraulics: {pump_l_min: 25}\n"}},
	} {
		contentType, body := form(t, "", files...)
		w := askPage(h, "POST", "/api/run", contentType, body)
		var got struct {
			Simulated bool
			Warnings  []string
			Summary   struct {
				Drop struct{ Ideal int }
			}
		}
		if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != 200 {
			t.Fatalf("status %d, %v, %.500s", w.Code, err, w.Body)
		}
		said := strings.Join(got.Warnings, " ")
		if got.Simulated || !strings.Contains(said, "It is ISO 11783-10 task data.") || strings.Contains(said, "Usual values") == (len(files) == 2) {
			t.Errorf("simulated %v, %s", got.Simulated, said)
		}
	}
	contentType, body := form(t, "", [3]string{"log", "stick.zip", string(data[:len(data)/2])})
	if w := askPage(h, "POST", "/api/run", contentType, body); w.Code != 400 || !strings.Contains(w.Body.String(), "stick.zip") {
		t.Errorf("half a zip: status %d, %.300s", w.Code, w.Body)
	}
}

// delaysOf returns the medians in s of the times from commands to what tools did, both in order of time.
func delaysOf(told []sections.Setpoint, did []sections.WorkChange) (lifts, drops float64) {
	var delays [2][]float64
	for _, c := range did {
		way, toldNs := 0, int64(0)
		if c.On {
			way = 1
		}
		for _, s := range told {
			if s.Section == c.Section && s.On == c.On && s.DueNs <= c.TimeNs {
				toldNs = s.DueNs
			}
		}
		delays[way] = append(delays[way], float64(c.TimeNs-toldNs)*1e-9)
	}
	median := func(list []float64) float64 { slices.Sort(list); return list[len(list)/2] }
	return median(delays[0]), median(delays[1])
}

// TestExportedDrive writes the demo's drive as task data and as a bus trace, and reads
// both as a technician would: every lift and drop is where the bench had it.
func TestExportedDrive(t *testing.T) {
	t.Chdir(t.TempDir())
	for name, text := range map[string]string{"machine.yaml": demoText(t, "machine.yaml"), "field.geojson": demoText(t, "field.geojson")} {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	late := regexp.MustCompile(`lateness, mean +([+-][0-9]+) ms, [+-][0-9.]+ cm +([+-][0-9]+) ms`)
	for _, c := range []struct {
		name    string
		write   []string
		read    []string
		lateMs  float64 // 20 ms on the bus, after which the implement says what it did
		withinM float64
	}{
		{"task data", []string{"export", "--taskdata", "beets.zip"}, []string{"diagnose", "beets.zip"}, 0, 8},
		{"bus", []string{"drive", "--out", "candump=beets.log"}, []string{"diagnose", "--machine", "machine.yaml", "--field", "field.geojson", "beets.log"}, 20, 8},
	} {
		if status, _, stderr := command("", c.write...); status != 0 {
			t.Fatalf("%s: %s", c.name, stderr)
		}
		status, said, stderr := command("", c.read...)
		if status != 0 || !strings.Contains(said, "196, 0 missed, 0 extra     196, 0 missed, 0 extra") {
			t.Fatalf("%s: status %d\n%s%s", c.name, status, said, stderr)
		}
		m := late.FindStringSubmatch(said)
		if m == nil {
			t.Fatalf("%s:\n%s", c.name, said)
		}
		for _, text := range m[1:] {
			if ms, _ := strconv.ParseFloat(text, 64); ms < c.lateMs-c.withinM || ms > c.lateMs+c.withinM {
				t.Errorf("%s: %g ms late on average; want %g ± %g", c.name, ms, c.lateMs, c.withinM)
			}
		}
	}
	// What the bus tells exactly is said, and is still known when the day is read from plain files: how long
	// work states take from their commands, here from the bench's own events.
	bench := demoOutcome(t)
	lifts, drops := delaysOf(bench.Setpoints, bench.Changes)
	status, said, stderr := command("", "import", "beets.log", "--out", "plain")
	want := fmt.Sprintf("lifts %.2f s", lifts+0.02)
	if plain := strings.Join(strings.Fields(said), " "); status != 0 || !strings.Contains(plain, "from command to work state "+want) ||
		!strings.Contains(plain, fmt.Sprintf("drops %.2f s", drops+0.02)) || !strings.Contains(plain, "exact, as both are on one bus and one clock") {
		t.Errorf("status %d, want %s and drops %.2f s\n%s%s", status, want, drops+0.02, said, stderr)
	}
	for _, args := range [][]string{{"diagnose", "--machine", "machine.yaml", "--field", "field.geojson", "--states", "plain/states.csv", "plain/day.nmea", "--out", "of-plain"}, {"diagnose", "--machine", "machine.yaml", "--field", "field.geojson", "beets.log", "--out", "of-bus"}} {
		if status, _, stderr := command("", args...); status != 0 {
			t.Fatal(stderr)
		}
		dir := args[len(args)-1]
		if text, err := os.ReadFile(dir + "/diagnosis.json"); err != nil || !strings.Contains(string(text), `"one_clock": true`) {
			t.Errorf("%s: %v; one clock is not known", dir, err)
		}
		if text, err := os.ReadFile(dir + "/diagnosis.html"); err != nil || !strings.Contains(string(text), "by one clock: the time from one to the other is exact") {
			t.Errorf("%s: %v; one clock is not told", dir, err)
		}
	}
	// The same drive, written again, is the same file.
	first, err := os.ReadFile("beets.zip")
	if err != nil {
		t.Fatal(err)
	}
	if status, _, stderr := command("", "export", "--taskdata", "again.zip"); status != 0 {
		t.Fatal(stderr)
	}
	if again, err := os.ReadFile("again.zip"); err != nil || !bytes.Equal(first, again) {
		t.Errorf("%v, %d bytes and %d", err, len(first), len(again))
	}
	if status, _, stderr := command("", "export"); status != 2 || !strings.Contains(stderr, "--taskdata") {
		t.Errorf("without a file: status %d, %s", status, stderr)
	}
}
