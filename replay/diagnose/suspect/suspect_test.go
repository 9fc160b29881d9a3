// What is found becomes what is one cause: sums by hand.

package suspect

import (
	"math"
	"slices"
	"testing"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/peers"
	"liftbench/replay/diagnose/terms"
	"liftbench/sections/score"
)

// found is a cause of so much, known to half on both sides, that was seen on ten crossings and
// explains 1 m².
func found(c cause.Name, of evidence.Kind, size, half float64) Suspect {
	return Suspect{Term: terms.Term{Cause: c, Moves: of}, Chosen: true, Size: size,
		CI95: cause.Interval{size - half, size + half}, Crossings: 10, SumM2: 1}
}

// brief is what of a suspect is compared.
type brief struct {
	cause      cause.Name
	moves      evidence.Kind
	size, half float64
}

func compare(t *testing.T, name string, got []Suspect, want ...brief) {
	t.Helper()
	same := func(x, y float64) bool { return math.Abs(x-y) < 1e-9 }
	if !slices.EqualFunc(got, want, func(s Suspect, w brief) bool {
		return s.Cause == w.cause && s.Moves == w.moves && same(s.Size, w.size) && same(s.Half(), w.half)
	}) {
		t.Errorf("%s:", name)
		for _, s := range got {
			t.Errorf("  %s %d %.4f ± %.4f", s.Cause, s.Moves, s.Size, s.Half())
		}
		t.Errorf("  want %+v", want)
	}
}

// A command that looks late and a machine that looks as much too quick are one wrong lead on
// file, of the machine's sign; what one is larger by stays what it was.
func TestFileLeads(t *testing.T) {
	const told, slow, lead = cause.CommandTiming, cause.MachineSlow, cause.FileLead
	lifts, drops, both := evidence.Lifts, evidence.Drops, evidence.Both
	for _, tc := range []struct {
		name    string
		list    []Suspect
		unsureS float64
		want    []brief
	}{
		{"they cancel, the machine is known better", []Suspect{found(told, lifts, -0.202, 0.01), found(slow, lifts, 0.2, 0.002)}, 0, []brief{{lead, lifts, 0.2, 0.002}}},
		{"they cancel, the command is known better", []Suspect{found(told, lifts, -0.202, 0.001), found(slow, lifts, 0.2, 0.02)}, 0, []brief{{lead, lifts, 0.202, 0.001}}},
		{"of both moves, as a latency", []Suspect{found(cause.Latency, both, 0.3, 0.01), found(slow, both, -0.3, 0.002)}, 0, []brief{{lead, both, -0.3, 0.002}}},
		{"the command by more", []Suspect{found(told, drops, 0.5, 0.003), found(slow, drops, -0.2, 0.004)}, 0, []brief{{lead, drops, -0.2, 0.004}, {told, drops, 0.3, 0.005}}},
		{"the machine by more", []Suspect{found(told, drops, 0.2, 0.003), found(slow, drops, -0.5, 0.004)}, 0, []brief{{lead, drops, -0.2, 0.003}, {slow, drops, -0.3, 0.005}}},
		{"by more, but not than commands are known", []Suspect{found(told, drops, 0.5, 0.003), found(slow, drops, -0.2, 0.004)}, 0.4, []brief{{lead, drops, -0.2, 0.004}}},
		{"of one sign", []Suspect{found(told, lifts, 0.2, 0.01), found(slow, lifts, 0.2, 0.01)}, 0, []brief{{told, lifts, 0.2, 0.01}, {slow, lifts, 0.2, 0.01}}},
		{"of other moves", []Suspect{found(told, lifts, -0.2, 0.01), found(slow, drops, 0.2, 0.01)}, 0, []brief{{told, lifts, -0.2, 0.01}, {slow, drops, 0.2, 0.01}}},
		{"no machine", []Suspect{found(told, lifts, -0.2, 0.01)}, 0, []brief{{told, lifts, -0.2, 0.01}}},
		{"lifts and drops late by 0.1 s, and the lead of lifts 0.2 s too short", []Suspect{found(told, lifts, -0.1, 0.01), found(told, drops, 0.1, 0.01), found(slow, lifts, -0.2, 0.01)}, 0,
			[]brief{{told, lifts, -0.1, 0.01}, {told, drops, 0.1, 0.01}, {slow, lifts, -0.2, 0.01}}},
		{"the machine's lifts by as much as its command is less late", []Suspect{found(told, lifts, -0.1, 0.01), found(told, drops, -0.4, 0.01), found(slow, lifts, -0.3, 0.01)}, 0,
			[]brief{{cause.Latency, both, -0.4, 0.01}, {lead, lifts, -0.3, 0.01}}},
	} {
		compare(t, tc.name, FileLeads(slices.Clone(tc.list), tc.unsureS), tc.want...)
	}
}

