// Two causes of opposite signs that are one. Commands by the right lead look early or late
// against a wrong lead on file, and the machine as much too slow or too quick. Lifts too late
// and drops as much too early, by a place, are a border.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/terms"
)

// fileLeads replaces command timing and machine slow of opposite signs by the lead on file.
// What one is larger than the other remains. The commands are known no better than unsureS.
func fileLeads(list []found, unsureS float64) []found {
	list = sharedBesideFileLead(list, unsureS)
	for _, of := range [...]evidence.Kind{evidence.Both, evidence.Lifts, evidence.Drops} {
		told := slices.IndexFunc(list, func(f found) bool {
			return f.Moves == of && (f.Cause == CommandTiming || f.Cause == Latency)
		})
		slow := slices.IndexFunc(list, func(f found) bool { return f.Moves == of && f.Cause == MachineSlow })
		if told < 0 || slow < 0 || list[told].size*list[slow].size >= 0 {
			continue
		}
		c, m := list[told], list[slow]
		lead, rest := m, c
		if math.Abs(c.size) < math.Abs(m.size) {
			lead, rest = asLead(c), m
		}
		halfC, halfM := math.Hypot((c.ci[1]-c.ci[0])/2, unsureS), (m.ci[1]-m.ci[0])/2
		half := math.Hypot(halfC, halfM)
		rest.size = c.size + m.size
		rest.ci = Interval{rest.size - half, rest.size + half}
		one := math.Abs(rest.size) <= max(half, evidence.LeastS)
		if one { // the one that is known better says how much
			if lead = m; halfC < halfM {
				lead = asLead(c)
			}
		}
		lead.Cause, lead.explained = FileLead, min(c.explained, m.explained)
		list = slices.DeleteFunc(list, func(f found) bool {
			return f.Moves == of && (f.Cause == c.Cause || f.Cause == MachineSlow)
		})
		list = append(list, lead)
		if !one {
			rest.explained = math.Max(c.explained, m.explained) * rest.size * rest.size / (c.size*c.size + m.size*m.size)
			list = append(list, rest)
		}
	}
	return list
}

// sharedBesideFileLead replaces three causes by two: commands of lifts and of drops that are
// late by different times, and a machine that is slow by as much as one of them is less late
// than the other, are one lateness of both and a wrong lead on file.
func sharedBesideFileLead(list []found, unsureS float64) []found {
	at := func(c Cause, of evidence.Kind) int {
		return slices.IndexFunc(list, func(f found) bool { return f.Cause == c && f.Moves == of })
	}
	for _, of := range [...][2]evidence.Kind{{evidence.Lifts, evidence.Drops}, {evidence.Drops, evidence.Lifts}} {
		own, other, slow := at(CommandTiming, of[0]), at(CommandTiming, of[1]), at(MachineSlow, of[0])
		if own < 0 || other < 0 || slow < 0 || at(MachineSlow, of[1]) >= 0 || list[own].size*list[slow].size < 0 {
			continue
		}
		c, o, m := list[own], list[other], list[slow]
		half := math.Sqrt(halfOf(&c)*halfOf(&c)+halfOf(&o)*halfOf(&o)+halfOf(&m)*halfOf(&m)) + evidence.LeastS/2
		if math.Abs(c.size-o.size+m.size) > math.Hypot(half, unsureS) {
			continue
		}
		shared, lead := o, m
		shared.Cause, shared.Moves, shared.crossings = Latency, evidence.Both, c.crossings+o.crossings
		lead.Cause = FileLead
		list = slices.DeleteFunc(list, func(f found) bool {
			return f.Cause == CommandTiming || f.Cause == MachineSlow && f.Moves == of[0]
		})
		return append(list, shared, lead)
	}
	return list
}

func halfOf(f *found) float64 { return (f.ci[1] - f.ci[0]) / 2 }

// asLead is a command's timing as an error of the lead on file.
func asLead(c found) found {
	c.size, c.ci = -c.size, Interval{-c.ci[1], -c.ci[0]}
	return c
}

// orFileLead returns the doubts of what is found on one of two legs where the other one may
// hide as much of the opposite sign: both together would be a wrong lead on file. The
// commands are known no better than unsureS.
func orFileLead(list []found, legs []*analysis, unsureS float64) (doubts []Doubt) {
	if len(legs) != 2 {
		return nil
	}
	other := map[Cause]struct {
		leg  *analysis
		name Cause
	}{CommandTiming: {legs[1], MachineSlow}, MachineSlow: {legs[0], CommandTiming}}
	for i := range list {
		f := &list[i]
		o, ok := other[f.Cause]
		if !ok || f.Moves == evidence.Both || !o.leg.mayHide(o.name, f.Moves, -f.size, math.Hypot((f.ci[1]-f.ci[0])/2, unsureS)) {
			continue
		}
		q := Doubt{Between: []Cause{f.Cause, FileLead}}
		q.Why, q.Drive = cause.OrFileLead(f.Cause, f.Moves, f.size)
		doubts = append(doubts, q)
	}
	return doubts
}

// mayHide reports whether a cause of a size, known to half, may be there beside what was
// chosen, and is not one of that.
func (a *analysis) mayHide(c Cause, of evidence.Kind, size, half float64) bool {
	q := slices.IndexFunc(a.terms, func(t terms.Term) bool { return t.Cause == c && t.Moves == of })
	if q < 0 || slices.ContainsFunc(a.chosen.Set, func(p int) bool { return a.terms[p].Cause == c }) {
		return false
	}
	f, ok := a.gram().Fit(append(slices.Clone(a.chosen.Set), q)...)
	if !ok {
		return true
	}
	i := len(f.Beta) - 1
	return math.Abs(f.Beta[i]-size) < math.Hypot(regress.Quantile(mistakenlyApart, f.DF)*f.SE(i), half)
}

// oneBorder replaces a place error of lifts and the opposite one of drops by a wrong border
// all around.
func oneBorder(list []found) []found {
	lift := slices.IndexFunc(list, func(f found) bool { return f.Cause == LiftGeometry })
	drop := slices.IndexFunc(list, func(f found) bool { return f.Cause == DropGeometry })
	if lift < 0 || drop < 0 {
		return list
	}
	f, other := &list[lift], &list[drop]
	half := math.Hypot(f.ci[1]-f.ci[0], other.ci[1]-other.ci[0]) / 2
	if f.size*other.size > 0 || math.Abs(f.size+other.size) > max((f.ci[1]-f.ci[0]+other.ci[1]-other.ci[0])/2, evidence.LeastM) {
		return list
	}
	f.Cause, f.Moves, f.PerUnitM = WrongBorder, evidence.Both, terms.Outward
	f.size = (f.size - other.size) / 2
	f.ci = Interval{f.size - half/2, f.size + half/2}
	f.crossings, f.explained = f.crossings+other.crossings, f.explained+other.explained
	return slices.Delete(list, drop, drop+1)
}
