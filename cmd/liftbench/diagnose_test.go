// The command diagnose: its answer, its files, and what it refuses.

package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/report"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/version"
	"liftbench/replay/diagnose"
	"liftbench/sections"
)

// badDayOnce diagnoses the built-in bad day.
var badDayOnce = sync.OnceValues(func() (*run.Diagnosis, error) {
	sel := settings.Selection{Demo: run.BadDayScenario}
	u, err := sel.Load()
	if err != nil {
		return nil, err
	}
	return run.Diagnose(u, true, nil, io.Discard)
})

// builtInDay returns a diagnosis of the built-in bad day that a test may change.
func builtInDay(t *testing.T) *run.Diagnosis {
	t.Helper()
	d, err := badDayOnce()
	if err != nil {
		t.Fatal(err)
	}
	own := *d
	return &own
}

// TestBadDay: the built-in day prints its golden page; its files, written and
// read again, give the same page; the results are the same bytes every time.
func TestBadDay(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	status, first, stderr := command("", "diagnose", "--out", at("a"))
	if status != 0 || stderr != "" {
		t.Fatalf("exit status %d, %s", status, stderr)
	}
	golden(t, "diagnose-badday.txt", first)
	narrow(t, first)
	if n := strings.Count(first, "\n"); n > 60 {
		t.Errorf("the page has %d lines", n)
	}
	if _, second, _ := command("", "diagnose", "--out", at("b")); second != first {
		t.Error("two runs print different pages")
	}
	if status, stdout, stderr := command("", "diagnose", "--write-demo", at("day")); status != 0 || stdout+stderr != "" {
		t.Fatalf("exit status %d, %s%s", status, stdout, stderr)
	}
	for _, args := range [][]string{
		{at("day/day.yaml")},
		{"--machine", at("day/machine.yaml"), "--field", at("day/field.geojson"), "--states", at("day/day.states.csv"), at("day/day.nmea.gz")},
	} {
		status, stdout, stderr := command("", append([]string{"diagnose"}, args...)...)
		if status != 0 || unnamed(stdout) != unnamed(first) {
			t.Errorf("%v: exit status %d, %s%s", args, status, stdout, stderr)
		}
	}
	names := []string{"diagnosis.html", "diagnosis.json"}
	entries, err := os.ReadDir(at("a"))
	if err != nil || len(entries) != len(names) {
		t.Fatalf("%v, %v", entries, err)
	}
	for i, name := range names {
		a, _ := os.ReadFile(filepath.Join(at("a"), name))
		b, _ := os.ReadFile(filepath.Join(at("b"), name))
		if entries[i].Name() != name || len(a) == 0 || !bytes.Equal(a, b) {
			t.Errorf("%s differs between two runs, or is empty", name)
		}
	}
}

// unnamed is a page without the name of its day: the scenario's, or the file's
// where there is none.
func unnamed(page string) string {
	return regexp.MustCompile(`(?m)^  day .*$`).ReplaceAllString(page, "")
}

// narrow fails on lines that a terminal of 80 columns breaks.
func narrow(t *testing.T, page string) {
	t.Helper()
	for i, line := range strings.Split(page, "\n") {
		if n := len([]rune(line)); n > 80 {
			t.Errorf("line %d is %d wide: %s", i+1, n, line)
		}
	}
}

// TestBadDayIsSolved: what was put into the day comes out first.
func TestBadDayIsSolved(t *testing.T) {
	d := builtInDay(t)
	if len(d.Causes) < 2 {
		t.Fatalf("causes %+v", d.Causes)
	}
	if c := d.Causes[0]; c.Cause != diagnose.Geometry || math.Abs(c.Size-run.BadDayAntennaM) > 0.01 {
		t.Errorf("first cause %+v; want a geometry error of %g m", c, run.BadDayAntennaM)
	}
	if c := d.Causes[1]; c.Cause != diagnose.SlowSection || c.Section != run.BadDaySection || math.Abs(c.Size-run.BadDayValveNs*1e-9) > 0.02 {
		t.Errorf("second cause %+v; want section %d slow by %g s", c, run.BadDaySection, run.BadDayValveNs*1e-9)
	}
}

