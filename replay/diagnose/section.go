// What is found, before it is put into words, and slow sections among it.

package diagnose

import (
	"fmt"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/peers"
	"liftbench/replay/diagnose/response"
	"liftbench/replay/diagnose/terms"
)

// found is a cause before it is put into words.
type found struct {
	terms.Term
	on             *analysis // the leg that it was chosen on; nil: found otherwise
	section        int       // from 1; 0 = all
	size           float64
	lateS          [2]float64 // of a slow section: its delay on lifts and on drops
	ci             Interval
	crossings      int     // how many show it
	explained      float64 // m²: by how much it reduces the sum of squared errors
	note           string  // a fact for the evidence
	feeds          float64 // of a flow shortage: sections that the pump moves at full speed at once
	feedsCI        Interval
	response.Words // the sentences, if they do not follow from the others
}

// slowSections returns the slow sections as findings, and takes their delays out of the
// moves. floorS is the smallest delay that would have been seen.
func slowSections(moves []evidence.Move, crossings []evidence.Crossing, sections int, flowS float64) (list []found, floorS float64) {
	slow, floorS := peers.FindSlow(moves, crossings, sections, flowS)
	for _, x := range slow {
		f := found{
			Term:    terms.Term{Cause: SlowSection, Moves: x.Kind, LeastSize: evidence.LeastS},
			section: x.Section + 1, size: x.DelayS, lateS: x.LateS, ci: x.CI95, crossings: x.Crossings,
		}
		if x.Differ {
			f.note = fmt.Sprintf("lifts %s, drops %s", cause.MS(x.LateS[0]), cause.MS(x.LateS[1]))
		}
		for i := range moves {
			if m := &moves[i]; m.Section == x.Section {
				part := x.Kind.Applies(m.On) * x.LateS[evidence.Way(m.On)] * m.SpeedMps
				m.LateM -= part
				f.explained += part * part
			}
		}
		list = append(list, f)
	}
	return list, floorS
}
