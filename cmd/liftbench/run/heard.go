// What an outside controller told the sections while a drive was played to it,
// and its score.

package run

import (
	"io"
	"time"

	"liftbench/cmd/liftbench/metrics"
	"liftbench/cmd/liftbench/settings"
	"liftbench/replay/port"
	"liftbench/sections"
	"liftbench/sim"
)

// Heard is what the bench heard of an outside controller.
type Heard struct {
	Name      string
	Setpoints []sections.Setpoint // changes, in order of arrival
	ArrivedNs []int64             // when each came, by the drive's clock
	Lines     int64               // with setpoints
	Damaged   int64               // lines that were none
	Others    int64               // sentences of another kind
	After     int                 // setpoints that came after the instant they were for
	AfterNs   int64               // by how much at most
	Sent      port.Counts
	Late      time.Duration // how far behind its time the receiver was at most
}

// FarthestNs is how far ahead an instant is believed.
const FarthestNs = 10e9

// changes are how the hydraulics answered, from fromNs on.
func (h *Heard) changes(job *sim.Job, fromNs int64) ([]sections.WorkChange, error) {
	bank, err := job.Bank()
	if err != nil {
		return nil, err
	}
	bank.Start(fromNs, false)
	changes := []sections.WorkChange{}
	for i, s := range h.Setpoints {
		changes = bank.Advance(h.ArrivedNs[i], changes)
		bank.Command(s)
	}
	const strokeNs = 10e9 // enough for any
	return bank.Advance(max(bank.NowNs(), fromNs)+FarthestNs+strokeNs, changes), nil
}

// port is what became of the receiver's sentences on their way to it.
func (h *Heard) port() metrics.Port {
	return MetricsPort(h.Name, h.Sent, true)
}

// Score scores the outside controller as our own was, on the same drive.
func (h *Heard) Score(u *settings.Setup, own *Outcome, files bool) (*Outcome, error) {
	job, out := Job(u), New(u)
	out.Outside, out.Simulated = h, true
	if files {
		job.Strips = true
		out.Measure(job)
	}
	in, err := Open(u, job, out, nil, io.Discard)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	if job.Recorded, err = h.changes(job, own.Reception.FirstNs); err != nil {
		return nil, err
	}
	if x := job.Recorded; len(x) > 0 && x[0].TimeNs > own.Reception.LastNs {
		job.Recorded = x[:0] // all too late to be of this drive
	}
	return out, out.Take(job, in, h.Name)
}

// MetricsPort is what became of a port that the command line calls name.
func MetricsPort(name string, n port.Counts, out bool) metrics.Port {
	return metrics.Port{Name: name, Reconnects: n.Reconnects, Out: out, Sent: n.Sent, Dropped: n.Dropped}
}
