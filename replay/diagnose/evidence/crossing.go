// Crossings: what passes one border together.

package evidence

import "liftbench/sections/score"

// crossing is the sections that pass one border together: they share one
// position error, so that one crossing counts as one observation. Its members are
// indices of moves.
type Crossing struct {
	score.Crossing
	Poor bool // reception around it, see reception.go
}

// crossings groups moves in order of time by their ideal instants, by the rule of
// the scores: score.TogetherNs.
func Crossings(moves []Move) []Crossing {
	grouped := score.Crossings(len(moves), func(i int) score.Change {
		m := &moves[i]
		return score.Change{TimeNs: m.IdealNs, Section: m.Section, On: m.On}
	})
	list := make([]Crossing, len(grouped))
	for k := range grouped {
		list[k].Crossing = grouped[k]
	}
	return list
}

// oneState reports whether the sections of every crossing changed at the same
// instant although their ideal instants differ: one recorded state for the
// whole machine, which says nothing of single sections.
func OneState(moves []Move, list []Crossing) bool {
	staggered := 0
	for k := range list {
		c := &list[k]
		for _, i := range c.Of {
			if moves[i].ActualNs != moves[c.Of[0]].ActualNs {
				return false
			}
		}
		if c.UntilNs-c.FromNs > 1e6 {
			staggered++
		}
	}
	return staggered > 0
}

func Way(on bool) int {
	if on {
		return 1
	}
	return 0
}
