// The transitions of a drive, grouped by the border that they belong to.

package web

import (
	"slices"

	"liftbench/sections"
	"liftbench/sections/score"
)

// crossing is the bar at one border.
type crossing struct {
	score.Crossing
	eastM, northM float64 // middle of the sections' places
}

// crossings groups the transitions, which are in order of time, by border.
func crossings(events []score.Event) []crossing {
	var list []crossing
	changes := make([]sections.WorkChange, len(events))
	for i := range events {
		changes[i] = sections.WorkChange{TimeNs: events[i].TimeNs(), Section: events[i].Section, On: events[i].On}
	}
	for _, c := range score.Crossings(changes) {
		x := crossing{Crossing: c}
		for _, k := range c.Changes {
			x.eastM += events[k].EastM / float64(len(c.Changes))
			x.northM += events[k].NorthM / float64(len(c.Changes))
		}
		list = append(list, x)
	}
	return list
}

// Together returns the indices, in order of time, of the transitions at the
// same border as event k, k included.
func Together(events []score.Event, k int) []int32 {
	for _, c := range crossings(events) {
		if slices.Contains(c.Changes, int32(k)) {
			return c.Changes
		}
	}
	return nil
}
