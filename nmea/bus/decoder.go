// This file puts messages into fixes.

package bus

import (
	"math"

	"go.einride.tech/can"

	"liftbench/nmea"
)

// Counts is what a Decoder found.
type Counts struct {
	Fixes       int64
	Unavailable int64 // positions marked as not available
	OutOfOrder  int64 // positions that are not later than the one before, dropped
	Magnetic    int64 // courses from magnetic north without a variation, left out
	Broken      int64 // fast packets with a gap
}

// Decoder puts the messages of the senders of a Plan into fixes, one for each
// position. It does not allocate.
type Decoder struct {
	plan    *Plan
	packets packets
	message Message
	counts  Counts

	open      nmea.Fix // the position that came last, to which more may come
	isOpen    bool
	openNs    int64 // the logger's time of it
	ownUTC    bool  // it told its own
	halfNs    int64 // half the time from one position to the next
	fix       nmea.Fix
	gnss      held
	motion    held
	heading   held
	yaw       held
	variation float64
}

// held is a message that waits for its position.
type held struct {
	Message
	hostNs int64
	is     bool
	used   bool
}

// NewDecoder returns a Decoder for a plan.
func NewDecoder(p *Plan) *Decoder {
	d := &Decoder{plan: p, halfNs: 50e6, variation: nan}
	if r := p.Position.RateHz; r > 0 {
		d.halfNs = int64(min(0.5e9/r, 500e6))
	}
	return d
}

// Fix returns the fix that Add or Flush completed. Its TimeNs is the UTC that
// the message tells, or the logger's time less the plan's offset; Dated is false
// where neither UTC nor the date of the logger is known. ArrivalNs is the
// logger's time.
func (d *Decoder) Fix() nmea.Fix { return d.fix }

// Counts returns the counts so far.
func (d *Decoder) Counts() Counts {
	c := d.counts
	c.Broken = d.packets.dropped
	return c
}

// Add takes a frame as Survey.Add does and reports whether a fix is complete: the
// one of the position before, now that the next has come.
func (d *Decoder) Add(timeNs int64, channel uint8, f *can.Frame) bool {
	if !f.IsExtended || f.IsRemote {
		return false
	}
	pgn, source, _ := Identify(f.ID)
	subject := subjectOf(pgn)
	if subject == subjects {
		return false
	}
	p := d.plan
	n := nodeOf(channel, source)
	var h *held
	isPosition := p.Position.PGN == pgn && p.Position.Node == n
	switch {
	case p.Motion.PGN == pgn && p.Motion.Node == n:
		h = &d.motion
	case p.GNSS.PGN == pgn && p.GNSS.Node == n:
		h = &d.gnss
	case p.Heading.PGN == pgn && p.Heading.Node == n:
		h = &d.heading
	case p.RateOfTurn.PGN == pgn && p.RateOfTurn.Node == n:
		h = &d.yaw
	case isPosition, p.Variation.PGN == pgn && p.Variation.Node == n:
	default:
		return false
	}
	data, firstNs := f.Data[:f.Length], timeNs
	if pgn == GNSS {
		var ok bool
		if data, firstNs, ok = d.packets.add(n, timeNs, f); !ok {
			return false
		}
	}
	if len(data) < shortest[subject] {
		return false
	}
	m := &d.message
	*m = emptyMessage
	m.PGN = pgn
	m.parse(subject, data)
	if !math.IsNaN(m.VariationDeg) && (pgn == Variation || math.IsNaN(d.variation)) {
		d.variation = m.VariationDeg
	}
	if h == &d.motion && m.Magnetic {
		if math.IsNaN(d.variation) {
			d.counts.Magnetic++
			m.CourseDeg = nan
		} else {
			m.CourseDeg = wrap(m.CourseDeg + d.variation)
		}
	}
	if h == &d.heading && m.Magnetic {
		return false
	}
	complete := false
	if isPosition {
		complete = d.position(firstNs, timeNs, m)
	}
	if h != nil {
		h.Message, h.hostNs, h.is, h.used = *m, firstNs, true, false
		if !isPosition && d.isOpen && firstNs-d.openNs <= d.halfNs {
			d.attach()
		}
	}
	if isPosition && d.isOpen {
		d.attach()
	}
	return complete
}

// Flush completes the last fix at the end of the trace and reports whether there
// is one.
func (d *Decoder) Flush() bool {
	if !d.isOpen {
		return false
	}
	d.isOpen = false
	if d.counts.Fixes > 0 && d.open.TimeNs <= d.fix.TimeNs {
		d.counts.OutOfOrder++
		return false
	}
	d.fix = d.open
	d.counts.Fixes++
	return true
}

// position opens the fix of a position and completes the one before.
func (d *Decoder) position(hostNs, readyNs int64, m *Message) bool {
	if !m.HasPosition() {
		d.counts.Unavailable++
		return false
	}
	complete := d.Flush()
	f := &d.open
	*f = nmea.EmptyFix()
	f.LatDeg, f.LonDeg = m.LatDeg, m.LonDeg
	f.ArrivalNs, f.ReadyNs = hostNs, readyNs
	switch o := d.plan.Offset; {
	case m.HasUTC:
		f.TimeNs, f.Dated = m.UTCNs, true
	case o.Known:
		f.TimeNs, f.Dated = hostNs-o.At(hostNs), true
	default:
		f.TimeNs, f.Dated = hostNs, hostNs >= datedNs
	}
	f.Quality = nmea.Autonomous // unless a GNSS message tells it
	d.openNs, d.isOpen = hostNs, true
	return complete
}

// datedNs is 1973: less is a time from the start of a trace.
const datedNs = 1e8 * 1e9

// rememberNs is how long a GNSS message tells the quality of the positions that
// come more often.
const rememberNs = 3e9

// attach gives the open fix what is of its instant: messages at most half the
// time between positions from it, each for one position only.
func (d *Decoder) attach() {
	f := &d.open
	if g := &d.gnss; g.is && d.openNs-g.hostNs <= rememberNs {
		if g.HasQuality {
			f.Quality = g.Quality
		}
		f.Satellites, f.HDOP = g.Satellites, g.HDOP
		if d.near(g) {
			f.HeightM, f.GeoidM = g.HeightM, g.GeoidM
		}
	}
	if d.near(&d.motion) {
		f.SpeedMps, f.CourseDeg = d.motion.SpeedMps, d.motion.CourseDeg
	}
	if d.near(&d.heading) {
		f.HeadingDeg = d.heading.HeadingDeg
	}
	if d.near(&d.yaw) {
		f.YawRateDegPerS = d.yaw.YawRateDegPerS
	}
}

// near reports whether a message is of the instant of the open fix, and takes it.
func (d *Decoder) near(h *held) bool {
	if !h.is || h.used {
		return false
	}
	if gap := h.hostNs - d.openNs; gap > d.halfNs || gap < -d.halfNs {
		return false
	}
	h.used = true
	return true
}
