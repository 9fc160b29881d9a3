// The command sweep: the same bytes however it was run, and what it refuses.

package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"liftbench/cmd/liftbench/page"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/study"
	"liftbench/cmd/liftbench/terminal"
)

// writeStudy writes a study of drives of half a minute to dir, and returns its
// file. vary and more are lines of the study file.
func writeStudy(t *testing.T, dir, vary, more string) string {
	t.Helper()
	machine, err := settings.InDemo.Read("demo/machine.yaml", "the demo's machine")
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"machine.yaml":  string(machine),
		"field.geojson": shortField(),
		"scenario.yaml": "name: short\nmachine: machine.yaml\nfield: field.geojson\ndrive: {speed_kmh: 12, turn_kmh: 12, accel_mps2: 1.5, decel_mps2: 1.5, straight_before_m: 10}\n",
		"study.yaml":    "name: test\nscenario: scenario.yaml\n" + more + "vary:\n" + vary,
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return filepath.Join(dir, "study.yaml")
}

const (
	speedsAndNoise = "  - {key: drive.speed_kmh, values: [8, 12]}\n  - {key: receiver.noise_cm, from: 1, to: 3, steps: 2}\n" +
		"  - {key: machine.hydraulics.oil_c, draw: normal, mean: 40, sd: 10}\n"
	threeSeeds = "seeds: 3\n"
)

// sweepFiles are all files of a directory that a sweep wrote, but its journal,
// which is in the order in which drives ended.
func sweepFilesOf(t *testing.T, dir string) map[string]string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]string{}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		// A process that was killed while it wrote leaves a hidden temporary file,
		// which a later run removes when it is an hour old.
		left := strings.HasPrefix(e.Name(), ".") && strings.HasSuffix(e.Name(), ".tmp")
		if e.Name() != study.JournalFile && !left {
			files[e.Name()] = string(data)
		}
	}
	return files
}

func sameFiles(t *testing.T, name string, got, want map[string]string) {
	t.Helper()
	if len(got) != len(want) || len(want) < 5 {
		t.Errorf("%s: %d files; want %d", name, len(got), len(want))
	}
	for file, text := range want {
		if got[file] != text {
			t.Errorf("%s: %s is not the same", name, file)
		}
	}
}

// However a study is run, its files are the same to the byte: with one worker
// or several, in parts or at once.
func TestSweepIsTheSame(t *testing.T) {
	dir := t.TempDir()
	study := writeStudy(t, dir, speedsAndNoise, threeSeeds)
	at := func(name string) string { return filepath.Join(dir, name) }
	sweep := func(args ...string) string {
		t.Helper()
		status, stdout, stderr := command("", append([]string{"sweep"}, args...)...)
		if status != 0 || stderr != "" {
			t.Fatalf("sweep %v: status %d: %s", args, status, stderr)
		}
		return stdout
	}
	table := sweep("--out", at("one"), "--workers", "1", study)
	if !strings.Contains(table, "12 drives at 4 points, 3 seeds each") || strings.Count(table, " to ") != 8 {
		t.Errorf("table:\n%s", table)
	}
	want := sweepFilesOf(t, at("one"))
	if got := sweep("--out", at("three"), "--workers", "3", study); got != table {
		t.Errorf("another table:\n%s", got)
	}
	sameFiles(t, "three workers", sweepFilesOf(t, at("three")), want)
	if got := sweep("--workers", "3", study); got != table {
		t.Errorf("another table without --out:\n%s", got)
	}
	for part := 1; part <= 3; part++ {
		sweep("--out", at(fmt.Sprint(part)), "--shard", fmt.Sprintf("%d/3", part), study)
	}
	if got := sweep("merge", "--out", at("merged"), at("2"), at("3"), at("1")); got != table {
		t.Errorf("merged, another table:\n%s", got)
	}
	sameFiles(t, "merged", sweepFilesOf(t, at("merged")), want)
	sweep("--out", at("one"), study) // again: nothing left to drive
	sameFiles(t, "again", sweepFilesOf(t, at("one")), want)
}