// A lead and what is left beside it share what the two explained, by the squares of their sizes.
func TestRestOfFileLead(t *testing.T) {
	list := FileLeads([]Suspect{found(cause.CommandTiming, evidence.Lifts, 0.4, 0), found(cause.MachineSlow, evidence.Lifts, -0.3, 0)}, 0)
	if len(list) != 2 || math.Abs(list[1].SumM2-0.1*0.1/(0.4*0.4+0.3*0.3)) > 1e-12 || list[0].SumM2 != 1 {
		t.Errorf("%+v", list)
	}
}

// Lifts too far on and drops as much too near are a border too far out; less alike they are two
// places.
func TestOneBorder(t *testing.T) {
	const lift, drop = cause.LiftGeometry, cause.DropGeometry
	for _, tc := range []struct {
		name string
		list []Suspect
		want []brief
	}{
		{"alike", []Suspect{found(lift, evidence.Lifts, 0.32, 0.03), found(drop, evidence.Drops, -0.28, 0.04)}, []brief{{cause.WrongBorder, evidence.Both, 0.3, 0.025}}},
		{"too far in", []Suspect{found(drop, evidence.Drops, 0.3, 0.04), found(lift, evidence.Lifts, -0.3, 0.03)}, []brief{{cause.WrongBorder, evidence.Both, -0.3, 0.025}}},
		{"apart by what is no cause", []Suspect{found(lift, evidence.Lifts, 0.319, 0.001), found(drop, evidence.Drops, -0.3, 0.001)}, []brief{{cause.WrongBorder, evidence.Both, 0.3095, math.Hypot(0.001, 0.001) / 2}}},
		{"apart", []Suspect{found(lift, evidence.Lifts, 0.33, 0.001), found(drop, evidence.Drops, -0.3, 0.001)}, []brief{{lift, evidence.Lifts, 0.33, 0.001}, {drop, evidence.Drops, -0.3, 0.001}}},
		{"of one sign, hardly known", []Suspect{found(lift, evidence.Lifts, 0.03, 0.1), found(drop, evidence.Drops, 0.04, 0.1)}, []brief{{lift, evidence.Lifts, 0.03, 0.1}, {drop, evidence.Drops, 0.04, 0.1}}},
		{"lifts alone", []Suspect{found(lift, evidence.Lifts, 0.3, 0.1)}, []brief{{lift, evidence.Lifts, 0.3, 0.1}}},
	} {
		got := OneBorder(slices.Clone(tc.list))
		compare(t, tc.name, got, tc.want...)
		if len(got) == 1 && got[0].Cause == cause.WrongBorder && (got[0].Crossings != 20 || got[0].SumM2 != 2 || got[0].PerUnitM == nil) {
			t.Errorf("%s: %d crossings, %g m²; want those of both", tc.name, got[0].Crossings, got[0].SumM2)
		}
	}
}

