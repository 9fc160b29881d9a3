// Moves of small days, beside sums by hand.

package evidence

import (
	"math"
	"strings"
	"testing"

	"liftbench/sections"
	"liftbench/sections/score"
)

// bar is three sections 3 m apart, 2 m behind the axle; the antenna is 0.9 m before it.
func bar() *sections.Machine {
	m := &sections.Machine{Mount: sections.RearRigid, AntennaXM: 0.9}
	for i := range 3 {
		m.Sections = append(m.Sections, sections.Section{XM: -2, YM: 3 * float64(i-1), WidthM: 3})
	}
	return m
}

// leads are 0.3 s dead and 0.2 s of movement for lifts, 0.4 s and 0.3 s for drops.
func leads() sections.Settings {
	return sections.Settings{LiftLead: sections.Lead{DeadNs: 300e6, MoveNs: 200e6}, DropLead: sections.Lead{DeadNs: 400e6, MoveNs: 300e6}}
}

// crossed is a section's transition at 2 m/s, ideal and late by so many seconds.
func crossed(section int, on bool, idealS, lateS float64) score.Event {
	return score.Event{
		Section: int16(section), On: on, Kind: score.Paired, SpeedMps: 2, YawRateRadPerS: 0.1, HeadingRad: 0.3, EastM: 7, NorthM: -4,
		IdealNs: int64(idealS * 1e9), ActualNs: int64(math.Round((idealS + lateS) * 1e9)), TimeErrorS: lateS, PlaceErrorM: 2 * lateS,
	}
}

// A lift was commanded 0.1 s late and took 0.05 s longer than its lead of 0.5 s; a drop
// was commanded 0.2 s early and took 0.1 s less than its lead of 0.7 s.
func TestLegs(t *testing.T) {
	day := &Day{
		Machine: bar(), Settings: leads(),
		Actual:   []score.Event{crossed(2, true, 60, -0.3), crossed(1, false, 10, 0.15)},
		Setpoint: []score.Event{crossed(1, false, 10, -0.4), crossed(2, true, 60, -0.9)},
	}
	for leg, want := range map[Leg][2]float64{Whole: {0.15, -0.3}, Command: {0.1, -0.2}, Machine: {0.05, -0.1}} {
		moves := day.Moves(leg, SlowS{})
		if len(moves) != 2 {
			t.Fatalf("leg %d: %d moves", leg, len(moves))
		}
		for i, lateS := range want {
			if m := moves[i]; !(math.Abs(m.LateM-2*lateS) <= 1e-8) {
				t.Errorf("leg %d, move %d is %g m late; want %g", leg, i, m.LateM, 2*lateS)
			}
		}
		lift, drop := moves[0], moves[1]
		if lift.Section != 1 || lift.On || drop.Section != 2 || !drop.On || lift.SinceS != 0 || drop.SinceS != 50 ||
			drop.SideM != 3 || drop.AxleM != -2 || drop.AntennaM != -2.9 || drop.PerPlace != 1 || drop.YawRateRadPerS != 0.1 ||
			drop.EastM != 7 || drop.NorthM != -4 || drop.HeadingRad != 0.3 || lift.IdealNs != 10e9 {
			t.Errorf("leg %d: %+v", leg, moves)
		}
	}
	// Without its setpoint a transition says nothing of the machine; with one that is of
	// the first event it does.
	day.Setpoint = day.Setpoint[:1]
	if moves := day.Moves(Machine, SlowS{}); len(moves) != 1 || moves[0].Section != 1 {
		t.Errorf("one setpoint: %+v; want one move, of section 2", moves)
	}
	day.Machine.Mount = sections.Trailed
	if m := day.Moves(Whole, SlowS{})[0]; m.AxleM != 0 || m.AntennaM != 0 {
		t.Errorf("trailed: %g m from the axle, %g m from the antenna; want 0, 0", m.AxleM, m.AntennaM)
	}
}

