// The dictionary: how each cause makes a transition late, as a column of the
// regression.

package diagnose

import (
	"liftbench/replay/diagnose/evidence"
)

// sense is which transitions a term bears on.
type moveKind uint8

const (
	both moveKind = iota
	lifts
	drops
)

// sign is 1 where the term takes part, 0 where not.
func (s moveKind) applies(on bool) float64 {
	if s == lifts && on || s == drops && !on {
		return 0
	}
	return 1
}

// move is as in diagnosis.json.
func (s moveKind) name() string { return [...]string{"", "lift", "drop"}[s] }

// term is a cause that makes every transition size · x metres late.
type term struct {
	cause Cause
	moves moveKind
	// x is metres of lateness for each unit of size.
	perUnitM func(m *evidence.Move) float64
	// tests is how many columns like it were looked at to find it.
	tried float64
	// least is the smallest size that is worth a setting.
	leastSize float64
	// late: the cause can make late, never early.
	onlyLate bool
	tauS     float64 // of cold oil
	piece    *borderPiece
}

// What is smaller than this is not a cause, however sure. 10 ms is less than a
// valve repeats to (common practice, no source). RTK repeats to 1.43 cm, one
// standard deviation, from row to row (Carballido et al. 2014, Appl. Eng. Agric.
// 30(3):361-366), and part of that stays for hours, so that many crossings do not
// average it out: 2 cm.
const (
	leastS = 0.010
	leastM = 0.020
)

// tausS are the times in which oil is taken to warm up, e-fold, to start from. One
// that is longer than the day looks like a lead that is off and is not tried.
var tausS = [...]float64{300, 600, 1200, 2400, 4800}

// dictionary returns the terms of a part for moves that last so long and of
// which so many rise beside another at most.
func dictionary(p evidence.Leg, lastS, mostOthers float64) []term {
	var list []term
	add := func(c Cause, of moveKind, least float64, x func(m *evidence.Move) float64) *term {
		list = append(list, term{cause: c, moves: of, perUnitM: func(m *evidence.Move) float64 { return of.applies(m.On) * x(m) }, tried: 1, leastSize: least})
		return &list[len(list)-1]
	}
	// A time error: e = v·Δt. A place error: e = Δx where the speed stays.
	time := func(m *evidence.Move) float64 { return m.SpeedMps }
	place := func(m *evidence.Move) float64 { return m.PerPlace }
	switch p {
	case evidence.Whole:
		add(LiftTiming, lifts, leastS, time)
		add(DropTiming, drops, leastS, time)
	case evidence.Command:
		add(CommandTiming, lifts, leastS, time)
		add(CommandTiming, drops, leastS, time)
	case evidence.Machine:
		add(MachineSlow, lifts, leastS, time)
		add(MachineSlow, drops, leastS, time)
		add(MachineSlow, both, leastS, time)
	}
	if p != evidence.Machine {
		add(Latency, both, leastS, time)
		add(LiftGeometry, lifts, leastM, place)
		add(DropGeometry, drops, leastM, place)
		add(Geometry, both, leastM, place)
		// A border too far out all around: lifts late, drops early.
		add(WrongBorder, both, leastM, outward)
	}
	if p != evidence.Command {
		// Each further section adds as much: e = v·n·size. Only lifts share the pump.
		if mostOthers > 0 {
			add(FlowShortage, lifts, leastS/mostOthers, func(m *evidence.Move) float64 { return m.SpeedMps * m.Others }).onlyLate = true
		}
		for _, tau := range tausS {
			if tau > lastS {
				break
			}
			for _, of := range [...]moveKind{both, lifts, drops} {
				// Lateness fades as the oil warms: e = v·size·exp(-t/τ).
				t := add(ColdOil, of, leastS, fade(of, tau))
				t.tauS, t.onlyLate = tau, true
			}
		}
	}
	return list
}

// outward is what a border that the controller has 1 m too far out does.
func outward(m *evidence.Move) float64 {
	if m.On {
		return -m.PerPlace
	}
	return m.PerPlace
}