// results.csv against a drive run alone, and against the Parquet file.
func TestSweepResults(t *testing.T) {
	dir := t.TempDir()
	study := writeStudy(t, dir, "  - {key: drive.speed_kmh, values: [8, 12]}\n  - {key: controller.lift_lead, values: [200, 300]}\n", "seeds: 2\nfirst_seed: 7\n")
	scenario, err := os.ReadFile(filepath.Join(dir, "scenario.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	// Leads in milliseconds are without regard to the flow.
	fixed := strings.Replace(string(scenario), "drive: {", "controller: {lift_lead: 250, drop_lead: 500, flow_aware: false}\ndrive: {", 1)
	if err := os.WriteFile(filepath.Join(dir, "scenario.yaml"), []byte(fixed), 0o644); err != nil {
		t.Fatal(err)
	}
	if status, _, stderr := command("", "sweep", "--out", filepath.Join(dir, "out"), study); status != 0 {
		t.Fatal(stderr)
	}
	f, err := os.Open(filepath.Join(dir, "out", "results.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil || len(lines) != 1+2*2*2 {
		t.Fatalf("%d lines, %v", len(lines), err)
	}
	column := map[string]int{}
	for i, name := range lines[0] {
		column[name] = i
	}
	cell := func(line int, name string) float64 {
		v, err := strconv.ParseFloat(lines[line][column[name]], 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}

	// The last row: 12 km/h, 300 ms, seed 8.
	alone := strings.Replace(strings.Replace(fixed, "250", "300", 1), "drive: {", "drive: {seed: 8, ", 1)
	if err := os.WriteFile(filepath.Join(dir, "alone.yaml"), []byte(alone), 0o644); err != nil {
		t.Fatal(err)
	}
	u, err := (&settings.Selection{Arg: filepath.Join(dir, "alone.yaml")}).Load()
	if err != nil {
		t.Fatal(err)
	}
	o, err := run.Drive(u, nil, io.Discard, false)
	if err != nil {
		t.Fatal(err)
	}
	last := len(lines) - 1
	if cell(last, "seed") != 8 || cell(last, "drive.speed_kmh") != 12 || cell(last, "controller.lift_lead") != 300 {
		t.Errorf("the last row is %v", lines[last])
	}
	for name, want := range map[string]float64{
		"overrun_m2": o.Score.Area.OverrunM2, "miss_m2": o.Score.Area.MissM2, "zone_m2": o.Score.ZoneM2,
		"lift_count": float64(o.Score.Lift.Count), "lift_place_mean_cm": 100 * o.Score.Lift.PlaceErrorM.Mean,
		"drop_time_p95_ms": 1e3 * o.Score.Drop.TimeErrorS.P95Abs,
	} {
		if got := cell(last, name); got != want {
			t.Errorf("%s is %g; run says %g", name, got, want)
		}
	}
	// Lifting 100 ms earlier at 12 km/h is 33 cm less.
	if d := cell(last-2, "lift_place_mean_cm") - cell(last, "lift_place_mean_cm"); math.Abs(d-100*0.1*12/3.6) > 1 {
		t.Errorf("100 ms of lift lead are %g cm; want 33", d)
	}

	p, err := os.Open(filepath.Join(dir, "out", "results.parquet"))
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	info, err := p.Stat()
	if err != nil {
		t.Fatal(err)
	}
	pf, err := parquet.OpenFile(p, info.Size())
	if err != nil || pf.NumRows() != int64(len(lines)-1) {
		t.Fatalf("results.parquet: %v", err)
	}
	rd := parquet.NewReader(pf)
	for line := 1; line < len(lines); line++ {
		row := map[string]any{}
		if err := rd.Read(&row); err != nil {
			t.Fatal(err)
		}
		for name, i := range column {
			got, ok := row[name]
			switch v := got.(type) {
			case int64:
				if v != int64(cell(line, name)) {
					t.Errorf("row %d: %s is %d, in the CSV %s", line, name, v, lines[line][i])
				}
			case float64:
				if v != cell(line, name) {
					t.Errorf("row %d: %s is %g, in the CSV %s", line, name, v, lines[line][i])
				}
			default:
				if ok && got != nil || lines[line][i] != "" {
					t.Errorf("row %d: %s is %v, in the CSV %q", line, name, got, lines[line][i])
				}
			}
		}
	}
}

func TestSweepErrors(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct {
		name, vary, more string
		args             []string
		want             string
	}{
		{"unknown key", "  - {key: drive.sped_kmh, values: [8]}\n", "", nil, `study.yaml:4:5: vary[0]: drive.sped_kmh: unknown key "sped_kmh"; did you mean "speed_kmh"?`},
		{"out of range", "  - {key: drive.speed_kmh, values: [8, 99]}\n", "", nil, "drive.speed_kmh: found 99; expected a number above 0 up to 36 km/h"},
		{"not whole", "  - {key: drive.rounds, from: 1, to: 2, steps: 3}\n", "", nil, "drive.rounds: found 1.5; expected a whole number"},
		{"a word", "  - {key: controller.edge_rule, values: [1]}\n", "", nil, "controller.edge_rule: found 1; expected one of: crop-first"},
		{"nothing to vary over", "  - {key: drive.speed_kmh}\n", "", nil, "expected values, or from, to and steps, or draw"},
		{"two ways", "  - {key: drive.speed_kmh, values: [8], steps: 3}\n", "", nil, "expected one of them"},
		{"draw without spread", "  - {key: receiver.noise_cm, draw: normal, mean: 2}\n", "", nil, "expected draw: normal with mean and sd"},
		{"draw beyond the range", "  - {key: receiver.noise_cm, draw: uniform, from: -1, to: 2}\n", "", nil, "draws from -1 to 2; expected numbers from 0 to 10000 cm"},
		{"draw of a whole number", "  - {key: drive.rounds, draw: uniform, from: 1, to: 9}\n", "", nil, "study.yaml:4:5: vary[0]: drawn at random, drive.rounds: found 1.000000008; expected a whole number"},
		{"draw of a lead below 0", "  - {key: controller.lift_lead, draw: uniform, from: -9, to: 9}\n", "", nil, "expected auto, or a number from 0 to 10000 ms"},
		{"seeds beyond the last", "  - {key: drive.speed_kmh, values: [8]}\n", "first_seed: 9007199254740991\nseeds: 2\n", nil, "first_seed: the last of 2 seeds: drive.seed: found 9.007199254740992e+15; expected a whole number"},
		{"the seed", "  - {key: drive.seed, values: [8]}\n", "", nil, "expected seeds and first_seed"},
		{"the controller's place", "  - {key: machine.controller.latency_ms, values: [8]}\n", "", nil, "expected controller.latency_ms"},
		{"unknown result", "  - {key: drive.speed_kmh, values: [8]}\n", "show: [overun_m2]\n", nil, `unknown result "overun_m2"; did you mean "overrun_m2"?`},
		{"a bench that cannot be", "  - {key: machine.sections, values: [5]}\n", "", nil, "the drive of machine.sections = 5, seed 1: "},
		{"part", "", "", []string{"--shard", "6/5", "--out", dir}, "--shard 6/5: expected a part of several, as 2/5"},
		{"part without a place", "", "", []string{"--shard", "1/5"}, "expected --out DIR"},
	} {
		t.Run(c.name, func(t *testing.T) {
			vary := c.vary
			if vary == "" {
				vary = "  - {key: drive.speed_kmh, values: [8]}\n"
			}
			study := writeStudy(t, dir, vary, c.more)
			status, stdout, stderr := command("", append(append([]string{"sweep"}, c.args...), study)...)
			if status != 2 || stdout != "" || !strings.Contains(stderr, c.want) || strings.Count(stderr, "\n") != 1 {
				t.Errorf("status %d: %swant %s", status, stderr, c.want)
			}
		})
	}
	t.Run("another study", func(t *testing.T) {
		out := filepath.Join(dir, "out")
		if status, _, stderr := command("", "sweep", "--out", out, writeStudy(t, dir, "  - {key: drive.speed_kmh, values: [12]}\n", "seeds: 1\n")); status != 0 {
			t.Fatal(stderr)
		}
		before := sweepFilesOf(t, out)
		status, _, stderr := command("", "sweep", "--out", out, writeStudy(t, dir, "  - {key: drive.speed_kmh, values: [12]}\n", "seeds: 2\n"))
		if status != 2 || !strings.Contains(stderr, "belongs to another study") {
			t.Errorf("status %d: %s", status, stderr)
		}
		sameFiles(t, "left alone", sweepFilesOf(t, out), before)
	})
	t.Run("nothing to merge", func(t *testing.T) {
		status, _, stderr := command("", "sweep", "merge", filepath.Join(dir, "nowhere"))
		if status != 2 || !strings.Contains(stderr, "no such file; expected the journal of a part") {
			t.Errorf("status %d: %s", status, stderr)
		}
	})
}

// BenchmarkSweep is one bench of a study, a drive of some ten minutes with 12
// sections: benches a second on one core.
func BenchmarkSweep(b *testing.B) {
	b.ReportAllocs()
	c, u := benchStudy(b)
	plan, err := c.Plan(u)
	if err != nil {
		b.Fatal(err)
	}
	s := &study.DriveBench{Base: u, Plan: plan, ToleranceM: 0.1}
	n := 0
	for b.Loop() {
		if _, err := s.Do(plan.Bench(n % plan.Benches())); err != nil {
			b.Fatal(err)
		}
		n++
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "benches/s")
}

// benchStudy is a study of drives that take ten minutes, with 12 sections.
func benchStudy(tb testing.TB) (*settings.Study, *settings.Setup) {
	files := map[string]string{
		"study.yaml":    "scenario: scenario.yaml\nseeds: 1000\nvary:\n  - {key: receiver.noise_cm, values: [1.4]}\n",
		"scenario.yaml": "machine: machine.yaml\nfield: field.geojson\ndrive: {speed_kmh: 8, turn_kmh: 6}\n",
		"field.geojson": string(page.OwnField(20)),
	}
	machine, err := settings.InDemo.Read("demo/machine.yaml", "the demo's machine")
	if err != nil {
		tb.Fatal(err)
	}
	files["machine.yaml"] = strings.Replace(string(machine), "sections: [2, 2, 2, 2, 2, 2]", "sections: 12", 1)
	c, u, err := settings.LoadStudy("study.yaml", settings.Named(func(name, what string) ([]byte, error) {
		text, ok := files[name]
		if !ok {
			return nil, fmt.Errorf("no %s", name)
		}
		return []byte(text), nil
	}))
	if err != nil {
		tb.Fatal(err)
	}
	o, err := run.Drive(u, nil, io.Discard, false)
	if err != nil {
		tb.Fatal(err)
	}
	if o.DurationS < 540 || len(o.Score.Sections) != 12 {
		tb.Fatalf("the drive takes %.0f s, with %d sections; want ten minutes and 12", o.DurationS, len(o.Score.Sections))
	}
	return c, u
}

func TestBenchBar(t *testing.T) {
	var out bytes.Buffer
	b := terminal.NewDrivesBar(&out)
	b.Show(1, 10)
	b.Finish()
	if out.Len() != 0 {
		t.Errorf("not a terminal, yet it says %q", out.String())
	}
	b = &terminal.DrivesBar{Out: &out, Begin: time.Now().Add(-time.Minute), Begins: true}
	b.Show(5, 10) // four were there before
	if got := out.String(); !strings.Contains(got, "============............ 5 of 10 drives, 5m0s left") {
		t.Errorf("%q", got)
	}
}
