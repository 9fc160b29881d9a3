// Worked by hand: lifts and drops far from where the controller makes them.

package response

import (
	"cmp"
	"math"
	"slices"
	"sort"

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

// Hand is the share of lifts and drops that were made by hand.
type Hand struct {
	Share float64
	CI95  [2]float64
	Count int
}

// ByHand returns the transitions that the controller made, and how many others were made
// by hand: those without a border near them, and those far from the median of their kind
// together with most of the bar. The Hand is nil if there are few of them. Those just
// after poor reception do not count, because the fail-safe may have made them.
func ByHand(events []score.Event, r *evidence.Reception) (*Hand, []score.Event) {
	order := slices.Clone(events)
	sort.Slice(order, func(i, j int) bool {
		a, b := &order[i], &order[j]
		return cmp.Or(cmp.Compare(a.TimeNs(), b.TimeNs()), cmp.Compare(a.Section, b.Section)) < 0
	})
	kept := make([]score.Event, 0, len(order))
	all, far, places, farPlaces := 0, 0, 0, 0
	usual := usualErrors(order)
	for _, together := range bars(order) {
		odd := 0 // of the bar's transitions
		isFar := make([]bool, len(together))
		for i, k := range together {
			e := &order[k]
			way := evidence.Way(e.On)
			isFar[i] = e.Kind == score.Spurious || math.Abs(e.PlaceErrorM-usual[way].placeM) > farM && math.Abs(e.TimeErrorS-usual[way].timeS) > farS
			if isFar[i] {
				odd++
			}
		}
		counted, counts := 0, 0
		for i, k := range together {
			e := &order[k]
			// A hand moves the bar: a section that is far from the others of its crossing is
			// not its work.
			hand := isFar[i] && (e.Kind == score.Spurious || 2*odd > len(together))
			switch {
			case hand && r.Between(e.ActualNs-3e9, e.ActualNs).Any():
				continue
			case hand:
				counts++
			default:
				kept = append(kept, *e)
			}
			counted++
		}
		all, far = all+counted, far+counts
		if counted > 0 {
			places++
		}
		if counts > 0 {
			farPlaces++
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
	return &Hand{Share: share, CI95: [2]float64{lo, hi}, Count: far}, kept
}

// bars returns the recorded transitions by index, those together that one movement of the
// bar may have made: each within score.BetweenSectionsNs of the one before of its kind.
func bars(order []score.Event) [][]int {
	var list [][]int
	var open [2]int // of lifts, of drops: 1 + index into list
	var last [2]int64
	for i := range order {
		e := &order[i]
		if e.Kind != score.Paired && e.Kind != score.Spurious {
			continue
		}
		way := evidence.Way(e.On)
		if open[way] == 0 || e.TimeNs()-last[way] > score.BetweenSectionsNs {
			list = append(list, nil)
			open[way] = len(list)
		}
		list[open[way]-1] = append(list[open[way]-1], i)
		last[way] = e.TimeNs()
	}
	return list
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