// Standing sections, missed and spurious transitions are no moves.
func TestMeasured(t *testing.T) {
	for _, tc := range []struct {
		change func(*score.Event)
		want   bool
	}{
		{func(*score.Event) {}, true},
		{func(e *score.Event) { e.SpeedMps = 0.1 }, false},
		{func(e *score.Event) { e.SpeedMps = 0.11 }, true},
		{func(e *score.Event) { e.Kind = score.Missed }, false},
		{func(e *score.Event) { e.Kind = score.Spurious }, false},
		{func(e *score.Event) { e.TimeErrorS = math.NaN() }, false},
		{func(e *score.Event) { e.PlaceErrorM = math.NaN() }, false},
	} {
		e := crossed(0, false, 10, 0.1)
		tc.change(&e)
		if Measured(&e) != tc.want || len(Moves([]score.Event{e})) == 0 == tc.want || len((&Day{Machine: bar(), Actual: []score.Event{e}}).Moves(Whole, SlowS{})) == 0 == tc.want {
			t.Errorf("%+v: measured %v; want %v", e, Measured(&e), tc.want)
		}
	}
}

// Lifts that share a pump which raises one at a time: two together take twice as long,
// so each has one other beside it; the lead counts them if it is flow-aware.
func TestSharedPump(t *testing.T) {
	day := &Day{
		Machine: bar(), Settings: leads(),
		Actual: []score.Event{
			crossed(0, false, 10, 0), crossed(1, false, 10, 0), // together
			crossed(0, false, 60, 0),                               // alone
			crossed(0, false, 110, 0), crossed(1, false, 110.1, 0), // half a stroke apart
			crossed(0, true, 160, 0), crossed(1, true, 160, 0), // drops take no oil
		},
	}
	check := func(name string, leg Leg, slowS []float64, want ...float64) {
		t.Helper()
		moves := day.Moves(leg, SlowS{slowS})
		day.Sharing(leg, SlowS{slowS}, moves).SetOthers(moves, OneFed)
		for i, m := range moves {
			if !(math.Abs(m.Others-want[i]) <= 1e-6) {
				t.Errorf("%s: move %d has %g others beside it; want %g", name, i, m.Others, want[i])
			}
		}
	}
	// One half of the way alone takes 0.1 s, the other half beside the second 0.2 s.
	check("up to the effective depth", Whole, nil, 1, 1, 0, 0.5, 0.5, 0, 0)
	// The second begins when the first is halfway, and finds the pump as the first left it.
	check("the second is 0.1 s slow", Whole, []float64{0, 0.1, 0}, 0.5, 0.5, 0, 0, 0, 0, 0)
	day.LiftStrokeNs = 400e6
	// All the way up takes 0.4 s alone: the first still rises while the second does.
	check("all the way up", Whole, nil, 1, 1, 0, 0.5, 1, 0, 0)
	day.LiftStrokeNs = 0
	day.Setpoint = nil
	for i, e := range day.Actual {
		e.ActualNs -= 500e6
		day.Actual[i].ActualNs += int64(e.Section) * 70e6 // only setpoints count
		day.Setpoint = append(day.Setpoint, e)
	}
	check("from setpoints", Machine, nil, 1, 1, 0, 0.5, 0.5, 0, 0)
	if day.LiftMoveS() != 0.2 {
		t.Errorf("a lift alone moves %g s; want 0.2", day.LiftMoveS())
	}
	lead := func(want ...float64) {
		t.Helper()
		for i, s := range day.Leads() {
			if !(math.Abs(s-want[i]) <= 1e-6) {
				t.Errorf("lead %d is %g s; want %g", i, s, want[i])
			}
		}
	}
	lead(0.5, 0.5, 0.5, 0.5, 0.5, 0.7, 0.7)
	day.Settings.LiftLead.FedAtOnce = 1
	lead(0.7, 0.7, 0.5, 0.6, 0.6, 0.7, 0.7)
	// A spurious setpoint takes oil as well.
	day.Setpoint[1].Kind = score.Spurious
	lead(0.7, 0.7, 0.5, 0.6, 0.6, 0.7, 0.7)
	// A missed crossing has no setpoint: its lead is that of a section alone, and the other
	// has the pump to itself.
	day.Setpoint[1].Kind = score.Missed
	lead(0.5, 0.5, 0.5, 0.6, 0.6, 0.7, 0.7)
}