// soundDay writes the demo's drive as a log and the work states of a sound
// machine to dir: as told, as done, or both.
func soundDay(t *testing.T, dir string, setpoints, actuals bool) (args []string) {
	t.Helper()
	at := func(name string) string { return filepath.Join(dir, name) }
	if err := settings.WriteDemo(dir); err != nil {
		t.Fatal(err)
	}
	if status, _, stderr := command("", "drive", "--out", at("day.nmea")); status != 0 {
		t.Fatal(stderr)
	}
	o := demoOutcome(t)
	if !setpoints {
		o.Setpoints = nil
	}
	if !actuals {
		o.Changes = nil
	}
	if err := os.WriteFile(at("states.csv"), run.AppendStates(nil, o.Setpoints, o.Changes), 0o644); err != nil {
		t.Fatal(err)
	}
	return []string{"diagnose", "--machine", at("machine.yaml"), "--field", at("field.geojson"), "--states", at("states.csv"), at("day.nmea")}
}

// TestSoundDay: nothing is found on a machine that has nothing wrong, whatever was
// recorded of it.
func TestSoundDay(t *testing.T) {
	for _, c := range []struct {
		name               string
		setpoints, actuals bool
		want               string
	}{
		{"both", true, true, "setpoint and actual\n"},
		{"setpoints", true, false, "setpoint alone, "},
		{"actuals", false, true, "actual alone\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			status, page, stderr := command("", append(soundDay(t, dir, c.setpoints, c.actuals), "--out", filepath.Join(dir, "out"))...)
			if status != 0 {
				t.Fatal(stderr)
			}
			narrow(t, page)
			if !strings.Contains(page, c.want) {
				t.Errorf("no %q in\n%s", c.want, page)
			}
			if !regexp.MustCompile(`\n  lateness, mean +[-+]?\d ms, .* [-+]?\d ms, `).MatchString(page) {
				t.Errorf("lifts or drops are 10 ms off or more on average:\n%s", page)
			}
			var d struct{ Causes []diagnose.Finding }
			js, err := os.ReadFile(filepath.Join(dir, "out", "diagnosis.json"))
			if err != nil {
				t.Fatal(err)
			}
			if err := json.Unmarshal(js, &d); err != nil {
				t.Fatal(err)
			}
			for _, f := range d.Causes {
				t.Errorf("found on a sound machine: %+v", f)
			}
		})
	}
}

// TestNothingWrong: says so, and advises no work on the machine.
func TestNothingWrong(t *testing.T) {
	d := builtInDay(t)
	d.Diagnosis = &diagnose.Diagnosis{Lift: d.Lift, Drop: d.Drop}
	for _, page := range []string{content(t, func(w io.Writer) error { return report.WriteDiagnosis(d, w) }), content(t, func(w io.Writer) error { return report.WriteDiagnosisHTML(d, w) })} {
		if !strings.Contains(page, "Nothing wrong: lifts and drops are as exact as the positions allow.") || strings.Contains(page, "Before work on the machine") {
			t.Errorf("%s", page)
		}
	}
}

func TestDiagnosisKeys(t *testing.T) {
	var got map[string]any
	if err := json.Unmarshal([]byte(content(t, func(w io.Writer) error { return report.WriteDiagnosisJSON(builtInDay(t), w) })), &got); err != nil {
		t.Fatal(err)
	}
	for _, move := range []string{"lift", "drop"} {
		fit, _ := got[move].(map[string]any)
		for _, key := range []string{"time_error_s", "place_error_m", "count"} {
			if _, ok := fit[key].(float64); !ok {
				t.Errorf("%s.%s is %v", move, key, fit[key])
			}
		}
		for _, key := range []string{"time_error_ci95", "place_error_ci95"} {
			if ci, _ := fit[key].([]any); len(ci) != 2 {
				t.Errorf("%s.%s is %v", move, key, fit[key])
			}
		}
	}
	causes, _ := got["causes"].([]any)
	if len(causes) == 0 {
		t.Fatal("no causes")
	}
	for _, c := range causes {
		for _, key := range []string{"cause", "size", "unit", "ci95", "evidence", "change"} {
			if _, ok := c.(map[string]any)[key]; !ok {
				t.Errorf("no %s in %v", key, c)
			}
		}
	}
	if _, ok := got["cannot_tell"].([]any); !ok {
		t.Errorf("cannot_tell is %v", got["cannot_tell"])
	}
}

