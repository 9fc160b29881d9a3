// Limits of what counts, just within and just beyond, and sums by hand for sections
// that share the pump.

package evidence

import (
	"math"
	"slices"
	"testing"

	"liftbench/nmea"
	"liftbench/sections/score"
)

// A cause of lifts is none of drops; what is worth a repair is what the README says.
func TestKinds(t *testing.T) {
	for _, tc := range []struct {
		kind        Kind
		lift, drop  float64
		description string
	}{{Both, 1, 1, ""}, {Lifts, 1, 0, "lift"}, {Drops, 0, 1, "drop"}} {
		if tc.kind.Applies(false) != tc.lift || tc.kind.Applies(true) != tc.drop || tc.kind.Name() != tc.description {
			t.Errorf("%q: %g for lifts, %g for drops", tc.kind.Name(), tc.kind.Applies(false), tc.kind.Applies(true))
		}
	}
	if LeastS != 0.010 || LeastM != 0.020 {
		t.Errorf("%g s, %g m; want 10 ms, 2 cm", LeastS, LeastM)
	}
}

// One crossing whose sections change at once though the border slants is enough to show one
// recorded state; sections that cross alone say nothing of it.
func TestOneStateOfFewCrossings(t *testing.T) {
	alone := crossed(2, true, 60, 0.2)
	slanting := []score.Event{crossed(0, false, 10, 0.4), crossed(1, false, 10.2, 0.2)}
	for _, tc := range []struct {
		name   string
		events []score.Event
		want   bool
	}{
		{"one crossing", slanting, true},
		{"one crossing, one section alone", append(slices.Clone(slanting), alone), true},
		{"one section alone", []score.Event{alone}, false},
		{"no crossing", nil, false},
	} {
		moves := Moves(tc.events)
		for i := range moves {
			moves[i].ActualNs = tc.events[i].ActualNs
		}
		if got := OneState(moves, Crossings(moves)); got != tc.want {
			t.Errorf("%s: %v", tc.name, got)
		}
	}
}

// As many spurious transitions as paired ones are enough to diagnose. The second fix of two
// must not be the earlier.
func TestFewest(t *testing.T) {
	var events []score.Event
	for range 3 {
		events = append(events, score.Event{Kind: score.Paired}, score.Event{Kind: score.Spurious})
	}
	if err := Enough(events); err != nil {
		t.Error(err)
	}
	if err := (&Day{Machine: bar(), Fixes: []Fix{{TimeNs: 7}, {TimeNs: 4}}}).Check(); err == nil {
		t.Error("the second fix of two is the earlier; want an error")
	}
}

// Without a machine the moves have their times, speeds and errors, in order of time.
func TestMovesWithoutMachine(t *testing.T) {
	events := []score.Event{crossed(1, true, 60, -0.3), crossed(0, false, 10, 0.15)}
	want := []Move{
		{Section: 0, IdealNs: 10e9, SpeedMps: 2, TimeErrorS: 0.15, PlaceErrorM: 0.3, PerPlace: 1, LateM: 0.3},
		{Section: 1, On: true, IdealNs: 60e9, SpeedMps: 2, TimeErrorS: -0.3, PlaceErrorM: -0.6, PerPlace: 1, LateM: -0.6},
	}
	if got := Moves(events); !slices.Equal(got, want) {
		t.Errorf("%+v; want %+v", got, want)
	}
}

// A setpoint is of a transition's crossing if both are of one section, into or out of work, and
// their ideal instants are at most 10 ms apart. Only paired ones have a crossing.
func TestSetpointOfCrossing(t *testing.T) {
	for _, tc := range []struct {
		name     string
		setpoint score.Event
		apartNs  int64
		kind     score.Kind
		want     int
	}{
		{"same instant", crossed(1, false, 10, 0), 0, score.Paired, 0},
		{"10 ms earlier", crossed(1, false, 10, 0), -10e6, score.Paired, 0},
		{"10 ms later", crossed(1, false, 10, 0), 10e6, score.Paired, 0},
		{"more than 10 ms earlier", crossed(1, false, 10, 0), -10e6 - 1, score.Paired, -1},
		{"more than 10 ms later", crossed(1, false, 10, 0), 10e6 + 1, score.Paired, -1},
		{"another section", crossed(2, false, 10, 0), 0, score.Paired, -1},
		{"the other way", crossed(1, true, 10, 0), 0, score.Paired, -1},
		{"missed", crossed(1, false, 10, 0), 0, score.Missed, -1},
		{"spurious", crossed(1, false, 10, 0), 0, score.Spurious, -1},
	} {
		tc.setpoint.IdealNs += tc.apartNs
		actual := crossed(1, false, 10, 0.1)
		actual.Kind = tc.kind
		day := Day{Machine: bar(), Actual: []score.Event{actual}, Setpoint: []score.Event{tc.setpoint}}
		if got := day.setpoints(); got[0] != tc.want {
			t.Errorf("%s: setpoint %d; want %d", tc.name, got[0], tc.want)
		}
		// Neither has a crossing if the setpoint was spurious.
		day.Setpoint[0].Kind = score.Spurious
		if got := day.setpoints(); got[0] != -1 {
			t.Errorf("%s: a spurious setpoint goes with it", tc.name)
		}
	}
}

