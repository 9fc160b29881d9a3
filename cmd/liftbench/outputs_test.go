// What run writes: the files, their keys, their wholeness, the limits.

package main

import (
	"bytes"
	"compress/gzip"
	"encoding/csv"
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/prometheus/client_golang/prometheus/testutil/promlint"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/report"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sections/score"
)

// demoOutcome runs the demo.
func demoOutcome(t *testing.T) *run.Outcome {
	t.Helper()
	u, err := new(settings.Selection).Load()
	if err != nil {
		t.Fatal(err)
	}
	o, err := run.Drive(u, nil, io.Discard, true)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// content returns what a writer writes.
func content(t *testing.T, write func(io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestDemoRun: the demo keeps its own limits, writes its five files and gives
// the same bytes every time.
func TestDemoRun(t *testing.T) {
	t.Chdir(t.TempDir())
	status, first, stderr := command("", "run", "--out", "deep/a")
	if status != 0 || stderr != "" {
		t.Fatalf("exit status %d, %s", status, stderr)
	}
	_, second, _ := command("", "run", "--out", "b")
	if first != second {
		t.Error("two runs print different tables")
	}
	names := []string{"events.csv", "ground.geojson", "metrics.prom", "report.html", "summary.json"}
	entries, err := os.ReadDir("deep/a")
	if err != nil || len(entries) != len(names) {
		t.Fatalf("%v, %v", entries, err)
	}
	for i, name := range names {
		if entries[i].Name() != name {
			t.Errorf("file %s, want %s", entries[i].Name(), name)
		}
		a, _ := os.ReadFile(filepath.Join("deep/a", name))
		b, _ := os.ReadFile(filepath.Join("b", name))
		if len(a) == 0 || !bytes.Equal(a, b) {
			t.Errorf("%s differs between two runs, or is empty", name)
		}
	}
	for i, line := range strings.Split(first, "\n") {
		if n := len([]rune(line)); n > 80 {
			t.Errorf("line %d of the table is %d wide: %s", i+1, n, line)
		}
	}
}

// TestRecordedRunAgrees: the demo's drive as a log scores as the generated one
// does, to what smoothing noisy positions costs.
func TestRecordedRunAgrees(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, args := range [][]string{
		{"check", "--write-demo", "."},
		{"drive", "--out", "beets.nmea.gz", "--poses", "beets.csv"},
		{"run", "--out", "generated"},
		{"run", "--machine", "machine.yaml", "--field", "field.geojson", "--out", "recorded", "beets.nmea.gz"},
	} {
		if status, _, stderr := command("", args...); status != 0 {
			t.Fatalf("%v: exit status %d, %s", args, status, stderr)
		}
	}
	read := func(dir string) (s report.Summary) {
		data, err := os.ReadFile(filepath.Join(dir, "summary.json"))
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(data, &s); err != nil {
			t.Fatal(err)
		}
		return s
	}
	g, r := read("generated"), read("recorded")
	if g.Fixes != r.Fixes || g.Sentences != r.Sentences || g.DurationS != r.DurationS {
		t.Errorf("generated %d fixes, %+v, %g s; recorded %d, %+v, %g s", g.Fixes, g.Sentences, g.DurationS, r.Fixes, r.Sentences, r.DurationS)
	}
	if a, b := g.Lift.PlaceErrorM.P95Abs, r.Lift.PlaceErrorM.P95Abs; b > a+0.05 {
		t.Errorf("95 %% of lifts within %g m generated, %g m recorded", a, b)
	}
	poses, err := os.ReadFile("beets.csv")
	if err != nil || int64(bytes.Count(poses, []byte("\n")))-1 != g.Fixes {
		t.Errorf("%d true poses for %d fixes, %v", bytes.Count(poses, []byte("\n"))-1, g.Fixes, err)
	}
}

func TestSummaryKeys(t *testing.T) {
	o := demoOutcome(t)
	var got map[string]any
	if err := json.Unmarshal([]byte(content(t, func(w io.Writer) error { return report.WriteSummary(o, w) })), &got); err != nil {
		t.Fatal(err)
	}
	need := map[string][]string{
		"sentences": {"ok", "bad_checksum", "malformed", "unknown"},
		"lift":      {"count", "paired", "missed", "spurious", "time_error_s", "place_error_m"},
		"drop":      {"count", "paired", "missed", "spurious", "time_error_s", "place_error_m"},
		"area_m2":   {"zone", "worked", "miss", "overrun", "repeat", "across_rows"},
	}
	for _, key := range []string{"fixes", "duration_s", "distance_m", "section_count"} {
		if _, ok := got[key].(float64); !ok {
			t.Errorf("%s is %v", key, got[key])
		}
	}
	for key, subs := range need {
		group, _ := got[key].(map[string]any)
		for _, sub := range subs {
			if _, ok := group[sub]; !ok {
				t.Errorf("no %s.%s", key, sub)
			}
		}
	}
	for _, move := range []string{"lift", "drop"} {
		for _, e := range []string{"time_error_s", "place_error_m"} {
			spread, _ := got[move].(map[string]any)[e].(map[string]any)
			for _, sub := range []string{"mean", "p95_abs", "max_abs"} {
				if _, ok := spread[sub].(float64); !ok {
					t.Errorf("%s.%s.%s is %v", move, e, sub, spread[sub])
				}
			}
		}
	}
}

// TestSummaryWithoutTransitions: null where there is nothing to measure, never
// a zero that reads as perfect.
func TestSummaryWithoutTransitions(t *testing.T) {
	o := demoOutcome(t)
	o.Score = &score.Result{Sections: make([]score.Section, 6)}
	if got := content(t, func(w io.Writer) error { return report.WriteSummary(o, w) }); !strings.Contains(got, `"time_error_s": null`) {
		t.Error(got)
	}
	if got := content(t, func(w io.Writer) error { return report.WriteTable(o, w) }); !strings.Contains(got, "all           0      0     0 |       -       -       - |") {
		t.Error(got)
	}
	limit := 5.0
	err := o.Exceeded(&settings.Limits{LiftTimeP95Ms: &limit})
	if want := "limit exceeded: lift_time_error_p95_ms: no transition to measure; the limit is 5 ms"; err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
}

func TestEventsFile(t *testing.T) {
	o := demoOutcome(t)
	rows, err := csv.NewReader(strings.NewReader(content(t, func(w io.Writer) error { return report.WriteEvents(o, w) }))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows)-1 != len(o.Score.Events) || len(rows) < 100 {
		t.Errorf("%d rows for %d events", len(rows)-1, len(o.Score.Events))
	}
}

// TestGroundFile: RFC 7946. Strips are features; exterior rings are closed
// and counterclockwise (3.1.6); the field lies around them.
func TestGroundFile(t *testing.T) {
	o := demoOutcome(t)
	fc, err := geojson.UnmarshalFeatureCollection([]byte(content(t, func(w io.Writer) error { return report.WriteGround(o, w) })))
	if err != nil {
		t.Fatal(err)
	}
	if n := len(o.Score.Strips); len(fc.Features) > n || len(fc.Features) < n-n/20 {
		t.Fatalf("%d features for %d strips", len(fc.Features), n)
	}
	for i, f := range fc.Features {
		b := f.Geometry.Bound()
		if b.Min[0] < 11.13 || b.Max[0] > 11.15 || b.Min[1] < 52.05 || b.Max[1] > 52.07 {
			t.Fatalf("feature %d lies at %v", i, b)
		}
		ring := f.Geometry.(orb.Polygon)[0]
		if !ring.Closed() || ring.Orientation() != orb.CCW {
			t.Fatalf("feature %d: closed %v, orientation %d; want closed, counterclockwise", i, ring.Closed(), ring.Orientation())
		}
		if f.Properties["section"] == nil || f.Properties["ground"] == nil {
			t.Fatalf("feature %d has properties %v", i, f.Properties)
		}
	}
}

// TestMetricsFile: names and help as Prometheus asks for them, by the linter
// of its client library, and by promtool (Debian prometheus).
func TestMetricsFile(t *testing.T) {
	o := demoOutcome(t)
	text := content(t, func(w io.Writer) error { return report.WriteMetrics(o, w) })
	problems, err := promlint.New(strings.NewReader(text)).Lint()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Errorf("%s: %s", p.Metric, p.Text)
	}
	promtool, err := exec.LookPath("promtool")
	if err != nil {
		outside(t, "promtool (Debian prometheus)")
	}
	cmd := exec.Command(promtool, "check", "metrics")
	cmd.Stdin = strings.NewReader(text)
	if out, err := cmd.CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("promtool check metrics: %v: %s", err, out)
	}
}

func TestLimits(t *testing.T) {
	o := &run.Outcome{}
	spread := func(p95, worst float64) *score.Spread { return &score.Spread{P95Abs: p95, MaxAbs: worst} }
	o.Outcome = demoOutcome(t).Outcome
	o.Score = &score.Result{
		Lift: score.Stats{Count: 20, Paired: 18, Missed: 2, Spurious: 1, TimeErrorS: spread(0.020, 0.05), PlaceErrorM: spread(0.04, 0.12)},
		Drop: score.Stats{Count: 20, Paired: 20, TimeErrorS: spread(0.030, 0.05), PlaceErrorM: spread(0.06, 0.10)},
		Area: score.Areas{WorkedM2: 1000, OverrunM2: 12, MissM2: 8, AcrossRowsM2: 5},
	}
	f := func(x float64) *float64 { return &x }
	n := func(x int) *int { return &x }
	for _, c := range []struct {
		name   string
		limits settings.Limits
		want   string
	}{
		{"none set", settings.Limits{}, ""},
		{"kept exactly", settings.Limits{LiftTimeP95Ms: f(20), Missed: n(2), OverrunM2: f(12), OverrunPercent: f(1.2)}, ""},
		{"lift time", settings.Limits{LiftTimeP95Ms: f(19)}, "limit exceeded: lift_time_error_p95_ms: found 20 ms; the limit is 19 ms"},
		{"drop time", settings.Limits{DropTimeP95Ms: f(29)}, "limit exceeded: drop_time_error_p95_ms: found 30 ms; the limit is 29 ms"},
		{"lift place", settings.Limits{LiftPlaceP95Cm: f(3.9)}, "limit exceeded: lift_place_error_p95_cm: found 4 cm; the limit is 3.9 cm"},
		{"drop place", settings.Limits{DropPlaceP95Cm: f(5)}, "limit exceeded: drop_place_error_p95_cm: found 6 cm; the limit is 5 cm"},
		{"worst place", settings.Limits{MaxPlaceCm: f(11)}, "limit exceeded: max_place_error_cm: found 12 cm; the limit is 11 cm"},
		{"missed", settings.Limits{Missed: n(1)}, "limit exceeded: missed: found 2; the limit is 1"},
		{"spurious", settings.Limits{Spurious: n(0)}, "limit exceeded: spurious: found 1; the limit is 0"},
		{"overrun", settings.Limits{OverrunM2: f(11)}, "limit exceeded: overrun_m2: found 12 m²; the limit is 11 m²"},
		{"miss", settings.Limits{MissM2: f(7)}, "limit exceeded: miss_m2: found 8 m²; the limit is 7 m²"},
		{"across", settings.Limits{AcrossM2: f(4)}, "limit exceeded: across_rows_m2: found 5 m²; the limit is 4 m²"},
		{"percent", settings.Limits{OverrunPercent: f(1)}, "limit exceeded: overrun_percent: found 1.2 %; the limit is 1 %"},
		{"two", settings.Limits{Missed: n(1), MissM2: f(7)}, "2 limits exceeded:\n  missed: found 2; the limit is 1\n  miss_m2: found 8 m²; the limit is 7 m²"},
	} {
		got := ""
		if err := o.Exceeded(&c.limits); err != nil {
			got = err.Error()
			if failure.ExitStatus(err) != 1 {
				t.Errorf("%s: exit status %d, want 1", c.name, failure.ExitStatus(err))
			}
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// TestLimitExceededStillWrites: exit status 1, with the table and the files.
func TestLimitExceededStillWrites(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := settings.WriteDemo("."); err != nil {
		t.Fatal(err)
	}
	text, _ := edit(t, demoText(t, "scenario.yaml"), "limits:\n", "limits:\n  lift_time_error_p95_ms: 0.001\n")
	if err := os.WriteFile("scenario.yaml", []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	status, stdout, stderr := command("", "run", "--out", "out", "scenario.yaml")
	if status != 1 || !strings.Contains(stdout, "Lifts") || !strings.HasPrefix(stderr, "liftbench: limit exceeded: lift_time_error_p95_ms: found ") {
		t.Errorf("exit status %d, %s", status, stderr)
	}
	if _, err := os.Stat("out/summary.json"); err != nil {
		t.Error(err)
	}
}

// TestFilesAreWhole: a writer that fails leaves neither its own file nor any
// other changed, and nothing temporary.
func TestFilesAreWhole(t *testing.T) {
	dir := t.TempDir()
	old := filepath.Join(dir, "a.txt")
	if err := os.WriteFile(old, []byte("before"), 0o644); err != nil {
		t.Fatal(err)
	}
	broken := errors.New("the pump stopped")
	half := func(w io.Writer) error {
		io.WriteString(w, "half")
		return broken
	}
	whole := func(w io.Writer) error { _, err := io.WriteString(w, "after"); return err }
	if err := files.WriteDir(dir, []files.File{{Name: "a.txt", Write: whole}, {Name: "b.txt", Write: half}}); !errors.Is(err, broken) {
		t.Errorf("error %v", err)
	}
	if err := files.WriteWhole(filepath.Join(dir, "c.txt"), half); !errors.Is(err, broken) {
		t.Errorf("error %v", err)
	}
	entries, _ := os.ReadDir(dir)
	if got, _ := os.ReadFile(old); string(got) != "before" || len(entries) != 1 {
		t.Errorf("after a failure: %q, %v", got, entries)
	}
	if err := files.WriteDir(dir, []files.File{{Name: "a.txt", Write: whole}, {Name: "b.txt", Write: whole}}); err != nil {
		t.Error(err)
	}
	entries, _ = os.ReadDir(dir)
	if got, _ := os.ReadFile(old); string(got) != "after" || len(entries) != 2 {
		t.Errorf("after success: %q, %v", got, entries)
	}
}

func TestWriteWholeCompresses(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.nmea.gz")
	if err := files.WriteWhole(path, func(w io.Writer) error { _, err := io.WriteString(w, "hello"); return err }); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := io.ReadAll(z); err != nil || string(got) != "hello" {
		t.Errorf("%q, %v", got, err)
	}
}

func TestAppendFixed(t *testing.T) {
	for _, c := range []struct {
		x        float64
		decimals int
		want     string
	}{{1.25, 1, "1.2"}, {-0.04, 1, "0.0"}, {-0.4, 0, "0"}, {-0.06, 1, "-0.1"}, {0, 2, "0.00"}} {
		if got := string(wording.AppendFixed([]byte("x"), c.x, c.decimals)); got != "x"+c.want {
			t.Errorf("%g: %s, want x%s", c.x, got, c.want)
		}
	}
}
