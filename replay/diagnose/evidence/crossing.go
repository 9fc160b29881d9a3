// Crossings: sections that pass one border together.

package evidence

import (
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
