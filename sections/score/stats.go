// This file makes counts and spreads from events.

package score

import (
	"math"
	"slices"
)

// tally counts lifts, or drops, and collects their errors.
type tally struct {
	paired, missed, spurious int
	timeS, placeM            []float64
}

// Tally returns the statistics of events of one or several drives.
func Tally(events []Event) (lift, drop Stats) {
	var t [2]tally
	for i := range events {
		way := 0
		if events[i].On {
			way = 1
		}
		t[way].add(&events[i])
	}
	return t[0].stats(), t[1].stats()
}

// add counts one event.
func (t *tally) add(e *Event) {
	switch e.Kind {
	case Paired:
		t.paired++
		t.timeS = append(t.timeS, e.TimeErrorS)
		t.placeM = append(t.placeM, e.PlaceErrorM)
	case Missed:
		t.missed++
	case Spurious:
		t.spurious++
	}
}

// stats returns the statistics of what was added.
func (t *tally) stats() Stats {
	return Stats{
		Count:       t.paired + t.missed,
		Paired:      t.paired,
		Missed:      t.missed,
		Spurious:    t.spurious,
		TimeErrorS:  spread(t.timeS),
		PlaceErrorM: spread(t.placeM),
	}
}

// spread summarizes errors; nil if there are none.
func spread(errors []float64) *Spread {
	if len(errors) == 0 {
		return nil
	}
	s := &Spread{}
	sizes := make([]float64, len(errors))
	for i, e := range errors {
		s.Mean += e
		sizes[i] = math.Abs(e)
	}
	s.Mean /= float64(len(errors))
	slices.Sort(sizes)
	// Nearest rank: the ⌈0.95·n⌉th of n, in whole numbers.
	s.P95Abs = sizes[(95*len(sizes)+99)/100-1]
	s.MaxAbs = sizes[len(sizes)-1]
	return s
}
