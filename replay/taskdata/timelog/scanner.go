package timelog

import (
	"encoding/binary"
	"fmt"
)

const (
	dayMs = 86_400_000
	dayNs = dayMs * 1_000_000
	// epochDays is 1980-01-01 in days since 1970-01-01.
	epochDays = 3652
)

// Value is what a row says about a column.
type Value struct {
	Column uint8 // index in Header.Columns
	Value  int32
}

// Row is one row of a log.
type Row struct {
	Offset int64 // of its first byte in the file
	// TimeNs is the terminal's own clock, as a rule local time and often wrong:
	// nanoseconds since 1970-01-01T00:00:00 on that clock.
	TimeNs      int64
	North, East int32  // 1e-7°
	Up          int32  // mm
	Status      uint8  // 0 none, 1 GNSS, 2 DGNSS, 3 precise, 4 RTK fixed, 5 float, 6 reckoned, 7 manual, 8 simulated, 14 error, 15 unknown
	Satellites  uint8  // 255: not available
	PDOP, HDOP  uint16 // 0.1
	GPSDays     uint16 // days since 1980-01-01
	GPSTimeMs   uint32 // ms of the UTC day
	// Values are valid until the next Scan.
	Values []Value
}

// Gap is a part of a log that is no row, and is left out.
type Gap struct {
	Offset, Length int64
	What           string // found there
}

// maxGaps is how many gaps are described; the rest is counted only.
const maxGaps = 20

// Scanner goes through the rows of a log. Use it like a bufio.Scanner; it does
// not allocate while it scans rows.
type Scanner struct {
	header *Header
	data   []byte
	at     int
	fixed  int // bytes of a row before its values
	row    Row
	days   int // of the row before; -1 before the first
	values [MaxColumns]Value

	gaps   []Gap
	nGaps  int
	failed string
}

// NewScanner returns a Scanner of the rows in data.
func NewScanner(h *Header, data []byte) *Scanner {
	s := &Scanner{}
	s.Reset(h, data)
	return s
}

// Reset starts on another log.
func (s *Scanner) Reset(h *Header, data []byte) {
	*s = Scanner{header: h, data: data, fixed: 7, days: -1, gaps: s.gaps[:0]}
	for k, n := range fieldBytes {
		if h.InRow&(1<<k) != 0 {
			s.fixed += n
		}
	}
}

// Row returns the row of the last Scan. It is valid until the next.
func (s *Scanner) Row() *Row { return &s.row }

// Gaps returns what was left out so far, the first 20 of All of them.
func (s *Scanner) Gaps() (first []Gap, all int) { return s.gaps, s.nGaps }

// Scan goes to the next row. Where there is none it searches byte by byte for the
// next: a time of day, a day at most one away from that of the row before, and
// columns that the header has, in this row and the one after it. Rows that begin
// on any day are believed where four follow on each other.
func (s *Scanner) Scan() bool {
	if s.at >= len(s.data) {
		return false
	}
	if n := s.rows(s.at); n > 0 {
		if next := s.runsInto(n); next > 0 {
			s.gap(s.at, next, "a row whose values run into the next row")
			s.at = next
		}
		s.read()
		return true
	}
	from, what := s.at, s.failed
	for at := from + 1; at+s.fixed <= len(s.data); at++ {
		if s.rows(at) > 0 {
			s.gap(from, at, what)
			s.at = at
			s.read()
			return true
		}
	}
	s.gap(from, len(s.data), what)
	s.at = len(s.data)
	return false
}

func (s *Scanner) gap(from, to int, what string) {
	s.nGaps++
	if len(s.gaps) < maxGaps {
		s.gaps = append(s.gaps, Gap{Offset: int64(from), Length: int64(to - from), What: what})
	}
}

// rows returns how long the row at byte at is if rows can be believed to begin there, 0
// if not. Where the scanner stands one is enough; elsewhere two must follow on each other and on
// the row before, or four on each other alone: a pause of days is no damage.
func (s *Scanner) rows(at int) int {
	first, _, why := s.plausible(at, s.days)
	searching := at != s.at
	if first > 0 && !searching {
		return first
	}
	chain, day := 2, s.days
	if first == 0 || s.days < 0 {
		chain, day = 4, -1
	}
	length := 0
	for k, next := 0, at; k < chain; k++ {
		enough := k > 1 || k == 1 && (chain == 2 || s.days < 0)
		if next == len(s.data) && enough {
			return length // the file ends
		}
		n, d, bad := s.plausible(next, day)
		if n > 0 && searching && !s.sane(next) {
			n = 0
		}
		if n == 0 && bad == cut && enough {
			return length // inside the row
		}
		if n == 0 {
			s.failed = why
			return 0
		}
		if k == 0 {
			length = n
		}
		next, day = next+n, d
	}
	return length
}

