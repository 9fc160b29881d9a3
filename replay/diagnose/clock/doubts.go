// What a clock and something else explain equally well.

package clock

import (
	"fmt"
	"math"
	"slices"
)

// Lateness is a cause that was found and that moves changes by a time.
type Lateness struct {
	Cause    string // as in diagnosis.json
	SizeS    float64
	OneMove  bool // of lifts alone, or of drops alone
	Fades    bool // over the day
	FromTold bool // from setpoint to work state
}

// Doubt is what explains a day as well as a clock does; see diagnose.Doubt.
type Doubt struct {
	Between    []string
	Why, Drive string
}

const (
	offset      = "clock offset"
	latency     = "latency"
	machineSlow = "machine slow"
	// Compare is how a clock is told from anything else.
	Compare = "Read the terminal's clock beside the receiver's time to a tenth of a second."
	// LikeLatency says why a latency that is in doubt may be a clock as well.
	LikeLatency = "A terminal's clock that is off looks like a latency."
)

// Drifts reports whether a lateness fades by more than oil that warms makes it.
func (f *Lateness) Drifts() bool { return f.Fades && f.SizeS > mostColdS }

// OrNothing says why a cause of a size may be none beside the offset that was found.
func (r *Reading) OrNothing() (why, drive string) {
	return fmt.Sprintf("The clock's offset is known to ±%.2f s: with another one within that, nothing is left of it.", math.Hypot(r.UnsureS(), r.KindUnsureS())),
		"Set the clock, and record another day at two speeds."
}

// IsSlack reports whether a lateness of lifts alone, or of drops alone, known to halfS, is
// what the other of the two has if that clock is off by so much more.
func (o *Offset) IsSlack(lateS, halfS float64) bool {
	return o.SlackS != 0 && math.Abs(math.Abs(lateS)-math.Abs(o.SlackS)) <= halfS+alikeS
}

// orRound is the doubt of an offset that is nearly a round number.
func (r *Reading) orRound(o *Offset) Doubt {
	rest, what := latency, "an old position"
	if r.Apart { // both records have the same positions
		rest, what = machineSlow, "the machine"
	}
	late := "late"
	if o.RestS < 0 {
		late = "early"
	}
	measured := o.OffsetS
	if o.Likely != Unset {
		measured += o.RestS
	}
	return Doubt{[]string{offset, rest},
		fmt.Sprintf("Either the clock is %s, or it is %s, a round number that a wrong setting makes, and changes come %.2f s %s by %s.", off(measured), off(measured-o.RestS), math.Abs(o.RestS), late, what),
		Compare}
}

// OrOtherKind says what the kind of a grid that was guessed leaves open.
func (r *Reading) OrOtherKind() (why, drive string) {
	g := &r.Actual.Grid
	if r.Setpoint.Grid.StepNs > 0 {
		g = &r.Setpoint.Grid
	}
	other := "rounded"
	if g.Kind == Rounded {
		other = "sampled"
	}
	return fmt.Sprintf("But that times are %s, on steps of %g s, is a guess: if they are %s, all changes are %.2f s off from that, lifts and drops alike.", g.Kind, g.StepS(), other, g.UnsureS()),
		"Ask the terminal's maker whether a time is that of the poll or rounded, or record times to 10 ms."
}

// mostPlaceM is how long a place error may hide in an offset's interval before it is told.
const mostPlaceM = 0.15

// Doubts returns what may be a clock instead of what was found, or beside the clock that
// was found. speedMps is the usual speed.
func (r *Reading) Doubts(found []Lateness, speedMps float64) (list []Doubt) {
	if m := r.UnsureS() * speedMps; m > mostPlaceM {
		list = append(list, Doubt{[]string{offset, "geometry"},
			fmt.Sprintf("The clock is off, but the speeds and the grid of the times tell by how much only to ±%.2f s: a place error of up to %.0f cm is not told from that.", r.UnsureS(), m*100),
			"Set the clock, and drive again at two speeds."})
	}
	named := func(cause string) bool {
		return slices.ContainsFunc(found, func(f Lateness) bool { return f.Cause == cause })
	}
	for _, o := range r.Offsets() {
		if o.SlackS != 0 {
			lift, drop := "lift timing", "drop timing"
			if named("command timing") {
				lift, drop = "command timing", ""
			}
			list = append(list, Doubt{slices.DeleteFunc([]string{lift, drop, offset}, func(s string) bool { return s == "" }),
				fmt.Sprintf("Lifts and drops are both off, and differ by %.2f s: either the clock is %s and one of the two is off by that, or it is %s and the other is.",
					math.Abs(o.SlackS), off(o.OffsetS), off(o.OffsetS+o.SlackS)), Compare})
		}
	}
	for _, o := range r.Offsets() {
		if o.RestS != 0 {
			list = append(list, r.orRound(&o))
		}
	}
	hiddenS := r.HiddenS
	if named(latency) {
		hiddenS = 0
	}
	for _, f := range found {
		switch s := f.SizeS; {
		case f.Drifts():
			list = append(list, Doubt{[]string{f.Cause, offset},
				fmt.Sprintf("Changes come %.1f s late at first, and less so later. No oil is as cold as that: sooner a clock drifts, or work states are sent late at first.", s),
				Compare})
		case f.Fades:
		case f.Cause == latency:
			late, way := "late", "ahead"
			if s < 0 {
				late, way = "early", "behind"
			}
			list = append(list, Doubt{[]string{latency, offset},
				fmt.Sprintf("Changes that come %.2f s %s at every speed may be an old position or a terminal's clock that is as much %s: both move setpoints and work states alike.", math.Abs(s), late, way),
				"Read the terminal's clock beside the receiver's time to a tenth of a second, or record a log with arrival times: then the age of the position is measured, and what it does not explain is the clock."})
		case r.OneWay != "" && !f.FromTold:
			other := map[string]string{"lifts": "drops", "drops": "lifts"}[r.OneWay]
			list = append(list, Doubt{[]string{f.Cause, offset},
				fmt.Sprintf("Only %s were recorded, and a clock moves %s and %s alike: whether %s are off or the terminal's clock is, they alone do not tell.", r.OneWay, r.OneWay, other, r.OneWay),
				"Record " + other + " as well: if they are off by the same time, it is the clock or an old position. " + Compare})
		case hiddenS*s > 0 && f.OneMove && !f.FromTold:
			list = append(list, Doubt{[]string{f.Cause, latency, offset},
				fmt.Sprintf("Lifts and drops are alike off by %.2f s, as far as their speeds tell: it may be one lateness of both, an old position or a terminal's clock.", math.Abs(hiddenS)), Compare})
			hiddenS = 0
		case f.FromTold && !f.OneMove && s > mostLateS && !r.Apart && !r.OneClock:
			list = append(list, Doubt{[]string{f.Cause, offset},
				fmt.Sprintf("Setpoints come when they should, and all work states %.2f s after they should: a machine as slow as that, or work states that are written by a clock of their own.", s),
				"Measure with a stopwatch how long a section takes from the command to the move."})
		}
	}
	return list
}
