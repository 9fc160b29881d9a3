// One drive through controller, hydraulics and score.

package run

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/recording"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/nmea/epoch"
	"liftbench/replay/states"
	"liftbench/sections/score/rows"
	"liftbench/sim"
	"liftbench/sim/receiver"
)

// Drive runs the setup's drive on the bench. files asks also for what only the
// files of --out hold: strips, tool heights and metrics.
func Drive(u *settings.Setup, stdin io.Reader, stderr io.Writer, files bool) (*Outcome, error) {
	job := Job(u)
	o := New(u)
	if files {
		job.Strips, job.Heights = true, true
		o.Measure(job)
	}
	o.Simulated = u.States == ""
	if u.States != "" {
		states, err := readStates(u, len(job.Machine.Sections))
		if err != nil {
			return nil, err
		}
		job.Recorded = states.Work()
		o.Warnings = append(o.Warnings, states.Notes...)
	}

	in, err := Open(u, job, o, stdin, stderr)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	o.WarnOfUsual()
	return o, o.Take(job, in, u.States)
}

// AddTypical runs the setup's drive once more under typical conditions, if the
// drive is generated and its conditions are not typical already. If the tools
// cannot move in oil as cold as that, nothing is added.
func (o *Outcome) AddTypical(stderr io.Writer) error {
	u := o.Setup
	if u.Log != "" || u.Scenario.Conditions == settings.Typical {
		return nil
	}
	t, err := u.Typical()
	if err != nil {
		return nil
	}
	typical, err := Drive(t, nil, stderr, false)
	if err != nil {
		return err
	}
	o.Typical = typical.Outcome
	return nil
}

// Open opens the setup's drive: its log, or the sentences that a receiver says
// on the generated drive. For a generated drive it also hands the job the true
// track.
func Open(u *settings.Setup, job *sim.Job, o *Outcome, stdin io.Reader, stderr io.Writer) (*files.Log, error) {
	if u.Log != "" {
		return recording.OpenPositions(u.Log, u.Day, recording.Choice{}, stdin, stderr)
	}
	m := u.Machine.Geometry()
	d, err := Plan(u, m)
	if err != nil {
		return nil, err
	}
	r, err := newReceiver(u, m, d)
	if err != nil {
		return nil, err
	}
	job.Truth = d.Track
	if r := &u.Scenario.Receiver; r.Stamp == receiver.NoStamp {
		job.ClockBehindNs = int64(r.LatencyMs*1e6) - job.Settings.LatencyNs
	} else {
		job.ClockAheadNs = int64(r.ClockAheadMs * 1e6)
	}
	o.Passes, o.Warnings = d.Passes, d.Warnings
	said := io.Reader(&SpokenDrive{Receiver: r})
	if u.Spoil != nil {
		said = u.Spoil(said)
	}
	return &files.Log{Name: u.Title, Progress: terminal.NewProgress(said, 0, "generated drive", stderr)}, nil
}

// Job returns the job that runs the setup's machine on its field with simulated
// hydraulics.
func Job(u *settings.Setup) *sim.Job {
	m := u.Machine.Geometry()
	p := u.Machine.Params()
	job := &sim.Job{
		Machine:    m,
		Field:      u.Field,
		Settings:   u.Machine.Settings(&p),
		Hydraulics: p,
		Spread:     u.Scenario.Spread.Spread(uint64(u.Scenario.Drive.Seed)),
		Warming:    u.Scenario.Spread.Warming(),
		Stop:       u.Stop,
		Tools:      rows.Tools{RowSpacingM: u.Machine.Rows.SpacingM, WidthM: u.Machine.Rows.ToolWidthM, PlantM: u.Machine.Rows.PlantStripM},
	}
	if told := u.Scenario.Measured.Told(m); told != nil {
		job.Machine, job.TrueMachine = told, m
	}
	return job
}

// New returns an Outcome of the setup that Take has still to fill.
func New(u *settings.Setup) *Outcome {
	return &Outcome{Setup: u, Title: u.Title, Machine: u.Machine, Field: u.Field}
}

// Take runs the job on the epochs of a log and fills o. states is the name of
// the file of recorded work states, for error messages.
func (o *Outcome) Take(job *sim.Job, in *files.Log, states string) error {
	return o.take(job, in, states, func(err error) error { return err })
}

// take is Take; again may score the drive again, and gets what became of the first time:
// nil, or that the states are of another drive.
func (o *Outcome) take(job *sim.Job, in *files.Log, states string, again func(error) error) error {
	rd := epoch.NewReader(in)
	job.LogBytes = in.Total
	var err error
	o.Outcome, err = job.Run(rd)
	c := rd.Counts()
	if err == nil || errors.Is(err, sim.ErrOtherDrive) {
		err = again(err)
	}
	if err != nil {
		if errors.Is(err, sim.ErrNoEpoch) {
			if cut := rd.Err(); cut != nil {
				return &failure.Input{File: in.Name, Msg: cut.Error(), Err: cut}
			}
			return files.EmptyLog(in.Name, in.Done, &c, 0)
		}
		file := in.Name
		if errors.Is(err, sim.ErrOtherDrive) {
			file = states
		}
		return &failure.Input{File: file, Msg: err.Error(), Err: err}
	}
	o.Reader = c
	if cut := rd.Err(); cut != nil {
		o.warn("%s: %v; what came after it is missing here", in.Name, cut)
	}
	if far := &o.Far; far.Sentences > 0 {
		more := ""
		if far.Sentences > 1 {
			more = fmt.Sprintf(", the first of %d sentences that are", far.Sentences)
		}
		o.warn("%s:%d: latitude %.4f, longitude %.4f is %.0f km from the field%s; not scored. Look at that line: if the receiver was not there, cut it out and look for what damaged it on the way to the log",
			in.Name, far.Line, far.LatDeg, far.LonDeg, far.M/1000, more)
	}
	o.suspect(job)
	o.addStraight(job)
	if o.Figures != nil {
		o.addFigures()
	}
	return nil
}

// warn adds a sentence to the warnings that are printed with the results.
func (o *Outcome) warn(format string, args ...any) {
	o.Warnings = append(o.Warnings, fmt.Sprintf(format, args...))
}

// readStates reads the setup's recorded work states, of n sections.
func readStates(u *settings.Setup, n int) (*states.Recorded, error) {
	if u.Day != nil && u.States == u.Log {
		w, err := u.Day.WorkOf(n)
		if err != nil {
			return nil, &failure.Input{File: u.Log, Msg: err.Error(), Err: err}
		}
		return w, nil
	}
	return statesFile(u.States, n, u.StatesZone)
}

// statesFile reads recorded work states of n sections. zone is that of times that say none, or nil.
func statesFile(path string, n int, zone *time.Location) (*states.Recorded, error) {
	f, err := files.OpenLog(path, "recorded work states (CSV)", strings.NewReader(""), io.Discard)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return states.Read(f, path, n, zone)
}