// runsInto returns where in the row of n bytes at s.at other rows begin; 0 if nowhere,
// as it must be. That is asked only where no row follows.
func (s *Scanner) runsInto(n int) int {
	if s.at+n >= len(s.data) {
		return 0
	}
	day := int(binary.LittleEndian.Uint16(s.data[s.at+4:]))
	if m, _, why := s.plausible(s.at+n, day); m > 0 || why == cut && n == s.fixed {
		return 0
	}
	for at := s.at + s.fixed; at < s.at+n; at++ {
		if s.rows(at) > 0 {
			return at
		}
	}
	return 0
}

const cut = "the file ends inside a row"

// plausible returns how long the row at byte at is and its day, or 0 and why it
// is none. day is that of the row before, -1 = any.
func (s *Scanner) plausible(at, day int) (length, days int, why string) {
	d := s.data[at:]
	if len(d) < 6 {
		return 0, 0, cut
	}
	if ms := binary.LittleEndian.Uint32(d); ms > dayMs {
		return 0, 0, "a time of day beyond 24 hours"
	}
	days = int(binary.LittleEndian.Uint16(d[4:]))
	if day >= 0 && (days < day-1 || days > day+1) {
		return 0, 0, "a date that does not follow on the one before"
	}
	if len(d) < s.fixed {
		return 0, 0, cut
	}
	n := int(d[s.fixed-1])
	length = s.fixed + 5*n
	if len(d) < length {
		for k := s.fixed; k < len(d); k += 5 {
			if int(d[k]) >= len(s.header.Columns) {
				return 0, 0, beyond
			}
		}
		return 0, 0, cut
	}
	for k := s.fixed; k < length; k += 5 {
		if int(d[k]) >= len(s.header.Columns) {
			return 0, 0, beyond
		}
	}
	return length, days, ""
}

const beyond = "a column that the header does not have"

// sane reports whether the row at byte at has a position on the earth and a status and a
// time of day that there are. Bytes in the middle of a row may look like one, the GPS time
// in it above all; a terminal may well write a row without such a position.
func (s *Scanner) sane(at int) bool {
	d := s.data[at+6:]
	for k, n := range fieldBytes {
		f := Fields(1) << k
		if s.header.InRow&f == 0 {
			continue
		}
		switch f {
		case North:
			if v := int32(binary.LittleEndian.Uint32(d)); v > 90e7 || v < -90e7 {
				return false
			}
		case East:
			if v := int32(binary.LittleEndian.Uint32(d)); v > 180e7 || v < -180e7 {
				return false
			}
		case Status:
			if d[0] > 15 {
				return false
			}
		case GPSTime:
			if binary.LittleEndian.Uint32(d) > dayMs {
				return false
			}
		}
		d = d[n:]
	}
	return true
}

// read decodes the row at s.at, which is known to be whole, and steps over it.
func (s *Scanner) read() {
	d := s.data[s.at:]
	r := &s.row
	*r = s.header.Row
	r.Offset = int64(s.at)
	s.days = int(binary.LittleEndian.Uint16(d[4:]))
	r.TimeNs = int64(epochDays+s.days)*dayNs + int64(binary.LittleEndian.Uint32(d))*1_000_000
	k := 6
	in := s.header.InRow
	if in&North != 0 {
		r.North = int32(binary.LittleEndian.Uint32(d[k:]))
		k += 4
	}
	if in&East != 0 {
		r.East = int32(binary.LittleEndian.Uint32(d[k:]))
		k += 4
	}
	if in&Up != 0 {
		r.Up = int32(binary.LittleEndian.Uint32(d[k:]))
		k += 4
	}
	if in&Status != 0 {
		r.Status = d[k]
		k++
	}
	if in&PDOP != 0 {
		r.PDOP = binary.LittleEndian.Uint16(d[k:])
		k += 2
	}
	if in&HDOP != 0 {
		r.HDOP = binary.LittleEndian.Uint16(d[k:])
		k += 2
	}
	if in&Satellites != 0 {
		r.Satellites = d[k]
		k++
	}
	if in&GPSTime != 0 {
		r.GPSTimeMs = binary.LittleEndian.Uint32(d[k:])
		k += 4
	}
	if in&GPSDate != 0 {
		r.GPSDays = binary.LittleEndian.Uint16(d[k:])
		k += 2
	}
	n := int(d[k])
	k++
	for i := range n {
		s.values[i] = Value{Column: d[k], Value: int32(binary.LittleEndian.Uint32(d[k+1:]))}
		k += 5
	}
	r.Values = s.values[:n]
	s.at += k
}

// String says where the gap is and what was found.
func (g Gap) String() string {
	return fmt.Sprintf("byte %d: %s; %d bytes left out", g.Offset, g.What, g.Length)
}
