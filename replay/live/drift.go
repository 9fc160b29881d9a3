// What the delays of fixes tell of the host's clock.

package live

import "math"

const (
	// driftWindowNs is how long the least delay is looked for.
	driftWindowNs = 60e9
	// driftNs is how far delays may grow before the host's clock is blamed.
	driftNs = 10e6
	// driftRate is how fast that is made good: twice what the quartz of a
	// computer is off at its worst (common practice, no source: 100 ppm). Fixes
	// that are really held up more and more are so by much more, and stay old.
	driftRate = 200e-6
)

// drift follows the least delay from the instant a fix is of to the arrival of
// its first sentence, by the engine's clock. No fix comes sooner than the line
// and the receiver let it, so a least delay that changes is the clock's error,
// in all but the time that a busy host or network takes.
type drift struct {
	byReceiver bool  // the clock was set by a fix, as if that had come with the least delay
	floorNs    int64 // the least delay there is, where byReceiver; else the least so far
	known      bool  // floorNs is

	leastNs int64 // of this window
	endNs   int64 // its end; 0 = none has begun
}

// reset begins anew when the clock was set so that its fix had come leastNs
// after the instant it is of.
func (d *drift) reset(leastNs int64) { *d = drift{byReceiver: true, floorNs: leastNs, known: true} }

// add takes the delay of a fix that arrived at nowNs. lagNs is how far behind
// the clock turns out to be: it was set by a fix that came late. rate is how
// fast it is to go on from here, 0 = as before.
func (d *drift) add(delayNs, nowNs int64) (lagNs int64, rate float64) {
	if d.endNs == 0 {
		d.leastNs, d.endNs = math.MaxInt64, nowNs+driftWindowNs
	}
	if d.byReceiver {
		lagNs = max(d.floorNs-delayNs, 0)
	} else if !d.known || delayNs < d.floorNs {
		d.floorNs, d.known = delayNs, true
	}
	d.leastNs = min(d.leastNs, delayNs+lagNs)
	if nowNs < d.endNs {
		return lagNs, 0
	}
	rate = 1
	if d.leastNs > d.floorNs+driftNs {
		rate -= driftRate
	}
	d.endNs = 0
	return lagNs, rate
}
