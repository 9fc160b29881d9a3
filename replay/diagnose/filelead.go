// A wrong lead on file beside a short pump.

package diagnose

import (
	"math"

	"liftbench/replay/diagnose/evidence"
)

// besideFileLead explains the legs with the lead on file that the commands are told by, if
// lifts are commanded early or late and a pump seems short: how long a short pump makes a lift
// take follows from the lead's stroke, so that a wrong one hides in what the pump does. It
// returns what was wrong with the lead on file; nil if that explains no more.
func besideFileLead(day evidence.Day, legs []*analysis, whole *analysis, r *evidence.Reception) ([]*analysis, *analysis, *found) {
	if len(legs) != 2 || !legs[1].hasChosen(FlowShortage) {
		return legs, whole, nil
	}
	for _, f := range legs[0].causes() {
		if f.Cause != CommandTiming || f.Moves != evidence.Lifts {
			continue
		}
		ns := day.Settings.LiftLead.MoveNs - int64(math.Round(f.size*1e9))
		if ns <= 0 {
			break
		}
		day.Settings.LiftLead.MoveNs = ns
		own, ownWhole := analyseLegs(&day, r)
		was, is := causesOn(legs), causesOn(own)+1
		if own[0].hasChosen(CommandTiming) || is > was || is == was && own[1].misfitM2()*alike > legs[1].misfitM2() {
			break
		}
		lead := asLead(f)
		lead.Cause = FileLead
		return own, ownWhole, &lead
	}
	return legs, whole, nil
}

// causesOn counts the causes that were found on legs.
func causesOn(legs []*analysis) int {
	n := 0
	for _, a := range legs {
		n += len(a.chosen.Set) + len(a.found)
	}
	return n
}
