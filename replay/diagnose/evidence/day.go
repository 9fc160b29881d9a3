// Package evidence prepares a day's scored transitions for diagnosis: which of
// them can be paired, how late each was against its lead, which belong to one
// crossing, what else could have made it late, and how good reception was then.
package evidence

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"liftbench/nmea"
	"liftbench/replay/diagnose/clock"
	"liftbench/replay/states"
	"liftbench/sections"
	"liftbench/sections/schedule"
	"liftbench/sections/score"
)

// Day is what a diagnosis starts from. At least one of Actual and Setpoint must be
// given.
type Day struct {
	// Machine and Settings are taken to be right, and so is the field that the
	// events were scored against. A diagnosis says how the day differed from them.
	Machine  *sections.Machine
	Settings sections.Settings
	// LiftStrokeNs is how long a section that moves alone takes from working depth
	// all the way up, without dead time. For so long it takes oil from the others.
	// 0 means no longer than it takes up to the effective depth.
	LiftStrokeNs int64
	// Actual is the score of what the tools did (score.Result.Events, in any
	// order); nil if work states were not recorded.
	Actual []score.Event
	// Setpoint is the score of the setpoints over the same track, as if the tools
	// had followed at once. Where all is well its time errors are minus the lead.
	// nil if setpoints were not recorded.
	Setpoint []score.Event
	// ActualPolls and SetpointPolls tell within which interval each of these changes
	// happened; nil: at the times that were recorded.
	ActualPolls, SetpointPolls []states.Poll
	// OneClock is true where one clock stamped setpoints and work states.
	OneClock bool
	// Fixes tell how good reception was, in order of time; nil if that is unknown.
	Fixes []Fix
	// Clock is what was found of the clocks that wrote the two lists, if it is taken out
	// of their times already; nil = their times are as recorded.
	Clock *clock.Reading
	// actual and setpoint are of changes of which only a step of a grid, or the interval between
	// two polls, is known.
	actual, setpoint placedTimes
	unseen           bool // see Unseen
	// Stop is asked before each of the steps that take long whether to go on: its error
	// ends the diagnosis. nil never ends it.
	Stop func() error
}

// Stopped returns Stop's error.
func (day *Day) Stopped() error {
	if day.Stop == nil {
		return nil
	}
	return day.Stop()
}

// ReadClock finds what the recorded times are worth.
func (day *Day) ReadClock() clock.Reading {
	return clock.Read(clock.Input{Setpoint: day.Setpoint, Actual: day.Actual, SetpointPolls: day.SetpointPolls, ActualPolls: day.ActualPolls, OneClock: day.OneClock, LeadS: func(setpoints []score.Event) []float64 {
		return day.leads(setpoints, true, SlowS{})
	}})
}

// Timed returns the day with its times put right, as far as a day can be whose track is
// not known: changes are paired anew with the borders that were crossed.
// Times on a grid are put where they are likely within their steps.
func (day Day) Timed() Day {
	if day.Clock == nil {
		r := day.ReadClock()
		day.Clock = &r
		if r.Setpoint.Moves() {
			day.Setpoint = r.Setpoint.Corrected(day.Setpoint)
		}
		if r.Actual.Moves() {
			day.Actual = r.Actual.Corrected(day.Actual)
		}
	}
	if !day.Stepped() {
		return day
	}
	day.actual.widths = day.Clock.Actual.Widths(day.ActualPolls)
	day.setpoint.widths = day.Clock.Setpoint.Widths(day.SetpointPolls)
	none := func(*score.Event) float64 { return 0 }
	return day.SharpenedBeside(none, none)
}

// placedTimes are what is known of when changes were that were put somewhere within their steps
// or intervals.
type placedTimes struct {
	// widths are those of the intervals between polls, s, by the middle of each.
	widths map[clock.Placed]float64
	// middles are those of the steps, and leftS what is left of the scatter of the
	// times, standard deviation in s, both by where the changes were put.
	middles map[placed]int64
	leftS   map[placed]float64
}

// placed is a change that was put somewhere in its step.
type placed struct {
	section int16
	on      bool
	ns      int64
}

func placedOf(e *score.Event) placed { return placed{e.Section, e.On, e.ActualNs} }

// Stepped reports whether of recorded times only a step of a grid, or an interval between
// polls, is known.
func (day *Day) Stepped() bool {
	for _, c := range [...]*clock.Clock{&day.Clock.Actual, &day.Clock.Setpoint} {
		if c.Grid.StepNs > 0 || c.Polls != nil {
			return true
		}
	}
	return false
}

// SharpenedBeside returns a day whose Stepped times are put where they are likely within
// their steps, if known causes make work states, and setpoints, so much later than they should
// be, in s.
func (day Day) SharpenedBeside(actualLateS, setpointLateS func(e *score.Event) float64) Day {
	day.Actual, day.actual = day.actual.sharpen(day.Actual, &day.Clock.Actual, nil, actualLateS)
	day.Setpoint, day.setpoint = day.setpoint.sharpen(day.Setpoint, &day.Clock.Setpoint, day.Leads(), setpointLateS)
	return day
}

