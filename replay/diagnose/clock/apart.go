// Setpoints and work states by different clocks.

package clock

import (
	"cmp"
	"math"
	"slices"

	"liftbench/replay/diagnose/regress"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

// difference is how much longer work states take after their setpoints than the leads
// say, s.
type difference struct {
	liftS, dropS, meanS float64
	leadS               float64 // the usual lead
	stepS               float64 // of the wider grid
	pairs               int     // of the fewer of lifts and drops
}

// leastPairs of each kind tell that two clocks differ.
const leastPairs = 8

// sameNs is how far apart the scores of setpoints and of work states may put one crossing.
const sameNs = 10e6

// between compares the two lists, crossing by crossing.
func between(setpoint, actual *list) (d difference) {
	if setpoint.leadS == nil || len(setpoint.events) == 0 || len(actual.events) == 0 {
		return d
	}
	type kind struct {
		section int16
		on      bool
	}
	leads := setpoint.leadS(setpoint.moved)
	of := map[kind][]int{}
	for i := range setpoint.moved {
		if e := &setpoint.moved[i]; e.Kind == score.Paired {
			of[kind{e.Section, e.On}] = append(of[kind{e.Section, e.On}], i)
		}
	}
	for _, own := range of {
		slices.SortFunc(own, func(a, b int) int { return cmp.Compare(setpoint.moved[a].IdealNs, setpoint.moved[b].IdealNs) })
	}
	var more [2][]float64
	var lead []float64
	for i := range actual.moved {
		e := &actual.moved[i]
		if e.Kind != score.Paired {
			continue
		}
		own := of[kind{e.Section, e.On}]
		k, _ := slices.BinarySearchFunc(own, e.IdealNs-sameNs, func(q int, ns int64) int { return cmp.Compare(setpoint.moved[q].IdealNs, ns) })
		if k == len(own) || setpoint.moved[own[k]].IdealNs > e.IdealNs+sameNs {
			continue
		}
		s := &setpoint.moved[own[k]]
		late := float64(e.ActualNs-s.ActualNs+actual.movedNs-setpoint.movedNs) * 1e-9
		more[wayOf(e.On)] = append(more[wayOf(e.On)], late-leads[own[k]])
		lead = append(lead, leads[own[k]])
	}
	d.pairs = min(len(more[0]), len(more[1]))
	if d.pairs == 0 {
		return d
	}
	d.stepS, d.leadS = max(setpoint.stepS(), actual.stepS()), sample.Median(lead)
	usual := sample.Median
	if d.stepS > 0 { // a median would lie on a step
		usual = func(list []float64) float64 { mean, _, _ := regress.Mean(list, d.stepS); return mean }
	}
	all := slices.Concat(more[0], more[1])
	d.liftS, d.dropS, d.meanS = usual(more[0]), usual(more[1]), usual(all)
	return d
}

// stepS is the step of a list's grid, or the usual time between its polls; 0 without, s.
func (l *list) stepS() float64 {
	if l.polls != nil {
		return float64(l.polls.median) * 1e-9
	}
	return l.grid.StepS()
}

// apart reports whether the two lists have clocks of their own. setpointS is the offset
// that the setpoints show by themselves, 0 if they come when they should. Setpoints that do,
// and work states that are late, are a slow machine, however late. Two clocks are told where
// tools move before they are told to, or later than any lead can be set, or where the work
// states come when they should although the setpoints do not.
func (d *difference) apart(setpointS float64) bool {
	least, most := min(d.liftS, d.dropS), max(d.liftS, d.dropS)
	switch {
	case d.pairs < leastPairs:
		return false
	case most < -longestS || least > longestS:
		return true // lifts and drops both: no lead of one of them does that
	case !d.alike():
		return false
	}
	return d.leadS+d.meanS < -d.stepS/2 || setpointS != 0 && !mayBeLatency(d.meanS) && mayBeLatency(setpointS+d.meanS)
}

// alike reports whether lifts and drops take longer by the same.
func (d *difference) alike() bool { return math.Abs(d.liftS-d.dropS) <= alikeS+d.stepS/2 }

// clockS is by how much the clock of the work states is ahead of that of the setpoints. If
// lifts and drops differ, one of the two has a machine that is slow, or a wrong lead, and
// more often it is slow: then the less is the clock's, and slackS how much more it may be.
func (d *difference) clockS() (s, slackS float64) {
	if d.alike() {
		return d.meanS, 0
	}
	least, most := min(d.liftS, d.dropS), max(d.liftS, d.dropS)
	return least, most - least
}