// Metres late for each radian are as much more as a metre of place error is.
func TestLeverPerPlace(t *testing.T) {
	lever := func(perPlace float64) float64 {
		moves := []Move{
			{SideM: -3, AntennaM: -2, AxleM: -1, SpeedMps: 2, YawRateRadPerS: 0.1, PerPlace: perPlace},
			{SideM: 3, AntennaM: -2, AxleM: -1, SpeedMps: 2, YawRateRadPerS: 0.1, PerPlace: perPlace, EastM: 6, NorthM: 2},
		}
		SetLevers(moves, &Crossing{Crossing: score.Crossing{Changes: []int32{0, 1}}})
		return moves[1].LeverM
	}
	if one, half := lever(1), lever(1.5); !(one > 1) || !(math.Abs(half-1.5*one) <= 1e-9) {
		t.Errorf("%g m, with 1.5 m for each metre %g m", one, half)
	}
}

// checkStrokes compares how long lifts take and how many others rise beside them, 0.2 s each.
func checkStrokes(t *testing.T, name string, s strokes, wantS, wantOthers []float64, toleranceS float64) {
	t.Helper()
	one := s.pump
	one.Fed = 1
	_, others := one.Took(s.starts)
	for i := range wantS {
		if len(s.tookS) != len(wantS) || !(math.Abs(s.tookS[i]-wantS[i]) <= toleranceS) || !(math.Abs(others[i]-wantOthers[i]) <= toleranceS*5) {
			t.Errorf("%s: %v beside %v; want %v beside %v", name, s.tookS, others, wantS, wantOthers)
			return
		}
	}
}

// Lifts begin in time for their ideal instants, however long each takes on a pump that raises
// one section at a time; and whatever the date.
func TestStrokesOnAPump(t *testing.T) {
	for _, date := range []int64{0, 1_700_000_000e9} {
		day := &Day{Machine: bar(), Settings: leads()}
		day.Settings.LiftLead.FedAtOnce = 1
		// The third begins 0.3 s before the first two are due, at a third of its speed, and has
		// the pump alone for the 0.1 s after that: 0.1 s of the 0.2 s each. The others begin 0.2 s
		// before it, at half speed.
		events := []score.Event{crossed(0, false, 10, 0), crossed(1, false, 10, 0), crossed(2, false, 10.1, 0)}
		for i := range events {
			events[i].IdealNs += date
			events[i].ActualNs = events[i].IdealNs + int64(i)*50e6 // says nothing of when it should have begun
		}
		wantS, wantOthers := []float64{0.5, 0.5, 0.4}, []float64{1.5, 1.5, 1}
		checkStrokes(t, "planned", day.strokesOf(false, events, false, SlowS{}, nil), wantS, wantOthers, 5e-6) // found by iteration
		// Commanded at those times, they take as long, whatever their ideal instants are.
		for i, beginS := range []float64{9.5, 9.5, 9.7} {
			events[i].ActualNs = date + int64(beginS*1e9)
			events[i].IdealNs = date + int64(i)*5e9
		}
		checkStrokes(t, "commanded", day.strokesOf(false, events, true, SlowS{}, nil), wantS, wantOthers, 1e-8)
		// A section stays on its way up for 50 ms after it counts: 0.1 s alone, 0.3 s beside
		// the second, which then has 50 ms to itself.
		day.LiftStrokeNs = 250e6
		events = []score.Event{crossed(0, false, 10, 0), crossed(1, false, 10, 0.1)}
		checkStrokes(t, "all the way up", day.strokesOf(false, events, true, SlowS{}, nil), []float64{0.3, 0.35}, []float64{0.5, 0.75}, 1e-8)
	}
	// A lead without a stroke counts as 1 ms: the share of the pump divides by it.
	if got := (&Day{}).LiftMoveS(); got != 0.001 {
		t.Errorf("no stroke: %g s", got)
	}
}