// sharpen puts events where they are likely, if they should be leadS before their crossings and
// are lateS late.
func (p placedTimes) sharpen(events []score.Event, c *clock.Clock, leadS []float64, lateS func(e *score.Event) float64) ([]score.Event, placedTimes) {
	if c.Grid.StepNs == 0 && c.Polls == nil {
		return events, p
	}
	was := p.middles
	p.middles, p.leftS = map[placed]int64{}, map[placed]float64{}
	events, leadS = slices.Clone(events), slices.Clone(leadS)
	if leadS == nil {
		leadS = make([]float64, len(events))
	}
	widthS := make([]float64, len(events))
	for i := range events {
		e := &events[i]
		if middle, ok := was[placedOf(e)]; ok && Measured(e) {
			*e = clock.MovedTo(*e, middle)
		}
		widthS[i] = c.Grid.StepS()
		if c.Polls != nil {
			widthS[i] = p.widths[clock.Placed{Section: e.Section, Ns: e.ActualNs}]
		}
		leadS[i] -= lateS(e)
	}
	sharp, leftS := clock.Sharpen(events, widthS, leadS)
	for i := range sharp {
		p.middles[placedOf(&sharp[i])] = events[i].ActualNs
		p.leftS[placedOf(&sharp[i])] = leftS[i]
	}
	return sharp, p
}

// lookNs is the middle of the interval between polls in which a change was seen; 0 without
// polls.
func (p *placedTimes) lookNs(e *score.Event) int64 {
	if p.widths == nil {
		return 0
	}
	return p.middles[placedOf(e)]
}

// leftS is what steps and intervals leave of the scatter of a move on a leg, from setpoint
// to work state, either of which may be nil, s; 0 without.
func (day *Day) leftS(setpoint, actual *score.Event) float64 {
	s := 0.0
	if actual != nil {
		s = day.actual.leftS[placedOf(actual)]
	}
	if setpoint != nil {
		s = math.Hypot(s, day.setpoint.leftS[placedOf(setpoint)])
	}
	return s
}

// Fix is the part of a receiver's fix that tells how good reception was.
type Fix struct {
	TimeNs  int64 // UTC, ns since 1970
	AgeNs   int64 // on arrival; -1 = not measured
	Quality nmea.Quality
}

// FixOf returns the part of f that tells how good reception was.
func FixOf(f *nmea.Fix) Fix {
	out := Fix{TimeNs: f.TimeNs, AgeNs: -1, Quality: f.Quality}
	if !f.HasPosition() {
		out.Quality = nmea.NoFix
	}
	if age, ok := schedule.MeasuredAgeNs(f); ok {
		out.AgeNs = age
	}
	return out
}

// leastPairs is the fewest paired transitions that can be diagnosed.
const leastPairs = 2

// Check returns an error if the machine is missing or invalid, a transition is of a
// section that the machine does not have, or fixes are out of order.
func (day *Day) Check() error {
	if day.Machine == nil {
		return errors.New("no machine; expected the one that drove")
	}
	if err := day.Machine.Validate(); err != nil {
		return err
	}
	for _, list := range [][]score.Event{day.Actual, day.Setpoint} {
		for i := range list {
			if s := int(list[i].Section); s < 0 || s >= len(day.Machine.Sections) {
				return fmt.Errorf("transition %d is of section %d; this machine has sections 1 to %d", i+1, s+1, len(day.Machine.Sections))
			}
		}
	}
	for i := 1; i < len(day.Fixes); i++ {
		if day.Fixes[i].TimeNs < day.Fixes[i-1].TimeNs {
			return fmt.Errorf("fix %d is %d ns before the one ahead of it; expected order of time", i+1, day.Fixes[i-1].TimeNs-day.Fixes[i].TimeNs)
		}
	}
	return nil
}

// Enough returns an error that says why, if too few of the events can be paired with
// a border crossing to be diagnosed.
func Enough(events []score.Event) error {
	var paired, missed, spurious int
	for i := range events {
		switch events[i].Kind {
		case score.Paired:
			paired++
		case score.Missed:
			missed++
		case score.Spurious:
			spurious++
		}
	}
	switch {
	case paired+spurious == 0 && missed == 0:
		return errors.New("no transitions: no section crossed a border or changed its work state; expected a day on which sections lifted and dropped")
	case paired+spurious == 0:
		return fmt.Errorf("no transitions: no section changed its work state at any of the %d crossings of a border; expected recorded lifts and drops", missed)
	case paired == 0:
		return fmt.Errorf("none of the %d lifts and drops is within 10 s of a crossing of a border; expected the states, the field and the log of the same day", spurious)
	case paired < leastPairs:
		return errors.New("one transition near a border; expected at least two, better thirty, to tell anything from chance")
	}
	return nil
}
