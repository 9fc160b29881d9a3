// Package pump says how long sections take that share the oil of one pump, and finds how
// many of them a pump feeds.
package pump

import (
	"cmp"
	"math"
	"slices"
)

// Pump is a pump and the way of the sections that it moves. Of n sections that move at
// the same time, each has min(1, Fed/n) of its full speed.
type Pump struct {
	MoveS  float64 // from its start until a section that moves alone counts as moved
	WholeS float64 // from its start until it stops, alone
	Fed    float64 // how many it can move at full speed at once; +Inf = all
	// StoreS is the oil that an accumulator holds, in seconds of one section at full
	// speed. As long as it holds some all sections move at full speed. It is full before
	// the first start and takes what the pump has left over; 0 = no accumulator.
	StoreS float64
}

// Took returns how long each of the sections that begin to move at starts takes until it
// counts, in s, and how many others move at the same time, averaged over its own way.
//
// All sections move equally fast, so one clock that runs at their speed serves them all:
// a section counts when the clock has advanced by MoveS since it began, and stops after
// WholeS. Sections finish in the order in which they began.
func (p Pump) Took(starts []float64) (took, others []float64) {
	return p.TookInOrder(starts, Order(starts))
}

// Order returns the indices of starts in order of time.
func Order(starts []float64) []int {
	order := make([]int, len(starts))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(starts[a], starts[b]) })
	return order
}

// TookInOrder is Took for starts whose order is known.
func (p Pump) TookInOrder(starts []float64, order []int) (took, others []float64) {
	var s Strokes
	s.Move(p, starts, order)
	return s.TookS, s.Others
}

// Strokes is how long sections took, see Pump.Took, and room for it: once it is large enough
// Move allocates nothing.
type Strokes struct {
	TookS, Others []float64
	began, before []float64 // by index into the order: clock and way when each began
}

// Move has a pump move sections that begin at starts, in the order of Order.
func (s *Strokes) Move(p Pump, starts []float64, order []int) {
	for _, x := range [...]*[]float64{&s.TookS, &s.Others, &s.began, &s.before} {
		*x = slices.Grow((*x)[:0], len(starts))[:len(starts)] // each is set below
	}
	took, others, began, before := s.TookS, s.Others, s.began, s.before
	store := p.StoreS
	var t, clock, moved float64 // moved is the way of all sections together
	// By index into order: the first section that still moves, the first that does not
	// count yet, and the next to begin.
	moving, counts, next := 0, 0, 0
	for counts < len(order) {
		if moving == next {
			if next > 0 {
				store = p.filled(store, 0, starts[order[next]]-t)
			}
			t = starts[order[next]]
		}
		n := float64(next - moving)
		rate := min(1, p.Fed/max(1, n))
		if store > 0 {
			rate = 1
		}
		step, what := math.Inf(1), (*int)(nil)
		if next < len(order) {
			step, what = starts[order[next]]-t, &next
		}
		if counts < next {
			if s := (began[counts] + p.MoveS - clock) / rate; s < step {
				step, what = s, &counts
			}
		}
		if moving < counts {
			if s := (began[moving] + p.WholeS - clock) / rate; s < step {
				step, what = s, &moving
			}
		}
		if s := store / (n - p.Fed); store > 0 && n > p.Fed && s < step {
			step, what = s, nil
			store = 0
		} else {
			store = p.filled(store, n, step)
		}
		t, clock, moved = t+step, clock+step*rate, moved+n*step*rate
		if what == nil {
			continue
		}
		switch what {
		case &next:
			began[next], before[next] = clock, moved
		case &counts:
			took[order[counts]] = t - starts[order[counts]]
			others[order[counts]] = (moved-before[counts])/p.MoveS - 1
		}
		*what++
	}
}

// filled returns what the accumulator holds after n sections have moved for a time.
func (p Pump) filled(store, n, forS float64) float64 {
	if p.StoreS == 0 {
		return 0
	}
	return max(0, min(p.StoreS, store+(p.Fed-n)*forS))
}

// Planned returns how long each of the sections takes that are to count at ends, in s.
// When one begins earlier, the others have less oil and must begin earlier too, so
// the durations are found by iteration, half a step each time.
func (p Pump) Planned(ends []float64) []float64 {
	out, starts := make([]float64, len(ends)), make([]float64, len(ends))
	for i := range out {
		out[i] = p.MoveS
	}
	if math.IsInf(p.Fed, 1) {
		return out
	}
	const rounds = 40
	for range rounds {
		for i := range starts {
			starts[i] = ends[i] - out[i]
		}
		took, _ := p.Took(starts)
		for i, s := range took {
			out[i] = (out[i] + s) / 2
		}
	}
	return out
}
