// What was found of a clock, in sentences.

package clock

import (
	"fmt"
	"math"
	"slices"
)

// Offset is a clock that is off. Record is setpoint or actual if it is that of one list
// alone.
type Offset struct {
	Clock
	Record string
}

// Offsets returns the clocks that are off: one if both lists have the same.
func (r *Reading) Offsets() []Offset {
	var list []Offset
	switch {
	case r.Apart:
		list = []Offset{{r.Setpoint, "setpoint"}, {r.Actual, "actual"}}
	case r.Actual.Found():
		list = []Offset{{r.Actual, ""}}
	default:
		list = []Offset{{r.Setpoint, ""}}
	}
	return slices.DeleteFunc(list, func(o Offset) bool { return !o.Found() })
}

// UnsureS is half the 95 % interval of the offset, without its slack and its rest, s; 0 if it is none, or
// whole hours, which are certain.
func (r *Reading) UnsureS() float64 {
	s := 0.0
	for _, o := range r.Offsets() {
		if o.Likely == Unset {
			s = max(s, (o.CI95[1]-o.CI95[0]-math.Abs(o.SlackS)-math.Abs(o.RestS))/2)
		}
	}
	return s
}

// KindUnsureS is by how much the grid's kind, where it was guessed, makes all changes of a
// day later or earlier, s.
func (r *Reading) KindUnsureS() float64 {
	if r.Setpoint.Grid.StepNs > 0 {
		return r.Setpoint.Grid.UnsureS()
	}
	return r.Actual.Grid.UnsureS()
}

// Sampling is what recorded times are worth: the grid on which they lie, or the intervals
// within which changes happened.
type Sampling struct {
	GridS float64 `json:"grid_s"` // 0 without a grid
	Kind  Kind    `json:"kind"`
	// WithinS are the shortest, the median and the longest of the intervals between polls within
	// which changes happened; nil where they are not known.
	WithinS *[3]float64 `json:"within_s,omitempty"`
	// OneClock is true where one clock stamped setpoints and work states: the time from one to
	// the other has no error of a clock.
	OneClock bool   `json:"one_clock,omitempty"`
	Text     string `json:"-"` // in a sentence; "" where times are exact
}

// Sampling returns the grid of the work states or their intervals, or those of setpoints where they have
// none; nil without.
func (r *Reading) Sampling() *Sampling {
	var s *Sampling
	for _, c := range [...]*Clock{&r.Actual, &r.Setpoint} {
		if p := c.Polls; p != nil {
			s = &Sampling{Kind: Polled, WithinS: &[3]float64{wholeMs(p.least), wholeMs(p.median), wholeMs(p.most)}, Text: p.text()}
		} else if g := &c.Grid; g.StepNs > 0 {
			s = &Sampling{GridS: g.StepS(), Kind: g.Kind, Text: g.Text()}
		}
		if s != nil {
			break
		}
	}
	if !r.OneClock {
		return s
	}
	if s == nil {
		return &Sampling{OneClock: true}
	}
	s.OneClock = true
	return s
}

// wholeMs is a time in s to a ms.
func wholeMs(ns int64) float64 { return math.Round(float64(ns)*1e-6) / 1e3 }

// text is the intervals in a sentence.
func (p *Polls) text() string {
	within := fmt.Sprintf("%g s", wholeMs(p.median))
	if p.most-p.least > 2e6 {
		within = fmt.Sprintf("%g to %g s, usually %g s", wholeMs(p.least), wholeMs(p.most), wholeMs(p.median))
	}
	return fmt.Sprintf("Each change lies within an interval of %s, between two reports: half of that is taken out, and each time is known to ±%.0f ms", within, float64(p.median)*1e-6/math.Sqrt(12))
}

// orOld says what else may be in an offset that is no round number.
const orOld = " A position that is older than controller.latency_ms says looks the same and would be part of it; the terminal's clock, read beside the receiver's time, tells how much."

// Evidence says how far the clock is off and what shows it.
func (c *Offset) Evidence() string {
	whose := map[string]string{"": "The terminal's clock", "setpoint": "The clock of the setpoints", "actual": "The clock of the work states"}[c.Record]
	lo, hi := c.CI95[0], c.CI95[1]
	if c.OffsetS < 0 {
		lo, hi = -hi, -lo
	}
	interval := fmt.Sprintf("95 %% interval %.2f to %.2f s", lo, hi)
	if c.DriftS != 0 {
		way := "gains"
		if c.DriftS < 0 {
			way = "loses"
		}
		return fmt.Sprintf("%s %s %.2f s over the day: %s at its beginning, %s at its end, %s in the middle (%s). With that taken out, lifts and drops meet the borders all day (%d crossings).%s",
			whose, way, math.Abs(c.DriftS), off(c.AheadS(c.FirstNs)), off(c.AheadS(c.LastNs)), off(c.OffsetS), interval, c.Crossings, orOld)
	}
	why := orOld
	switch c.Likely {
	case LocalTime:
		why = " As it is local time written as UTC."
	case LeapSeconds:
		why = " As it is GPS time, without leap seconds, written as UTC."
	case WrongDate:
		why = " As it is a wrong date."
	}
	return fmt.Sprintf("%s is %s (%s): with that taken out, lifts and drops meet the borders (%d crossings).%s", whose, off(c.OffsetS), interval, c.Crossings, why)
}

// Change says what to set.
func (c *Clock) Change() string {
	switch c.Likely {
	case LocalTime:
		return "Write work states in UTC, as the positions are: set the terminal's time zone or its clock. No setting of the machine: everything else here is judged with the times put right."
	case LeapSeconds:
		return "Write work states in UTC, as the positions are: set the leap seconds where GPS time is turned into UTC. No setting of the machine: everything else here is judged with the times put right."
	}
	return "Set the terminal's clock by the receiver's UTC, before each day. No setting of the machine: everything else here is judged with the times put right."
}

// off says how far a clock is off and which way.
func off(s float64) string {
	way := "ahead"
	if s < 0 {
		way = "behind"
	}
	s = math.Abs(s)
	switch hours := s / 3600; {
	case s >= 43200 && math.Mod(s, 86400) == 0:
		return fmt.Sprintf("%.0f d %s", s/86400, way)
	case s >= 900 && math.Mod(s, 900) == 0:
		return fmt.Sprintf("%g h %s", hours, way)
	}
	return fmt.Sprintf("%.2f s %s", s, way)
}

// Text is the grid in a sentence.
func (g *Grid) Text() string {
	are := "are"
	if g.Guessed {
		are = "are taken to be"
	}
	switch step := fmt.Sprintf("%g s", g.StepS()); g.Kind {
	case Sampled:
		return fmt.Sprintf("States %s sampled every %s: half of that is taken out, and each time is known to ±%.0f ms", are, step, g.ScatterS()*1e3)
	case Rounded:
		return fmt.Sprintf("Times %s rounded to %s: each is known to ±%.0f ms", are, step, g.ScatterS()*1e3)
	}
	return ""
}
