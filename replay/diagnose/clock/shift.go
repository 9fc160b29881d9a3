// The shift, of up to days, that brings recorded changes and crossings together.

package clock

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

const (
	// Where so many of the changes have a border, or of the borders a change, the day is
	// not searched: no other shift can explain more.
	wellPaired = 0.8
	// binNs is how finely shifts are tried, nearNs how near a change must come to a
	// border, and reachNs how far a clock may be off beside whole days: any time zone.
	binNs   = 500e6
	nearNs  = 2.5e9
	reachNs = 26 * 3600e9
	dayNs   = 24 * 3600e9
	// mostChanges is how many crossings of each kind are compared with all borders.
	mostChanges = 400
	// The best shift must bring leastMatches crossings together, leastMatched of those
	// that it puts within the day, and timesZero as many as no shift.
	leastMatches = 8
	leastMatched = 0.6
	timesZero    = 1.3
)

// coarseNs returns the shift by which changes are recorded late, to about a second; 0 if
// none explains them better than no shift does.
func coarseNs(events []score.Event) int64 {
	ideals, changes := barTimes(events)
	if len(ideals[0])+len(ideals[1]) < leastMatches || len(changes[0])+len(changes[1]) < leastMatches {
		return 0
	}
	if isWellPaired(events) {
		return 0
	}
	var own [2][]int64
	for way := range own {
		own[way] = spreadOut(changes[way])
	}
	baseNs := wholeDaysApart(slices.Concat(ideals[0], ideals[1]), slices.Concat(changes[0], changes[1]))
	bins := int(2*reachNs/binNs) + 1
	var hits [2][]int32
	for way := range hits {
		hits[way] = make([]int32, bins)
		for _, c := range own[way] {
			from, _ := slices.BinarySearch(ideals[way], c-baseNs-reachNs)
			for _, t := range ideals[way][from:] {
				k := int(math.Round(float64(c-t-baseNs+reachNs) / binNs))
				if k < 0 {
					break
				}
				if k < bins {
					hits[way][k]++
				}
			}
		}
	}
	const half = int(nearNs / binNs)
	best, until, most := 0, 0, int32(-1) // the shifts from best to until are equally good
	var sum [2]int32
	for k := range bins + half {
		for way := range hits {
			if k < bins {
				sum[way] += hits[way][k]
			}
			if old := k - 2*half - 1; old >= 0 {
				sum[way] -= hits[way][old]
			}
		}
		middle := k - half
		if middle < 0 {
			continue
		}
		total := sum[0] + sum[1]
		zero := bins/2 - int(baseNs/binNs)
		if total > most || total == most && middle > until+1 && max(middle-zero, zero-middle) < max(best-zero, zero-best) {
			best, most = middle, total
		}
		if total == most && (middle == until+1 || middle == best) {
			until = middle
		}
	}
	best = (best + until) / 2
	shiftNs := int64(best)*binNs - reachNs + baseNs
	found, within := 0, 0
	var differences []float64
	for way := range own {
		f, w, d := together(ideals[way], own[way], shiftNs)
		if len(own[way]) >= leastCrossings && (2*f < w || f == 0) { // lifts and drops must both agree
			return 0
		}
		found, within, differences = found+f, within+w, append(differences, d...)
	}
	zero0, _, _ := together(ideals[0], own[0], 0)
	zero1, _, _ := together(ideals[1], own[1], 0)
	if found < leastMatches || float64(found) < leastMatched*float64(within) || float64(found) < timesZero*float64(zero0+zero1) {
		return 0
	}
	return shiftNs + int64(sample.Median(differences)*1e9)
}

// isWellPaired reports whether most changes have a border.
func isWellPaired(events []score.Event) bool {
	paired, changes := 0, 0
	for i := range events {
		switch events[i].Kind {
		case score.Paired:
			paired, changes = paired+1, changes+1
		case score.Spurious:
			changes++
		}
	}
	return float64(paired) >= wellPaired*float64(changes)
}

// barTimes returns when the bar should have changed and when it did, for lifts and for
// drops: the means over the sections of each crossing, in order.
func barTimes(events []score.Event) (ideals, changes [2][]int64) {
	var should, did []sections.WorkChange
	for i := range events {
		e := &events[i]
		if e.IdealNs != 0 && e.Kind != score.Start {
			should = append(should, sections.WorkChange{TimeNs: e.IdealNs, Section: e.Section, On: e.On})
		}
		if e.Kind == score.Paired || e.Kind == score.Spurious {
			did = append(did, sections.WorkChange{TimeNs: e.ActualNs, Section: e.Section, On: e.On})
		}
	}
	return middles(should), middles(did)
}

// middles returns the mean times of the crossings that changes are of.
func middles(list []sections.WorkChange) (out [2][]int64) {
	sort.SliceStable(list, func(i, j int) bool {
		a, b := &list[i], &list[j]
		return cmp.Or(cmp.Compare(a.TimeNs, b.TimeNs), cmp.Compare(a.Section, b.Section)) < 0
	})
	for _, c := range score.Crossings(list) {
		sum := int64(0)
		for _, i := range c.Changes {
			sum += list[i].TimeNs - c.FromNs
		}
		way := wayOf(c.On)
		out[way] = append(out[way], c.FromNs+sum/int64(len(c.Changes)))
	}
	for way := range out {
		slices.Sort(out[way])
	}
	return out
}

// spreadOut returns mostChanges of a list, evenly, the first and the last among them: where
// all passes take the same time, only the ends of the day tell its shifts apart.
func spreadOut(list []int64) []int64 {
	if len(list) <= mostChanges {
		return list
	}
	out := make([]int64, mostChanges)
	for i := range out {
		out[i] = list[i*(len(list)-1)/(mostChanges-1)]
	}
	return out
}

// wholeDaysApart returns the whole days that changes are after the crossings, where the
// two do not overlap.
func wholeDaysApart(ideals, changes []int64) int64 {
	first, last := slices.Min(ideals), slices.Max(ideals)
	from, to := slices.Min(changes), slices.Max(changes)
	if from <= last+reachNs/2 && to >= first-reachNs/2 {
		return 0
	}
	apart := (from+to)/2 - (first+last)/2
	return int64(math.Round(float64(apart)/dayNs)) * dayNs
}

// together counts the changes that a shift brings near to a border, and those that it
// puts within the time of the borders, and returns what is left between them, in s.
func together(ideals, changes []int64, shiftNs int64) (found, within int, leftS []float64) {
	if len(ideals) == 0 {
		return 0, 0, nil
	}
	for _, c := range changes {
		t := c - shiftNs
		if t < ideals[0]-nearNs || t > ideals[len(ideals)-1]+nearNs {
			continue
		}
		within++
		if left := t - ideals[nearest(ideals, t)]; max(left, -left) <= nearNs {
			found++
			leftS = append(leftS, float64(left)*1e-9)
		}
	}
	return found, within, leftS
}
