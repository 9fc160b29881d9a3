// What was found, in words: as evidence, and as what to do.

package response

import (
	"fmt"
	"math"
	"strings"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections/score/sample"
)

// Said is a fault of the recorded changes in words.
type Said struct {
	Section int           // from 1; 0 = all
	Kind    evidence.Kind // transitions that it concerns
	Size    float64
	CI95    [2]float64
	Asked   int     // transitions among which it was found
	SumM2   float64 // by how much it explains the day, m²
	Words
}

// Words are two sentences about a cause: what shows it, and what to change or look at.
type Words struct{ Evidence, Change string }

// oddM is the error, in m, that a change which did not happen counts with when causes are
// put in order.
const oddM = 2.0

func cmOf(m float64) string { return fmt.Sprintf("%.0f cm", math.Abs(m)*1e2) }

// Said puts work by hand into words.
func (h *Hand) Said() Said {
	return Said{
		Size: h.Share, CI95: h.CI95, Asked: h.Count, SumM2: float64(h.Count) * oddM * oddM,
		Words: Words{
			Evidence: fmt.Sprintf("%d lifts and drops, %.0f %% of all (95 %% interval %.0f to %.0f %%), are far from any border, or from where the others are.", h.Count, h.Share*100, h.CI95[0]*100, h.CI95[1]*100),
			Change:   "Nothing to set: leave the lift to the controller near borders, or leave these out of the judgement.",
		},
	}
}

// Said puts a wrong order into words.
func (o *Order) Said() Said {
	n := float64(len(o.Wrong))
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
	return Said{
		Size: n, CI95: [2]float64{n, n}, Asked: o.Crossings, SumM2: o.BeforeM * o.BeforeM * float64(o.Crossings) * n,
		Words: Words{
			Evidence: fmt.Sprintf("%s: by these numbers they scatter by %s, by the right ones by %s (standard deviations, %d crossings at a slant).",
				what, cmOf(o.BeforeM), cmOf(o.AfterM), o.Crossings),
			Change: "Number the sections from the left in driving direction: look at their order in the terminal's description of the implement, then at the plugs of valves and sensors. Everything else here is judged in the right order.",
		},
	}
}

// Said puts into words who does not follow.
func (u *Unmet) Said() Said {
	x := Said{Section: u.Section + 1}
	c := Count{Failed: u.Lift.Failed + u.Drop.Failed, Asked: u.Lift.Asked + u.Drop.Asked, Places: u.Lift.Places + u.Drop.Places}
	switch {
	case u.Drop.Failed == 0:
		c, x.Kind = u.Lift, evidence.Lifts
	case u.Lift.Failed == 0:
		c, x.Kind = u.Drop, evidence.Drops
	}
	x.Size, x.Asked = c.Share(), c.Asked
	x.SumM2 = float64(c.Failed) * oddM * oddM
	x.CI95[0], x.CI95[1] = sample.Wilson(x.Size, float64(c.Places), sample.Z95)
	who := "The machine"
	if u.Section >= 0 {
		who = fmt.Sprintf("Section %d", u.Section+1)
	}
	move := [...]string{"lift or drop", "lift", "drop"}[x.Kind]
	asked, unknown := "setpoints to "+move, ""
	if !u.Commanded {
		asked = "borders where it should " + move
		unknown = " Setpoints were not recorded, so it may not have been told."
	}
	x.Evidence = fmt.Sprintf("%s did nothing at %d of %d %s (%.0f %%; 95 %% interval %.0f to %.0f %%).%s", who, c.Failed, c.Asked, asked, x.Size*100, x.CI95[0]*100, x.CI95[1]*100, unknown)
	x.Change = "No setting brings back a lift that does not happen. Look at what all sections share: oil supply, main valve, supply voltage, the link from the terminal to the implement."
	if u.Section >= 0 {
		x.Change = fmt.Sprintf("Section %d: look at the plug and cable of its valve, then at the valve and for something that blocks the section; lift and drop it from the terminal while standing and watch whether it moves.", u.Section+1)
	}
	return x
}

// Said puts into words that a section's sensor shows what no tool does.
func (s *Sensor) Said() Said {
	strange := max(s.Chatters, s.Alone)
	x := Said{Section: s.Section + 1, Size: math.Min(1, float64(strange)/float64(max(s.Changes, 1))), Asked: s.Changes}
	x.SumM2 = float64(s.Chatters+s.Alone) * oddM * oddM
	x.CI95[0], x.CI95[1] = sample.Wilson(x.Size, float64(max(s.Changes, 1)), sample.Z95)
	var what []string
	if s.Chatters > 0 {
		what = append(what, fmt.Sprintf("flickers at %d changes, faster than the tool can move", s.Chatters))
	}
	if s.Alone > 0 {
		what = append(what, fmt.Sprintf("changes %d times when nothing was to happen and no other section moved", s.Alone))
	}
	x.Evidence = fmt.Sprintf("The work state of section %d %s (%d changes in all).", x.Section, strings.Join(what, ", and "), s.Changes)
	x.Change = fmt.Sprintf("Section %d: look at its work-state sensor, how it is set and fixed, and at its plug and cable. The other causes here are judged without these changes.", x.Section)
	return x
}

// LeftOver says what was missed for which no cause was found, and what to do.
func (r *Report) LeftOver() (why, drive string) {
	if r.Uncommanded > 0 {
		return fmt.Sprintf("At %d crossings of a section with a border nothing was commanded.", r.Uncommanded),
			"See on the map where, and whether the controller was on and had this field; drive there again with it on."
	}
	return fmt.Sprintf("Nothing happened at %d lifts or drops that should have been, too few to say why.", r.Missed),
		"See on the map where, and drive on with setpoints and work states recorded: more of them tell whether one section or a place is the reason."
}

// OrSticks says why a section that seems to stand still may have a sensor that sticks, and what
// tells.
func (u *Unmet) OrSticks() (why, drive string) {
	return fmt.Sprintf("Section %d's work state stays the same at %d lifts and drops in a row: the section may stand still, or its sensor may stick.", u.Section+1, u.Lift.Failed+u.Drop.Failed),
		fmt.Sprintf("Lift and drop section %d from the terminal, standing, and watch the tool and its recorded state.", u.Section+1)
}
