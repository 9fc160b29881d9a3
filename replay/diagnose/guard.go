// The guard in front of every verdict: sections that do not follow, wrong numbers and
// sensors in words, and the doubt that is left where something was missed.

package diagnose

import (
	"liftbench/replay/diagnose/response"
	"liftbench/replay/diagnose/suspect"
)

// found is a cause before it is put into words.
type found = suspect.Suspect

// responses returns what was found in the recorded changes, and the doubts about it.
func responses(r *response.Report) (list []found, doubts []Doubt) {
	if r.Order != nil {
		list = append(list, suspect.OfOrder(r.Order))
	}
	for i := range r.Unmet {
		u := &r.Unmet[i]
		f := suspect.OfUnmet(u)
		if !u.AtOnce || u.Never() {
			list = append(list, f)
		}
		if u.AtOnce {
			q := Doubt{Between: []Cause{DoesNotFollow, Sensor}}
			q.Why, q.Drive = u.OrSticks()
			doubts = append(doubts, q)
		}
	}
	for i := range r.Sensors {
		list = append(list, suspect.OfSensor(&r.Sensors[i]))
	}
	return list, doubts
}

// missedDoubt is the doubt of a day without a cause on which something was missed; nil if
// nothing was.
func missedDoubt(r *response.Report) *Doubt {
	why, drive := r.LeftOver()
	switch {
	case r.Uncommanded > 0:
		return &Doubt{Between: []Cause{ByHand, PoorReception, DoesNotFollow}, Why: why, Drive: drive}
	case r.Missed > 0:
		return &Doubt{Between: []Cause{DoesNotFollow, ByHand}, Why: why, Drive: drive}
	}
	return nil
}
