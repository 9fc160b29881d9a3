package poll

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A state that changes at drawn times, reported in one way or another.
func TestHabit(t *testing.T) {
	for _, c := range []struct {
		name  string
		polls bool
		// reports returns the times of reports that are no changes of the state by themselves.
		looks func(r *rand.Rand, untilS float64) []float64
		// onChange: a report at each change as well, and the clock of looks begins anew.
		onChange bool
	}{
		{name: "each 0.1 s", polls: true, looks: steps(0.1, 0.1)},
		{name: "each second", polls: true, looks: steps(1, 1)},
		{name: "drawn between 0.1 and 2 s", polls: true, looks: steps(0.1, 2)},
		{name: "each second, with an hour's rest", polls: true, looks: func(r *rand.Rand, untilS float64) []float64 {
			list := steps(1, 1)(r, untilS)
			for i := len(list) / 2; i < len(list); i++ {
				list[i] += 3600
			}
			return list
		}},
		{name: "on change, and after 10 s without", looks: steps(10, 10), onChange: true},
		{name: "on change, and after 2 s without", looks: steps(2, 2), onChange: true},
		{name: "each minute", looks: steps(60, 60)},
		{name: "when another state changes", looks: func(r *rand.Rand, untilS float64) []float64 {
			var list []float64
			for at := 0.0; at < untilS; at += 20 + 20*r.Float64() {
				for k := range 6 {
					list = append(list, at+0.05*float64(k))
				}
			}
			return list
		}, onChange: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			wrong := 0
			for seed := range uint64(100) {
				r := rand.New(rand.NewPCG(seed, 1))
				var changes []float64
				for at := 30.0; len(changes) < 20; at += 15 + 40*r.Float64() {
					changes = append(changes, at)
				}
				untilS := changes[19] + 60
				if h := reported(changes, c.looks(r, untilS), c.onChange); h.Polls() != c.polls {
					wrong++
				}
			}
			if wrong > 1 {
				t.Errorf("%d of 100 days of 20 changes are told wrongly", wrong)
			}
		})
	}
}

// steps are looks that follow each other after a time between two, drawn evenly.
func steps(leastS, mostS float64) func(*rand.Rand, float64) []float64 {
	return func(r *rand.Rand, untilS float64) (list []float64) {
		for at := r.Float64() * mostS; at < untilS+3600; at += leastS + (mostS-leastS)*r.Float64() {
			list = append(list, at)
		}
		return list
	}
}

// reported is the habit of the reports of a state that changes at some times.
func reported(changes, looks []float64, onChange bool) (h Habit) {
	lastS, was, k := math.NaN(), 0, 0
	report := func(atS float64) {
		now := 0
		for k = 0; k < len(changes) && changes[k] <= atS; k++ {
			now = (k + 1) % 2
		}
		if !math.IsNaN(lastS) {
			h.Add(int64((atS-lastS)*1e9), now != was)
		}
		lastS, was = atS, now
	}
	if !onChange {
		for _, at := range looks {
			report(at)
		}
		return h
	}
	gapS := looks[1] - looks[0]
	if gapS < 0.5 { // looks are events of another state
		all := append([]float64(nil), looks...)
		all = append(all, changes...)
		for i := range all {
			for j := i; j > 0 && all[j] < all[j-1]; j-- {
				all[j], all[j-1] = all[j-1], all[j]
			}
		}
		for _, at := range all {
			report(at)
		}
		return h
	}
	at := looks[0]
	report(at)
	for _, c := range append(append([]float64(nil), changes...), changes[len(changes)-1]+60) {
		for at += gapS; at < c; at += gapS {
			report(at)
		}
		at = c
		report(at)
	}
	return h
}

func TestHabitOfFew(t *testing.T) {
	var h Habit
	if h.Polls() {
		t.Error("nothing seen, and it polls")
	}
	for range 2 {
		h.Add(1e9, false)
	}
	h.Add(1e9, true)
	if h.Polls() {
		t.Error("two repeats, and it polls")
	}
	h.Add(0, false) // says nothing
	if h.Polls() {
		t.Error("a second report in one instant counts")
	}
	var other Habit
	other.Add(1e9, false)
	h.Join(&other)
	if !h.Polls() {
		t.Error("three repeats of a second, a change after one: no poll")
	}
	if n := testing.AllocsPerRun(100, func() { h.Add(1e9, false); h.Polls() }); n != 0 {
		t.Errorf("%g allocations a report", n)
	}
}
