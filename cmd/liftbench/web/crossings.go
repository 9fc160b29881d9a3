// The transitions of a drive gathered by the border at which they belong.

package web

import (
	"slices"

	"liftbench/sections/score"
)

// crossing is the bar at one border: the transitions of its sections.
type crossing struct {
	on              bool
	fromNs, untilNs int64
	eastM, northM   float64 // middle of the sections' places
	events          []int   // indices
}

// apartNs is how long after one section's transition another's that is the
// same way still belongs to the same border.
const apartNs = 2500e6

// crossings gathers the transitions, in order of time, by border: the same
// way, one soon after the other, each section once.
func crossings(events []score.Event) []crossing {
	var list []crossing
	last := [2]int{-1, -1} // the crossing that is being gathered, lift and drop
	for i := range events {
		v := &events[i]
		way := 0
		if v.On {
			way = 1
		}
		t := v.TimeNs()
		k := last[way]
		if k < 0 || t-list[k].untilNs > apartNs || holds(events, list[k].events, v.Section) {
			k = len(list)
			last[way] = k
			list = append(list, crossing{on: v.On, fromNs: t})
		}
		c := &list[k]
		n := float64(len(c.events))
		c.eastM = (c.eastM*n + v.EastM) / (n + 1)
		c.northM = (c.northM*n + v.NorthM) / (n + 1)
		c.untilNs = t
		c.events = append(c.events, i)
	}
	return list
}

// Together returns the transitions at the same border as event k, itself
// included: indices in order of time.
func Together(events []score.Event, k int) []int {
	for _, c := range crossings(events) {
		if slices.Contains(c.events, k) {
			return c.events
		}
	}
	return nil
}

// holds reports whether one of those events is of the section.
func holds(events []score.Event, list []int, section int16) bool {
	for _, k := range list {
		if events[k].Section == section {
			return true
		}
	}
	return false
}
