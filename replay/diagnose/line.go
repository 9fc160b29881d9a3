// The line e = Δx + v·Δt alone, for a figure of drives that are not diagnosed:
// by the crossings, the weights and the robust fit of the diagnosis.

package diagnose

import "liftbench/sections/score"

// Line fits e = Δx + v·Δt to the paired transitions of some drives, all of one
// machine with one setting, as a diagnosis does that finds no cause beside the
// two. Events may be in any order; NaN and standstill take no part.
func Line(drives ...[]score.Event) (lift, drop Fit) {
	a := &analysis{part: whole}
	for _, events := range drives {
		var moves []move
		for i := range events {
			if e := &events[i]; measured(e) {
				moves = append(moves, move{section: int(e.Section), on: e.On, idealNs: e.IdealNs, speedMps: e.SpeedMps,
					timeErrorS: e.TimeErrorS, placeErrorM: e.PlaceErrorM, lateM: e.TimeErrorS * e.SpeedMps})
			}
		}
		sortMoves(moves)
		setPerPlace(moves, typicalPlaces(moves))
		// Crossings are of one drive each: drives may overlap in time.
		first := int32(len(a.moves))
		a.moves = append(a.moves, moves...)
		for _, c := range crossings(moves) {
			for i := range c.of {
				c.of[i] += first
			}
			a.list = append(a.list, c)
		}
	}
	if len(a.list) == 0 {
		return lift, drop
	}
	rows := make([]int, len(a.list))
	for k := range rows {
		rows[k] = k
	}
	a.fill(dictionary(whole, 0, 0), rows)
	_, _, use := a.lines()
	// Far-off crossings are brought in until the line stands still, then left out.
	y := a.y
	for range 30 {
		next, ok := newGram(a.cols, y, noiseFloorM).fit(use...)
		if !ok {
			return a.fits(nil)
		}
		done := len(a.best.beta) > 0 && still(&next, &a.best)
		a.best = next
		if done {
			break
		}
		y = clipped(a.y, predict(&next, a.cols, len(a.y)), len(use), noiseFloorM)
	}
	a.trim()
	return a.fits(nil)
}
