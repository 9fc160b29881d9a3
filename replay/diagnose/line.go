// The line e = Δx + v·Δt alone, for a figure of drives that are not diagnosed:
// by the crossings, the weights and the robust fit of the diagnosis.

package diagnose

import (
	"liftbench/sections/score"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
)

// Line fits e = Δx + v·Δt to the paired transitions of some drives, all of one
// machine with one setting, as a diagnosis does that finds no cause beside the
// two. Events may be in any order; NaN and standstill take no part.
func Line(drives ...[]score.Event) (lift, drop Fit) {
	a := &analysis{leg: evidence.Whole}
	for _, events := range drives {
		moves := evidence.Moves(events)
		evidence.SetPerPlace(moves, evidence.TypicalPlaces(moves))
		// Crossings are of one drive each: drives may overlap in time.
		first := int32(len(a.moves))
		a.moves = append(a.moves, moves...)
		for _, c := range evidence.Crossings(moves) {
			for i := range c.Of {
				c.Of[i] += first
			}
			a.crossings = append(a.crossings, c)
		}
	}
	if len(a.crossings) == 0 {
		return lift, drop
	}
	rows := make([]int, len(a.crossings))
	for k := range rows {
		rows[k] = k
	}
	a.build(dictionary(evidence.Whole, 0, 0), rows)
	_, _, use := a.lineTerms()
	// Far-off crossings are brought in until the line stands still, then left out.
	y := a.y
	for range 30 {
		next, ok := regress.NewGram(a.columns, y, noiseFloorM).Fit(use...)
		if !ok {
			return a.fits(nil)
		}
		done := len(a.chosen.Beta) > 0 && settled(&next, &a.chosen)
		a.chosen = next
		if done {
			break
		}
		y = regress.Clipped(a.y, regress.Predict(&next, a.columns, len(a.y)), len(use), noiseFloorM)
	}
	a.dropOutliers()
	return a.fits(nil)
}
