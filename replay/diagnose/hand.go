// Worked by hand: lifts and drops that no border asked for.

package diagnose

import (
	"cmp"
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

const (
	leastByHand = 3    // of them, at as many places
	leastShare  = 0.03 // of all lifts and drops
	// A transition that is farM and farS from where the others of its kind are is
	// a hand's: a lead that is off, by whatever it may be off, shifts all alike.
	farM, farS = 2.0, 1.5
)

// byHand returns the share of transitions that have no border near them, or are
// far from where the others of their kind are, nil where there are too few, and
// leaves them out of the list. Those next to poor reception may be the
// fail-safe's and do not count.
func byHand(events []score.Event, r *evidence.Reception) (*found, []score.Event) {
	order := slices.Clone(events)
	slices.SortFunc(order, func(a, b score.Event) int {
		return cmp.Or(cmp.Compare(a.TimeNs(), b.TimeNs()), cmp.Compare(a.Section, b.Section))
	})
	kept := make([]score.Event, 0, len(order))
	// Sections that move within score.TogetherNs of each other were moved by one hand: one
	// observation.
	far, all, farPlaces, places := 0, 0, 0, 0
	usual := usualErrors(order)
	last := [2]int64{math.MinInt64 / 2, math.MinInt64 / 2}
	wasFar := [2]bool{}
	for i := range order {
		e := &order[i]
		if e.Kind != score.Paired && e.Kind != score.Spurious {
			continue
		}
		way := evidence.Way(e.On)
		isFar := e.Kind == score.Spurious || math.Abs(e.PlaceErrorM-usual[way].placeM) > farM && math.Abs(e.TimeErrorS-usual[way].timeS) > farS
		if isFar && r.Between(e.ActualNs-3e9, e.ActualNs).Any() {
			continue
		}
		if !isFar {
			kept = append(kept, *e)
		}
		all++
		fresh := e.TimeNs()-last[way] > score.TogetherNs
		if fresh {
			places++
			wasFar[way] = false
		}
		last[way] = e.TimeNs()
		if isFar {
			far++
			if !wasFar[way] {
				farPlaces++
				wasFar[way] = true
			}
		}
	}
	if farPlaces < leastByHand {
		return nil, kept
	}
	share := float64(far) / float64(all)
	lo, hi := sample.Wilson(share, float64(places), sample.Z95)
	if share < leastShare || lo < leastShare/3 {
		return nil, kept
	}
	return &found{term: term{cause: ByHand}, size: share, ci: Interval{lo, hi}, crossings: far, explained: float64(far) * farM * farM}, kept
}

// usualError is where the lifts, or the drops, of a day are.
type usualError struct{ timeS, placeM float64 }

// usualErrors are the medians of paired lifts and drops.
func usualErrors(events []score.Event) (usual [2]usualError) {
	var times, places [2][]float64
	for i := range events {
		if e := &events[i]; evidence.Measured(e) {
			way := evidence.Way(e.On)
			times[way] = append(times[way], e.TimeErrorS)
			places[way] = append(places[way], e.PlaceErrorM)
		}
	}
	for way := range usual {
		usual[way] = usualError{sample.Median(times[way]), sample.Median(places[way])}
	}
	return usual
}
