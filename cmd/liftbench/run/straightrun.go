// The straight run before a border: how long it has to be, and how long it was
// on a drive.

package run

import (
	"fmt"
	"math"

	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sim"
)

// StraightRun returns how far before a border the driver has to be on the line
// and at speed, with the drop lead that is set.
func StraightRun(u *settings.Setup) (sim.StraightRun, error) { return straightRun(u, Job(u), nil) }

// straightRun is StraightRun for a job of the setup. Speed and epoch rate are
// taken from the log, if there is one. A log does not tell how its driver
// turns, so the turns are those of the scenario's driver, or of the default
// driver.
func straightRun(u *settings.Setup, job *sim.Job, log *sim.Outcome) (sim.StraightRun, error) {
	d := u.Scenario.Drive.Params()
	rateHz := u.Scenario.Receiver.RateHz
	if log != nil {
		d.WorkMps = log.WorkM / log.WorkS
		rateHz = 1 / log.Reception.MedianIntervalS()
	}
	p, err := d.Complete(job.Machine)
	if err != nil {
		return sim.StraightRun{}, err
	}
	return job.StraightRun(sim.Approach{
		SpeedMps: p.BorderMps, TurnMps: p.TurnMps, AccelMps2: p.AccelMps2,
		RadiusM: p.MinRadiusM, SteerTimeS: p.SteerTimeS, RateHz: rateHz,
	}), nil
}

// addStraight measures the drive's straight runs and adds a warning if some are
// too short.
func (o *Outcome) addStraight(job *sim.Job) {
	var log *sim.Outcome
	withinRad := sim.OnLineRad
	if o.Setup.Log != "" {
		withinRad = sim.OnLineLogRad
		if log = o.Outcome; !(log.WorkS > 0 && log.Reception.MedianIntervalS() > 0) {
			return
		}
	}
	need, err := straightRun(o.Setup, job, log)
	if err != nil {
		return // a log in which nothing is driven that a driver could
	}
	o.Straight, o.StraightRuns = need, o.Outcome.Runs(o.Setup.Field, need.LineM, withinRad)
	if short := ShortRuns(need, o.StraightRuns); short > 0 {
		o.warn("%s", ShortText(need, short, len(o.StraightRuns)))
	}
}

// ShortRuns counts the straight runs that are shorter than they have to be.
func ShortRuns(need sim.StraightRun, runs []sim.Run) int {
	short := 0
	for _, r := range runs {
		if r.LineM < need.LineM {
			short++
		}
	}
	return short
}

// ShortText warns of straight runs that are too short.
func ShortText(need sim.StraightRun, short, of int) string {
	return fmt.Sprintf("the straight run is shorter than %.1f m before %d of %s of the bar: there they come by chance, early or late by decimetres", need.LineM, short, wording.Counted(of, "drop"))
}

// NeedText is the instruction to the driver: how far before the border to be on
// the line.
func NeedText(need sim.StraightRun) string {
	text := fmt.Sprintf("on the line %.1f m before the border", need.LineM)
	if math.Abs(need.LineM-need.SteadyM) > 0.1 {
		text += fmt.Sprintf(", at %s km/h %.1f m before it", wording.Trim(need.SpeedMps*3.6), need.SteadyM)
	}
	return text
}
