// The set-up sheet against formulas and common practice.

package main

import (
	"math"
	"os"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/sheet"
)

func TestDemoSheet(t *testing.T) {
	status, stdout, stderr := command("", "check")
	if status != 0 || stderr != "" {
		t.Fatalf("exit status %d, %s", status, stderr)
	}
	golden(t, "check-demo.txt", stdout)
	for i, line := range strings.Split(stdout, "\n") {
		if n := len([]rune(line)); n > 80 {
			t.Errorf("line %d is %d wide: %s", i+1, n, line)
		}
	}
}

// sheetOf returns the sheet of a machine file.
func sheetOf(t *testing.T, machine string, args ...string) string {
	t.Helper()
	t.Chdir(t.TempDir())
	if err := os.WriteFile("m.yaml", []byte(machine), 0o644); err != nil {
		t.Fatal(err)
	}
	status, stdout, stderr := command("", append([]string{"check", "--machine", "m.yaml"}, args...)...)
	if status != 0 {
		t.Fatal(stderr)
	}
	return strings.Join(strings.Fields(stdout), " ")
}

// TestTradeFigures: common practice, no source. 0.25 m rows with 0.18 m tools
// and a plant strip of 1 cm leave 3 cm on each side; 450 mm of sliding distance
// reaches 225 mm each way; 24 rows of 0.25 m are 6 m.
func TestTradeFigures(t *testing.T) {
	got := sheetOf(t, `
mount: front
tool: {forward_m: 4.2, side_shift_total_mm: 450}
rows: {count: 24, spacing_m: 0.25, tool_width_m: 0.18, plant_strip_m: 0.01}
sections: 8
hydraulics: {pump_l_min: 60}
`, "--steering-error-cm", "1.5")
	for _, want := range []string{
		"24 of 0.25 m: 6.00 m",
		"3 cm on each side; 1.5 cm left at a steering error of ±1.5 cm",
		"450 mm in all, 225 mm each way",
		"ground worked 72 %",
		"Warnings - The tractor feeds",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in %s", want, got)
		}
	}
}

func TestWarnings(t *testing.T) {
	const usual = "mount: rear\ntool: {forward_m: -2}\nrows: {count: 12, spacing_m: 0.5, tool_width_m: 0.3, plant_strip_m: 0.02}\nsections: 4\nhydraulics: {pump_l_min: 60}\n"
	for _, c := range []struct{ name, old, replacement, want string }{
		{"nothing", "", "", "Warnings none"},
		{"rows too narrow", "spacing_m: 0.5, tool_width_m: 0.3", "spacing_m: 0.2, tool_width_m: 0.08", "Rows of 0.2 m are unusual: 0.25 to 0.80 m is common."},
		{"rows too wide", "spacing_m: 0.5", "spacing_m: 0.9", "Rows of 0.9 m are unusual: 0.25 to 0.80 m is common."},
		{"no clearance", "tool_width_m: 0.3", "tool_width_m: 0.44", "Tools reach 2 cm into the plant strip at a steering error of ±4 cm"},
		{"little clearance", "tool_width_m: 0.3", "tool_width_m: 0.39", "Only 0.5 cm are left between tool and plant strip at a steering error of ±4 cm."},
		{"depth between steps", "sections: 4", "sections: 4\ndepth: {working_cm: 3.2}", "A working depth of 3.2 cm cannot be set on most hoes: steps are 0.5 cm."},
		{"wide on the road", "sections: 4", "sections: 4\ntransport: {width_m: 3.2, height_m: 3.9}", "3.2 m wide on the road: above the usual 3 m, subject to local law."},
		{"high on the road", "sections: 4", "sections: 4\ntransport: {width_m: 3, height_m: 4.1}", "4.1 m high on the road: above the usual 4 m, subject to local law."},
		{"pump", "pump_l_min: 60", "pump_l_min: 16", "The tractor feeds 2.0 of 4 sections at full speed: all at once lift 2.0 times as long."},
		{"no hydraulics", "hydraulics: {pump_l_min: 60}\n", "", "The machine file has no hydraulics: times are those of a typical lift."},
		{"lead too short", "sections: 4", "sections: 4\ncontroller: {drop_lead: 200}", "the hydraulics need"},
		{"wide bar", "count: 12", "count: 28", "A working width of 14 m is unusual: 6, 9 and 12 m are common."},
		{"turbulent", "hydraulics: {pump_l_min: 60}", "hydraulics: {pump_l_min: 60, oil_c: 110, hose_bore_mm: 4}", "Flow in the hoses is turbulent"},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := usual
			if c.old != "" {
				text, _ = edit(t, text, c.old, c.replacement)
			}
			if got := sheetOf(t, text); !strings.Contains(got, c.want) {
				t.Errorf("no %q in %s", c.want, got[strings.Index(got, "Warnings"):])
			}
		})
	}
}

// TestWorkRate: ASABE EP496, C = S·W·E/10: 8 km/h, 6 m and 80 % are 3.84 ha/h.
func TestWorkRate(t *testing.T) {
	if got := sheet.WorkRate(8, 6, 0.8); math.Abs(got-3.84) > 1e-12 {
		t.Errorf("%g ha/h, want 3.84", got)
	}
}

// TestHeadlandEstimate: a half circle where the next pass is two radii away,
// a bulb of three circles where it is nearer, seen on paper: R = 6 m and
// d = 6 m give √(12² − 9²) + 6 = 13.94 m.
func TestHeadlandEstimate(t *testing.T) {
	m := settings.DefaultMachine()
	m.Rows.Count, m.Rows.SpacingM = 12, 0.5
	s := &sheet.Sheet{Machine: m}
	swing := math.Hypot(6+3, 0) - 6
	if got, want := s.HeadlandNeededM(), math.Sqrt(144-81)+6+swing; math.Abs(got-want) > 1e-9 {
		t.Errorf("bulb: %.3f m, want %.3f", got, want)
	}
	m.Rows.Count = 24
	swing = math.Hypot(6+6, 0) - 6
	if got, want := s.HeadlandNeededM(), 6+swing; math.Abs(got-want) > 1e-9 {
		t.Errorf("half circle: %.3f m, want %.3f", got, want)
	}
}
