// How long lifts take that share the pump, and how many others each has beside
// it.

package evidence

import (
	"cmp"
	"math"
	"slices"

	"liftbench/sections/score"
)

// pump is what a lift takes alone, and how sections that rise at once share it.
type pump struct {
	moveS  float64 // from its start up to the effective depth
	wholeS float64 // from its start until it is all the way up
	fed    float64 // sections that rise at full speed
}

// pump returns the pump as the lift lead has it: one that feeds all, unless the
// lead counts them.
func (in *Day) pump() pump {
	l := &in.Settings.LiftLead
	p := pump{moveS: float64(max(l.MoveNs, 1e6)) * 1e-9, fed: l.FedAtOnce}
	p.wholeS = max(p.moveS, float64(in.LiftStrokeNs)*1e-9)
	if p.fed <= 0 {
		p.fed = math.Inf(1)
	}
	return p
}

// liftMoveS is how long a section alone moves until a lift counts.
func (in *Day) LiftMoveS() float64 { return in.pump().moveS }

// took returns how long each lift takes up to the effective depth, of lifts that
// begin at starts, in s.
//
// Of n that rise, each has min(1, fed/n) of its full speed. As all rise alike one
// clock does for all: it runs at that rate, and a lift is through when the clock
// has moved on by moveS, and up after wholeS, in the order in which they began.
func (p pump) took(starts []float64) []float64 {
	order := make([]int, len(starts))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(starts[a], starts[b]) })
	out, began := make([]float64, len(starts)), make([]float64, len(starts))
	t, clock := 0.0, 0.0
	// The oldest that is not up, the oldest that is not through, the next to begin.
	up, through, next := 0, 0, 0
	for through < len(order) {
		if up == next {
			t = starts[order[next]]
		}
		rate := min(1, p.fed/max(1, float64(next-up)))
		step, what := math.Inf(1), &next
		if next < len(order) {
			step = starts[order[next]] - t
		}
		if through < next {
			if s := (began[through] + p.moveS - clock) / rate; s < step {
				step, what = s, &through
			}
		}
		if up < through {
			if s := (began[up] + p.wholeS - clock) / rate; s < step {
				step, what = s, &up
			}
		}
		t, clock = t+step, clock+step*rate
		switch what {
		case &next:
			began[next] = clock
		case &through:
			out[order[through]] = t - starts[order[through]]
		}
		*what++
	}
	return out
}

// planned returns how long each lift takes that is to be through at ends, in s:
// it begins as much earlier. That hangs on the others, which begin earlier in
// turn; some rounds, each half the way, settle it.
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

// stroke is what a lift meets on its way up to the effective depth.
type stroke struct {
	tookS  float64 // how long it takes by the lead
	others float64 // that rise beside it, on average over its way
}

// strokes returns the stroke of each of the events, nothing for what is no lift.
// given: the events are of setpoints, and the lifts begin a dead time after those;
// otherwise they begin when they have to for their ideal instants. Each section
// begins as much later as slowS says.
func (in *Day) strokes(events []score.Event, given bool, slowS []float64) []stroke {
	var list []int
	var at []float64
	for i := range events {
		e := &events[i]
		ns := e.IdealNs
		if given {
			ns = e.ActualNs
		}
		if !e.On && (e.Kind == score.Paired || given && e.Kind == score.Spurious) {
			list, at = append(list, i), append(at, float64(ns-events[0].TimeNs())*1e-9)
		}
	}
	p := in.pump()
	starts, took := at, []float64(nil)
	if !given {
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
	if given {
		took = p.took(starts)
	}
	// From a pump that feeds one section, n that rise together all the way take n
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

// Leads returns how long each of the scored setpoints ought to take to be
// followed, in s: the dead time and the stroke, which takes longer beside others
// where the lead counts them.
func (in *Day) Leads() []float64 {
	out := make([]float64, len(in.Setpoint))
	for i, s := range in.strokes(in.Setpoint, true, nil) {
		out[i] = in.leadS(&in.Setpoint[i], s)
	}
	return out
}

// leadS is the lead of one transition with its stroke.
func (in *Day) leadS(e *score.Event, s stroke) float64 {
	switch {
	case e.On:
		return float64(in.Settings.DropLead.AloneNs()) * 1e-9
	case s.tookS > 0:
		return float64(in.Settings.LiftLead.DeadNs)*1e-9 + s.tookS
	}
	return float64(in.Settings.LiftLead.AloneNs()) * 1e-9
}
