// The dictionary: how late each cause makes a transition. Each cause is a column of
// the regression.

// Package terms is the dictionary of causes that a regression tells apart, each with how late
// it makes a transition, and their choice.
package terms

import (
	"math"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
)

// Term is a cause as a column of the regression.
type Term struct {
	Cause cause.Name
	Moves evidence.Kind
	// PerUnitM is how late a cause of size 1 makes a transition, in m.
	PerUnitM func(m *evidence.Move) float64
	// Tried is how many columns like this one were tried to find it.
	Tried float64
	// LeastSize is the smallest size that is worth changing a setting for.
	LeastSize float64
	// OnlyLate: the cause makes transitions late, never early.
	OnlyLate bool
	TauS     float64 // cold oil: the time in which lateness fades to 1/e
	Piece    *regress.Piece
	Soonest  *Soonest
}

// Soonest is how early lifts and drops can be, at most, after they were told to move.
type Soonest struct {
	LeadS   [2]float64 // of a section that moves alone
	PerUnit float64    // by how many seconds a size of 1 makes a transition late, where it does most
	Told    bool       // the instant of the command is known
}

// tausS are the time constants of warming oil that are tried first. One longer than the
// day would look like a wrong lead, so it is not tried.
var tausS = [...]float64{300, 600, 1200, 2400, 4800}

// Dictionary returns the causes that may be seen on a leg. lastS is the length of the
// day; mostOthers is how many sections rise at the same time as another, at most.
func Dictionary(p evidence.Leg, lastS, mostOthers float64) []Term {
	var list []Term
	add := func(c cause.Name, of evidence.Kind, least float64, x func(m *evidence.Move) float64) *Term {
		list = append(list, Term{Cause: c, Moves: of, PerUnitM: func(m *evidence.Move) float64 { return of.Applies(m.On) * x(m) }, Tried: 1, LeastSize: least})
		return &list[len(list)-1]
	}
	// A time error makes e = v·Δt, a place error e = Δx at constant speed.
	time := func(m *evidence.Move) float64 { return m.SpeedMps }
	place := func(m *evidence.Move) float64 { return m.PerPlace }
	switch p {
	case evidence.Whole:
		add(cause.LiftTiming, evidence.Lifts, evidence.LeastS, time)
		add(cause.DropTiming, evidence.Drops, evidence.LeastS, time)
	case evidence.Command:
		add(cause.CommandTiming, evidence.Lifts, evidence.LeastS, time)
		add(cause.CommandTiming, evidence.Drops, evidence.LeastS, time)
	case evidence.Machine:
		add(cause.MachineSlow, evidence.Lifts, evidence.LeastS, time)
		add(cause.MachineSlow, evidence.Drops, evidence.LeastS, time)
		add(cause.MachineSlow, evidence.Both, evidence.LeastS, time)
		// A tool that bites, or a sensor that switches, over a length.
		add(cause.LiftGeometry, evidence.Lifts, evidence.LeastM, place)
		add(cause.DropGeometry, evidence.Drops, evidence.LeastM, place)
		add(cause.Geometry, evidence.Both, evidence.LeastM, place)
	}
	if p != evidence.Machine {
		add(cause.Latency, evidence.Both, evidence.LeastS, time)
		add(cause.LiftGeometry, evidence.Lifts, evidence.LeastM, place)
		add(cause.DropGeometry, evidence.Drops, evidence.LeastM, place)
		add(cause.Geometry, evidence.Both, evidence.LeastM, place)
		// A border that is too far out all around makes lifts late and drops early.
		add(cause.WrongBorder, evidence.Both, evidence.LeastM, Outward)
	}
	if p != evidence.Command {
		// Each of n other sections adds the same: e = v·n·size. Only lifts share the pump.
		if mostOthers > 0 {
			add(cause.FlowShortage, evidence.Lifts, evidence.LeastS/mostOthers, func(m *evidence.Move) float64 { return m.SpeedMps * m.Others }).OnlyLate = true
		}
		for _, tau := range tausS {
			if tau > lastS {
				break
			}
			for _, of := range [...]evidence.Kind{evidence.Both, evidence.Lifts, evidence.Drops} {
				// Lateness fades as the oil warms, e = v·size·exp(-t/τ).
				t := add(cause.ColdOil, of, evidence.LeastS, Fade(of, tau))
				t.TauS, t.OnlyLate = tau, true
			}
		}
	}
	return list
}

// Outward is how late a transition is if the controller has the border 1 m too far
// out, in m.
func Outward(m *evidence.Move) float64 {
	if m.On {
		return -m.PerPlace
	}
	return m.PerPlace
}

// Family groups terms that are sums and differences of each other: of lifts alone, of
// drops alone, the same of both, the opposite of both.
func (t *Term) Family() string {
	switch t.Cause {
	case cause.LiftTiming, cause.DropTiming, cause.CommandTiming, cause.MachineSlow, cause.Latency:
		return "time"
	case cause.LiftGeometry, cause.DropGeometry, cause.Geometry, cause.WrongBorder:
		if t.Piece == nil {
			return "place"
		}
	}
	return string(t.Cause)
}

// MoveName is lift or drop, if the cause concerns one of them and its name does not say
// which.
func (t *Term) MoveName() string {
	switch t.Cause {
	case cause.LiftTiming, cause.DropTiming, cause.LiftGeometry, cause.DropGeometry, cause.FlowShortage:
		return ""
	}
	return t.Moves.Name()
}

// Fade is how late oil that warms with the time constant tauS makes a transition, in m
// for each second at the start.
func Fade(of evidence.Kind, tauS float64) func(m *evidence.Move) float64 {
	return func(m *evidence.Move) float64 { return of.Applies(m.On) * m.SpeedMps * math.Exp(-m.SinceS/tauS) }
}
