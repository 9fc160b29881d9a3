// The line e = Δx + v·Δt alone, for figures of drives that are not diagnosed. Crossings,
// weights and robust fit are those of a diagnosis.

package diagnose

import (
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/terms"
	"liftbench/sections/score"
)

// Line fits e = Δx + v·Δt to the paired transitions of drives of one machine with the
// same settings, as a diagnosis does that finds no other cause. Events may be in any
// order; those with NaN errors or at standstill are not used.
func Line(drives ...[]score.Event) (lift, drop Fit) {
	a := &analysis{leg: evidence.Whole}
	for _, events := range drives {
		moves := evidence.Moves(events)
		evidence.SetPerPlace(moves, evidence.TypicalPlaces(moves))
		// Drives may overlap in time, so each has crossings of its own.
		first := int32(len(a.moves))
		a.moves = append(a.moves, moves...)
		for _, c := range evidence.Crossings(moves) {
			for i := range c.Changes {
				c.Changes[i] += first
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
	a.build(terms.Dictionary(evidence.Whole, 0, 0), rows)
	_, _, use := a.lineTerms()
	// Outliers are moved to the limit until the line no longer changes, then left out.
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
