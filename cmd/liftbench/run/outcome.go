// The result of a run: everything that its table and its files say.

package run

import (
	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/metrics"
	"liftbench/cmd/liftbench/settings"
	"liftbench/nmea/epoch"
	"liftbench/sections/field"
	"liftbench/sim"
	"liftbench/sim/drive"
)

// Outcome is one scored drive.
type Outcome struct {
	*sim.Outcome
	Setup        *settings.Setup   // what was run
	Command      string            // the command line, as it can be typed again
	Language     language.Language // of report.html
	Title        string            // of the scenario or the log
	Machine      *settings.Machine
	Field        *field.Field
	Reader       epoch.ReaderCounts
	Passes       []drive.Pass    // of the generated drive
	Warnings     []string        // of the drive, generated or recorded, in a sentence each
	Suspicion    *Suspicion      // what is most likely wrong; nil = nothing
	Straight     sim.StraightRun // before a border; zero = not known
	StraightRuns []sim.Run       // the straight runs before a border that the drive had
	Figures      *metrics.Set    // nil unless files are wanted
	Outside      *Heard          // the controller that is scored; nil = our own
	Simulated    bool            // the hydraulics answered; otherwise the work states were recorded
	Typical      *sim.Outcome    // of the same generated drive under typical conditions; nil = not computed
}

// SentenceCounts counts the sentences of a log by what became of them.
type SentenceCounts struct {
	OK          int64 `json:"ok"`
	BadChecksum int64 `json:"bad_checksum"`
	Malformed   int64 `json:"malformed"`
	Unknown     int64 `json:"unknown"`
}

// Sentences returns the counts of the log's sentences, for summary.json and the
// table.
func (o *Outcome) Sentences() SentenceCounts {
	c := &o.Reader
	return SentenceCounts{OK: c.OK, BadChecksum: c.BadChecksum, Malformed: c.Malformed, Unknown: c.Unknown}
}

// WarnOfUsual says which values of the machine are usual ones, because neither the
// recording nor a file tells them.
func (o *Outcome) WarnOfUsual() {
	if len(o.Setup.Usual) == 0 {
		return
	}
	o.warn("%s", settings.UsualText(o.Setup.Usual))
}
