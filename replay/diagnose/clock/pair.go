// Changes paired anew with crossings, at the times at which they truly happened.

package clock

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"liftbench/sections"
	"liftbench/sections/score"
)

// Corrected returns scored events as though the clock had been right: changes at their
// true times, each paired with the crossing of its section and direction that is nearest
// to it, if it is the nearest to that too. How fast the section moved between the two is
// known only from the pair that was scored; where the track is at hand, score it again.
func (c *Clock) Corrected(events []score.Event) []score.Event {
	return paired(events, func(e *score.Event) int64 { return c.TrueNs(e.Section, e.ActualNs) })
}

// paired is Corrected, with any change of times that keeps the order of each section's.
func paired(events []score.Event, trueNs func(e *score.Event) int64) []score.Event {
	type kind struct {
		section int16
		on      bool
	}
	ideals, changes := map[kind][]score.Event{}, map[kind][]score.Event{}
	var kinds []kind
	var out []score.Event
	for i := range events {
		e := events[i]
		k := kind{e.Section, e.On}
		if ideals[k] == nil && changes[k] == nil {
			kinds = append(kinds, k)
		}
		if e.Kind == score.Paired || e.Kind == score.Missed {
			ideals[k] = append(ideals[k], e)
		}
		switch e.Kind {
		case score.Paired, score.Spurious:
			changes[k] = append(changes[k], e)
		case score.Start:
			e.ActualNs = trueNs(&e)
			out = append(out, e)
		}
	}
	for _, k := range kinds {
		out = matched(out, ideals[k], changes[k], trueNs)
	}
	sort.SliceStable(out, func(i, j int) bool {
		a, b := &out[i], &out[j]
		return cmp.Or(cmp.Compare(a.TimeNs(), b.TimeNs()), cmp.Compare(a.Section, b.Section)) < 0
	})
	return out
}

// matched appends the events of one section and direction, paired anew.
func matched(out, ideals, changes []score.Event, trueNs func(*score.Event) int64) []score.Event {
	sort.SliceStable(ideals, func(i, j int) bool { return ideals[i].IdealNs < ideals[j].IdealNs })
	sort.SliceStable(changes, func(i, j int) bool { return changes[i].ActualNs < changes[j].ActualNs })
	should, did := make([]int64, len(ideals)), make([]int64, len(changes))
	for i := range ideals {
		should[i] = ideals[i].IdealNs
	}
	for i := range changes {
		did[i] = trueNs(&changes[i])
	}
	used := make([]bool, len(did))
	for i := range ideals {
		k := nearest(did, should[i])
		if k < 0 || nearest(should, did[k]) != i || max(should[i]-did[k], did[k]-should[i]) > sections.MaxLeadNs {
			e := ideals[i]
			e.Kind, e.ActualNs, e.TimeErrorS, e.PlaceErrorM = score.Missed, 0, math.NaN(), math.NaN()
			out = append(out, e)
			continue
		}
		used[k] = true
		out = append(out, at(ideals[i], did[k]))
	}
	for k := range changes {
		if !used[k] {
			e := changes[k]
			e.Kind, e.IdealNs, e.ActualNs, e.TimeErrorS, e.PlaceErrorM = score.Spurious, 0, did[k], math.NaN(), math.NaN()
			out = append(out, e)
		}
	}
	return out
}

// nearest returns the index of the instant nearest to t in an ordered list, the first of
// several; -1 if there is none.
func nearest(list []int64, t int64) int {
	i, _ := slices.BinarySearch(list, t)
	if i == len(list) || i > 0 && t-list[i-1] <= list[i]-t {
		i--
	}
	return i
}

// leastSlowing bounds the mean speed up to a change: this share of the speed at the
// border at least, and the inverse at most. mostReach is how far the change of speed is
// followed, in time errors of the pair that was scored.
const (
	leastSlowing = 0.25
	mostReach    = 2.0
)

// at returns a crossing with a change at an instant. The mean speed from the border to it
// changes with the time at the rate at which it did up to the change that was scored.
func at(e score.Event, ns int64) score.Event {
	wasS, wasM, wasPaired := e.TimeErrorS, e.PlaceErrorM, e.Kind == score.Paired
	e.Kind, e.ActualNs, e.TimeErrorS = score.Paired, ns, float64(ns-e.IdealNs)*1e-9
	mean := e.SpeedMps
	if wasPaired && wasS != 0 && wasM != 0 && e.SpeedMps > 0 {
		reach := max(-mostReach, min(e.TimeErrorS/wasS, mostReach))
		mean += (wasM/wasS - mean) * reach
		mean = max(leastSlowing*e.SpeedMps, min(mean, e.SpeedMps/leastSlowing))
	}
	e.PlaceErrorM = mean * e.TimeErrorS
	return e
}
