// Recorded states whose clock is not the receiver's: their times are put right and the day
// is scored again.

package run

import (
	"fmt"
	"math"
	"slices"
	"time"

	"liftbench/replay/diagnose/clock"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/states"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sim"
)

// recordedTimes are the changes of a recorded day, at the times at which they truly were
// as far as that is known.
type recordedTimes struct {
	work               *states.Recorded
	job                *sim.Job
	day                *evidence.Day
	setpoints, actuals []sections.WorkChange
}

// record takes changes at these times for the job.
func (r *recordedTimes) record(setpoints, actuals []sections.WorkChange) {
	r.setpoints, r.actuals = setpoints, actuals
	r.job.Recorded, r.job.RecordedSetpoints = setpoints, nil
	if len(r.work.Actuals) > 0 {
		r.job.Recorded = actuals
		if len(r.work.Setpoints) > 0 {
			r.job.RecordedSetpoints = setpoints
		}
	}
}

// score reads the clock of a day that was scored by its recorded times, or could not be
// because they are of another drive, and scores it again if the clock is wrong. The day
// gets its events and what was found.
func (r *recordedTimes) score(out *sim.Outcome, err error) error {
	if err != nil {
		// All crossings are missed, and no change has a crossing, until a shift brings them
		// together.
		r.record([]sections.WorkChange{}, []sections.WorkChange{})
		if err := r.job.Score(out); err != nil {
			return err
		}
	}
	r.take(out)
	recorded := *r.day
	during := &out.Reception
	if err != nil {
		during = &sim.Reception{}
	}
	recorded.Setpoint = append(slices.Clone(recorded.Setpoint), unpaired(r.work.Setpoints, during)...)
	recorded.Actual = append(slices.Clone(recorded.Actual), unpaired(r.work.Actuals, during)...)
	found := recorded.ReadClock()
	if err != nil && !found.Setpoint.Found() && !found.Actual.Found() {
		return fmt.Errorf("%w; no other setting of their clock brings the two together: look for the states of that day", err)
	}
	r.day.Clock = &found
	if !found.Setpoint.Moves() && !found.Actual.Moves() {
		return nil
	}
	r.record(atTrueTimes(r.work.Setpoints, &found.Setpoint), atTrueTimes(r.work.Actuals, &found.Actual))
	if err := r.job.Score(out); err != nil {
		return err
	}
	r.take(out)
	return nil
}

// take gives the day the events of an outcome.
func (r *recordedTimes) take(out *sim.Outcome) {
	switch {
	case len(r.work.Actuals) == 0:
		r.day.Setpoint = out.Score.Events
	case len(r.work.Setpoints) == 0:
		r.day.Actual = out.Score.Events
	default:
		r.day.Actual, r.day.Setpoint = out.Score.Events, out.Told.Events
	}
}

// unpaired returns the changes that are not from the time of a drive as events without a
// crossing.
func unpaired(changes []sections.WorkChange, drive *sim.Reception) []score.Event {
	var list []score.Event
	for _, c := range changes {
		if c.TimeNs < drive.FirstNs || c.TimeNs > drive.LastNs+sections.MaxLeadNs {
			list = append(list, score.Event{Section: c.Section, On: c.On, Kind: score.Spurious, ActualNs: c.TimeNs, TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()})
		}
	}
	return list
}

// atTrueTimes returns changes at the times at which a clock says they were.
func atTrueTimes(changes []sections.WorkChange, c *clock.Clock) []sections.WorkChange {
	if !c.Moves() {
		return changes
	}
	list := slices.Clone(changes)
	for i := range list {
		list[i].TimeNs = c.TrueNs(list[i].Section, list[i].TimeNs)
	}
	return list
}

// warnOfTimes says which of the recorded changes are not judged, and that the log goes
// back in time.
func (o *Outcome) warnOfTimes(log, states string, changes, sections int) {
	first, last := time.Unix(0, o.Reception.FirstNs).UTC(), time.Unix(0, o.Reception.LastNs).UTC()
	if o.SetBackNs > backNs {
		o.warn("%s: its time goes back by %s: logs were put together in the wrong order, or the receiver's clock was set. Put the log that begins first ahead of the others", log, time.Duration(o.SetBackNs).Round(time.Second))
	}
	// The first row of each section says how the day began.
	if o.OutOfTime > 2*sections && o.OutOfTime*20 > changes {
		o.warn("%s: %d of %d recorded changes lie before %s begins (%s) or after it ends (%s) and are not judged; give the log of the whole day, its parts in order of time",
			states, o.OutOfTime, changes, log, first.Format("2 January, 15:04 UTC"), last.Format("15:04 UTC"))
	}
}

// backNs is from how much on a clock that goes back is told.
const backNs = 60e9