// TestDiagnosisOfNothing: what the data cannot tell is null, a list without
// entries is empty.
func TestDiagnosisOfNothing(t *testing.T) {
	d := &run.Diagnosis{Outcome: &run.Outcome{}, Diagnosis: &diagnose.Diagnosis{}}
	got := content(t, func(w io.Writer) error { return report.WriteDiagnosisJSON(d, w) })
	for _, want := range []string{`"time_error_s": null`, `"place_error_ci95": null`, `"causes": []`, `"cannot_tell": []`} {
		if !strings.Contains(got, want) {
			t.Errorf("no %s in %s", want, got)
		}
	}
}

// doubtful is the bad day with an answer that leaves much open, in text that
// HTML must escape.
func doubtful(t *testing.T) *run.Diagnosis {
	d := builtInDay(t)
	d.Title = `a<b & "c"`
	d.Command = commandline.Again(newDiagnoseCommand(), []string{"it's.nmea"})
	d.Diagnosis = &diagnose.Diagnosis{CannotTell: []diagnose.Doubt{{
		Between: []diagnose.Cause{diagnose.LiftTiming, diagnose.LiftGeometry},
		Why:     "Lifts are late, but all were driven at 8 to 8.2 km/h.",
		Drive:   "Drive again at 5 and at 10 km/h.",
	}}}
	return d
}

func TestDoubtfulPage(t *testing.T) {
	page := content(t, func(w io.Writer) error { return report.WriteDiagnosis(doubtful(t), w) })
	narrow(t, page)
	for _, want := range []string{
		"  part by a time       cannot be told             cannot be told\n",
		"\nWhy, and what to change\n  No cause is sure. In doubt: lift timing or lift geometry; what tells stands\n  below.\n",
		"\nCannot tell\n- Lifts are late, but all were driven at 8 to 8.2 km/h.\n  > Drive again at 5 and at 10 km/h.\n",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q in\n%s", want, page)
		}
	}
}

// TestReport: one file that needs nothing else, that a reader without sight and
// a printer can follow.
func TestReport(t *testing.T) {
	for name, d := range map[string]*run.Diagnosis{"bad day": builtInDay(t), "doubtful": doubtful(t)} {
		page := content(t, func(w io.Writer) error { return report.WriteDiagnosisHTML(d, w) })
		heads, svgs, titles, figures, sentences := "", 0, 0, 0, 0
		dec := xml.NewDecoder(strings.NewReader(page))
		dec.Strict, dec.AutoClose, dec.Entity = true, []string{"meta"}, xml.HTMLEntity
		var open []string
		for {
			tok, err := dec.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			switch e := tok.(type) {
			case xml.StartElement:
				open = append(open, e.Name.Local)
				switch e.Name.Local {
				case "h1", "h2", "h3":
					heads += e.Name.Local[1:]
				case "svg":
					svgs++
				case "figure":
					figures++
				case "title":
					if len(open) > 1 && open[len(open)-2] == "svg" {
						titles++
					}
				case "figcaption":
					sentences++
				case "script", "link", "img", "iframe":
					t.Errorf("%s: %s in the page", name, e.Name.Local)
				}
				for _, a := range e.Attr {
					if a.Name.Local == "src" || a.Name.Local == "href" || a.Name.Local == "id" {
						t.Errorf("%s: attribute %s=%q of %s", name, a.Name.Local, a.Value, e.Name.Local)
					}
				}
			case xml.EndElement:
				open = open[:len(open)-1]
			}
		}
		if svgs != 6 || titles != svgs || figures != svgs || sentences != svgs {
			t.Errorf("%s: %d drawings, %d of them named, %d figures, %d sentences; want 6 of each", name, svgs, titles, figures, sentences)
		}
		if heads[0] != '1' || strings.Count(heads, "1") != 1 || strings.Contains(heads, "13") {
			t.Errorf("%s: headings in the order %s", name, heads)
		}
		if strings.Contains(page, "url(") || strings.Contains(page, "@import") || strings.Count(page, "://") != svgs {
			t.Errorf("%s: the page names something outside it", name)
		}
		for _, want := range []string{`<html lang="en">`, "prefers-color-scheme: dark", "size: A4", "liftbench " + version.String()} {
			if !strings.Contains(page, want) {
				t.Errorf("%s: no %s", name, want)
			}
		}
	}
	page := content(t, func(w io.Writer) error { return report.WriteDiagnosisHTML(doubtful(t), w) })
	for _, want := range []string{"<h1>a&lt;b &amp; &#34;c&#34;: why", "<code>diagnose &#39;it&#39;\\&#39;&#39;s.nmea&#39;</code>", "What this day cannot tell", "<p class=\"answer\">No cause is sure"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %s", want)
		}
	}
	for _, bad := range []string{"Why, and what to change", "Before work on the machine"} {
		if strings.Contains(page, bad) {
			t.Errorf("%s, where nothing is to be changed", bad)
		}
	}
}

