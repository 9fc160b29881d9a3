// The drive of a setup with a controller from outside that decides in lockstep.

package run

import (
	"errors"
	"io"
	"strings"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/settings"
	"liftbench/replay/lockstep"
	"liftbench/replay/wire"
	"liftbench/sim"
	"liftbench/sim/receiver"
)

// LockstepJob is what the controller under test is told of the job. measured says
// that the recording has arrival times.
func LockstepJob(job *sim.Job, measured bool) *wire.LockstepJob {
	return &wire.LockstepJob{
		Machine: job.Machine, Field: job.Field, TickNs: job.Settings.TickNs, LatencyNs: job.Settings.LatencyNs,
		LiftLeadNs: job.Settings.LiftLead.AloneNs(), DropLeadNs: job.Settings.DropLead.AloneNs(), Measured: measured,
	}
}

// Measures reports whether the setup's drive, if it is generated, has arrival times.
func Measures(u *settings.Setup) bool { return u.Scenario.Receiver.Stamp != receiver.NoStamp }

// DriveLockstep runs the setup's drive with the controller that talk speaks with,
// which has been told the job. name is how messages call it. files asks for what only
// the files of --out hold.
func DriveLockstep(u *settings.Setup, talk *lockstep.Talk, name string, files bool) (*Outcome, error) {
	job, o := Job(u), New(u)
	o.Simulated = true
	o.Outside = &Heard{Name: name, LeadNs: max(job.Settings.LiftLead.AloneNs(), job.Settings.DropLead.AloneNs()), Lockstep: true}
	if files {
		job.Strips, job.Heights = true, true
		o.Measure(job)
	}
	job.Outside = talk
	in, err := Open(u, job, o, nil, io.Discard)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	o.WarnOfUsual()
	err = o.Take(job, in, "")
	talk.End()
	if failed := talk.Err(); failed != nil {
		return nil, TalkError(name, failed)
	}
	if err != nil {
		return nil, err
	}
	o.Outside.take(&talk.Counts)
	if h := o.Outside; h.Lines == 0 && h.Damaged > 0 {
		return nil, &failure.Input{File: name, Msg: "no setpoint in the whole drive, but " + h.Damages[0].What, Err: errors.New("no setpoint")}
	}
	return o, nil
}

// TalkError says why a talk with the controller of that name ended.
func TalkError(name string, err error) error {
	return &failure.Input{File: name, Msg: strings.TrimPrefix(err.Error(), lockstep.ErrEnded.Error()+" "), Err: err}
}

// take takes what was heard in lockstep.
func (h *Heard) take(c *lockstep.Counts) {
	h.Setpoints, h.ArrivedNs, h.Lines, h.Damaged = c.Setpoints, c.ArrivedNs, c.Lines, c.Damaged
	for _, n := range c.Notes {
		h.Damages = append(h.Damages, Damage{n.What, n.Lines})
	}
	h.After, h.AfterNs, h.TooFar, h.Stale = c.After, c.AfterNs, c.TooFar, c.StaleDone
	for _, ns := range c.AheadNs {
		h.Clock.Add(ns)
	}
}
