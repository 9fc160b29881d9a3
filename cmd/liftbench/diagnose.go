// A recorded day, scored and explained.

package main

import (
	"bytes"
	"io"
	"slices"

	"liftbench/nmea"
	"liftbench/replay"
	"liftbench/replay/diagnose"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sim"
)

// diagnosis is a recorded day, scored and explained.
type diagnosis struct {
	*outcome
	*diagnose.Diagnosis
	settings sections.Settings
	// events are the scored transitions. Where setpoints alone are recorded
	// they stand for tools that followed by the lead.
	events       []score.Event
	lifts, drops score.Stats // of events
	// setpoint and actual say which of them the states held; whole, that they
	// hold one state for the whole machine.
	setpoint, actual, whole bool
	headlandM               float64
	command                 string // the command line, as it can be typed again
}

// diagnose reads the setup's recorded day and explains it. builtIn: it is the
// one in the program.
func (u *setup) diagnose(builtIn bool, stdin io.Reader, stderr io.Writer) (*diagnosis, error) {
	switch {
	case u.log == "":
		return nil, &usageError{u.title + ": no recorded day; expected LOG, or a scenario with log and states"}
	case u.states == "":
		return nil, &usageError{u.log + ": no work states; expected --states FILE, what the sections were told or did on that day"}
	}
	job := u.job()
	in, states, err := u.recorded(builtIn, len(job.Machine.Sections), stdin, stderr)
	if err != nil {
		return nil, err
	}
	defer in.close()

	d, day, err := u.judge(job, in, states)
	if err != nil {
		return nil, err
	}
	d.Track = nil // the figures and the answer need the transitions alone
	if d.Diagnosis, err = diagnose.Run(*day); err != nil {
		return nil, &inputError{file: u.states, msg: err.Error(), err: err}
	}
	return d, nil
}

// judge scores a recorded day, and gathers what it can be explained from.
func (u *setup) judge(job *sim.Job, in *logInput, states *replay.States) (*diagnosis, *diagnose.Input, error) {
	job.Recorded = states.Work()
	both := len(states.Setpoints) > 0 && len(states.Actuals) > 0
	if both {
		job.RecordedSetpoints = states.Setpoints
	}
	var heard []diagnose.Heard
	near := nearChanges(states.Setpoints, states.Actuals)
	job.Watch = func(f *nmea.Fix) {
		if near(f.TimeNs) {
			heard = append(heard, diagnose.HeardOf(f))
		}
	}
	d := &diagnosis{
		outcome: u.outcome(), settings: job.Settings, headlandM: u.headlandM,
		setpoint: len(states.Setpoints) > 0, actual: len(states.Actuals) > 0, whole: states.Whole,
	}
	if err := d.take(job, in, u.states); err != nil {
		return nil, nil, err
	}
	p := u.machine.params()
	day := &diagnose.Input{
		Machine: job.Machine, Settings: job.Settings, Fixes: heard,
		LiftStrokeNs: p.FullLiftTimeNs(1) - p.LiftDeadNs,
	}
	switch {
	case both:
		day.Actual, day.Setpoint = d.Score.Events, d.Told.Events
	case d.actual:
		day.Actual = d.Score.Events
	default:
		day.Setpoint = d.Score.Events
	}
	d.events = d.Score.Events
	if !d.actual {
		d.events = followed(day)
	}
	d.lifts, d.drops = score.Tally(d.events)
	return d, day, nil
}

// nearChanges reports, of instants in order, whether one is near enough to a
// recorded change for reception there to bear on it: a day's other fixes need
// not be kept.
func nearChanges(lists ...[]sections.WorkChange) func(timeNs int64) bool {
	// The longest lead, the longest time from ideal to actual, and the fixes
	// before the command.
	const beforeNs, afterNs = 20e9, 10e9
	next := make([]int, len(lists))
	return func(timeNs int64) bool {
		for k, list := range lists {
			for next[k] < len(list) && list[next[k]].TimeNs+afterNs < timeNs {
				next[k]++
			}
			if next[k] < len(list) && list[next[k]].TimeNs-beforeNs <= timeNs {
				return true
			}
		}
		return false
	}
}

// followed is what the setpoints of a day come to if each tool followed by its
// lead.
func followed(day *diagnose.Input) []score.Event {
	events := slices.Clone(day.Setpoint)
	for i, leadS := range day.Leads() {
		e := &events[i]
		e.TimeErrorS += leadS
		e.PlaceErrorM += leadS * e.SpeedMps
	}
	return events
}

// recorded opens the day's log and reads its work states for n sections.
func (u *setup) recorded(builtIn bool, n int, stdin io.Reader, stderr io.Writer) (*logInput, *replay.States, error) {
	if builtIn {
		log, states, err := badDay()
		if err != nil {
			return nil, nil, err
		}
		read, err := replay.ReadStates(bytes.NewReader(states), u.states, n)
		in := &logInput{name: u.log, progress: newProgress(bytes.NewReader(log), int64(len(log)), u.log, stderr)}
		return in, read, err
	}
	states, err := readStates(u.states, n)
	if err != nil {
		return nil, nil, err
	}
	in, err := openLog(u.log, aLog, stdin, stderr)
	return in, states, err
}
