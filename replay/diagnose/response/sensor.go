// Sensors that show what no tool does.

package response

import (
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections/score"
)

// Sensor is one section's work state that changes in a way the tool cannot.
type Sensor struct {
	Section  int
	Chatters int // bursts of changes faster than the hydraulics
	Alone    int // changes that were not commanded, while no other section changed
	Changes  int // all recorded changes of the section, a burst counted once
}

const (
	leastStrange = 3 // bursts, or changes alone, in a day
	// chatterNs is how soon after one another two changes of a tool cannot come, if its
	// leads are not even shorter.
	chatterNs = 400e6
	// togetherNs is how near in time another section must change for a hand to have moved
	// both.
	togetherNs = 2e9
	// commandedNs is how long after its setpoint a change may come.
	commandedNs = 12e9
	earlyNs     = 500e6 // and how long before it, where clocks differ
)

// sensors returns the sections whose sensor is at fault, and takes the changes that no
// tool made out of the day's events.
func sensors(day *evidence.Day) []Sensor {
	if len(day.Actual) == 0 {
		return nil
	}
	n := len(day.Machine.Sections)
	day.Actual = byTime(day.Actual)
	list := changesOf(day.Actual, n)
	setpoints := setpointTimes(day.Setpoint, n)
	quickNs := min(int64(chatterNs), (day.Settings.LiftLead.AloneNs()+day.Settings.DropLead.AloneNs())/2)
	found := make([]Sensor, n)
	drop := make([]bool, len(day.Actual))
	for s := range list {
		found[s].Section = s
		var calm []change
		for from := 0; from < len(list[s]); {
			to := from + 1
			for to < len(list[s]) && list[s][to].ns-list[s][to-1].ns < quickNs {
				to++
			}
			found[s].Changes++
			if to-from > 1 && !commandedTwice(setpoints[s], list[s][from].ns, list[s][to-1].ns) {
				found[s].Chatters++
				keep := -1 // the change that remains of the burst
				if burst := list[s][from:to]; len(burst)%2 == 1 {
					keep = 0
					pairFirst(burst, day.Actual)
				}
				for i := from; i < to; i++ {
					if i-from == keep {
						calm = append(calm, list[s][i])
						continue
					}
					drop[list[s][i].at] = true
				}
			} else {
				calm = append(calm, list[s][from:to]...)
			}
			from = to
		}
		list[s] = calm
	}
	times := make([][]int64, n)
	for s := range list {
		for _, c := range list[s] {
			times[s] = append(times[s], c.ns)
		}
	}
	for s := range list {
		for _, c := range list[s] {
			if isAlone(times, s, c.ns) && !isCommanded(day, setpoints[s], &day.Actual[c.at]) {
				found[s].Alone++
				drop[c.at] = day.Actual[c.at].Kind == score.Spurious
			}
		}
	}
	found = slices.DeleteFunc(found, func(f Sensor) bool { return max(f.Chatters, f.Alone) < leastStrange })
	var kept []score.Event
	for i, e := range day.Actual {
		strange := slices.ContainsFunc(found, func(f Sensor) bool { return f.Section == int(e.Section) })
		switch {
		case !drop[i] || !strange:
			kept = append(kept, e)
		case e.Kind == score.Paired:
			kept = append(kept, missed(e))
		}
	}
	day.Actual = kept
	return found
}

// pairFirst pairs the first change of a burst with the border that any of its direction
// was paired with: the tool moved when its sensor first changed.
func pairFirst(burst []change, events []score.Event) {
	first := &events[burst[0].at]
	for _, c := range burst[1:] {
		e := &events[c.at]
		if e.Kind != score.Paired || e.On != first.On || first.Kind == score.Paired {
			continue
		}
		ns, mps := first.ActualNs, e.SpeedMps
		if e.TimeErrorS != 0 && e.PlaceErrorM != 0 {
			mps = e.PlaceErrorM / e.TimeErrorS // the mean speed about here
		}
		*first = *e
		first.ActualNs, first.TimeErrorS = ns, float64(ns-e.IdealNs)*1e-9
		first.PlaceErrorM = first.TimeErrorS * mps
		*e = spurious(*e)
	}
}

// setpointTimes returns when each section was commanded anything, in order of time; nil
// if setpoints were not recorded.
func setpointTimes(events []score.Event, n int) [][]int64 {
	list := make([][]int64, n)
	for s, changes := range changesOf(events, n) {
		for _, c := range changes {
			list[s] = append(list[s], c.ns)
		}
	}
	return list
}

// commandedTwice reports whether so many setpoints came about as fast as the changes.
func commandedTwice(setpoints []int64, from, to int64) bool {
	i, _ := slices.BinarySearch(setpoints, from-commandedNs)
	for ; i+1 < len(setpoints) && setpoints[i+1] <= to; i++ {
		if setpoints[i+1]-setpoints[i] <= 2*(to-from) {
			return true
		}
	}
	return false
}

// isCommanded reports whether a change follows a setpoint; where none are recorded,
// whether it belongs to a crossing.
func isCommanded(day *evidence.Day, setpoints []int64, e *score.Event) bool {
	if e.Kind == score.Start {
		return true
	}
	if len(day.Setpoint) == 0 {
		return e.Kind == score.Paired
	}
	return near(setpoints, e.ActualNs-commandedNs, e.ActualNs+earlyNs)
}

// isAlone reports whether no other section changes about an instant. times are the changes
// of each section, in order.
func isAlone(times [][]int64, section int, ns int64) bool {
	for s := range times {
		if s != section && near(times[s], ns-togetherNs, ns+togetherNs) {
			return false
		}
	}
	return len(times) > 1
}
