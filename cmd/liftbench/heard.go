// What an outside controller told the sections while a drive was played to it,
// and its score.

package main

import (
	"io"
	"time"

	"liftbench/cmd/liftbench/metrics"
	"liftbench/replay/port"
	"liftbench/sections"
	"liftbench/sim"
)

// heard is what the bench heard of an outside controller.
type heard struct {
	name      string
	setpoints []sections.Setpoint // changes, in order of arrival
	arrivedNs []int64             // when each came, by the drive's clock
	lines     int64               // with setpoints
	damaged   int64               // lines that were none
	others    int64               // sentences of another kind
	after     int                 // setpoints that came after the instant they were for
	afterNs   int64               // by how much at most
	sent      port.Counts
	late      time.Duration // how far behind its time the receiver was at most
}

// farthestNs is how far ahead an instant is believed.
const farthestNs = 10e9

// changes are how the hydraulics answered, from fromNs on.
func (h *heard) changes(job *sim.Job, fromNs int64) ([]sections.WorkChange, error) {
	bank, err := job.Bank()
	if err != nil {
		return nil, err
	}
	bank.Start(fromNs, false)
	changes := []sections.WorkChange{}
	for i, s := range h.setpoints {
		changes = bank.Advance(h.arrivedNs[i], changes)
		bank.Command(s)
	}
	const strokeNs = 10e9 // enough for any
	return bank.Advance(max(bank.NowNs(), fromNs)+farthestNs+strokeNs, changes), nil
}

// port is what became of the receiver's sentences on their way to it.
func (h *heard) port() metrics.Port {
	return metricsPort(h.name, h.sent, true)
}

// score scores the outside controller as our own was, on the same drive.
func (h *heard) score(u *setup, own *outcome, files bool) (*outcome, error) {
	job, out := u.job(), u.outcome()
	out.outside, out.simulated = h, true
	if files {
		job.Strips = true
		out.measure(job)
	}
	in, err := u.open(job, out, nil, io.Discard)
	if err != nil {
		return nil, err
	}
	defer in.close()
	if job.Recorded, err = h.changes(job, own.Reception.FirstNs); err != nil {
		return nil, err
	}
	if x := job.Recorded; len(x) > 0 && x[0].TimeNs > own.Reception.LastNs {
		job.Recorded = x[:0] // all too late to be of this drive
	}
	return out, out.take(job, in, h.name)
}

// metricsPort is what became of a port that the command line calls name.
func metricsPort(name string, n port.Counts, out bool) metrics.Port {
	return metrics.Port{Name: name, Reconnects: n.Reconnects, Out: out, Sent: n.Sent, Dropped: n.Dropped}
}
