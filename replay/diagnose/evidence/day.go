// Package evidence prepares a day's scored transitions for diagnosis: which of
// them can be paired, how late each was against its lead, which belong to one
// crossing, what else could have made it late, and how good reception was then.
package evidence

import (
	"errors"
	"fmt"

	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sections/score"
)

// Input is one day. At least one of Actual and Setpoint is given.
type Day struct {
	// Machine and Settings say what ought to have been: they are taken for
	// true, and so is the field that the events were scored against. What is
	// found is how the day differs from them.
	Machine  *sections.Machine
	Settings sections.Settings
	// LiftStrokeNs is how long a section alone takes from working depth all the
	// way up, without dead time: so long it takes oil from the others. 0 = no
	// longer than up to the effective depth.
	LiftStrokeNs int64
	// Actual is the score of what the tools did (score.Result.Events, any
	// order); nil = not recorded.
	Actual []score.Event
	// Setpoint is the score of what the tools were told, run over the same
	// track as though they had followed at once: its errors are minus the lead
	// where all is well. nil = not recorded.
	Setpoint []score.Event
	// Fixes is what the receiver said, in order of time; nil = nothing is said
	// of reception.
	Fixes []Fix
}

// Heard is as much of a fix as tells how good reception was.
type Fix struct {
	TimeNs  int64 // UTC, ns since 1970
	AgeNs   int64 // on arrival; -1 = not measured
	Quality nmea.Quality
}

// HeardOf returns what a fix tells of reception.
func FixOf(f *nmea.Fix) Fix {
	h := Fix{TimeNs: f.TimeNs, AgeNs: -1, Quality: f.Quality}
	if !f.HasPosition() {
		h.Quality = nmea.NoFix
	}
	if age, ok := sections.MeasuredAgeNs(f); ok {
		h.AgeNs = age
	}
	return h
}

// leastPairs is the fewest transitions of which anything can be said.
const leastPairs = 2

// check reports the first thing that makes the day undiagnosable.
func (in *Day) Check() error {
	if in.Machine == nil {
		return errors.New("no machine; expected the one that drove")
	}
	if err := in.Machine.Validate(); err != nil {
		return err
	}
	for _, list := range [][]score.Event{in.Actual, in.Setpoint} {
		for i := range list {
			if s := int(list[i].Section); s < 0 || s >= len(in.Machine.Sections) {
				return fmt.Errorf("transition %d is of section %d; this machine has sections 1 to %d", i+1, s+1, len(in.Machine.Sections))
			}
		}
	}
	for i := 1; i < len(in.Fixes); i++ {
		if in.Fixes[i].TimeNs < in.Fixes[i-1].TimeNs {
			return fmt.Errorf("fix %d is %d ns before the one ahead of it; expected order of time", i+1, in.Fixes[i-1].TimeNs-in.Fixes[i].TimeNs)
		}
	}
	return nil
}

// enough reports a day with too few transitions near borders.
func Enough(list []score.Event) error {
	var paired, missed, spurious int
	for i := range list {
		switch list[i].Kind {
		case score.Paired:
			paired++
		case score.Missed:
			missed++
		case score.Spurious:
			spurious++
		}
	}
	switch {
	case paired+spurious == 0 && missed == 0:
		return errors.New("no transitions: no section crossed a border or changed its work state; expected a day on which sections lifted and dropped")
	case paired+spurious == 0:
		return fmt.Errorf("no transitions: no section changed its work state at any of the %d crossings of a border; expected recorded lifts and drops", missed)
	case paired == 0:
		return fmt.Errorf("none of the %d lifts and drops is within 10 s of a crossing of a border; expected the states, the field and the log of the same day", spurious)
	case paired < leastPairs:
		return errors.New("one transition near a border; expected at least two, better thirty, to tell anything from chance")
	}
	return nil
}