// TestFitLine: the figure's band is the fit's.
func TestFitLine(t *testing.T) {
	d := builtInDay(t)
	l := report.Line(&d.Drop)
	if l == nil {
		t.Fatal("no line")
	}
	if got, want := l.HalfWidthM(0), (d.Drop.PlaceErrorCI[1]-d.Drop.PlaceErrorCI[0])/2; math.Abs(got-want) > 1e-9 {
		t.Errorf("half width at standstill %g m, want %g", got, want)
	}
	if at8, at0, at16 := l.HalfWidthM(8/3.6), l.HalfWidthM(0), l.HalfWidthM(16/3.6); at8 >= at0 || at8 >= at16 {
		t.Errorf("half widths %g, %g, %g m at 0, 8, 16 km/h", at0, at8, at16)
	}
	if report.Line(&diagnose.Fit{}) != nil {
		t.Error("a line where the data give none")
	}
}

func TestSizeText(t *testing.T) {
	for _, c := range []struct {
		size float64
		ci   *diagnose.Interval
		unit string
		want string
	}{
		{0.1804, &diagnose.Interval{0.17, 0.19}, "s", "+180 ms (170 to 190)"},
		{-0.0004, nil, "s", "0 ms"},
		{-0.302, &diagnose.Interval{-0.31, -0.29}, "m", "-30.2 cm (-31.0 to -29.0)"},
		{-13.02, nil, "m", "-13.02 m"},
		{0.025, &diagnose.Interval{0.02, 0.03}, "s/section", "+25 ms/section (20 to 30)"},
		{0.4, &diagnose.Interval{0.3, 0.5}, "share", "40 % (30 to 50)"},
		{0.004, &diagnose.Interval{0.001, 0.012}, "share", "0.4 % (0.1 to 1.2)"},
		{0.0004, &diagnose.Interval{0.0003, 0.0005}, "s/section", "+0.4 ms/section (0.3 to 0.5)"},
		{12, &diagnose.Interval{12, 12}, "sections", "12 sections"},
	} {
		if got := report.SizeText(c.size, c.ci, c.unit); got != c.want {
			t.Errorf("%g %s: %s, want %s", c.size, c.unit, got, c.want)
		}
	}
}

func TestCauseText(t *testing.T) {
	for _, c := range []struct {
		f    diagnose.Finding
		want string
	}{
		{diagnose.Finding{Cause: diagnose.Latency}, "latency"},
		{diagnose.Finding{Cause: diagnose.LiftTiming, Move: "lift"}, "lift timing"},
		{diagnose.Finding{Cause: diagnose.SlowSection, Section: 4, Move: "drop"}, "slow section, section 4, drops"},
		{diagnose.Finding{Cause: diagnose.DoesNotFollow, Section: 4, Move: "lift"}, "does not follow, section 4, lifts"},
	} {
		if got := report.CauseText(&c.f); got != c.want {
			t.Errorf("%s, want %s", got, c.want)
		}
	}
}

