// A receiver repeats itself every second: it may send GGA and RMC ten times,
// VTG after the first of them and GST after the sixth. For each place in the
// second a cycle learns which kinds of sentences an epoch has, so that on a live
// stream an epoch is known to be complete before the next one begins.

package epoch

import "liftbench/nmea"

const (
	slotNs    = 20_000_000 // receivers send at up to 50 Hz
	slotCount = int(nsPerSecond / slotNs)
	// seenBefore is how many epochs in a row must have had the same kinds of
	// sentences.
	seenBefore = 3
)

// cycle is what has been learned of the stream. The zero value knows nothing.
type cycle struct {
	slots    [slotCount]slot
	periodNs int64 // between the last two epochs; 0 when unknown
}

// slot is what has been learned of one place in the second.
type slot struct {
	signature uint32 // of the kinds of sentences in the last epoch
	alike     uint8  // how many epochs in a row had this signature
	tooEarly  uint8  // how often an epoch was closed too early
}

func (c *cycle) slotAt(timeNs int64) *slot {
	return &c.slots[nmea.TimeOfDayNs(timeNs)%nsPerSecond/slotNs]
}

// learn notes the kinds of sentences of a complete epoch.
func (c *cycle) learn(e *epoch) {
	s := c.slotAt(e.fix.TimeNs)
	signature := e.kinds.signature()
	if signature != s.signature {
		s.signature, s.alike = signature, 0
	}
	if s.alike < 255 {
		s.alike++
	}
}

// notePeriod notes the time between two epochs. Ten seconds or more are a gap
// in the stream, and the period is unknown.
func (c *cycle) notePeriod(ns int64) {
	if ns >= 10*nsPerSecond {
		ns = 0
	}
	c.periodNs = ns
}

// complete reports whether e has the kinds of sentences that epochs at its
// place in the second have had, often enough in a row.
func (c *cycle) complete(e *epoch) bool {
	s := c.slotAt(e.fix.TimeNs)
	// Each epoch that was closed too early doubles how many must be alike.
	if s.alike < seenBefore<<s.tooEarly {
		return false
	}
	return s.signature == e.kinds.signature()
}

// closedTooEarly is called when a sentence arrives for the epoch at timeNs,
// which has been closed.
func (c *cycle) closedTooEarly(timeNs int64) {
	s := c.slotAt(timeNs)
	s.alike = 0
	if s.tooEarly < 6 { // 3·2⁶ = 192 is less than alike can count
		s.tooEarly++
	}
}
