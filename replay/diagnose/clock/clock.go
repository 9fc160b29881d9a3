// Package clock finds what the times of recorded changes are worth: the grid on which
// they lie, and how far the clock that wrote them is from the positions' own. It knows
// only when changes were recorded, when borders were crossed, and what leads should be.
package clock

import (
	"math"

	"liftbench/replay/states"
	"liftbench/sections/score"
)

// Reading is what was found of the clocks that wrote a day's setpoints and its work
// states. The zero value says that both are exact.
type Reading struct {
	Setpoint, Actual Clock
	// Apart is true if the two clocks differ from one another, OneClock if it is known that they
	// are one.
	Apart, OneClock bool
	// HiddenS is by how much lifts and drops are alike late where that is not called an
	// offset, s.
	HiddenS float64
	// OneWay is lifts or drops if only the one or the other tell of a clock.
	OneWay string
}

// Clock is what was found of the clock of one list of changes.
type Clock struct {
	Grid Grid
	// Polls are the intervals within which changes happened; nil = they are not known.
	Polls *Polls
	// OffsetS is how far the clock is ahead at MiddleNs, s; negative = behind. 0 = no
	// offset that cannot also be an old position.
	OffsetS float64
	CI95    [2]float64 // of OffsetS, s
	Likely  Mistake
	// RestS is what the clock is ahead of a round number that a mistake makes, such as the
	// leap seconds, s: too much for its interval, and no more than a machine or an old position
	// may be late by. 0 = nothing.
	RestS float64
	// SlackS is how much further ahead it is if the other of lifts and drops is the one whose
	// lead is right, s; 0 if both show the same.
	SlackS float64
	// DriftS is what the clock gains over the day, from FirstNs to LastNs, s.
	DriftS                    float64
	FirstNs, MiddleNs, LastNs int64
	Crossings                 int // from which the offset is known
}

// Mistake is what makes an offset of that size.
type Mistake uint8

const (
	Unset       Mistake = iota // a clock that nobody set
	LocalTime                  // local time written as UTC
	LeapSeconds                // GPS time written as UTC
	WrongDate                  // whole days
)

// Input is a day as it was recorded. Events are scored in any order.
type Input struct {
	Setpoint, Actual []score.Event
	// SetpointPolls and ActualPolls are the intervals within which changes of each happened; nil =
	// at the times that were recorded.
	SetpointPolls, ActualPolls []states.Poll
	// OneClock is true where it is known that one clock wrote both.
	OneClock bool
	// LeadS returns how long before its ideal instant each setpoint should come, in s.
	LeadS func(setpoints []score.Event) []float64
}

// A shift of lifts and drops alike between these two may be a position that is older, or
// less old, than the controller takes it for, and is no offset of a clock. Receivers that
// give a position each second may be one second late (common practice, no source);
// positions cannot come before they are measured, so commands are early only if the
// controller allows for more than there is.
const (
	mostLateS  = 1.1
	mostEarlyS = 0.35
)

// mayBeLatency reports whether a shift may be an old position.
func mayBeLatency(s float64) bool { return s >= -mostEarlyS && s <= mostLateS }

// Read finds grids and offsets of a day.
func Read(in Input) Reading {
	var out Reading
	setpoint := &list{events: in.Setpoint, leadS: in.LeadS, polls: pollsOf(in.SetpointPolls)}
	actual := &list{events: in.Actual, polls: pollsOf(in.ActualPolls)}
	for _, l := range [...]*list{setpoint, actual} {
		l.gridded()
		l.align()
	}
	first := setpoint // tells best: no tool's travel is in it
	if !setpoint.ok {
		first = actual
	}
	d := between(setpoint, actual)
	total, driftS, slackS := first.clockS()
	out.OneClock = in.OneClock
	out.Apart = !in.OneClock && d.apart(total)
	biasS := first.settleKind(total != 0)
	out.OneWay = first.oneWay()
	if total == 0 {
		out.HiddenS = first.hiddenS()
	}
	switch {
	case out.Apart:
		// One of the two is right if its shift may be a latency.
		by, bySlackS := d.clockS()
		other := total + by
		if total != 0 && mayBeLatency(other-biasS) {
			total, other, slackS = -by, 0, 0
		}
		setpoint.clock(&out.Setpoint, first, total, driftS, slackS)
		actual.clock(&out.Actual, first, other, driftS, slackS+bySlackS)
		actual.grid.Kind = actual.kindBeside(setpoint, 0)
	default:
		setpoint.clock(&out.Setpoint, first, total, driftS, slackS)
		actual.clock(&out.Actual, first, total, driftS, slackS)
		if first == setpoint {
			actual.grid.Kind = actual.kindBeside(setpoint, d.meanS)
		}
	}
	out.Setpoint.Grid, out.Actual.Grid = setpoint.grid, actual.grid
	out.Setpoint.Polls, out.Actual.Polls = setpoint.polls, actual.polls
	return out
}

