// The dictionary: how late each cause makes a transition. Each cause is a column of
// the regression.

package diagnose

import (
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
)

// term is a cause as a column of the regression.
type term struct {
	cause Cause
	moves evidence.Kind
	// perUnitM is how late a cause of size 1 makes a transition, in m.
	perUnitM func(m *evidence.Move) float64
	// tried is how many columns like this one were tried to find it.
	tried float64
	// leastSize is the smallest size that is worth changing a setting for.
	leastSize float64
	// onlyLate: the cause makes transitions late, never early.
	onlyLate bool
	tauS     float64 // cold oil: the time in which lateness fades to 1/e
	piece    *regress.Piece
	soonest  *soonest
}

// soonest is how early lifts and drops can be, at most, after they were told to move.
type soonest struct {
	leadS   [2]float64 // of a section that moves alone
	perUnit float64    // by how many seconds a size of 1 makes a transition late, where it does most
	told    bool       // the instant of the command is known
}

// tausS are the time constants of warming oil that are tried first. One longer than the
// day would look like a wrong lead, so it is not tried.
var tausS = [...]float64{300, 600, 1200, 2400, 4800}

// dictionary returns the causes that may be seen on a leg. lastS is the length of the
// day; mostOthers is how many sections rise at the same time as another, at most.
func dictionary(p evidence.Leg, lastS, mostOthers float64) []term {
	var list []term
	add := func(c Cause, of evidence.Kind, least float64, x func(m *evidence.Move) float64) *term {
		list = append(list, term{cause: c, moves: of, perUnitM: func(m *evidence.Move) float64 { return of.Applies(m.On) * x(m) }, tried: 1, leastSize: least})
		return &list[len(list)-1]
	}
	// A time error makes e = v·Δt, a place error e = Δx at constant speed.
	time := func(m *evidence.Move) float64 { return m.SpeedMps }
	place := func(m *evidence.Move) float64 { return m.PerPlace }
	switch p {
	case evidence.Whole:
		add(LiftTiming, evidence.Lifts, evidence.LeastS, time)
		add(DropTiming, evidence.Drops, evidence.LeastS, time)
	case evidence.Command:
		add(CommandTiming, evidence.Lifts, evidence.LeastS, time)
		add(CommandTiming, evidence.Drops, evidence.LeastS, time)
	case evidence.Machine:
		add(MachineSlow, evidence.Lifts, evidence.LeastS, time)
		add(MachineSlow, evidence.Drops, evidence.LeastS, time)
		add(MachineSlow, evidence.Both, evidence.LeastS, time)
		// A tool that bites, or a sensor that switches, over a length.
		add(LiftGeometry, evidence.Lifts, evidence.LeastM, place)
		add(DropGeometry, evidence.Drops, evidence.LeastM, place)
		add(Geometry, evidence.Both, evidence.LeastM, place)
	}
	if p != evidence.Machine {
		add(Latency, evidence.Both, evidence.LeastS, time)
		add(LiftGeometry, evidence.Lifts, evidence.LeastM, place)
		add(DropGeometry, evidence.Drops, evidence.LeastM, place)
		add(Geometry, evidence.Both, evidence.LeastM, place)
		// A border that is too far out all around makes lifts late and drops early.
		add(WrongBorder, evidence.Both, evidence.LeastM, outward)
	}
	if p != evidence.Command {
		// Each of n other sections adds the same: e = v·n·size. Only lifts share the pump.
		if mostOthers > 0 {
			add(FlowShortage, evidence.Lifts, evidence.LeastS/mostOthers, func(m *evidence.Move) float64 { return m.SpeedMps * m.Others }).onlyLate = true
		}
		for _, tau := range tausS {
			if tau > lastS {
				break
			}
			for _, of := range [...]evidence.Kind{evidence.Both, evidence.Lifts, evidence.Drops} {
				// Lateness fades as the oil warms, e = v·size·exp(-t/τ).
				t := add(ColdOil, of, evidence.LeastS, fade(of, tau))
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
