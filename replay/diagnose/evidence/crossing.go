// Crossings: sections that pass one border together.

package evidence

import (
	"math"

	"liftbench/sections"
	"liftbench/sections/score"
)

// Crossing is the sections that pass one border together. They share one position
// error, so a crossing counts as one observation. Changes holds indices of moves.
type Crossing struct {
	score.Crossing
	Poor bool // reception around it was poor, see Reception.Mark
}

// Crossings groups moves, which must be in order of time, by their ideal instants as
// score.Crossings does.
func Crossings(moves []Move) []Crossing {
	changes := make([]sections.WorkChange, len(moves))
	for i := range moves {
		m := &moves[i]
		changes[i] = sections.WorkChange{TimeNs: m.IdealNs, Section: int16(m.Section), On: m.On}
	}
	grouped := score.Crossings(changes)
	list := make([]Crossing, len(grouped))
	for k := range grouped {
		list[k].Crossing = grouped[k]
	}
	return list
}

// OneState reports whether all sections of every crossing changed at the same instant
// although their ideal instants differ. Then one state was recorded for the whole
// machine, and single sections cannot be judged.
func OneState(moves []Move, list []Crossing) bool {
	staggered := 0
	for k := range list {
		c := &list[k]
		for _, i := range c.Changes {
			if moves[i].ActualNs != moves[c.Changes[0]].ActualNs {
				return false
			}
		}
		if c.UntilNs-c.FromNs > 1e6 {
			staggered++
		}
	}
	return staggered > 0
}

// Way is the index of lifts, 0, and of drops, 1, in what is kept for each.
func Way(on bool) int {
	if on {
		return 1
	}
	return 0
}

// sameStepNs is how near in time crossings of two sections must be for a grid to tell the
// same of both.
const sameStepNs = 40e6

// GridScatterM is what a grid of recorded times leaves of the scatter of a crossing's mean,
// m; 0 without. Of sections that cross at one instant all times lie in one step, and their
// mean is known no better than one; those that cross one after another tell one each. The
// moves must be in order of time.
func (c *Crossing) GridScatterM(moves []Move) float64 {
	apart, meanM := 0.0, 0.0
	for j, i := range c.Changes {
		if j == 0 || moves[i].IdealNs-moves[c.Changes[j-1]].IdealNs > sameStepNs {
			apart++
		}
		meanM += moves[i].GridS * moves[i].SpeedMps / float64(len(c.Changes))
	}
	return meanM / math.Sqrt(apart)
}
