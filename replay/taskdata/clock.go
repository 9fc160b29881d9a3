package taskdata

import (
	"fmt"
	"math"
	"sort"
	"time"
)

const (
	dayMs = 86_400_000
	// maxOffsetNs is how far local time may be from UTC: 14 h, and no zone is farther.
	maxOffsetNs = 14 * 3600 * int64(1e9)
	// stepNs is by how much rows must disagree with the offset so far before it is taken
	// to have stepped, and stepRows how many in a row must agree on the new one. Terminals that
	// poll a receiver are 0.2 to 0.5 s off and on.
	stepNs   = 700 * int64(1e6)
	stepRows = 12
	// wrongNs is how far a receiver's time may be from the offset. What is farther is no
	// position of then.
	wrongNs = 2000 * int64(1e6)
)

// ClockSource says where UTC comes from.
type ClockSource uint8

const (
	// TerminalOnly: the file tells no UTC; times are the terminal's own, as if it showed UTC.
	TerminalOnly ClockSource = iota
	GPS                      // the receiver's time, in the rows
	Given                    // by Options
)

// Clock is what is known of the terminal's clock against UTC.
type Clock struct {
	Source ClockSource
	// OffsetNs is UTC less the terminal's clock, at its middle; where it
	// stepped, that of the longest piece.
	OffsetNs int64
	// DriftPPM is by how much the offset grows: 1000 = 1 ms a second.
	DriftPPM float64
	// SpreadNs is the median distance of the rows from the fitted line.
	SpreadNs int64
	// Rows are those that the lines were fitted to. Steps is how often the offset
	// stepped, because one of the clocks was set.
	Rows, Steps int
	// FrozenNs is the longest time for which the receiver's time stood still while rows
	// went on; FrozenAtNs is when, UTC.
	FrozenNs, FrozenAtNs int64
}

// String says what is known, as a sentence.
func (c Clock) String() string {
	switch c.Source {
	case GPS:
		text := fmt.Sprintf("UTC is the terminal's clock %+.3f s, drifting %+.0f ms a minute, from %d rows with the receiver's time (median distance %d ms)",
			float64(c.OffsetNs)/1e9, c.DriftPPM*60/1000, c.Rows, c.SpreadNs/1e6)
		if c.Steps > 0 {
			text += fmt.Sprintf("; one of the two clocks was set %d times", c.Steps)
		}
		return text
	case Given:
		return fmt.Sprintf("UTC is the terminal's clock %+.3f s, as given", float64(c.OffsetNs)/1e9)
	}
	return "terminal's clock, UTC unknown"
}

// sample is the offset of the clock in one row.
type sample struct {
	seq          int // of the row among all of the day
	rowNs, offNs int64
}

// piece is a part of the day with one line of offsets.
type piece struct {
	from   int // sequence number of its first row
	rowNs  int64
	offNs  float64 // at rowNs
	drift  float64 // ns per ns
	spread float64
	n      int
	spanNs int64
}

// utc converts the terminal's time.
func (p *piece) utc(rowNs int64) int64 {
	return rowNs + int64(math.Round(p.offNs+float64(p.drift*float64(rowNs-p.rowNs))))
}

// offset returns UTC less the row's time, from the receiver's time of day alone: its
// date is wrong in places. It is within half a day, or within 14 h where the date
// agrees.
func offset(rowNs int64, gpsMs uint32, gpsDays uint16, dated bool) (int64, bool) {
	if gpsMs >= dayMs {
		return 0, false
	}
	ofDay := rowNs % (dayMs * 1e6)
	off := int64(gpsMs)*1e6 - ofDay
	const day = dayMs * 1_000_000
	if off > day/2 {
		off -= day
	} else if off < -day/2 {
		off += day
	}
	if dated {
		told := (int64(gpsDays)+3652)*day + int64(gpsMs)*1e6 - rowNs
		if told >= -maxOffsetNs && told <= maxOffsetNs {
			return told, true
		}
	}
	return off, true
}