func TestQuoted(t *testing.T) {
	for word, want := range map[string]string{"a.yaml": "a.yaml", "": "''", "a b": "'a b'", "it's": `'it'\''s'`, "$HOME": "'$HOME'", "größe/5": "größe/5"} {
		if got := commandline.Quoted(word); got != want {
			t.Errorf("%q: %s, want %s", word, got, want)
		}
	}
}

func TestAppendStates(t *testing.T) {
	got := string(run.AppendStates(nil,
		[]sections.Setpoint{{DueNs: 2e9, Section: 1, On: true}, {DueNs: 4e9, Section: 0}},
		[]sections.WorkChange{{TimeNs: 1e9, Section: 0, On: true}, {TimeNs: 2e9, Section: 2}}))
	const want = `time,section,setpoint,actual
1970-01-01T00:00:01.000000Z,1,,1
1970-01-01T00:00:02.000000Z,2,1,
1970-01-01T00:00:02.000000Z,3,,0
1970-01-01T00:00:04.000000Z,1,0,
`
	if got != want {
		t.Errorf("%s", got)
	}
}

func TestNearChanges(t *testing.T) {
	at := func(s ...int64) (list []sections.WorkChange) {
		for _, x := range s {
			list = append(list, sections.WorkChange{TimeNs: x * 1e9})
		}
		return list
	}
	near := run.NearChanges(at(100, 101), nil, at(200))
	for _, c := range []struct {
		s    int64
		want bool
	}{{77, false}, {78, true}, {100, true}, {110, true}, {111, true}, {112, false}, {177, false}, {178, true}, {210, true}, {211, false}} {
		if got := near(c.s * 1e9); got != c.want {
			t.Errorf("at %d s: %v", c.s, got)
		}
	}
}

