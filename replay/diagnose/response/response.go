// Package response examines recorded changes before any statistics: whether sections are
// recorded under the right numbers, whether each follows what it is told, and whether
// its sensor shows what a tool can do. What it finds it takes out of the day, so that it
// is not taken for lateness or for work by hand.
package response

import (
	"cmp"
	"slices"
	"sort"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections/score"
)

// Report is what was found. Sections count from 0.
type Report struct {
	Order   *Order
	Sensors []Sensor
	Unmet   []Unmet
	// Missed is how many setpoints or crossings were not followed that no Unmet holds;
	// Uncommanded is how many crossings the controller commanded nothing for.
	Missed, Uncommanded int
}

// Examine returns what is wrong with the recorded changes of a day, and the day without
// it. r tells at which crossings reception explains that nothing happened.
func Examine(day evidence.Day, r *evidence.Reception) (Report, evidence.Day) {
	var out Report
	out.Order = orderOf(&day)
	out.Sensors = sensors(&day)
	out.Unmet, out.Missed = unmet(&day, r)
	if out.Order != nil {
		out.Unmet = slices.DeleteFunc(out.Unmet, func(u Unmet) bool {
			return u.Never() && out.Order.lost(u.Section, len(day.Machine.Sections))
		})
	}
	if day.Setpoint != nil {
		out.Uncommanded = len(missedCrossings(day.Setpoint, r))
	}
	return out, day
}

// byTime returns the events in order of time.
func byTime(events []score.Event) []score.Event {
	list := slices.Clone(events)
	sort.SliceStable(list, func(i, j int) bool {
		a, b := &list[i], &list[j]
		return cmp.Or(cmp.Compare(a.TimeNs(), b.TimeNs()), cmp.Compare(a.Section, b.Section), cmp.Compare(evidence.Way(a.On), evidence.Way(b.On))) < 0
	})
	return list
}

// happened reports whether an event has a recorded change.
func happened(e *score.Event) bool {
	return e.Kind == score.Paired || e.Kind == score.Spurious || e.Kind == score.Start
}

// change is one recorded change, and the index of its event.
type change struct {
	ns int64
	on bool
	at int
}

// changesOf returns the recorded changes of each section in order of time.
func changesOf(events []score.Event, sections int) [][]change {
	list := make([][]change, sections)
	for i := range events {
		if e := &events[i]; happened(e) {
			list[e.Section] = append(list[e.Section], change{e.ActualNs, e.On, i})
		}
	}
	for _, l := range list {
		sort.Slice(l, func(i, j int) bool { return l[i].ns < l[j].ns })
	}
	return list
}

// near reports whether a list of instants in order has one in [from, to].
func near(list []int64, from, to int64) bool {
	i, _ := slices.BinarySearch(list, from)
	return i < len(list) && list[i] <= to
}
