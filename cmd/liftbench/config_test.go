// Settings files: what is taken, and the sentence for what is not.

package main

import (
	"bytes"
	"encoding"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/settings/bind"
	"liftbench/sections"
	"liftbench/sim"
)

// demoText returns a file of the demo.
func demoText(t testing.TB, name string) string {
	t.Helper()
	data, err := settings.DemoFiles.ReadFile("demo/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// edit replaces old, which must be there, with new, and returns the text with
// the line of the change.
func edit(t testing.TB, text, old, replacement string) (edited string, line int) {
	t.Helper()
	before, _, ok := strings.Cut(text, old)
	if !ok {
		t.Fatalf("%q is not in the demo's file", old)
	}
	return strings.Replace(text, old, replacement, 1), 1 + strings.Count(before, "\n")
}

// badSettings are edits of the demo's files and the error each must give, after
// the file's name. LINE stands for the line of the edit, @{text} for the first
// line of the edited file that holds the text.
var badSettings = []struct {
	name, file, old, replacement, want string
}{
	{"unknown key", "machine.yaml", "mount: rear", "mounts: rear",
		`LINE:1: unknown key "mounts"; did you mean "mount"? expected one of: name, mount, antenna, tool, rows, sections, places, depth, hydraulics, controller, transport`},
	{"unknown key, nothing close", "machine.yaml", "mount: rear", "mount: rear\nxyzzy: 1",
		`LINE:1: unknown key "xyzzy"; expected one of: name, mount, antenna, tool, rows, sections, places, depth, hydraulics, controller, transport`},
	{"unknown key in a group", "machine.yaml", "  forward_m: 0.90", "  forward_cm: 90",
		`LINE:3: antenna: unknown key "forward_cm"; did you mean "forward_m"? expected one of: forward_m, right_m, height_m`},
	{"word", "machine.yaml", "mount: rear", "mount: raer",
		`LINE:8: mount: found "raer"; did you mean "rear"? expected one of: rear, front, trailed`},
	{"leading zero", "scenario.yaml", "seed: 1", "seed: 012",
		`LINE:9: drive.seed: found 012, which programs read differently; expected a whole number from 0 to 9.007199254740991e+15`},
	{"underscore", "machine.yaml", "working_cm: 3.0", "working_cm: 1_0",
		`LINE:15: depth.working_cm: found 1_0, which programs read differently; expected a number above 0 up to 50 cm`},
	{"binary", "scenario.yaml", "seed: 1", "seed: 0b11",
		`LINE:9: drive.seed: found 0b11, which programs read differently; expected a whole number from 0 to 9.007199254740991e+15`},
	{"number for a word", "machine.yaml", "mount: rear", "mount: 3",
		`LINE:8: mount: found 3; expected one of: rear, front, trailed`},
	{"text for a number", "machine.yaml", "spacing_m: 0.50", "spacing_m: half",
		`LINE:14: rows.spacing_m: found "half"; expected a number above 0 up to 3 m`},
	{"NaN", "machine.yaml", "spacing_m: 0.50", "spacing_m: .nan",
		`LINE:14: rows.spacing_m: found .nan; expected a number above 0 up to 3 m`},
	{"infinite", "machine.yaml", "spacing_m: 0.50", "spacing_m: .inf",
		`LINE:14: rows.spacing_m: found .inf; expected a number above 0 up to 3 m`},
	{"zero", "machine.yaml", "spacing_m: 0.50", "spacing_m: 0",
		`LINE:14: rows.spacing_m: found 0; expected a number above 0 up to 3 m`},
	{"too large", "machine.yaml", "spacing_m: 0.50", "spacing_m: 50",
		`LINE:14: rows.spacing_m: found 50; expected a number above 0 up to 3 m`},
	{"negative", "machine.yaml", "pump_l_min: 40", "pump_l_min: -40",
		`LINE:15: hydraulics.pump_l_min: found -40; expected a number above 0 up to 1000 L/min`},
	{"nothing", "machine.yaml", "pump_l_min: 40", "pump_l_min:",
		`LINE:14: hydraulics.pump_l_min: found nothing; expected a number above 0 up to 1000 L/min`},
	{"list for a number", "machine.yaml", "pump_l_min: 40", "pump_l_min: [40]",
		`LINE:15: hydraulics.pump_l_min: found a list; expected a number above 0 up to 1000 L/min`},
	{"fraction", "machine.yaml", "count: 12", "count: 12.5",
		`LINE:10: rows.count: found 12.5; expected a whole number from 1 to 1024`},
	{"not true or false", "machine.yaml", "flow_aware: true", "flow_aware: maybe",
		`LINE:15: controller.flow_aware: found "maybe"; expected true or false`},
	{"lead", "machine.yaml", "lift_lead: auto", "lift_lead: quick",
		`LINE:14: controller.lift_lead: found "quick"; expected auto, or a number from 0 to 10000 ms`},
	{"negative lead", "machine.yaml", "lift_lead: auto", "lift_lead: -5",
		`LINE:14: controller.lift_lead: found -5; expected auto, or a number from 0 to 10000 ms`},
	{"scalar for a group", "machine.yaml", "rows:\n  count: 12\n  spacing_m: 0.50\n  tool_width_m: 0.38\n  plant_strip_m: 0.02", "rows: 12",
		`LINE:7: rows: found 12; expected keys: count, spacing_m, units, tool_width_m, plant_strip_m`},
	{"missing key", "machine.yaml", "mount: rear\n", "",
		`@{name: }:1: key "mount" is missing; expected how the tool hangs on the tractor: rear, front or trailed`},
	{"missing key in a group", "machine.yaml", "  count: 12\n", "",
		`LINE:3: rows: key "count" is missing; expected rows the bar covers`},
	{"key twice", "machine.yaml", "mount: rear", "mount: rear\nmount: front",
		`@{mount: front}:1: not valid YAML: mapping key "mount" already defined at [@{mount: rear}:1]`},
	{"not YAML", "machine.yaml", "mount: rear", "mount: [rear",
		`@{antenna: }:1: not valid YAML: ',' or ']' must be specified`},
	{"anchor", "machine.yaml", "mount: rear", "mount: &m rear",
		`LINE:8: mount: found &m rear; expected the value written out`},
	{"anchor of a group", "machine.yaml", "rows:\n  count: 12", "rows: &r\n  count: 12",
		`@{rows: }:7: rows: found &r count: 12 spacing_m: 0.50 tool_wid...; expected the value written out`},
	{"second document", "machine.yaml", "transport:", "---\ntransport:",
		`@{transport:}:1: found a second YAML document; expected a machine alone`},
	{"NUL", "machine.yaml", "# An", "\x00 An", ` byte 1 is NUL; expected a machine in YAML`},

	{"sections of no rows", "machine.yaml", "[2, 2, 2, 2, 2, 2]", "[2, 0, 2]",
		`LINE:11: sections: found 0 as section 2; expected its number of rows, 1 to 1024`},
	{"rows that do not add up", "machine.yaml", "[2, 2, 2, 2, 2, 2]", "[4, 4, 2]",
		`LINE:11: sections: found 10 rows in 3 sections; expected rows.count, 12, in all`},
	{"sections that do not divide the rows", "machine.yaml", "[2, 2, 2, 2, 2, 2]", "5",
		`LINE:11: sections: found 5 for 12 rows; expected a number that divides the rows, or the rows of each section as a list`},
	{"tools wider than the rows", "machine.yaml", "tool_width_m: 0.38", "tool_width_m: 0.49",
		`LINE:17: rows.tool_width_m: found tools of 0.49 m and a plant strip of 0.02 m; expected no more than the row spacing of 0.5 m together`},
	{"rear bar in front", "machine.yaml", "forward_m: -2.20", "forward_m: 2.20",
		`LINE:14: tool.forward_m: found 2.2; expected less than 0 m, behind the rear axle, with mount: rear`},
	{"front bar behind", "machine.yaml", "mount: rear", "mount: front",
		`@{forward_m: -2.20}:14: tool.forward_m: found -2.2; expected more than 0 m on a front-mounted machine`},
	{"trailed without drawbar", "machine.yaml", "mount: rear", "mount: trailed",
		`@{forward_m: -2.20}:3: tool: key "drawbar_m" is missing; a trailed machine needs its drawbar, from the hitch to the tool's axle`},
	{"drawbar on a rear mount", "machine.yaml", "  offset_m: 0.00", "  drawbar_m: 3",
		`LINE:14: tool.drawbar_m: found on a rear-mounted machine; expected with mount: trailed alone`},
	{"effective below working", "machine.yaml", "effective_cm: 1.5", "effective_cm: 4",
		`LINE:17: depth.effective_cm: found 4; expected at most the working depth of 3 cm`},
	{"flow-aware with a fixed lead", "machine.yaml", "lift_lead: auto", "lift_lead: 150",
		`@{flow_aware: true}:15: controller.flow_aware: found true with a lead in milliseconds; expected lift_lead and drop_lead on auto`},
	{"leads of a section that is not there", "machine.yaml", "lift_lead: auto", "section_trims: [{section: 7, lift_ms: 20}]",
		`LINE:19: controller.section_trims[0]: found section 7; expected each of the 6 sections once at most`},
	{"leads of a section twice", "machine.yaml", "lift_lead: auto", "section_trims: [{section: 2}, {section: 2, lift_ms: 20}]",
		`LINE:33: controller.section_trims[1]: found section 2; expected each of the 6 sections once at most`},
	{"leads of no section", "machine.yaml", "lift_lead: auto", "section_trims: [{lift_ms: 20}]",
		`LINE:19: controller.section_trims[0]: key "section" is missing; expected its number, from 1 on the left`},
	{"a section's lead that takes off more than the dead time", "machine.yaml", "lift_lead: auto", "section_trims: [{section: 2, lift_ms: -500}]",
		`LINE:19: controller.section_trims[0]: lift lead longer by -500 ms; expected -60 to 9865 ms, for a dead time of 60 ms and a lead of 135 ms`},
	{"cylinder too small", "machine.yaml", "bore_mm: 32", "bore_mm: 8",
		`@{pump_l_min: }:3: hydraulics: 180 bar on a 8 mm bore lift 904.779 N; expected more than the lifting force, 2300 N`},
	{"oil grade", "machine.yaml", "oil_vg: 46", "oil_vg: 50",
		`@{pump_l_min: }:3: hydraulics: oil of grade ISO VG 50; expected 32, 46 or 68`},

	{"scenario: unknown key", "scenario.yaml", "  speed_kmh: 8", "  speed: 8",
		`LINE:3: drive: unknown key "speed"; did you mean "speed_kmh"? expected one of: start, speed_kmh, speed_sd_percent, driver_sd_percent, border_kmh, headland_kmh, turn_kmh, accel_mps2, decel_mps2, turn, min_radius_m, steer_time_s, pause_s, stops_per_h, stop_s, brake_mps2, start_mps2, straight_before_m, headland, rounds, zones, overlap_cm, skip_passes, steering_sigma_cm, seed`},
	{"scenario: time", "scenario.yaml", "2026-05-12T08:00:00Z", "tomorrow",
		`LINE:10: drive.start: found "tomorrow"; expected a time as 2026-05-12T08:00:00Z (RFC 3339)`},
	{"scenario: year", "scenario.yaml", "2026-05-12T08:00:00Z", "1026-05-12T08:00:00Z",
		`LINE:10: drive.start: found 1026-05-12T08:00:00Z; expected a year from 1980 to 2079, since NMEA sentences have two digits of it`},
	{"scenario: year that a sentence cannot hold", "scenario.yaml", "start: 2026", "start: 2080",
		`LINE:10: drive.start: found 2080-05-12T08:00:00Z; expected a year from 1980 to 2079, since NMEA sentences have two digits of it`},
	{"scenario: zero speed", "scenario.yaml", "  speed_kmh: 8", "  speed_kmh: 0",
		`LINE:14: drive.speed_kmh: found 0; expected a number above 0 up to 36 km/h`},
	{"scenario: missing file", "scenario.yaml", "machine: machine.yaml", "machine: hoe.yaml", ""}, // the error is of hoe.yaml: see below
	{"scenario: log and drive", "scenario.yaml", "field: field.geojson", "field: field.geojson\nlog: day.nmea",
		`@{start: }:3: drive: found beside log; expected a recorded log or a generated drive, not both`},
	{"scenario: states without log", "scenario.yaml", "field: field.geojson", "field: field.geojson\nstates: day.csv",
		`LINE:9: states: found without log; expected recorded work states beside the log of the same day`},
	{"scenario: zone of states without log", "scenario.yaml", "field: field.geojson", "field: field.geojson\nstates_zone: Europe/Berlin",
		`LINE:14: states_zone: found without log; expected it beside log and states`},
	{"scenario: sentence", "scenario.yaml", "  rate_hz: 10", "  sentences: [GGA, XYZ]",
		`LINE:20: receiver.sentences[1]: found "XYZ"; expected one of: GGA, RMC, VTG, HDT, ZDA, GST`},
	{"scenario: fault", "scenario.yaml", "  rate_hz: 10", "  faults:\n    - {from_s: 20, to_s: 10, kind: float}",
		`@{kind: float}:26: receiver.faults[0].to_s: found 10; expected more than from_s, 20 s`},
	{"scenario: fault kind", "scenario.yaml", "  rate_hz: 10", "  faults:\n    - from_s: 20\n      to_s: 30\n      kind: fog",
		`@{kind: fog}:13: receiver.faults[0].kind: found "fog"; expected one of: float, no-fix, silence`},
	{"scenario: negative limit", "scenario.yaml", "missed: 0", "missed: -1",
		`LINE:11: limits.missed: found -1; expected a whole number, 0 or more`},
	{"scenario: body zone", "scenario.yaml", "  seed: 1", "  zones: [maize]", `@{start: }:3: drive: no body zone "maize" in the field; it has "beets"`},
}

func TestBadSettings(t *testing.T) {
	for _, c := range badSettings {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			t.Chdir(dir)
			var bad string
			line := 0
			for _, name := range []string{"machine.yaml", "field.geojson", "scenario.yaml"} {
				text := demoText(t, name)
				if name == c.file {
					text, line = edit(t, text, c.old, c.replacement)
					line += strings.Count(c.replacement, "\n")
					bad = text
				}
				if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want := regexp.MustCompile(`@\{[^}]*\}`).ReplaceAllStringFunc(c.want, func(m string) string {
				before, _, _ := strings.Cut(bad, m[2:len(m)-1])
				return strconv.Itoa(1 + strings.Count(before, "\n"))
			})
			want = "liftbench: " + c.file + ":" + strings.Replace(want, "LINE", strconv.Itoa(line), 1) + "\n"
			if c.name == "scenario: missing file" {
				want = "liftbench: hoe.yaml: no such file; expected a machine file\n"
			}
			status, stdout, stderr := command("", "check", "scenario.yaml")
			if status != 2 || stdout != "" {
				t.Errorf("exit status %d, want 2; standard output %.40q", status, stdout)
			}
			if strings.Count(stderr, "\n") != 1 {
				t.Errorf("error of more than one line: %s", stderr)
			}
			if stderr != want {
				t.Errorf("\n got %swant %s", stderr, want)
			}
		})
	}
}

// TestTagsAreSound finds a tag that is misspelt or a range that is no number.
func TestTagsAreSound(t *testing.T) {
	known := map[string]bool{"key": true, "doc": true, "unit": true, "min": true, "max": true, "above": true, "below": true, "words": true, "need": true}
	var walk func(rt reflect.Type, path string)
	walk = func(rt reflect.Type, path string) {
		for i := range rt.NumField() {
			f := rt.Field(i)
			if f.Tag == "" {
				continue
			}
			name := path + "." + f.Tag.Get("key")
			if !f.IsExported() || f.Tag.Get("key") == "" || f.Tag.Get("doc") == "" {
				t.Errorf("%s: needs an exported field, a key and a doc", name)
			}
			for _, part := range strings.Split(string(f.Tag), "\" ") {
				if k, _, _ := strings.Cut(part, ":"); !known[k] {
					t.Errorf("%s: unknown tag %q", name, k)
				}
			}
			l := bind.RangeOf(f.Tag)
			if math.IsNaN(l.Lo) || math.IsNaN(l.Hi) || l.Lo >= l.Hi {
				t.Errorf("%s: range %v to %v", name, l.Lo, l.Hi)
			}
			ft := f.Type
			for ft.Kind() == reflect.Pointer || ft.Kind() == reflect.Slice {
				ft = ft.Elem()
			}
			if u, ok := reflect.New(ft).Interface().(encoding.TextUnmarshaler); ok && ft.PkgPath() != "time" {
				for word := range strings.SplitSeq(f.Tag.Get("words"), "|") {
					if err := u.UnmarshalText([]byte(word)); err != nil || fmt.Sprint(reflect.ValueOf(u).Elem()) != word {
						t.Errorf("%s: %q is read as %v, %v", name, word, reflect.ValueOf(u).Elem(), err)
					}
				}
			}
			if _, isUnion := reflect.New(ft).Interface().(bind.Union); ft.Kind() == reflect.Struct && !isUnion && ft.PkgPath() != "time" {
				walk(ft, name)
			}
		}
	}
	walk(reflect.TypeFor[settings.Machine](), "machine")
	walk(reflect.TypeFor[settings.Scenario](), "scenario")
}

func TestDemoLoads(t *testing.T) {
	u, err := new(settings.Selection).Load()
	if err != nil {
		t.Fatal(err)
	}
	m := u.Machine.Geometry()
	if err := m.Validate(); err != nil {
		t.Error(err)
	}
	if len(m.Sections) != 6 || m.Sections[0].YM != -2.5 || m.Sections[5].YM != 2.5 || m.Sections[0].WidthM != 1 {
		t.Errorf("sections %+v", m.Sections)
	}
	p := u.Machine.Params()
	set := u.Machine.Settings(&p)
	if err := set.Validate(); err != nil {
		t.Error(err)
	}
	if ha := u.Field.AreaM2() / 1e4; ha < 4 || ha > 6 {
		t.Errorf("field of %.2f ha, want 4 to 6", ha)
	}
}

func TestSectionsOfUnequalSize(t *testing.T) {
	text, _ := edit(t, demoText(t, "machine.yaml"), "[2, 2, 2, 2, 2, 2]", "[5, 2, 5]")
	text, _ = edit(t, text, "offset_m: 0.00", "offset_m: 0.10")
	m, err := settings.LoadMachine("m.yaml", settings.Named(func(string, string) ([]byte, error) { return []byte(text), nil }))
	if err != nil {
		t.Fatal(err)
	}
	g := m.Geometry()
	for i, want := range []struct{ y, w float64 }{{-1.65, 2.5}, {0.10, 1}, {1.85, 2.5}} {
		if s := g.Sections[i]; math.Abs(s.YM-want.y) > 1e-12 || s.WidthM != want.w {
			t.Errorf("section %d at %g, %g m wide; want %g, %g", i+1, s.YM, s.WidthM, want.y, want.w)
		}
	}
}

// TestScenarioChangesTheController: key by key, the machine's values staying
// where the scenario says nothing.
func TestScenarioChangesTheController(t *testing.T) {
	dir := t.TempDir()
	if err := settings.WriteDemo(dir); err != nil {
		t.Fatal(err)
	}
	text := demoText(t, "scenario.yaml") + "\ncontroller:\n  edge_rule: crop-first\n"
	file := filepath.Join(dir, "scenario.yaml")
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	_, m, err := settings.LoadScenario(file, settings.OnDisk, "")
	if err != nil {
		t.Fatal(err)
	}
	if c := m.Controller; c.EdgeRule != sections.CropFirst || c.RowToleranceDeg != 10 || !c.LiftLead.Auto {
		t.Errorf("controller %+v", c)
	}
}

// TestDefaultController: a machine file without a controller block has the
// controller's own defaults, with the leads of its hydraulics.
func TestDefaultController(t *testing.T) {
	m := settings.DefaultMachine()
	m.Rows.SpacingM, m.Rows.Count, m.Sections.Count = 0.5, 6, 6
	p := m.Params()
	got, want := m.Settings(&p), sections.DefaultSettings()
	want.RowSpacingM = 0.5
	want.LiftLead, want.DropLead = sim.Leads(&p, 6, true)
	for _, x := range []struct{ got, want *float64 }{
		{&got.RowToleranceRad, &want.RowToleranceRad}, {&got.MinSpeedMps, &want.MinSpeedMps}, {&got.MaxSpeedMps, &want.MaxSpeedMps},
	} {
		if math.Abs(*x.got-*x.want) < 1e-7 { // degrees and km/h are rounded
			*x.got = *x.want
		}
	}
	if got != want {
		t.Errorf("\n got %+v\nwant %+v", got, want)
	}
}

// TestTrailedFromItsFile: a machine whose file says that it is trailed cuts corners, and
// needs a longer straight run than one of the same measures on the three-point linkage.
func TestTrailedFromItsFile(t *testing.T) {
	t.Chdir(t.TempDir())
	rear, _ := edit(t, demoText(t, "machine.yaml"), "forward_m: -2.20", "forward_m: -6.00")
	trailed, _ := edit(t, rear, "mount: rear", "mount: trailed")
	trailed, _ = edit(t, trailed, "forward_m: -6.00", "drawbar_m: 4.5\n  hitch_behind_m: 0.8\n  forward_m: -6.00")
	line := regexp.MustCompile(`on the line +([0-9.]+) m before the border`)
	var straightM [2]float64
	for i, text := range []string{rear, trailed} {
		for name, text := range map[string]string{"machine.yaml": text, "scenario.yaml": demoText(t, "scenario.yaml"), "field.geojson": demoText(t, "field.geojson")} {
			if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		status, table, stderr := command("", "run", "scenario.yaml")
		found := line.FindStringSubmatch(table)
		if status > 1 || found == nil {
			t.Fatalf("status %d, %s%s", status, table, stderr)
		}
		straightM[i], _ = strconv.ParseFloat(found[1], 64)
	}
	// The bar of a drawbar of 4.5 m comes onto the line with exp(-s/4.5 m).
	if straightM[1] < straightM[0]+4.5 {
		t.Errorf("a straight run of %g m trailed, %g m mounted", straightM[1], straightM[0])
	}
}

// TestPlacesOfSections: sections whose places are written out as rows and sections make
// them run the same drive; of staggered ones each lifts at its own place.
func TestPlacesOfSections(t *testing.T) {
	t.Chdir(t.TempDir())
	plain := demoText(t, "machine.yaml")
	placed := func(aheadM ...float64) string {
		text := plain + "places:\n"
		for i := range 6 {
			text += fmt.Sprintf("  - {forward_m: %.2f, right_m: %g, width_m: 1}\n", -2.2+aheadM[i%len(aheadM)], float64(i)-2.5)
		}
		return text
	}
	var events [][]byte
	for _, text := range []string{plain, placed(0), placed(0, -1.5)} {
		for name, text := range map[string]string{"machine.yaml": text, "scenario.yaml": demoText(t, "scenario.yaml"), "field.geojson": demoText(t, "field.geojson")} {
			if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		status, table, stderr := command("", "run", "--out", "out", "scenario.yaml")
		if status > 1 || !strings.Contains(table, "all         196      0     0") {
			t.Fatalf("status %d, %s%s", status, table, stderr)
		}
		data, err := os.ReadFile("out/events.csv")
		if err != nil {
			t.Fatal(err)
		}
		events = append(events, data)
	}
	if !bytes.Equal(events[0], events[1]) {
		t.Error("places written out as they were change the drive")
	}
	if bytes.Equal(events[0], events[2]) {
		t.Error("staggered sections lift as those in one line do")
	}
}
