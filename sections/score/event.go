// This file makes the list of events: lifts and drops of single sections, each with what
// a diagnosis needs to know about it.

package score

import (
	"cmp"
	"math"
	"sort"

	"liftbench/sections"
	"liftbench/sections/motion"
)

// togetherNs is how close in time two sections move to count as moving at once.
const togetherNs = 250e6

// events returns the events of all sections, in order of time. moves are the actual
// changes in order of time.
func events(track motion.Track, b *bar, lanes []lane, moves []sections.WorkChange, opt Options) []Event {
	var list []Event
	way := path{track: track, bar: b}
	rest := pauses(track)
	for i := range lanes {
		list = laneEvents(list, int16(i), &lanes[i], &way, rest, opt)
	}
	sort.SliceStable(list, func(i, j int) bool {
		a, b := &list[i], &list[j]
		return cmp.Or(cmp.Compare(a.TimeNs(), b.TimeNs()), cmp.Compare(a.Section, b.Section)) < 0
	})
	for i := range list {
		way.describe(&list[i])
	}
	countTogether(list, moves, len(lanes))
	return list
}

// laneEvents appends the events of section i, not yet described.
func laneEvents(list []Event, i int16, l *lane, way *path, rest []pause, opt Options) []Event {
	ideal, actual := l.idealChanges, l.changes
	ideal = steady(withoutSlivers(ungrazed(ideal), i, way), rest, opt)
	event := func(kind Kind, on bool, idealNs, actualNs int64) {
		list = append(list, Event{Section: i, On: on, Kind: kind, IdealNs: idealNs, ActualNs: actualNs,
			TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()})
	}
	if len(actual) > 0 && actual[0].on == l.idealFirst && (len(ideal) == 0 || actual[0].timeNs < ideal[0].timeNs) {
		event(Start, actual[0].on, 0, actual[0].timeNs)
		actual = actual[1:]
	}
	for _, on := range [2]bool{false, true} {
		is, as := oneWay(ideal, on), oneWay(actual, on)
		used := make([]bool, len(as))
		for p, q := range pairs(is, as, opt.WindowNs) {
			if q < 0 {
				event(Missed, on, is[p], 0)
				continue
			}
			event(Paired, on, is[p], as[q])
			used[q] = true
		}
		for q, t := range as {
			if !used[q] {
				event(Spurious, on, 0, t)
			}
		}
	}
	return list
}

// oneWay returns the instants of the changes to on: of drops, or else of lifts.
func oneWay(list []change, on bool) []int64 {
	times := make([]int64, 0, len(list)/2+1)
	for _, c := range list {
		if c.on == on {
			times = append(times, c.timeNs)
		}
	}
	return times
}

// countTogether sets Event.Together. It counts among the ideal instants of the events, or
// among the moves for an event without an ideal instant.
func countTogether(list []Event, moves []sections.WorkChange, sectionCount int) {
	var ideals []sections.WorkChange
	for i := range list {
		if e := &list[i]; e.hasIdeal() {
			ideals = append(ideals, sections.WorkChange{TimeNs: e.IdealNs, Section: e.Section, On: e.On})
		}
	}
	seen := make([]int, sectionCount) // for each section, 1 + the last event that counted it
	from := [2]int{}                  // the first of ideals, and of moves, that may still be close enough
	for i := range list {
		e := &list[i]
		near, f := ideals, &from[0]
		if !e.hasIdeal() {
			near, f = moves, &from[1]
		}
		t := e.TimeNs()
		for *f < len(near) && near[*f].TimeNs < t-togetherNs {
			*f++
		}
		seen[e.Section] = i + 1
		for _, c := range near[*f:] {
			if c.TimeNs > t+togetherNs {
				break
			}
			if c.On == e.On && seen[c.Section] != i+1 {
				seen[c.Section] = i + 1
				e.Together++
			}
		}
	}
}