// Only a time and a place of the same moves, chosen on a leg and of opposite signs, cancel.
func TestOpposite(t *testing.T) {
	beside := found(cause.LiftGeometry, evidence.Lifts, -0.2, 0.01)
	beside.Chosen = false
	for _, tc := range []struct {
		name        string
		list        []Suspect
		time, place int
		ok          bool
	}{
		{"cancel", []Suspect{found(cause.LiftGeometry, evidence.Lifts, -0.2, 0.01), found(cause.LiftTiming, evidence.Lifts, 0.1, 0.01)}, 1, 0, true},
		{"of one sign", []Suspect{found(cause.LiftTiming, evidence.Lifts, 0.1, 0.01), found(cause.LiftGeometry, evidence.Lifts, 0.2, 0.01)}, 0, 0, false},
		{"of other moves", []Suspect{found(cause.LiftTiming, evidence.Lifts, 0.1, 0.01), found(cause.DropGeometry, evidence.Drops, -0.2, 0.01)}, 0, 0, false},
		{"two times", []Suspect{found(cause.LiftTiming, evidence.Lifts, 0.1, 0.01), found(cause.MachineSlow, evidence.Lifts, -0.2, 0.01)}, 0, 0, false},
		{"one found beside the regression", []Suspect{found(cause.LiftTiming, evidence.Lifts, 0.1, 0.01), beside}, 0, 0, false},
	} {
		if time, place, ok := Opposite(tc.list); time != tc.time || place != tc.place || ok != tc.ok {
			t.Errorf("%s: %d, %d, %v", tc.name, time, place, ok)
		}
	}
}

// A slow section's delay is taken out of its own moves alone, and it explains their squares.
func TestSlowSectionsAreTakenOut(t *testing.T) {
	const sections, slow, delayS = 5, 2, 0.2
	var moves []evidence.Move
	var list []evidence.Crossing
	want := 0.0
	for k := range 20 {
		c := evidence.Crossing{Crossing: score.Crossing{On: k%2 == 1, FromNs: int64(k) * 60e9, UntilNs: int64(k) * 60e9}}
		for s := range sections {
			m := evidence.Move{Section: s, On: c.On, IdealNs: c.FromNs, SpeedMps: 1 + 0.1*float64(k%7)}
			m.LateM = m.SpeedMps * 1e-3 * float64((k*s)%3-1)
			if s == slow {
				m.LateM += delayS * m.SpeedMps
				want += delayS * delayS * m.SpeedMps * m.SpeedMps
			}
			c.Changes, moves = append(c.Changes, int32(len(moves))), append(moves, m)
		}
		list = append(list, c)
	}
	got, floorS := SlowSections(moves, list, sections, peers.Pumped{})
	if len(got) != 1 || got[0].Cause != cause.SlowSection || got[0].Section != slow+1 || math.Abs(got[0].Size-delayS) > 2e-3 || got[0].Note != "" {
		t.Fatalf("%+v", got)
	}
	if !(floorS > 0 && floorS < delayS) {
		t.Errorf("a floor of %g s", floorS)
	}
	if math.Abs(got[0].SumM2-want) > 0.02*want {
		t.Errorf("%g m²; want %g", got[0].SumM2, want)
	}
	for i := range moves {
		if math.Abs(moves[i].LateM) > 6e-3 {
			t.Errorf("section %d is %g m late still", moves[i].Section+1, moves[i].LateM)
		}
	}
}

// Poor reception is a cause if the crossings after it are worse, and by how much.
func TestWorseReception(t *testing.T) {
	var good, bad []float64
	for k := range 20 {
		good, bad = append(good, 0.010+0.001*float64(k%5)), append(bad, 0.110+0.001*float64(k%5))
	}
	f := WorseReception(bad, good)
	if f == nil || f.Cause != cause.PoorReception || f.Crossings != 20 || math.Abs(f.Size-0.1) > 2e-3 || !(f.CI95[0] < 0.1 && 0.1 < f.CI95[1]) {
		t.Errorf("%+v; want 0.1 s worse", f)
	}
	if f := WorseReception(good, bad); f != nil {
		t.Errorf("the better ones are blamed: %+v", f)
	}
}

// A clock is told what kind of lateness a suspect is.
func TestLateness(t *testing.T) {
	for _, tc := range []struct {
		f                        Suspect
		oneMove, fades, fromTold bool
	}{
		{found(cause.Latency, evidence.Both, 0.2, 0), false, false, false},
		{found(cause.ColdOil, evidence.Both, 0.2, 0), false, true, false},
		{found(cause.MachineSlow, evidence.Lifts, 0.2, 0), true, false, true},
	} {
		if l := tc.f.Lateness(); l.Cause != string(tc.f.Cause) || l.SizeS != 0.2 || l.OneMove != tc.oneMove || l.Fades != tc.fades || l.FromTold != tc.fromTold {
			t.Errorf("%+v", l)
		}
	}
}
