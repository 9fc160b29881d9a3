// What was found, in sentences: what shows it and what to look at.

package response

import (
	"fmt"
	"math"
	"strings"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections/score/sample"
)

// Words are two sentences about a cause.
type Words struct{ Evidence, Change string }

// Words says under which numbers sections are recorded.
func (o *Order) Words() Words {
	what := "Sections are recorded in reverse order, the first as the last"
	switch o.Kind {
	case Shifted:
		way := "high"
		if o.By < 0 {
			way = "low"
		}
		what = fmt.Sprintf("Sections are recorded under numbers that are too %s by %d", way, max(o.By, -o.By))
	case Exchanged:
		what = fmt.Sprintf("Sections %d and %d are recorded under each other's number", o.Wrong[0]+1, o.Wrong[1]+1)
	}
	return Words{
		fmt.Sprintf("%s: by these numbers they scatter by %.0f cm, by the right ones by %.0f cm (standard deviations, %d crossings at a slant).",
			what, math.Abs(o.BeforeM)*1e2, math.Abs(o.AfterM)*1e2, o.Crossings),
		"Number the sections from the left in driving direction: look at their order in the terminal's description of the implement, then at the plugs of valves and sensors. Everything else here is judged in the right order.",
	}
}

// What returns what was not followed: lifts, drops or both, how often, and the 95 %
// interval of its share.
func (u *Unmet) What() (kind evidence.Kind, c Count, ci95 [2]float64) {
	c = Count{Failed: u.failed(), Asked: u.asked(), Places: u.Lift.Places + u.Drop.Places}
	switch {
	case u.Drop.Failed == 0:
		c, kind = u.Lift, evidence.Lifts
	case u.Lift.Failed == 0:
		c, kind = u.Drop, evidence.Drops
	}
	ci95[0], ci95[1] = sample.Wilson(c.Share(), float64(c.Places), sample.Z95)
	return kind, c, ci95
}

// Words says who does not follow.
func (u *Unmet) Words() Words {
	kind, c, ci := u.What()
	who := "The machine"
	change := "No setting brings back a lift that does not happen. Look at what all sections share: oil supply, main valve, supply voltage, the link from the terminal to the implement."
	if u.Section >= 0 {
		who = fmt.Sprintf("Section %d", u.Section+1)
		change = fmt.Sprintf("Section %d: look at the plug and cable of its valve, then at the valve and for something that blocks the section; lift and drop it from the terminal while standing and watch whether it moves.", u.Section+1)
	}
	move := [...]string{"lift or drop", "lift", "drop"}[kind]
	asked, unknown := "setpoints to "+move, ""
	if !u.Commanded {
		asked, unknown = "borders where it should "+move, " Setpoints were not recorded, so it may not have been told."
	}
	return Words{fmt.Sprintf("%s did nothing at %d of %d %s (%.0f %%; 95 %% interval %.0f to %.0f %%).%s", who, c.Failed, c.Asked, asked, c.Share()*100, ci[0]*100, ci[1]*100, unknown), change}
}

// Words says what a sensor shows that no tool does.
func (s *Sensor) Words() Words {
	var what []string
	if s.Chatters > 0 {
		what = append(what, fmt.Sprintf("flickers at %d changes, faster than the tool can move", s.Chatters))
	}
	if s.Alone > 0 {
		what = append(what, fmt.Sprintf("changes %d times when nothing was to happen and no other section moved", s.Alone))
	}
	return Words{
		fmt.Sprintf("The work state of section %d %s (%d changes in all).", s.Section+1, strings.Join(what, ", and "), s.Changes),
		fmt.Sprintf("Section %d: look at its work-state sensor, how it is set and fixed, and at its plug and cable. The other causes here are judged without these changes.", s.Section+1),
	}
}
