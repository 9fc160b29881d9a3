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
	// Fixes tell how good reception was, in order of time; nil if that is unknown.
	Fixes []Fix
	// Clock is what was found of the clocks that wrote the two lists, if it is taken out
	// of their times already; nil = their times are as recorded.
	Clock *clock.Reading
	// actualS and setpointS are what a grid leaves of the scatter of a lift's and of a drop's
	// time, standard deviations in s; 0 without.
	actualS, setpointS [2]float64
	// middles are the middles of the steps in which the changes lie, by where they were put
	// in them.
	middles map[placed]int64
	unseen  bool // see Unseen
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
	return clock.Read(clock.Input{Setpoint: day.Setpoint, Actual: day.Actual, LeadS: func(setpoints []score.Event) []float64 {
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
	if !day.OnGrid() {
		return day
	}
	none := func(*score.Event) float64 { return 0 }
	return day.SharpenedBeside(none, none)
}

// placed is a change that was put somewhere in its step.
type placed struct {
	ns int64
	on bool
}

// OnGrid reports whether recorded times lie on a grid.
func (day *Day) OnGrid() bool {
	return day.Clock.Actual.Grid.StepNs > 0 || day.Clock.Setpoint.Grid.StepNs > 0
}

// SharpenedBeside returns a day on a grid with its times put where they are likely within
// their steps, if known causes make work states, and setpoints, so much later than they should
// be, in s.
func (day Day) SharpenedBeside(actualLateS, setpointLateS func(e *score.Event) float64) Day {
	was := day.middles
	day.middles = map[placed]int64{}
	sharpen := func(events []score.Event, g clock.Grid, leadS []float64, lateS func(e *score.Event) float64) ([]score.Event, [2]float64) {
		if g.StepNs == 0 {
			return events, [2]float64{}
		}
		events, leadS = slices.Clone(events), slices.Clone(leadS)
		if leadS == nil {
			leadS = make([]float64, len(events))
		}
		for i := range events {
			e := &events[i]
			if middle, ok := was[placed{e.ActualNs, e.On}]; ok && Measured(e) {
				*e = clock.MovedTo(*e, middle)
			}
			leadS[i] -= lateS(e)
		}
		sharp, leftS := clock.Sharpen(events, g, leadS)
		for i := range sharp {
			day.middles[placed{sharp[i].ActualNs, sharp[i].On}] = events[i].ActualNs
		}
		return sharp, leftS
	}
	day.Actual, day.actualS = sharpen(day.Actual, day.Clock.Actual.Grid, nil, actualLateS)
	day.Setpoint, day.setpointS = sharpen(day.Setpoint, day.Clock.Setpoint.Grid, day.Leads(), setpointLateS)
	return day
}

// gridS is what a grid leaves of the scatter of a leg's lifts and drops, s; 0 without.
func (day *Day) gridS(leg Leg) [2]float64 {
	switch leg {
	case Command:
		return day.setpointS
	case Machine:
		return [2]float64{math.Hypot(day.actualS[0], day.setpointS[0]), math.Hypot(day.actualS[1], day.setpointS[1])}
	}
	return day.actualS
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
