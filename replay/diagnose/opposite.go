// Two causes of opposite signs that are one. Commands by the right lead look early or late
// against a wrong lead on file, and the machine as much too slow or too quick. Lifts too late
// and drops as much too early, by a place, are a border.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
)

// fileLeads replaces command timing and machine slow of opposite signs by the lead on file.
// What one is larger than the other remains.
func fileLeads(list []found) []found {
	for _, of := range [...]evidence.Kind{evidence.Both, evidence.Lifts, evidence.Drops} {
		told := slices.IndexFunc(list, func(f found) bool {
			return f.moves == of && (f.cause == CommandTiming || f.cause == Latency)
		})
		slow := slices.IndexFunc(list, func(f found) bool { return f.moves == of && f.cause == MachineSlow })
		if told < 0 || slow < 0 || list[told].size*list[slow].size >= 0 {
			continue
		}
		c, m := list[told], list[slow]
		lead, rest := m, c
		if math.Abs(c.size) < math.Abs(m.size) {
			lead, rest = c, m
			lead.size, lead.ci = -c.size, Interval{-c.ci[1], -c.ci[0]}
		}
		lead.cause, lead.explained = FileLead, min(c.explained, m.explained)
		half := math.Hypot(c.ci[1]-c.ci[0], m.ci[1]-m.ci[0]) / 2
		rest.size = c.size + m.size
		rest.ci = Interval{rest.size - half, rest.size + half}
		list = slices.DeleteFunc(list, func(f found) bool {
			return f.moves == of && (f.cause == c.cause || f.cause == MachineSlow)
		})
		list = append(list, lead)
		if math.Abs(rest.size) > max(half, evidence.LeastS) {
			rest.explained = math.Max(c.explained, m.explained) * rest.size * rest.size / (c.size*c.size + m.size*m.size)
			list = append(list, rest)
		}
	}
	return list
}

// oneBorder replaces a place error of lifts and the opposite one of drops by a wrong border
// all around.
func oneBorder(list []found) []found {
	lift := slices.IndexFunc(list, func(f found) bool { return f.cause == LiftGeometry })
	drop := slices.IndexFunc(list, func(f found) bool { return f.cause == DropGeometry })
	if lift < 0 || drop < 0 {
		return list
	}
	f, other := &list[lift], &list[drop]
	half := math.Hypot(f.ci[1]-f.ci[0], other.ci[1]-other.ci[0]) / 2
	if f.size*other.size > 0 || math.Abs(f.size+other.size) > max((f.ci[1]-f.ci[0]+other.ci[1]-other.ci[0])/2, evidence.LeastM) {
		return list
	}
	f.cause, f.moves, f.perUnitM = WrongBorder, evidence.Both, outward
	f.size = (f.size - other.size) / 2
	f.ci = Interval{f.size - half/2, f.size + half/2}
	f.crossings, f.explained = f.crossings+other.crossings, f.explained+other.explained
	return slices.Delete(list, drop, drop+1)
}
