// Slow sections.

package suspect

import (
	"fmt"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/peers"
	"liftbench/replay/diagnose/terms"
)

// SlowSections returns the slow sections as findings, and takes their delays out of the
// moves. floorS is the smallest delay that would have been seen.
func SlowSections(moves []evidence.Move, crossings []evidence.Crossing, sections int, p peers.Pumped) (list []Suspect, floorS float64) {
	slow, floorS := peers.FindSlow(moves, crossings, sections, p)
	for _, x := range slow {
		f := Suspect{
			Term:    terms.Term{Cause: cause.SlowSection, Moves: x.Kind, LeastSize: evidence.LeastS},
			Section: x.Section + 1, Size: x.DelayS, LateS: x.LateS, CI95: x.CI95, Crossings: x.Crossings,
		}
		if x.Differ {
			f.Note = fmt.Sprintf("lifts %s, drops %s", cause.MS(x.LateS[0]), cause.MS(x.LateS[1]))
		}
		for i := range moves {
			if m := &moves[i]; m.Section == x.Section {
				part := x.Kind.Applies(m.On) * x.LateS[evidence.Way(m.On)] * m.SpeedMps
				m.LateM -= part
				f.SumM2 += part * part
			}
		}
		list = append(list, f)
	}
	return list, floorS
}
