// The guard in front of every verdict: sections that do not follow, wrong numbers and
// sensors in words, and the doubt that is left where something was missed.

package diagnose

import (
	"fmt"
	"math"

	"liftbench/replay/diagnose/response"
	"liftbench/sections/score/sample"
)

// oddM is the error, in m, that a change which did not happen counts with when causes are
// put in order.
const oddM = 2.0

// responses returns what was found in the recorded changes, and the doubts about it.
func responses(r *response.Report) (list []found, doubts []Doubt) {
	if r.Order != nil {
		list = append(list, ofOrder(r.Order))
	}
	for i := range r.Unmet {
		u := &r.Unmet[i]
		f := ofUnmet(u)
		if !u.AtOnce || u.Never() {
			list = append(list, f)
		}
		if u.AtOnce {
			doubts = append(doubts, Doubt{
				Between: []Cause{DoesNotFollow, Sensor},
				Why:     fmt.Sprintf("Section %d's work state stays the same at %d lifts and drops in a row: the section may stand still, or its sensor may stick.", f.section, u.Lift.Failed+u.Drop.Failed),
				Drive:   fmt.Sprintf("Lift and drop section %d from the terminal, standing, and watch the tool and its recorded state.", f.section),
			})
		}
	}
	for i := range r.Sensors {
		list = append(list, ofSensor(&r.Sensors[i]))
	}
	return list, doubts
}

// ofHand puts work by hand into words.
func ofHand(h *response.Hand) found {
	return found{
		term: term{cause: ByHand}, size: h.Share, ci: h.CI95, crossings: h.Count, explained: float64(h.Count) * oddM * oddM,
		Words: response.Words{
			Evidence: fmt.Sprintf("%d lifts and drops, %.0f %% of all (95 %% interval %.0f to %.0f %%), are far from any border, or from where the others are.", h.Count, h.Share*100, h.CI95[0]*100, h.CI95[1]*100),
			Change:   "Nothing to set: leave the lift to the controller near borders, or leave these out of the judgement.",
		},
	}
}

// ofOrder is a wrong order as a cause.
func ofOrder(o *response.Order) found {
	n := float64(len(o.Wrong))
	return found{term: term{cause: SectionOrder}, size: n, ci: Interval{n, n}, crossings: o.Crossings,
		explained: o.BeforeM * o.BeforeM * float64(o.Crossings) * n, Words: o.Words()}
}

// ofUnmet is who does not follow as a cause.
func ofUnmet(u *response.Unmet) found {
	kind, c, ci := u.What()
	return found{term: term{cause: DoesNotFollow, moves: kind}, section: u.Section + 1, size: c.Share(), ci: ci, crossings: c.Asked,
		explained: float64(c.Failed) * oddM * oddM, Words: u.Words()}
}

// ofSensor is a sensor at fault as a cause.
func ofSensor(s *response.Sensor) found {
	n := float64(max(s.Changes, 1))
	f := found{term: term{cause: Sensor}, section: s.Section + 1, size: math.Min(1, float64(max(s.Chatters, s.Alone))/n), crossings: s.Changes,
		explained: float64(s.Chatters+s.Alone) * oddM * oddM, Words: s.Words()}
	f.ci[0], f.ci[1] = sample.Wilson(f.size, n, sample.Z95)
	return f
}

// missedDoubt is the doubt of a day without a cause on which something was missed; nil if
// nothing was.
func missedDoubt(r *response.Report) *Doubt {
	switch {
	case r.Uncommanded > 0:
		return &Doubt{
			Between: []Cause{ByHand, PoorReception, DoesNotFollow},
			Why:     fmt.Sprintf("At %d crossings of a section with a border nothing was commanded.", r.Uncommanded),
			Drive:   "See on the map where, and whether the controller was on and had this field; drive there again with it on.",
		}
	case r.Missed > 0:
		return &Doubt{
			Between: []Cause{DoesNotFollow, ByHand},
			Why:     fmt.Sprintf("Nothing happened at %d lifts or drops that should have been, too few to say why.", r.Missed),
			Drive:   "See on the map where, and drive on with setpoints and work states recorded: more of them tell whether one section or a place is the reason.",
		}
	}
	return nil
}
