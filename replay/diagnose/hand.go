// Worked by hand: lifts and drops far from where the controller makes them.

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
	leastByHand = 3    // at as many places
	leastShare  = 0.03 // of all lifts and drops
	// A transition both farM and farS from the median of its kind was made by hand. A
	// wrong lead shifts all of a kind alike, however wrong it is.
	farM, farS = 2.0, 1.5
)

// byHand returns the transitions that the controller made, and the finding that the
// others were made by hand: those without a border near them and those far from the
// median of their kind. The finding is nil if there are few of them. Those just after
// poor reception do not count, because the fail-safe may have made them.
func byHand(events []score.Event, r *evidence.Reception) (*found, []score.Event) {
	order := slices.Clone(events)
	slices.SortFunc(order, func(a, b score.Event) int {
		return cmp.Or(cmp.Compare(a.TimeNs(), b.TimeNs()), cmp.Compare(a.Section, b.Section))
	})
	kept := make([]score.Event, 0, len(order))
	// Sections that move within score.BetweenSectionsNs of each other were moved by one hand:
	// they count as one place in the interval.
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
		fresh := e.TimeNs()-last[way] > score.BetweenSectionsNs
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

// usualError is the median of the lifts, or of the drops.
type usualError struct{ timeS, placeM float64 }

// usualErrors returns the medians of paired lifts and of paired drops.
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
