// One drive through controller, hydraulics and score.

package main

import (
	"errors"
	"io"
	"strings"

	"liftbench/nmea"
	"liftbench/replay"
	"liftbench/sim"
	"liftbench/sim/receiver"
)

// run takes the setup's drive through the bench. files asks for what the files
// of --out say beyond the table.
func (u *setup) run(stdin io.Reader, stderr io.Writer, files bool) (*outcome, error) {
	job := u.job()
	o := u.outcome()
	if files {
		job.Strips, job.Heights = true, true
		o.measure(job)
	}
	o.simulated = u.states == ""
	if u.states != "" {
		states, err := readStates(u.states, len(job.Machine.Sections))
		if err != nil {
			return nil, err
		}
		job.Recorded = states.Work()
	}

	in, err := u.open(job, o, stdin, stderr)
	if err != nil {
		return nil, err
	}
	defer in.close()
	return o, o.take(job, in, u.states)
}

// open begins the setup's drive: its log, or what a receiver says of the
// generated drive, of which the job then knows the truth.
func (u *setup) open(job *sim.Job, o *outcome, stdin io.Reader, stderr io.Writer) (*logInput, error) {
	if u.log != "" {
		return openLog(u.log, aLog, stdin, stderr)
	}
	m := u.machine.geometry()
	d, err := u.plan(m)
	if err != nil {
		return nil, err
	}
	r, err := u.receiver(m, d)
	if err != nil {
		return nil, err
	}
	job.Truth = d.Track
	if r := &u.scenario.Receiver; r.Stamp == stampNames[receiver.NoStamp] {
		job.ClockBehindNs = int64(r.LatencyMs*1e6) - job.Settings.LatencyNs
	} else {
		job.ClockAheadNs = int64(r.ClockAheadMs * 1e6)
	}
	o.passes, o.warnings = d.Passes, d.Warnings
	return &logInput{name: u.title, progress: newProgress(&spokenDrive{receiver: r}, 0, "generated drive", stderr)}, nil
}

// job is a drive of the setup's machine on its field, with simulated
// hydraulics.
func (u *setup) job() *sim.Job {
	m := u.machine.geometry()
	p := u.machine.params()
	job := &sim.Job{
		Machine:    m,
		Field:      u.field,
		Settings:   u.machine.Controller.settings(&p, len(m.Sections)),
		Hydraulics: p,
		Spread:     u.scenario.Spread.spread(uint64(u.scenario.Drive.Seed)),
		Warming:    u.scenario.Spread.warming(),
	}
	if told := u.scenario.Measured.told(m); told != nil {
		job.Machine, job.TrueMachine = told, m
	}
	return job
}

// outcome is what is to become one of the setup's drive.
func (u *setup) outcome() *outcome {
	return &outcome{setup: u, title: u.title, machine: u.machine, field: u.field}
}

// take runs the job on what in says; states names the file of recorded work
// states for errors.
func (o *outcome) take(job *sim.Job, in *logInput, states string) error {
	rd := nmea.NewReader(in)
	job.LogBytes = in.total
	var err error
	o.Outcome, err = job.Run(rd)
	c := rd.Counts()
	if err != nil {
		if errors.Is(err, sim.ErrNoEpoch) {
			return emptyLog(in.name, in.done, &c, 0)
		}
		file := in.name
		if errors.Is(err, sim.ErrOtherDrive) {
			file = states
		}
		return &inputError{file: file, msg: err.Error(), err: err}
	}
	o.reader = c
	if o.figures != nil {
		o.addFigures()
	}
	return nil
}

// readStates reads recorded work states of n sections.
func readStates(path string, n int) (*replay.States, error) {
	f, err := openLog(path, "recorded work states (CSV)", strings.NewReader(""), io.Discard)
	if err != nil {
		return nil, err
	}
	defer f.close()
	return replay.ReadStates(f, path, n)
}
