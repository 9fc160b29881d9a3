// The spread's block of a scenario, from its keys to the score.

package main

import (
	"io"
	"math"
	"reflect"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/sheet"
	"liftbench/sections/score"
	"liftbench/sim/hydraulics"
)

func TestSpreadReachesTheJob(t *testing.T) {
	s, m := demoWith(t, "spread: {lift_dead_ms: 8, drop_dead_ms: 6, flow_percent: 5, oil_start_c: 8, oil_warming_min: 15}")
	u := &settings.Setup{Title: "x", Scenario: s, Machine: m}
	job := run.Job(u)
	if want := (hydraulics.Spread{LiftDeadNs: 8e6, DropDeadNs: 6e6, Flow: 0.05, Seed: 1}); job.Spread != want {
		t.Errorf("spread %+v; want %+v", job.Spread, want)
	}
	if want := (hydraulics.Warming{FromDegC: 8, TimeConstantS: 900}); job.Warming != want {
		t.Errorf("warming %+v; want %+v", job.Warming, want)
	}
	plain, m := demoWith(t, "")
	sound := run.Job((&settings.Setup{Scenario: plain, Machine: m}))
	if job.Settings != sound.Settings || !reflect.DeepEqual(job.Hydraulics, sound.Hydraulics) {
		t.Error("the controller is told of the spread")
	}
	if sound.Warming != (hydraulics.Warming{}) || sound.Spread != (hydraulics.Spread{Seed: 1}) {
		t.Errorf("without spread: %+v, %+v", sound.Warming, sound.Spread)
	}
	again, _, err := settings.LoadScenario("again.yaml", settings.Named(func(string, string) ([]byte, error) { return u.SettingText("field.geojson"), nil }), "")
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(again.Spread, s.Spread) {
		t.Errorf("written and read back: %+v", again.Spread)
	}
}

func TestBadSpread(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"beside states", "log: x.nmea\nstates: x.csv\nspread: {flow_percent: 3}",
			"s.yaml:5:9: spread: found beside states; expected simulated hydraulics or recorded work states, not both"},
		{"frozen", "spread:\n  oil_start_c: -30", "s.yaml:4:16: spread.oil_start_c: tools move at "},
	} {
		machine := demoText(t, "machine.yaml")
		if c.name == "frozen" { // a hose of a millimetre
			machine, _ = edit(t, machine, "hose_bore_mm: 8", "hose_bore_mm: 1")
		}
		text := "machine: machine.yaml\nfield: field.geojson\n" + c.text
		_, _, err := settings.LoadScenario("s.yaml", settings.Named(func(path, _ string) ([]byte, error) {
			if path == "s.yaml" {
				return []byte(text), nil
			}
			return []byte(machine), nil
		}), "")
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s: error %v; want %s", c.name, err, c.want)
		}
	}
}

// On a cold morning the tools are late, the more the earlier it is.
func TestColdMorning(t *testing.T) {
	u, err := new(settings.Selection).Load()
	if err != nil {
		t.Fatal(err)
	}
	cold, tau := 5.0, 8.0
	u.Scenario.Spread.OilStartC, u.Scenario.Spread.OilWarmingMin = &cold, tau
	o, err := run.Drive(u, nil, io.Discard, false)
	if err != nil {
		t.Fatal(err)
	}
	var early, late, n, k float64
	for i := range o.Score.Events {
		e := &o.Score.Events[i]
		if e.Kind != score.Paired || !e.On {
			continue
		}
		switch minutes := float64(e.TimeNs()-o.Reception.FirstNs) / 60e9; {
		case minutes < 5:
			early, n = early+e.TimeErrorS, n+1
		case minutes > 35:
			late, k = late+e.TimeErrorS, k+1
		}
	}
	if early, late = early/n, late/k; early < 0.12 || math.Abs(late) > 0.02 {
		t.Errorf("drops %.3f s late in the first minutes, %.3f s at the end", early, late)
	}
}

func TestColdWarning(t *testing.T) {
	for text, want := range map[string]string{
		"{oil_start_c: 5}":  "The oil starts at 5 °C, the leads are for 45 °C: at 8 km/h a section alone lifts 0 cm and drops 73 cm late at first.",
		"{oil_start_c: 44}": "",
	} {
		s, m := demoWith(t, "spread: "+text)
		x := &sheet.Sheet{Machine: m, Scenario: s}
		x.Cold()
		if got := strings.Join(x.Warnings, "; "); got != want {
			t.Errorf("%s: %q; want %q", text, got, want)
		}
	}
}

// A setting that is written for a log with work states reads back.
func TestWrittenSpreadBesideStates(t *testing.T) {
	s, m := demoWith(t, "spread: {flow_percent: 5}")
	s.Log, s.States = "x.nmea", "x.csv"
	written := (&settings.Setup{Title: "x", Scenario: s, Machine: m}).SettingText("field.geojson")
	if _, _, err := settings.LoadScenario("again.yaml", settings.Named(func(string, string) ([]byte, error) { return written, nil }), ""); err != nil {
		t.Errorf("%v in\n%s", err, written)
	}
}
