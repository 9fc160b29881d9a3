// Figures that others count: asked for at each scrape.

package metrics

import (
	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/sections"
)

// Counts are the counts of the rooms that carry an epoch through.
type Counts struct {
	Reader     epoch.ReaderCounts
	Controller sections.Counts
	Lost       bool // position is lost now
	Ports      []Port
	// RecordLost are sentences that a recording could not take.
	RecordLost int64
}

// Port is what became of one source or sink. Its name is as the command line
// gives it.
type Port struct {
	Name       string
	Reconnects int64 // times it was there again after it had been lost
	Out        bool  // a sink: Sent and Dropped count
	Sent       int64 // messages, one for each peer
	Dropped    int64 // messages that a slow or absent peer did not get
}

// families returns the counts as metrics.
func (c *Counts) families() []*family {
	var all []*family
	named := func(k kind, name, help string, labels ...string) *family {
		f := newFamily(k, name, help, labels...)
		all = append(all, f)
		return f
	}
	give := func(f *family, n int64, values ...string) { f.of(values...).value = float64(n) }
	r := &c.Reader
	sentences := named(counter, "sentences_total", "NMEA sentences by type and by what became of them.", "result", "type")
	for t := nmea.GGA; t <= nmea.ZDA; t++ {
		give(sentences, r.ByType[t], "ok", t.String())
	}
	// What a damaged sentence says of its type is not to be relied on.
	give(sentences, r.BadChecksum, "bad_checksum", "any")
	give(sentences, r.Malformed, "malformed", "any")
	give(sentences, r.Unknown, "unknown", "other")
	dropped := named(counter, "epochs_dropped_total", "Epochs that were not used, by reason.", "reason")
	give(dropped, r.Epochs.Duplicates, "duplicate")
	give(dropped, r.Epochs.OutOfOrder, "out-of-order")
	give(dropped, r.Epochs.NotBelieved, "not-believed")
	give(dropped, r.Epochs.Untimed, "untimed")
	give(named(counter, "dates_not_believed_total", "Epochs that were used without their date, which was not that of the day they came on."), r.Epochs.WrongDates)
	give(named(counter, "receiver_clock_sets_total", "Times that the receiver's clock was believed to have been set."), r.Epochs.ClockSets)
	give(named(counter, "fixes_used_total", "Positions that the controller used."), c.Controller.Accepted)
	rejected := named(counter, "fixes_rejected_total", "Positions that the controller did not use, by reason.", "reason")
	give(rejected, c.Controller.Stale, "stale")
	give(rejected, c.Controller.LowQuality, "low-quality")
	give(rejected, c.Controller.Jumped, "jump")
	give(rejected, c.Controller.Frozen, "frozen")
	late := named(counter, "setpoints_late_total", "Setpoints that were given after their due time, by cause.", "cause")
	for cause, n := range c.Controller.Late {
		give(late, n, sections.LateCause(cause).String())
	}
	failSafe := named(counter, "fail_safe_entries_total", "Times that the fail-safe was reached, by reason.", "reason")
	give(failSafe, c.Controller.FailSafe-c.Controller.FailSafeLowQuality-c.Controller.FailSafeFrozen, sections.LostFix.String())
	give(failSafe, c.Controller.FailSafeLowQuality, sections.LowQuality.String())
	give(failSafe, c.Controller.FailSafeFrozen, sections.FrozenFix.String())
	give(named(counter, "position_lost_held_at_rest_total", "Times that a lost position was held because the machine stood."), c.Controller.HeldAtRest)
	reconnects := named(counter, "port_reconnects_total", "Times that a port was there again after it had been lost.", "port")
	sent := named(counter, "output_sent_total", "Messages handed to an output, one for each peer.", "port")
	lostOut := named(counter, "output_dropped_total", "Messages that an output's slow or absent peer did not get.", "port")
	for _, p := range c.Ports {
		give(reconnects, p.Reconnects, p.Name)
		if p.Out {
			give(sent, p.Sent, p.Name)
			give(lostOut, p.Dropped, p.Name)
		}
	}
	give(named(counter, "recording_lost_sentences_total", "Sentences that the recording could not take."), c.RecordLost)
	lost := int64(0)
	if c.Lost {
		lost = 1
	}
	give(named(gauge, "position_lost", "1 while there is no position, or one of too low a quality."), lost)
	return all
}