// A gap is longer than 2.5 intervals and 300 ms longer than one, also after the first fix;
// ages of 0 are measured.
func TestUsualReception(t *testing.T) {
	const ms = int64(1e6)
	every := func(stepMs int64, n int, gapAt int, gapMs int64) []Fix {
		list, at := make([]Fix, n), int64(0)
		for i := range list {
			if i > 0 {
				at += stepMs
			}
			if i == gapAt {
				at += gapMs - stepMs
			}
			list[i] = Fix{TimeNs: at * ms, Quality: nmea.RTKFixed}
		}
		return list
	}
	for _, tc := range []struct {
		name           string
		stepMs, gapMs  int64
		gapAt, wantGap int
	}{
		{"just 300 ms longer", 100, 400, 5, 0},
		{"more than 300 ms longer", 100, 401, 5, 1},
		{"just 2.5 intervals", 1000, 2500, 5, 0},
		{"more than 2.5 intervals", 1000, 2501, 5, 1},
		{"after the first fix", 1000, 2501, 1, 1},
	} {
		r := NewReception(every(tc.stepMs, 20, tc.gapAt, tc.gapMs))
		if got := r.Between(0, 100_000*ms); got.Gaps != tc.wantGap || r.IntervalNs != tc.stepMs*ms {
			t.Errorf("%s: %d gaps of %d ns; want %d", tc.name, got.Gaps, r.IntervalNs, tc.wantGap)
		}
	}
	// The intervals are those between neighbours, all of them.
	if r := NewReception([]Fix{{TimeNs: 5 * ms}, {TimeNs: 105 * ms}, {TimeNs: 505 * ms}}); r.IntervalNs != 250*ms {
		t.Errorf("interval %d ns; want the median of 100 and 400 ms", r.IntervalNs)
	}
	// Three fixes that arrived at once and one 301 ms old.
	fixes := every(100, 4, -1, 0)
	fixes[2].AgeNs = 301 * ms
	r := NewReception(fixes)
	if got := r.Between(0, 1000*ms); got != (Poor{Old: 1}) {
		t.Errorf("one old fix: %+v", got)
	}
	list := []Crossing{between(100*ms, 300*ms)}
	if got := r.Mark(list, 0); got != (Poor{Old: 1}) || got.String() != "old fixes at 1" {
		t.Errorf("one old fix at a crossing: %q", got)
	}
	// Of two solutions that are equally frequent the one with the lower number in GGA is the usual.
	r = NewReception([]Fix{{Quality: nmea.RTKFloat}, {Quality: nmea.RTKFixed}})
	if got := r.Between(0, 1); got.Worse != 1 {
		t.Errorf("float beside fixed: %+v; want one worse", got)
	}
}

// The mean speed up to a place lies between a quarter and four times that at the ideal instant,
// and its change is followed up to twice the transition's own place error, either way.
func TestPerPlaceLimits(t *testing.T) {
	for _, tc := range []struct {
		name           string
		timeS, errorM  float64
		placeM, want   float64
		toleranceShare float64
	}{
		{"on time", 0, 0, 0.3, 1, 0},
		{"no place error, though late", 0.5, 0, 0.3, 1, 0},
		{"at its own place", 0.5, 0.9, 0.9, 2 / 1.8, 1e-12},
		{"one metre", 0.5, 1, 0.5, 1, 1e-12},
		{"at half its own place", 0.5, 0.9, 0.45, 2 / 1.9, 1e-12},
		{"at twice its own place", 0.5, 0.9, 1.8, 2 / 1.6, 1e-12},
		{"at three times its own place", 0.5, 0.9, 2.7, 2 / 1.6, 1e-12},
		{"at three times as far before the border", 0.5, 0.9, -2.7, 2 / 2.4, 1e-12},
		{"nearly stopped", 8, 1e-6, 1, 4, 1e-12},
		{"far too fast", 0.01, 1, 1, 0.25, 1e-12},
	} {
		m := Move{SpeedMps: 2, TimeErrorS: tc.timeS, PlaceErrorM: tc.errorM}
		if got := m.PerPlaceAt(tc.placeM); !(math.Abs(got/tc.want-1) <= tc.toleranceShare) {
			t.Errorf("%s: %g; want %g", tc.name, got, tc.want)
		}
	}
}
