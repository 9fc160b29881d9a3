package study

import (
	"io"
	"reflect"
	"testing"

	"liftbench/cmd/liftbench/acceptance"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
)

// TestTunedSheet: the crossings are of drives with the settings found and of seeds that
// the search did not use; the settings before are the scenario's.
func TestTunedSheet(t *testing.T) {
	base, err := new(settings.Selection).Load()
	if err != nil {
		t.Fatal(err)
	}
	found, err := With(base, Change{"controller.lift_trim_ms", 40})
	if err != nil {
		t.Fatal(err)
	}
	tuned := &Tuned{Base: base, settings: found, Options: TuneOptions{Drives: 2, FirstSeed: 7}}
	s, err := tuned.Sheet("liftbench tune")
	if err != nil {
		t.Fatal(err)
	}
	var lifts []acceptance.Crossing
	for _, seed := range []int{9, 10} {
		u := found.Copy()
		u.Scenario.Drive.Seed = seed
		o, err := run.Drive(u, nil, io.Discard, false)
		if err != nil {
			t.Fatal(err)
		}
		l, _ := acceptance.Crossings(o.Score.Events)
		lifts = append(lifts, l...)
	}
	if len(lifts) < 40 || !reflect.DeepEqual(s.Lifts, lifts) {
		t.Errorf("%d lifts on the sheet, %d by drives of their own, or others", len(s.Lifts), len(lifts))
	}
	if d := *s.After.LiftLeadMs - *s.Before.LiftLeadMs; d != 40 || s.Command != "liftbench tune" || s.Source != acceptance.Simulated {
		t.Errorf("the lift lead changes by %g ms; want 40; %q, source %d", d, s.Command, s.Source)
	}
}