// One recorded state for the whole machine: all sections change at once although they
// cross one after another.
func TestOneState(t *testing.T) {
	slanting := []score.Event{crossed(0, false, 10, 0.4), crossed(1, false, 10.2, 0.2), crossed(0, true, 60, 0.2), crossed(1, true, 60.2, 0)}
	near := append([]score.Event{}, slanting...)
	near[1].IdealNs, near[3].IdealNs = near[0].IdealNs+1.5e6, near[2].IdealNs+1.5e6
	single := append([]score.Event{}, slanting...)
	single[3].ActualNs++
	square := []score.Event{crossed(0, false, 10, 0.4), crossed(1, false, 10, 0.4)}
	square[1].IdealNs += 1e6
	for name, tc := range map[string]struct {
		events []score.Event
		want   bool
	}{"one state": {slanting, true}, "1.5 ms apart": {near, true}, "a section apart": {single, false}, "crossed at once": {square, false}} {
		moves := Moves(tc.events)
		for i := range moves {
			moves[i].ActualNs = tc.events[i].ActualNs
		}
		if got := OneState(moves, Crossings(moves)); got != tc.want {
			t.Errorf("%s: %v; want %v", name, got, tc.want)
		}
	}
	if Way(false) != 0 || Way(true) != 1 {
		t.Error("lifts are 0, drops 1")
	}
}

// The median place error is of lifts for lifts and of drops for drops.
func TestTypicalPlaces(t *testing.T) {
	moves := []Move{{PlaceErrorM: 0.1}, {PlaceErrorM: -2, On: true}, {PlaceErrorM: 0.3}, {PlaceErrorM: 9}, {PlaceErrorM: -1, On: true}}
	for i, want := range []float64{0.3, -1.5, 0.3, 0.3, -1.5} {
		if got := TypicalPlaces(moves)[i]; got != want {
			t.Errorf("move %d: %g; want %g", i, got, want)
		}
	}
	SetPerPlace(moves, make([]float64, 5))
	for i, m := range moves {
		if m.PerPlace != 1 {
			t.Errorf("move %d without a time error: %g m for each; want 1", i, m.PerPlace)
		}
	}
}

// Of a section that crosses alone only the side counts.
func TestLeverAlone(t *testing.T) {
	moves := []Move{{}, {SideM: 3, PerPlace: 1.5, AntennaM: -2, HeadingRad: 1, SpeedMps: 2, YawRateRadPerS: 0.2}}
	c := Crossing{Crossing: score.Crossing{Changes: []int32{1}}}
	SetLevers(moves, &c)
	if moves[1].LeverM != 4.5 {
		t.Errorf("%g m; want 3 · 1.5", moves[1].LeverM)
	}
}

// A day that cannot be diagnosed says why.
func TestCheck(t *testing.T) {
	event := func(section int) score.Event { return crossed(section, false, 10, 0) }
	for _, tc := range []struct {
		name string
		day  Day
		want string
	}{
		{"no machine", Day{}, "no machine"},
		{"a machine without sections", Day{Machine: &sections.Machine{}}, "section"},
		{"good", Day{Machine: bar(), Actual: []score.Event{event(0), event(2)}, Fixes: []Fix{{TimeNs: 1}, {TimeNs: 1}, {TimeNs: 2}}}, ""},
		{"section 4", Day{Machine: bar(), Actual: []score.Event{event(0), event(3)}}, "transition 2 is of section 4; this machine has sections 1 to 3"},
		{"section 0", Day{Machine: bar(), Setpoint: []score.Event{event(-1)}}, "transition 1 is of section 0; this machine has sections 1 to 3"},
		{"fixes", Day{Machine: bar(), Fixes: []Fix{{TimeNs: 5}, {TimeNs: 7}, {TimeNs: 4}}}, "fix 3 is 3 ns before the one ahead of it"},
	} {
		err := tc.day.Check()
		if (err == nil) != (tc.want == "") || err != nil && !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v; want %q", tc.name, err, tc.want)
		}
	}
	kinds := func(paired, missed, spurious int) (list []score.Event) {
		for i, n := range [...]int{paired, missed, spurious} {
			for range n {
				list = append(list, score.Event{Kind: [...]score.Kind{score.Paired, score.Missed, score.Spurious}[i]})
			}
		}
		return list
	}
	for _, tc := range []struct {
		events []score.Event
		want   string
	}{
		{nil, "no transitions: no section crossed"},
		{kinds(0, 7, 0), "at any of the 7 crossings"},
		{kinds(0, 7, 3), "none of the 3 lifts and drops is within 10 s"},
		{kinds(1, 7, 3), "one transition near a border"},
		{kinds(2, 0, 0), ""},
	} {
		err := Enough(tc.events)
		if (err == nil) != (tc.want == "") || err != nil && !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%d events: %v; want %q", len(tc.events), err, tc.want)
		}
	}
}