// fitClock finds the pieces of the clock from samples in the order of rows.
func fitClock(samples []sample) []piece {
	var pieces []piece
	now, other := make([]sample, 0, len(samples)), make([]sample, 0, stepRows)
	from := 0
	near := func(a, b sample) bool {
		d := a.offNs - b.offNs
		// A clock that drifts by 2 % at most, the worst seen by far, stays near.
		slack := stepNs + int64(math.Abs(float64(a.rowNs-b.rowNs))/50)
		return d < slack && d > -slack
	}
	var middle sample
	for _, s := range samples {
		if len(now) == 0 || near(s, middle) {
			now = append(now, s)
			other = other[:0]
			if n := len(now); n < window || n%8 == 0 {
				middle = middleOf(now)
			}
			continue
		}
		if len(other) > 0 && !near(s, other[len(other)-1]) {
			other = other[:0]
		}
		if other = append(other, s); len(other) < stepRows {
			continue
		}
		if len(now) >= stepRows {
			pieces = append(pieces, fitPiece(from, now))
		}
		from = other[0].seq
		now = append(now[:0], other...)
		middle = middleOf(now)
		other = other[:0]
	}
	if len(now) >= stepRows || len(pieces) == 0 && len(now) >= 2 {
		pieces = append(pieces, fitPiece(from, now))
	}
	return pieces
}

// window is how many of the last samples say what the offset is. A clock that wanders off
// within fewer is taken to have stepped.
const window = 41

// middleOf returns the sample of median offset in the window.
func middleOf(s []sample) sample {
	var last [window]sample
	n := copy(last[:], s[max(0, len(s)-window):])
	for i := 1; i < n; i++ {
		for k := i; k > 0 && last[k].offNs < last[k-1].offNs; k-- {
			last[k], last[k-1] = last[k-1], last[k]
		}
	}
	return last[n/2]
}

// fitPiece fits a line by least squares, leaves out the samples farther from it than three
// times the median distance, and fits again. Short pieces have no drift.
func fitPiece(from int, s []sample) piece {
	p := piece{from: from, n: len(s), rowNs: s[len(s)/2].rowNs}
	for _, x := range s {
		p.spanNs = max(p.spanNs, x.rowNs-s[0].rowNs)
	}
	offs := make([]float64, len(s))
	for k := range s {
		offs[k] = float64(s[k].offNs)
	}
	p.offNs = median(offs)
	limit := math.Inf(1)
	for range 4 {
		var n, sx, sy, sxx, sxy float64
		for _, a := range s {
			x, y := float64(a.rowNs-p.rowNs), float64(a.offNs)
			if math.Abs(y-p.offNs-float64(p.drift*x)) > limit {
				continue
			}
			y -= p.offNs
			n++
			sx += x
			sy += y
			sxx += float64(x * x)
			sxy += float64(x * y)
		}
		if p.spanNs < 60e9 || n < stepRows {
			break
		}
		det := float64(n*sxx) - float64(sx*sx)
		if det <= 0 {
			break
		}
		p.drift = (float64(n*sxy) - float64(sx*sy)) / det
		p.offNs += (sy - float64(p.drift*sx)) / n
		for k, a := range s {
			offs[k] = math.Abs(float64(a.offNs) - p.offNs - float64(p.drift*float64(a.rowNs-p.rowNs)))
		}
		limit = max(3*median(offs), 1e6)
	}
	for k, a := range s {
		offs[k] = math.Abs(float64(a.offNs) - p.offNs - float64(p.drift*float64(a.rowNs-p.rowNs)))
	}
	p.spread = median(offs)
	return p
}

// median sorts x.
func median(x []float64) float64 {
	sort.Float64s(x)
	return x[len(x)/2]
}

// clock describes the pieces.
func clock(pieces []piece) Clock {
	c := Clock{Source: GPS, Steps: len(pieces) - 1}
	best := 0
	for k := range pieces {
		c.Rows += pieces[k].n
		if pieces[k].n > pieces[best].n {
			best = k
		}
	}
	p := &pieces[best]
	c.OffsetNs, c.DriftPPM, c.SpreadNs = int64(math.Round(p.offNs)), p.drift*1e6, int64(p.spread)
	return c
}

// Time returns an instant as UTC.
func Time(ns int64) time.Time { return time.Unix(0, ns).UTC() }