// clock fills in what was found: an offset of so many s at the middle of the day, known
// as well as the list known tells it.
func (l *list) clock(c *Clock, known *list, offsetS, driftS, slackS float64) {
	c.FirstNs, c.LastNs = known.firstNs, known.lastNs
	c.MiddleNs = known.firstNs + (known.lastNs-known.firstNs)/2
	if offsetS == 0 && driftS == 0 || len(l.events) == 0 {
		return
	}
	c.OffsetS, c.DriftS, c.Crossings = offsetS, driftS, known.fit.crossings
	half := known.fit.halfS
	if known.grid.StepNs > 0 {
		// What was sampled and what was rounded look alike around an unknown offset.
		half += known.grid.StepS() / 2
	}
	c.CI95 = [2]float64{offsetS - half, offsetS + half}
	if slackS != 0 { // the other of lifts and drops may be the one that is right
		c.SlackS = slackS
		c.CI95 = [2]float64{c.CI95[0] + min(0, c.SlackS), c.CI95[1] + max(0, c.SlackS)}
	}
	nominal, why := nominalS(offsetS)
	rest := offsetS - nominal
	if why == Unset || driftS != 0 || !mayBeLatency(rest) {
		return
	}
	c.CI95 = [2]float64{min(c.CI95[0], nominal-half), max(c.CI95[1], nominal+half)}
	if math.Abs(rest) > half+nearlyS {
		c.RestS = rest
		if why == LeapSeconds {
			return
		}
	}
	// An hour is an hour: what is beside it is judged as though that clock were right.
	c.OffsetS, c.Likely, c.SlackS = nominal, why, 0
}

// nearlyS is by how much more than half its interval an offset may differ from a round
// number and still be that: no controller and no valve repeats better (common practice, no
// source). Of hours, as many as there are, chance puts one clock in three hundred as near to
// a quarter of one as a machine may be late; of 18 s one in fifteen of those that are off by
// less than 20 s.
const nearlyS = alikeS

// nominalS returns the mistake nearest to an offset, and what it makes in s.
func nominalS(offsetS float64) (float64, Mistake) {
	const dayS, quarterS = 86400.0, 900.0
	// Since 2017 GPS time is 18 s ahead of UTC (from memory).
	const leapS = 18.0
	switch {
	case math.Abs(math.Abs(offsetS)-leapS) <= mostLateS:
		return math.Copysign(leapS, offsetS), LeapSeconds
	case math.Abs(offsetS) > dayS/2 && math.Abs(offsetS-dayS*math.Round(offsetS/dayS)) <= mostLateS:
		return dayS * math.Round(offsetS/dayS), WrongDate
	case math.Abs(offsetS) > quarterS/2 && math.Abs(offsetS-quarterS*math.Round(offsetS/quarterS)) <= mostLateS:
		return quarterS * math.Round(offsetS/quarterS), LocalTime
	}
	return 0, Unset
}

// Found reports whether the clock was off.
func (c *Clock) Found() bool { return c.OffsetS != 0 || c.DriftS != 0 }

// Moves reports whether a recorded time and the true one differ.
func (c *Clock) Moves() bool { return c.Found() || c.Grid.BiasS() != 0 || c.Polls != nil }

// AheadS is how far the clock is ahead at an instant by itself, s.
func (c *Clock) AheadS(recordedNs int64) float64 {
	s := c.OffsetS
	if c.DriftS != 0 {
		s += c.DriftS * float64(recordedNs-c.MiddleNs) / float64(c.LastNs-c.FirstNs)
	}
	return s
}

// TrueNs is when a section's change happened that was recorded at an instant, as far as that
// can be told: its clock's offset, and half a sample, are taken out.
func (c *Clock) TrueNs(section int16, recordedNs int64) int64 {
	recordedNs = c.Polls.middleNs(section, recordedNs)
	return recordedNs - int64(math.Round((c.AheadS(recordedNs)+c.Grid.BiasS())*1e9))
}
