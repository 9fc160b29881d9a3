// The dictionary: how late each cause makes a transition. Each cause is a column of
// the regression.

package diagnose

import (
	"liftbench/replay/diagnose/evidence"
)

// moveKind is the kind of transition that a cause makes late.
type moveKind uint8

const (
	both moveKind = iota
	lifts
	drops
)

// applies is 1 for a transition of this kind, otherwise 0.
func (s moveKind) applies(on bool) float64 {
	if s == lifts && on || s == drops && !on {
		return 0
	}
	return 1
}

// name is as in diagnosis.json.
func (s moveKind) name() string { return [...]string{"", "lift", "drop"}[s] }

// term is a cause as a column of the regression.
type term struct {
	cause Cause
	moves moveKind
	// perUnitM is how late a cause of size 1 makes a transition, in m.
	perUnitM func(m *evidence.Move) float64
	// tried is how many columns like this one were tried to find it.
	tried float64
	// leastSize is the smallest size that is worth changing a setting for.
	leastSize float64
	// onlyLate: the cause makes transitions late, never early.
	onlyLate bool
	tauS     float64 // cold oil: the time in which lateness fades to 1/e
	piece    *borderPiece
}

// Nothing smaller than this is called a cause, however sure it is. A valve does not
// repeat to 10 ms (common practice, no source). RTK repeats to 1.43 cm, one standard
// deviation, from row to row (Carballido et al. 2014, Appl. Eng. Agric. 30(3):361-366);
// part of that stays for hours, so many crossings do not average it out: hence 2 cm.
const (
	leastS = 0.010
	leastM = 0.020
)

// tausS are the time constants of warming oil that are tried first. One longer than the
// day would look like a wrong lead, so it is not tried.
var tausS = [...]float64{300, 600, 1200, 2400, 4800}

// dictionary returns the causes that may be seen on a leg. lastS is the length of the
// day; mostOthers is how many sections rise at the same time as another, at most.
func dictionary(p evidence.Leg, lastS, mostOthers float64) []term {
	var list []term
	add := func(c Cause, of moveKind, least float64, x func(m *evidence.Move) float64) *term {
		list = append(list, term{cause: c, moves: of, perUnitM: func(m *evidence.Move) float64 { return of.applies(m.On) * x(m) }, tried: 1, leastSize: least})
		return &list[len(list)-1]
	}
	// A time error makes e = v·Δt, a place error e = Δx at constant speed.
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
		// A border that is too far out all around makes lifts late and drops early.
		add(WrongBorder, both, leastM, outward)
	}
	if p != evidence.Command {
		// Each of n other sections adds the same: e = v·n·size. Only lifts share the pump.
		if mostOthers > 0 {
			add(FlowShortage, lifts, leastS/mostOthers, func(m *evidence.Move) float64 { return m.SpeedMps * m.Others }).onlyLate = true
		}
		for _, tau := range tausS {
			if tau > lastS {
				break
			}
			for _, of := range [...]moveKind{both, lifts, drops} {
				// Lateness fades as the oil warms, e = v·size·exp(-t/τ).
				t := add(ColdOil, of, leastS, fade(of, tau))
				t.tauS, t.onlyLate = tau, true
			}
		}
	}
	return list
}

// outward is how late a transition is if the controller has the border 1 m too far
// out, in m.
func outward(m *evidence.Move) float64 {
	if m.On {
		return -m.PerPlace
	}
	return m.PerPlace
}
