// What a receiver sends each second is a cycle: GGA and RMC ten times, say,
// VTG after the first of them, GST after the sixth. For each place in the
// second it is learned what an epoch holds, so that a live stream need not
// wait for the next epoch to know that this one is complete.

package epoch

import "liftbench/nmea"

const (
	slotNs    = 20_000_000 // receivers work at up to 50 Hz
	slotCount = int(nsPerSecond / slotNs)
	// seenBefore is how many epochs in a row must have held the same.
	seenBefore = 3
)

// cycle is what was learned of the stream.
type cycle struct {
	slots    [slotCount]slot
	periodNs int64 // between the last two epochs; 0 when unknown
}

// slot is the epochs at one place in the second.
type slot struct {
	signature uint32
	alike     uint8 // epochs in a row with this signature
	strikes   uint8 // times that an epoch was closed too early
}

func (c *cycle) at(timeNs int64) *slot {
	return &c.slots[nmea.TimeOfDayNs(timeNs)%nsPerSecond/slotNs]
}

// learn takes note of a closed epoch.
func (c *cycle) learn(e *epoch) {
	s := c.at(e.fix.TimeNs)
	sig := e.seen.signature()
	if sig != s.signature {
		s.signature, s.alike = sig, 0
	}
	if s.alike < 255 {
		s.alike++
	}
}

// pace is told that an epoch starts so long after the one before. A gap says
// nothing of the receiver.
func (c *cycle) pace(ns int64) {
	if ns >= 10*nsPerSecond {
		ns = 0
	}
	c.periodNs = ns
}

// complete reports whether e holds all that such an epoch is known to hold.
func (c *cycle) complete(e *epoch) bool {
	s := c.at(e.fix.TimeNs)
	// Each early close doubles what is asked before the next.
	if s.alike < seenBefore<<s.strikes {
		return false
	}
	return s.signature == e.seen.signature()
}

// unlearn is told that the epoch at timeNs was closed too early.
func (c *cycle) unlearn(timeNs int64) {
	s := c.at(timeNs)
	s.alike = 0
	if s.strikes < 6 {
		s.strikes++
	}
}
