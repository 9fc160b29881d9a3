// Two causes of opposite signs that are one. Commands by the right lead look early or late
// against a wrong lead on file, and the machine as much too slow or too quick. Lifts too late
// and drops as much too early, by a place, are a border.

package suspect

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/terms"
)

// FileLeads replaces command timing and machine slow of opposite signs by the lead on file.
// What one is larger than the other remains. The commands are known no better than unsureS.
func FileLeads(list []Suspect, unsureS float64) []Suspect {
	list = sharedBesideFileLead(list, unsureS)
	for _, of := range [...]evidence.Kind{evidence.Both, evidence.Lifts, evidence.Drops} {
		told := slices.IndexFunc(list, func(f Suspect) bool {
			return f.Moves == of && (f.Cause == cause.CommandTiming || f.Cause == cause.Latency)
		})
		slow := slices.IndexFunc(list, func(f Suspect) bool { return f.Moves == of && f.Cause == cause.MachineSlow })
		if told < 0 || slow < 0 || list[told].Size*list[slow].Size >= 0 {
			continue
		}
		c, m := list[told], list[slow]
		lead, rest := m, c
		if math.Abs(c.Size) < math.Abs(m.Size) {
			lead, rest = c.AsLead(), m
		}
		halfC, halfM := math.Hypot((c.CI95[1]-c.CI95[0])/2, unsureS), (m.CI95[1]-m.CI95[0])/2
		half := math.Hypot(halfC, halfM)
		rest.Size = c.Size + m.Size
		rest.CI95 = cause.Interval{rest.Size - half, rest.Size + half}
		one := math.Abs(rest.Size) <= max(half, evidence.LeastS)
		if one { // the one that is known better says how much
			if lead = m; halfC < halfM {
				lead = c.AsLead()
			}
		}
		lead.Cause, lead.SumM2 = cause.FileLead, min(c.SumM2, m.SumM2)
		list = slices.DeleteFunc(list, func(f Suspect) bool {
			return f.Moves == of && (f.Cause == c.Cause || f.Cause == cause.MachineSlow)
		})
		list = append(list, lead)
		if !one {
			rest.SumM2 = math.Max(c.SumM2, m.SumM2) * rest.Size * rest.Size / (c.Size*c.Size + m.Size*m.Size)
			list = append(list, rest)
		}
	}
	return list
}

// sharedBesideFileLead replaces three causes by two: commands of lifts and of drops that are
// late by different times, and a machine that is slow by as much as one of them is less late
// than the other, are one lateness of both and a wrong lead on file.
func sharedBesideFileLead(list []Suspect, unsureS float64) []Suspect {
	at := func(c cause.Name, of evidence.Kind) int {
		return slices.IndexFunc(list, func(f Suspect) bool { return f.Cause == c && f.Moves == of })
	}
	for _, of := range [...][2]evidence.Kind{{evidence.Lifts, evidence.Drops}, {evidence.Drops, evidence.Lifts}} {
		own, other, slow := at(cause.CommandTiming, of[0]), at(cause.CommandTiming, of[1]), at(cause.MachineSlow, of[0])
		if own < 0 || other < 0 || slow < 0 || at(cause.MachineSlow, of[1]) >= 0 || list[own].Size*list[slow].Size < 0 {
			continue
		}
		c, o, m := list[own], list[other], list[slow]
		half := math.Sqrt(c.Half()*c.Half()+o.Half()*o.Half()+m.Half()*m.Half()) + evidence.LeastS/2
		if math.Abs(c.Size-o.Size+m.Size) > math.Hypot(half, unsureS) {
			continue
		}
		shared, lead := o, m
		shared.Cause, shared.Moves, shared.Crossings = cause.Latency, evidence.Both, c.Crossings+o.Crossings
		lead.Cause = cause.FileLead
		list = slices.DeleteFunc(list, func(f Suspect) bool {
			return f.Cause == cause.CommandTiming || f.Cause == cause.MachineSlow && f.Moves == of[0]
		})
		return append(list, shared, lead)
	}
	return list
}

// OneBorder replaces a place error of lifts and the opposite one of drops by a wrong border
// all around.
func OneBorder(list []Suspect) []Suspect {
	lift := slices.IndexFunc(list, func(f Suspect) bool { return f.Cause == cause.LiftGeometry })
	drop := slices.IndexFunc(list, func(f Suspect) bool { return f.Cause == cause.DropGeometry })
	if lift < 0 || drop < 0 {
		return list
	}
	f, other := &list[lift], &list[drop]
	half := math.Hypot(f.CI95[1]-f.CI95[0], other.CI95[1]-other.CI95[0]) / 2
	if f.Size*other.Size > 0 || math.Abs(f.Size+other.Size) > max((f.CI95[1]-f.CI95[0]+other.CI95[1]-other.CI95[0])/2, evidence.LeastM) {
		return list
	}
	f.Cause, f.Moves, f.PerUnitM = cause.WrongBorder, evidence.Both, terms.Outward
	f.Size = (f.Size - other.Size) / 2
	f.CI95 = cause.Interval{f.Size - half/2, f.Size + half/2}
	f.Crossings, f.SumM2 = f.Crossings+other.Crossings, f.SumM2+other.SumM2
	return slices.Delete(list, drop, drop+1)
}

// Opposite returns a time and a place that were chosen for the same moves, of opposite signs.
func Opposite(list []Suspect) (time, place int, ok bool) {
	for i := range list {
		for j := range list {
			t, p := &list[i], &list[j]
			if t.Chosen && p.Chosen && t.Family() == "time" && p.Family() == "place" && t.Moves == p.Moves && t.Size*p.Size < 0 {
				return i, j, true
			}
		}
	}
	return 0, 0, false
}