// TestBadInputToDiagnose: one error of one line that names the file, and exit
// status 2.
func TestBadInputToDiagnose(t *testing.T) {
	t.Chdir(t.TempDir())
	keepBadDay(t, ".")
	if status, _, stderr := command("", "check", "--write-demo", "."); status != 0 {
		t.Fatal(stderr)
	}
	day, err := os.ReadFile("day.states.csv")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(day), "\n")
	firstLift := slices.IndexFunc(lines, func(l string) bool { return strings.Contains(l, ",1,,0") })
	if firstLift < 0 {
		t.Fatal("section 1 does not lift")
	}
	for name, content := range map[string]string{
		"otherday.csv": otherDrive(),
		"lacking.csv":  strings.Replace(string(day), lines[5], strings.Replace(lines[5], "Z,", "Z,7", 1), 1),
		"still.csv":    "time,section,actual\n2026-05-12T08:00:05Z,6,0\n",
		"one.csv":      "time,section,actual\n2026-05-12T08:00:00Z,2,0\n2026-05-12T08:00:00Z,6,0\n" + strings.Replace(lines[firstDrop(lines)], ",,", ",", 1),
		"empty.csv":    "",
		"log.yaml":     "machine: machine.yaml\nfield: field.geojson\nlog: day.nmea.gz\n",
		"none.nmea":    "",
	} {
		if err := os.WriteFile(name, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	const files = " --machine machine.yaml --field field.geojson "
	for _, c := range []struct{ args, want string }{
		{files + "--states otherday.csv day.nmea.gz", "otherday.csv: the work states are of another drive: they are from 2026-05-13T"},
		{files + "--states lacking.csv day.nmea.gz", `lacking.csv:6: section "7`},
		{files + "--states still.csv day.nmea.gz", "still.csv: no transitions: "},
		{files + "--states one.csv day.nmea.gz", "one.csv: one transition "},
		{files + "--states empty.csv day.nmea.gz", "empty.csv: empty; expected a heading line"},
		{files + "--states none.csv day.nmea.gz", "none.csv: no such file; expected recorded work states (CSV)"},
		{files + "--states day.states.csv none.nmea", "none.nmea: is empty; expected NMEA sentences"},
		{files + "--states day.states.csv gone.nmea", "gone.nmea: no such file; expected a log of NMEA sentences"},
		{files + "day.nmea.gz", "day.nmea.gz: no work states; expected --states FILE"},
		{files, "machine.yaml: no recorded day; expected LOG, or a scenario with log and states"},
		{"scenario.yaml", "Quillmark, second hoeing: no recorded day; expected LOG, or a scenario with log and states"},
		{"log.yaml", "day.nmea.gz: no work states; expected --states FILE"},
		{"--states day.states.csv", "--states day.states.csv: recorded work states go with the log of the same day; expected LOG"},
		{"day.nmea.gz", "day.nmea.gz is taken for a log, as its name does not end in .yaml; expected --machine and --field with it"},
		{"--out machine.yaml", "machine.yaml: cannot be written as a directory for the results"},
	} {
		status, stdout, stderr := command("", append([]string{"diagnose"}, strings.Fields(c.args)...)...)
		if status != 2 || stdout != "" || !strings.HasPrefix(stderr, "liftbench: "+c.want) || strings.Count(stderr, "\n") != 1 {
			t.Errorf("%s: exit status %d, %q, want %q", c.args, status, stderr, c.want)
		}
	}
}

// otherDrive is the work states of another drive, a day after the bad day: lifts and drops
// at times of their own.
func otherDrive() string {
	var b strings.Builder
	b.WriteString("time,section,actual\n")
	at := time.Date(2026, 5, 13, 7, 0, 0, 0, time.UTC)
	for i := range 80 {
		at = at.Add(time.Duration(31+i*i%47) * time.Second)
		for section := range 6 {
			fmt.Fprintf(&b, "%s,%d,%d\n", at.Format(time.RFC3339), section+1, 1-i%2)
		}
	}
	return b.String()
}

// firstDrop is the line on which section 2 first goes into work.
func firstDrop(lines []string) int {
	return slices.IndexFunc(lines, func(l string) bool { return strings.Contains(l, ",2,,1") })
}

// TestDiagnoseRecordedTracks: three real field operations at 1 Hz with one
// recorded state for the whole machine, driven by hand (dev4Agriculture
// isoxml-dotnet, test data, Apache-2.0). The answer is honest: nothing of single
// sections, and intervals no narrower than 1 Hz and a hand allow.
func TestDiagnoseRecordedTracks(t *testing.T) {
	dir := filepath.Join(recordings(t), "tracks")
	for _, name := range []string{"track-05", "track-20", "track-25"} {
		t.Run(name, func(t *testing.T) {
			out := t.TempDir()
			at := func(ext string) string { return filepath.Join(dir, name+ext) }
			status, page, stderr := command("", "diagnose", "--machine", "../../testdata/front-12x75.yaml", "--field", at(".geojson"),
				"--headland", "18", "--states", at(".states.csv"), "--out", out, at(".nmea"))
			if status != 0 {
				t.Fatalf("status %d: %s", status, stderr)
			}
			narrow(t, page)
			t.Log("\n" + page)
			var d struct {
				Lift, Drop diagnose.Fit
				Causes     []diagnose.Finding
			}
			js, err := os.ReadFile(filepath.Join(out, "diagnosis.json"))
			if err != nil {
				t.Fatal(err)
			}
			if err := json.Unmarshal(js, &d); err != nil {
				t.Fatal(err)
			}
			for i, f := range []diagnose.Fit{d.Lift, d.Drop} {
				// The work state is known to the second, so a time error is not
				// known to a tenth of one from so few passes.
				if f.TimeErrorS != nil && (f.TimeErrorCI == nil || f.TimeErrorCI[1]-f.TimeErrorCI[0] < 0.1) {
					t.Errorf("fit %d: time error %g s within %v", i, *f.TimeErrorS, f.TimeErrorCI)
				}
			}
			for _, c := range d.Causes {
				if c.Section != 0 {
					t.Errorf("a cause of one section, of which nothing is recorded: %+v", c)
				}
			}
		})
	}
}
