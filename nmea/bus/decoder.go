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
	// Live completes a fix with its last message, without waiting for the next
	// position: with its motion where that comes as often and followed the position
	// before, otherwise with the position itself. Fixes then are not as late by a
	// position's interval. It also follows the drift of the logger's clock, which a
	// plan made of the first seconds cannot know.
	Live bool

	plan    *Plan
	packets packets
	message Message
	counts  Counts

	open      nmea.Fix // the position that came last, to which more may come
	isOpen    bool
	openNs    int64 // the logger's time of it
	halfNs    int64 // half the time from one position to the next
	fix       nmea.Fix
	gnss      held
	motion    held
	heading   held
	yaw       held
	variation float64
	awaits    bool  // Live: motion followed the last position
	lastNs    int64 // Live: the logger's time of the last position
	clock     following
	driftNs   int64 // Live: of the logger's clock since the plan
	anyTime   bool  // Live: a clock was set, so that the next fix may be earlier
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
	d := &Decoder{plan: p, halfNs: 50e6, variation: nan, awaits: true}
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
	case d.Live && p.Time.PGN == pgn && p.Time.Node == n:
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
	if d.Live && m.HasUTC && p.Time.PGN == pgn && p.Time.Node == n {
		if d.clock.add(sample{firstNs, firstNs - m.UTCNs}) {
			d.anyTime, d.isOpen = true, false // what is open has a time of before
		}
		d.driftNs = d.clock.least() - p.timeLessNs
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
		if complete {
			d.awaits = false // what was waited for did not come
		}
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
	if d.Live && !complete {
		return d.live(h == &d.motion, isPosition, firstNs, timeNs)
	}
	return complete
}

// live completes the open fix where nothing more is to come, and learns whether
// motion follows positions.
func (d *Decoder) live(isMotion, isPosition bool, hostNs, readyNs int64) bool {
	p := d.plan
	often := p.Motion.PGN != 0 && p.Motion.RateHz > 0.8*p.Position.RateHz
	if isPosition {
		d.lastNs = hostNs
	}
	if isMotion && often && hostNs-d.lastNs <= d.halfNs {
		d.awaits = true
	}
	if !d.isOpen || !isPosition && !isMotion || isPosition && often && d.awaits {
		return false
	}
	d.open.ReadyNs = readyNs
	return d.Flush()
}

// Flush completes the last fix at the end of the trace and reports whether there
// is one.
func (d *Decoder) Flush() bool {
	if !d.isOpen {
		return false
	}
	d.isOpen = false
	if d.counts.Fixes > 0 && d.open.TimeNs <= d.fix.TimeNs && !d.anyTime {
		d.counts.OutOfOrder++
		return false
	}
	d.fix, d.anyTime = d.open, false
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
		f.TimeNs, f.Dated = hostNs-o.At(hostNs)-d.driftNs, true
	default:
		f.TimeNs, f.Dated = hostNs, hostNs >= datedNs
	}
	f.Quality = nmea.Autonomous // unless a GNSS message tells it
	if d.Live && d.plan.HasQuality && !d.gnss.is {
		f.Quality = d.plan.Quality // as it told in the seconds of the plan
	}
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
