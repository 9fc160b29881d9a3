package run

import (
	"strings"
	"testing"

	"liftbench/replay/diagnose"
	"liftbench/sections/score"
	"liftbench/sim"
)

// No cause that rests on borders survives where the borders are a guess and most lifts and drops lie
// elsewhere; where they come from a file, or most lifts and drops lie at them, all causes do.
func TestCausesAtGuessedBorders(t *testing.T) {
	for _, tc := range []struct {
		name              string
		found             []string
		headlandM         float64
		missed            int
		setpoint          bool
		causes            int
		suspicion, cannot bool
	}{
		{"zones from a file", nil, 0, 8, true, 5, false, true},
		{"zones found, most at their borders", []string{"Body"}, 0, 2, true, 5, false, true},
		{"zones found, most elsewhere", []string{"Body"}, 0, 8, false, 1, true, false},
		{"setpoints recorded too", []string{"Body"}, 0, 8, true, 3, true, false},
		{"a headland's width given", nil, 18, 8, false, 1, true, false},
	} {
		result := &score.Result{Lift: score.Stats{Count: 10, Missed: tc.missed, Paired: 10 - tc.missed}, Drop: score.Stats{Count: 10, Missed: tc.missed, Paired: 10 - tc.missed}}
		result.Area.WorkedM2, result.Area.PassedM2 = 100, 100
		d := &Diagnosis{
			Outcome: &Outcome{Outcome: &sim.Outcome{Score: result}}, ZonesFound: tc.found, HeadlandM: tc.headlandM, Setpoint: tc.setpoint, Actual: true,
			Diagnosis: &diagnose.Diagnosis{CannotTell: make([]diagnose.Doubt, 1)},
		}
		for _, c := range []diagnose.Cause{diagnose.LiftTiming, diagnose.ByHand, diagnose.Sensor, diagnose.DoesNotFollow, diagnose.MachineSlow} {
			d.Causes = append(d.Causes, diagnose.Finding{Cause: c})
		}
		d.doubtZones()
		if len(d.Causes) != tc.causes || (d.Suspicion != nil) != tc.suspicion || (len(d.CannotTell) > 0) != tc.cannot {
			t.Errorf("%s: %d causes, suspicion %v, cannot tell %d", tc.name, len(d.Causes), d.Suspicion, len(d.CannotTell))
		}
		if tc.suspicion && !strings.Contains(d.Suspicion.Text, "16 were missed") {
			t.Errorf("%s: %s", tc.name, d.Suspicion.Text)
		}
	}
}

// A driver who works beyond the border that was found lifts late and drops early everywhere.
func TestSideOfBorder(t *testing.T) {
	day := func(liftM, dropM float64, n, other int) *Diagnosis {
		result := &score.Result{}
		for i := range n {
			by := 1.0
			if i < other {
				by = -1
			}
			result.Events = append(result.Events, score.Event{Kind: score.Paired, PlaceErrorM: by * liftM},
				score.Event{Kind: score.Paired, On: true, PlaceErrorM: by * dropM}, score.Event{Kind: score.Missed})
		}
		return &Diagnosis{Events: result.Events}
	}
	for _, tc := range []struct {
		d    *Diagnosis
		want string
	}{
		{day(2.8, -3.3, 10, 0), "Nearly all lifts are late and drops early, by 2.8 and 3.3 m (medians): rows were worked on beyond that border. "},
		{day(-2, 1, 10, 1), "Nearly all lifts are early and drops late, by 2.0 and 1.0 m (medians): rows were left before that border. "},
		{day(2.8, 3.3, 10, 0), ""},
		{day(2.8, -3.3, 10, 2), ""},
		{day(2.8, -3.3, 4, 0), ""},
	} {
		if got := tc.d.sideOfBorder(); got != tc.want {
			t.Errorf("%q; want %q", got, tc.want)
		}
	}
}
