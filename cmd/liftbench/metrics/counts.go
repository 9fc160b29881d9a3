// Figures that others count: asked for at each scrape.

package metrics

import (
	"github.com/prometheus/client_golang/prometheus"

	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/replay/crash"
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

// countsCollector shows what the function returns.
type countsCollector func() Counts

var (
	sentencesDesc  = counter("sentences_total", "NMEA sentences by type and by what became of them.", "type", "result")
	droppedDesc    = counter("epochs_dropped_total", "Epochs that were not used, by reason.", "reason")
	datesDesc      = counter("dates_not_believed_total", "Epochs that were used without their date, which was not that of the day they came on.")
	clockSetsDesc  = counter("receiver_clock_sets_total", "Times that the receiver's clock was believed to have been set.")
	usedDesc       = counter("fixes_used_total", "Positions that the controller used.")
	rejectedDesc   = counter("fixes_rejected_total", "Positions that the controller did not use, by reason.", "reason")
	lateDesc       = counter("setpoints_late_total", "Setpoints that were given after their due time, by cause.", "cause")
	failSafeDesc   = counter("fail_safe_entries_total", "Times that the fail-safe was reached, by reason.", "reason")
	heldAtRestDesc = counter("position_lost_held_at_rest_total", "Times that a lost position was held because the machine stood.")
	reconnectsDesc = counter("port_reconnects_total", "Times that a port was there again after it had been lost.", "port")
	sentDesc       = counter("output_sent_total", "Messages handed to an output, one for each peer.", "port")
	lostOutDesc    = counter("output_dropped_total", "Messages that an output's slow or absent peer did not get.", "port")
	recordLostDesc = counter("recording_lost_sentences_total", "Sentences that the recording could not take.")
	lostDesc       = prometheus.NewDesc(prometheus.BuildFQName(namespace, "", "position_lost"),
		"1 while there is no position, or one of too low a quality.", nil, nil)
)

func counter(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc(prometheus.BuildFQName(namespace, "", name), help, labels, nil)
}

// Describe names the counters.
func (k countsCollector) Describe(out chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{sentencesDesc, droppedDesc, datesDesc, clockSetsDesc, usedDesc, rejectedDesc, lateDesc, failSafeDesc, heldAtRestDesc,
		reconnectsDesc, sentDesc, lostOutDesc, recordLostDesc, lostDesc} {
		out <- d
	}
}

// Collect gives the counters. Prometheus calls it in a goroutine of its own.
func (k countsCollector) Collect(out chan<- prometheus.Metric) {
	crash.Run(func() { k.collect(out) })
}

func (k countsCollector) collect(out chan<- prometheus.Metric) {
	c := k()
	give := func(d *prometheus.Desc, n int64, labels ...string) {
		out <- prometheus.MustNewConstMetric(d, prometheus.CounterValue, float64(n), labels...)
	}
	r := &c.Reader
	for t := nmea.GGA; t <= nmea.ZDA; t++ {
		give(sentencesDesc, r.ByType[t], t.String(), "ok")
	}
	// What a damaged sentence says of its type is not to be relied on.
	give(sentencesDesc, r.BadChecksum, "any", "bad_checksum")
	give(sentencesDesc, r.Malformed, "any", "malformed")
	give(sentencesDesc, r.Unknown, "other", "unknown")
	give(droppedDesc, r.Epochs.Duplicates, "duplicate")
	give(droppedDesc, r.Epochs.OutOfOrder, "out-of-order")
	give(droppedDesc, r.Epochs.NotBelieved, "not-believed")
	give(droppedDesc, r.Epochs.Untimed, "untimed")
	give(datesDesc, r.Epochs.WrongDates)
	give(clockSetsDesc, r.Epochs.ClockSets)
	give(usedDesc, c.Controller.Accepted)
	give(rejectedDesc, c.Controller.Stale, "stale")
	give(rejectedDesc, c.Controller.LowQuality, "low-quality")
	give(rejectedDesc, c.Controller.Jumped, "jump")
	give(rejectedDesc, c.Controller.Frozen, "frozen")
	for cause, n := range c.Controller.Late {
		give(lateDesc, n, sections.LateCause(cause).String())
	}
	give(failSafeDesc, c.Controller.FailSafe-c.Controller.FailSafeLowQuality-c.Controller.FailSafeFrozen, sections.LostFix.String())
	give(failSafeDesc, c.Controller.FailSafeLowQuality, sections.LowQuality.String())
	give(failSafeDesc, c.Controller.FailSafeFrozen, sections.FrozenFix.String())
	give(heldAtRestDesc, c.Controller.HeldAtRest)
	for _, p := range c.Ports {
		give(reconnectsDesc, p.Reconnects, p.Name)
		if p.Out {
			give(sentDesc, p.Sent, p.Name)
			give(lostOutDesc, p.Dropped, p.Name)
		}
	}
	give(recordLostDesc, c.RecordLost)
	lost := 0.0
	if c.Lost {
		lost = 1
	}
	out <- prometheus.MustNewConstMetric(lostDesc, prometheus.GaugeValue, lost)
}
