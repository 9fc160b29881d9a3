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
	Damaged   int64               // lines that could not be read as setpoints
	Damages   []Damage            // what was wrong with them, in order of first appearance
	Others    int64               // sentences of another kind
	After     int                 // setpoints that came after the instant they were for
	AfterNs   int64               // by how much at most
	TooFar    int64               // lines for an instant beyond FarthestNs, which were not executed
	Clock     ControllerClock
	LeadNs    int64 // the longer of the machine's lift and drop lead, set by Score
	Sent      port.Counts
	Late      time.Duration // how far behind its time the receiver was at most
	Lockstep  bool          // the drive's clock waited for it
	Stale     int64         // in lockstep: answers to instants that were over
}

// Damage is one thing that was wrong with lines.
type Damage struct {
	What  string // what was found and what was expected
	Lines int64
}

// maxDamages bounds how many different damages are kept.
const maxDamages = 5

// AddDamage counts a line that could not be read, with what was wrong in it.
func (h *Heard) AddDamage(what string) {
	h.Damaged++
	for i := range h.Damages {
		if h.Damages[i].What == what {
			h.Damages[i].Lines++
			return
		}
	}
	if len(h.Damages) < maxDamages {
		h.Damages = append(h.Damages, Damage{what, 1})
	}
}

// FarthestNs is the farthest instant ahead at which a setpoint is executed: 10 s,
// the longest lead. A setpoint for a later instant is not executed.
const FarthestNs = 10e9

// ClockWarning says how far the controller's clock is off; "" = it is right.
func (h *Heard) ClockWarning() string { return h.Clock.Warning(h.LeadNs) }

// changes returns the work changes of the hydraulics in answer to the
// setpoints, from fromNs on.
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

// port returns the counts of the receiver's sentences on their way to the
// controller.
func (h *Heard) port() metrics.Port {
	return MetricsPort(h.Name, h.Sent, true)
}

// Score scores the outside controller as our own was, on the same drive.
func (h *Heard) Score(u *settings.Setup, own *Outcome, files bool) (*Outcome, error) {
	job, out := Job(u), New(u)
	out.Outside, out.Simulated = h, true
	h.LeadNs = max(job.Settings.LiftLead.AloneNs(), job.Settings.DropLead.AloneNs())
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

// MetricsPort returns the counts of a port as metrics. name is the port's name
// on the command line.
func MetricsPort(name string, n port.Counts, out bool) metrics.Port {
	return metrics.Port{Name: name, Reconnects: n.Reconnects, Out: out, Sent: n.Sent, Dropped: n.Dropped}
}
