// The clock of an outside controller beside that of the drive.

package run

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// ControllerClock tells how far an outside controller's clock is from the drive's,
// by the instants that its lines name and the instants at which they arrive.
//
// A line that changes a section arrives at the earliest one lead before the
// instant it names, and at the latest a little after it. Where half of them lie
// outside that span, all on one side, the controller counts its time otherwise:
// GPS time, for example, is 18 s ahead of UTC (since 2017, IERS Bulletin C).
type ControllerClock struct {
	aheadNs []int64 // instant named minus arrival, of lines that change something
}

// maxAheads bounds the lines that the clock is told from.
const maxAheads = 100_000

// Add takes a line that changes something and named an instant so far ahead of
// its arrival; negative = past.
func (k *ControllerClock) Add(aheadNs int64) {
	if len(k.aheadNs) < maxAheads {
		k.aheadNs = append(k.aheadNs, aheadNs)
	}
}

// slackNs is how much earlier than a lead, or later than its instant, a line may
// come without being blamed on the clock.
const slackNs = int64(time.Second)

// OffsetNs returns how far the clock is ahead of the drive's, negative = behind,
// and whether it is off at all: the median over the lines lies more than a second
// beyond what a controller with leads of up to leadNs would say.
func (k *ControllerClock) OffsetNs(leadNs int64) (offsetNs int64, off bool) {
	if len(k.aheadNs) == 0 {
		return 0, false
	}
	sorted := slices.Sorted(slices.Values(k.aheadNs))
	n := len(sorted)
	offsetNs = sorted[n/2]
	return offsetNs, offsetNs > leadNs+slackNs || offsetNs < -slackNs
}

// leapS is how far GPS time is ahead of UTC, since 2017 (IERS Bulletin C).
const leapS = 18

// Warning says how far the clock is off and what comes of it; "" = it is right.
// leadNs is the longest lead of the machine.
func (k *ControllerClock) Warning(leadNs int64) string {
	offsetNs, off := k.OffsetNs(leadNs)
	if !off {
		return ""
	}
	s := float64(offsetNs) * 1e-9
	side, effect := "ahead of", "held until the instants they name, or not executed where these lie more than 10 s ahead"
	if offsetNs < 0 {
		side, effect = "behind", "executed on arrival, without their lead"
	}
	text := fmt.Sprintf("The controller's clock is about %.1f s %s the receiver's: its setpoints were %s. Let it take its time (UTC) from the sentences it hears", math.Abs(s), side, effect)
	if math.Abs(s-leapS) <= 1+float64(leadNs)*1e-9 {
		text += fmt.Sprintf("; GPS time is %d s ahead of UTC", leapS)
	}
	return text + "."
}
