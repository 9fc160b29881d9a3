// Lifts that share the pump: how long each takes, and how many others rise at the
// same time.

package evidence

import (
	"cmp"
	"math"
	"slices"

	"liftbench/sections/score"
)

// pump says how long a lift takes alone, and how sections that rise at the same time
// share the oil.
type pump struct {
	moveS  float64 // from its start up to the effective depth
	wholeS float64 // from its start until it is all the way up
	fed    float64 // how many sections it can raise at full speed at once
}

// pump returns the pump that the lift lead assumes: one that can raise all sections
// at full speed, unless the lead is flow-aware.
func (day *Day) pump() pump {
	l := &day.Settings.LiftLead
	p := pump{moveS: float64(max(l.MoveNs, 1e6)) * 1e-9, fed: l.FedAtOnce}
	p.wholeS = max(p.moveS, float64(day.LiftStrokeNs)*1e-9)
	if p.fed <= 0 {
		p.fed = math.Inf(1)
	}
	return p
}

// LiftMoveS is how long a section that lifts alone moves until it counts as lifted, in s.
func (day *Day) LiftMoveS() float64 { return day.pump().moveS }

// took returns how long each of the lifts that begin at starts takes up to the
// effective depth, in s.
//
// Of n sections that rise at the same time, each has min(1, fed/n) of its full speed.
// All rise equally fast, so one clock that runs at that rate serves them all: a lift
// counts when the clock has advanced by moveS since it began, and the section is all
// the way up after wholeS. Lifts finish in the order in which they began.
func (p pump) took(starts []float64) []float64 {
	order := make([]int, len(starts))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(starts[a], starts[b]) })
	out, began := make([]float64, len(starts)), make([]float64, len(starts))
	var t, clock float64
	// By index into order: the first lift that is not all the way up, the first that
	// does not count yet, and the next to begin.
	up, counts, next := 0, 0, 0
	for counts < len(order) {
		if up == next {
			t = starts[order[next]]
		}
		rate := min(1, p.fed/max(1, float64(next-up)))
		step, what := math.Inf(1), &next
		if next < len(order) {
			step = starts[order[next]] - t
		}
		if counts < next {
			if s := (began[counts] + p.moveS - clock) / rate; s < step {
				step, what = s, &counts
			}
		}
		if up < counts {
			if s := (began[up] + p.wholeS - clock) / rate; s < step {
				step, what = s, &up
			}
		}
		t, clock = t+step, clock+step*rate
		switch what {
		case &next:
			began[next] = clock
		case &counts:
			out[order[counts]] = t - starts[order[counts]]
		}
		*what++
	}
	return out
}

// planned returns how long each of the lifts takes that are to count at ends, in s.
// When one begins earlier, the others have less oil and must begin earlier too, so
// the durations are found by iteration, half a step each time.
func (p pump) planned(ends []float64) []float64 {
	out, starts := make([]float64, len(ends)), make([]float64, len(ends))
	for i := range out {
		out[i] = p.moveS
	}
	if math.IsInf(p.fed, 1) {
		return out
	}
	const rounds = 40
	for range rounds {
		for i := range starts {
			starts[i] = ends[i] - out[i]
		}
		for i, s := range p.took(starts) {
			out[i] = (out[i] + s) / 2
		}
	}
	return out
}

// stroke is a lift's way up to the effective depth.
type stroke struct {
	tookS  float64 // how long it takes according to the lead
	others float64 // how many other sections rise at the same time, averaged over the way
}

// strokes returns the stroke of each event; that of a drop is zero. If the events are
// setpoints, each lift begins a dead time after its setpoint; otherwise it begins in
// time for its ideal instant. Each section begins slowS later than that.
func (day *Day) strokes(events []score.Event, setpoints bool, slowS []float64) []stroke {
	var list []int
	var at []float64
	for i := range events {
		e := &events[i]
		ns := e.IdealNs
		if setpoints {
			ns = e.ActualNs
		}
		if !e.On && (e.Kind == score.Paired || setpoints && e.Kind == score.Spurious) {
			list, at = append(list, i), append(at, float64(ns-events[0].TimeNs())*1e-9)
		}
	}
	p := day.pump()
	starts, took := at, []float64(nil)
	if !setpoints {
		took = p.planned(at)
		for k := range starts {
			starts[k] -= took[k]
		}
	}
	for k, i := range list {
		if s := int(events[i].Section); s < len(slowS) {
			starts[k] += slowS[s]
		}
	}
	if setpoints {
		took = p.took(starts)
	}
	// With a pump that can raise one section, n that rise together all the way take n
	// times as long.
	one := p
	one.fed = 1
	shared := one.took(starts)
	out := make([]stroke, len(events))
	for k, i := range list {
		out[i] = stroke{took[k], shared[k]/p.moveS - 1}
	}
	return out
}

// Leads returns how long the machine should take to follow each setpoint, in s: the
// dead time and the stroke. If the lead is flow-aware, a stroke takes longer while other
// sections rise.
func (day *Day) Leads() []float64 { return day.leadsOf(day.Setpoint) }

// leadsOf is Leads of any setpoints.
func (day *Day) leadsOf(setpoints []score.Event) []float64 {
	out := make([]float64, len(setpoints))
	for i, s := range day.strokes(setpoints, true, nil) {
		out[i] = day.leadS(&setpoints[i], s)
	}
	return out
}

// leadS is the lead of one transition with the given stroke, in s.
func (day *Day) leadS(e *score.Event, s stroke) float64 {
	switch {
	case e.On:
		return float64(day.Settings.DropLead.AloneNs()) * 1e-9
	case s.tookS > 0:
		return float64(day.Settings.LiftLead.DeadNs)*1e-9 + s.tookS
	}
	return float64(day.Settings.LiftLead.AloneNs()) * 1e-9
}
