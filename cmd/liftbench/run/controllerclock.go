// The clock of an outside controller beside that of the drive.

package run

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// ControllerClock measures how far an outside controller's clock is from the
// drive's. It compares the instants that the controller's lines name with the
// instants at which the lines arrive. A line that changes a section arrives at
// the earliest one lead before the instant it names, and at the latest a little
// after it. If more than half of the lines lie outside that span, all on one
// side, the controller's clock is off: GPS time, for example, is 18 s ahead of
// UTC (since 2017, IERS Bulletin C).
type ControllerClock struct {
	aheadNs []int64 // instant named minus arrival, of lines that change something
}

// maxAheads bounds how many lines the offset is measured from.
const maxAheads = 100_000

// Add takes a line that changed a section and named an instant this far ahead
// of its arrival; negative = the instant had passed.
func (k *ControllerClock) Add(aheadNs int64) {
	if len(k.aheadNs) < maxAheads {
		k.aheadNs = append(k.aheadNs, aheadNs)
	}
}

// slackNs is how much earlier than one lead before its instant, or how much
// later than its instant, a line may arrive before the clock is blamed.
const slackNs = int64(time.Second)

// OffsetNs returns how far the controller's clock is ahead of the drive's
// (negative = behind), and whether it is off at all. It is off if the median
// line lies more than a second outside the span of a controller with leads of
// up to leadNs.
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

// Warning says how far the clock is off and what follows from it; "" = the
// clock is right. leadNs is the machine's longest lead.
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
