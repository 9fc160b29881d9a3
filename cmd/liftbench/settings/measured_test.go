// Times at standstill in place of bore, orifice and forces.

package settings

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// loadText loads a machine file with this text.
func loadText(t *testing.T, text string) (*Machine, error) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "m.yaml")
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return LoadMachine(file, OnDisk)
}

const bare = "mount: rear\ntool: {forward_m: -2}\nrows: {count: 12, spacing_m: 0.5}\nsections: 6\ndepth: {working_cm: 4, effective_cm: 2, raised_cm: 20}\n"

// Event-to-event arithmetic: from the ground (4 cm of way) to raised (24 cm) in 0.8 s is 0.25 m/s, so
// 0.16 s for the depth and 0.1 s dead time; half of the depth until out of work.
func TestMeasured(t *testing.T) {
	const block = "hydraulics: {bore_mm: %d, lift_force_n: %d, drop_dead_ms: 50, oil_c: 45, measured: {lift_s: 0.26, raised_s: 1.06, drop_s: 0.55, lift_all_s: 0.42, oil_c: 45}}\n"
	for _, bore := range []int{25, 32, 50} {
		m, err := loadText(t, bare+fmt.Sprintf(block, bore, 2*bore*bore))
		if err != nil {
			t.Fatal(err)
		}
		p := m.Params()
		for _, c := range []struct {
			what      string
			gotNs     int64
			wantMilli float64
		}{
			{"lift lead, alone", p.LiftTimeNs(1), 100 + 80}, {"raised, alone", p.FullLiftTimeNs(1), 1060},
			{"lift lead, all", p.LiftTimeNs(6), 100 + 160}, {"lift lead, three: half of the pump's load, as fast as one", p.LiftTimeNs(3), 100 + 80},
			// 20 cm in 0.5 s are 0.4 m/s; two more to effective depth.
			{"drop lead", p.DropTimeNs(), 50 + 1000*0.22/0.4},
		} {
			if got := float64(c.gotNs) * 1e-6; math.Abs(got-c.wantMilli) > 0.01 {
				t.Errorf("bore %d mm: %s %.3f ms; want %g", bore, c.what, got, c.wantMilli)
			}
		}
		// Written and read again, it says the same; also after the pump was changed.
		m.Hydraulics.PumpLMin *= 1.5
		again, err := loadText(t, string(m.Text()))
		if err != nil {
			t.Fatalf("%v\n%s", err, m.Text())
		}
		p, q := m.Params(), again.Params()
		for n := range 7 {
			if d := p.LiftTimeNs(n) - q.LiftTimeNs(n); d < -1000 || d > 1000 {
				t.Errorf("bore %d mm, %d sections: %d ns apart after it was written", bore, n, d)
			}
		}
		// Colder than it was timed it is slower, as is computed for the same lift.
		p.OilTempDegC = -10
		if cold := p.DropTimeNs(); cold <= q.DropTimeNs() {
			t.Errorf("bore %d mm: drop lead %d ns in cold oil, %d in that it was timed with", bore, cold, q.DropTimeNs())
		}
	}
	// Each key shows.
	base, _ := loadText(t, bare+fmt.Sprintf(block, 32, 2500))
	was := fmt.Sprintf("%+v", base.Params())
	for _, edit := range [][2]string{{"lift_s: 0.26", "lift_s: 0.3"}, {"raised_s: 1.06", "raised_s: 1.2"}, {"drop_s: 0.55", "drop_s: 0.6"}, {"lift_all_s: 0.42", "lift_all_s: 0.5"}, {"0.42, oil_c: 45", "0.42, oil_c: 20"}} {
		m, err := loadText(t, strings.Replace(bare+fmt.Sprintf(block, 32, 2500), edit[0], edit[1], 1))
		if err != nil || fmt.Sprintf("%+v", m.Params()) == was {
			t.Errorf("%s: %v, or nothing follows from it", edit[1], err)
		}
	}
}

// They are taken wherever a machine may stand: in a file of its own, in a scenario, over what a recording
// tells.
func TestMeasuredEverywhere(t *testing.T) {
	const block = "hydraulics: {drop_dead_ms: 50, measured: {lift_s: 0.26, raised_s: 1.06}}\n"
	m, err := MachineOver("recording", []byte(bare), "over.yaml", Named(func(string, string) ([]byte, error) { return []byte(block), nil }))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	scenario := filepath.Join(dir, "s.yaml")
	text := "machine:\n  " + strings.ReplaceAll(strings.TrimSpace(bare+block), "\n", "\n  ") + "\nfield: f.geojson\ndrive: {speed_kmh: 8}\n"
	field, err := DemoFiles.ReadFile("demo/field.geojson")
	if err != nil {
		t.Fatal(err)
	}
	for file, data := range map[string]string{scenario: text, filepath.Join(dir, "f.geojson"): string(field)} {
		if err := os.WriteFile(file, []byte(data), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	u, err := (&Selection{Arg: scenario}).Load()
	if err != nil {
		t.Fatal(err)
	}
	for where, m := range map[string]*Machine{"over a recording": m, "in a scenario": u.Machine} {
		p := m.Params()
		if got := float64(p.FullLiftTimeNs(1)) * 1e-6; math.Abs(got-1060) > 0.01 {
			t.Errorf("%s: raised after %.2f ms; want 1060", where, got)
		}
	}
}

// Times that cannot be are refused with their line and what was expected.
func TestMeasuredErrors(t *testing.T) {
	for block, want := range map[string]string{
		"{lift_s: 0.3}":                                "raised_s",
		"{lift_s: 0.3, raised_s: 0.2}":                 "m.yaml:9:15: hydraulics.measured.raised_s: found 0.2 s; expected more than lift_s, 0.3 s",
		"{lift_s: 0.1, raised_s: 1.5}":                 "hydraulics.measured.lift_s: found 0.1 s; expected 0.28 s or more",
		"{lift_s: 0.3, raised_s: 1, drop_s: 0.05}":     "hydraulics.measured.drop_s: found 0.05 s; expected more than drop_dead_ms, 60 ms",
		"{lift_s: 0.3, raised_s: 1, lift_all_s: 0.15}": "hydraulics.measured.lift_all_s: found 0.15 s; expected more than the dead time of 0.16 s",
		"{lift_s: -1, raised_s: 1}":                    "lift_s",
		"{lift_s: 0.3, raised_s: 1, lift_ms: 3}":       "unknown key",
	} {
		text := bare + "hydraulics:\n  measured:\n    " + strings.ReplaceAll(strings.Trim(block, "{}"), ", ", "\n    ") + "\n"
		if _, err := loadText(t, text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v; want %s", block, err, want)
		}
	}
}
