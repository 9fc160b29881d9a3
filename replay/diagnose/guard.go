// The guard in front of every verdict: sections that do not follow, wrong numbers and
// sensors in words, and the doubt that is left where something was missed.

package diagnose

import (
	"fmt"
	"math"
	"strings"

	"liftbench/replay/diagnose/evidence"
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
		evidence: fmt.Sprintf("%d lifts and drops, %.0f %% of all (95 %% interval %.0f to %.0f %%), are far from any border, or from where the others are.", h.Count, h.Share*100, h.CI95[0]*100, h.CI95[1]*100),
		change:   "Nothing to set: leave the lift to the controller near borders, or leave these out of the judgement.",
	}
}

// ofOrder puts a wrong order into words.
func ofOrder(o *response.Order) found {
	n := float64(len(o.Wrong))
	what := "Sections are recorded in reverse order, the first as the last"
	switch o.Kind {
	case response.Shifted:
		way := "high"
		if o.By < 0 {
			way = "low"
		}
		what = fmt.Sprintf("Sections are recorded under numbers that are too %s by %d", way, max(o.By, -o.By))
	case response.Exchanged:
		what = fmt.Sprintf("Sections %d and %d are recorded under each other's number", o.Wrong[0]+1, o.Wrong[1]+1)
	}
	return found{
		term: term{cause: SectionOrder}, size: n, ci: Interval{n, n}, crossings: o.Crossings,
		explained: o.BeforeM * o.BeforeM * float64(o.Crossings) * n,
		evidence: fmt.Sprintf("%s: by these numbers they scatter by %s, by the right ones by %s (standard deviations, %d crossings at a slant).",
			what, cmOf(o.BeforeM), cmOf(o.AfterM), o.Crossings),
		change: "Number the sections from the left in driving direction: look at their order in the terminal's description of the implement, then at the plugs of valves and sensors. Everything else here is judged in the right order.",
	}
}

// ofUnmet puts into words who does not follow.
func ofUnmet(u *response.Unmet) found {
	f := found{term: term{cause: DoesNotFollow}, section: u.Section + 1}
	c := response.Count{Failed: u.Lift.Failed + u.Drop.Failed, Asked: u.Lift.Asked + u.Drop.Asked, Places: u.Lift.Places + u.Drop.Places}
	switch {
	case u.Drop.Failed == 0:
		c, f.moves = u.Lift, evidence.Lifts
	case u.Lift.Failed == 0:
		c, f.moves = u.Drop, evidence.Drops
	}
	f.size, f.crossings = c.Share(), c.Asked
	f.explained = float64(c.Failed) * oddM * oddM
	f.ci[0], f.ci[1] = sample.Wilson(f.size, float64(c.Places), sample.Z95)
	who := "The machine"
	if u.Section >= 0 {
		who = fmt.Sprintf("Section %d", u.Section+1)
	}
	asked := "setpoints to " + [...]string{"lift or drop", "lift", "drop"}[f.moves]
	unknown := ""
	if !u.Commanded {
		asked = "borders where it should " + [...]string{"lift or drop", "lift", "drop"}[f.moves]
		unknown = " Setpoints were not recorded, so it may not have been told."
	}
	f.evidence = fmt.Sprintf("%s did nothing at %d of %d %s (%.0f %%; 95 %% interval %.0f to %.0f %%).%s", who, c.Failed, c.Asked, asked, f.size*100, f.ci[0]*100, f.ci[1]*100, unknown)
	f.change = "No setting brings back a lift that does not happen. Look at what all sections share: oil supply, main valve, supply voltage, the link from the terminal to the implement."
	if u.Section >= 0 {
		f.change = fmt.Sprintf("Section %d: look at the plug and cable of its valve, then at the valve and for something that blocks the section; lift and drop it from the terminal while standing and watch whether it moves.", u.Section+1)
	}
	return f
}

// ofSensor puts into words that a section's sensor shows what no tool does.
func ofSensor(s *response.Sensor) found {
	strange := max(s.Chatters, s.Alone)
	f := found{term: term{cause: Sensor}, section: s.Section + 1, size: math.Min(1, float64(strange)/float64(max(s.Changes, 1))), crossings: s.Changes}
	f.explained = float64(s.Chatters+s.Alone) * oddM * oddM
	f.ci[0], f.ci[1] = sample.Wilson(f.size, float64(max(s.Changes, 1)), sample.Z95)
	var what []string
	if s.Chatters > 0 {
		what = append(what, fmt.Sprintf("flickers at %d changes, faster than the tool can move", s.Chatters))
	}
	if s.Alone > 0 {
		what = append(what, fmt.Sprintf("changes %d times when nothing was to happen and no other section moved", s.Alone))
	}
	f.evidence = fmt.Sprintf("The work state of section %d %s (%d changes in all).", f.section, strings.Join(what, ", and "), s.Changes)
	f.change = fmt.Sprintf("Section %d: look at its work-state sensor, how it is set and fixed, and at its plug and cable. The other causes here are judged without these changes.", f.section)
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
