// This file reads TRC: a text whose comments tell its version and what its
// columns are, and an event a line, such as in version 1.1
//
//	1)     17535.4  Rx     09F8011C  8  CD 74 35 1F 0D FC C9 04
//
// The time is in milliseconds from ;$STARTTIME, days since 1899-12-30 by the
// logger's place. An identifier of up to four digits has 11 bits.

package trace

import (
	"bytes"
	"fmt"
	"time"

	"go.einride.tech/can"
)

// The columns of each version as its own header draws them; those of 2.0 and 2.1
// stand in ;$COLUMNS. N number, O time, B bus, I identifier, d direction, R
// reserved, L or l length, D data, T type of 2.x, t type or direction of 1.x.
var columnsTRC = map[string]string{
	"1.0": "NOIlD",
	"1.1": "NOtIlD",
	"1.2": "NOBtIlD",
	"1.3": "NOBtIRlD",
	"2.0": "NOTIdlD",
	"2.1": "NOTBIdRLD",
}

// isTRC10 reports whether a trimmed line behind comments is an event of version
// 1.0, whose header need not tell the version.
func isTRC10(line []byte) bool {
	var f [4][]byte
	if fields(line, f[:]) < 4 {
		return false
	}
	n, ok := bytes.CutSuffix(f[0], []byte(")"))
	_, isNumber := number(n, 10)
	_, isTime := scaled(f[1])
	return ok && isNumber && isTime
}

func (s *Scanner) openTRC() {
	s.clock = FromStart
	s.version = "1.0"
	s.text.columns = []byte(columnsTRC["1.0"])
	if bytes.HasPrefix(s.buf[:s.end], utf8Mark) {
		s.pos = len(utf8Mark)
	}
}

func (s *Scanner) nextTRC() bool {
	for {
		if s.likeBefore() {
			return true
		}
		offset := s.at()
		line, ok := s.nextLine()
		if !ok {
			s.next = ended
			return false
		}
		switch {
		case blank(line):
			continue
		case line[0] == ';':
			if !s.headTRC(line) {
				return false
			}
			continue
		}
		switch s.frameTRC(line) {
		case eventFrame:
			s.counts.Frames++
			return true
		case eventFD:
			s.counts.FD++
		case eventError:
			s.counts.Errors++
		case eventOther:
			s.counts.Other++
		default:
			s.malformed(offset, "the columns of TRC "+s.version, line)
		}
	}
}

// headTRC takes what a comment says.
func (s *Scanner) headTRC(line []byte) bool {
	s.text.shapes = s.text.shapes[:0]
	line = bytes.TrimSpace(line[1:])
	key, value, _ := bytes.Cut(line, []byte("="))
	switch string(key) {
	case "$FILEVERSION":
		s.version = string(bytes.TrimSpace(value))
		columns, ok := columnsTRC[s.version]
		if !ok {
			return s.fail(fmt.Errorf("%w: TRC of version %.20q; expected 1.0, 1.1, 1.2, 1.3, 2.0 or 2.1", ErrForm, s.version))
		}
		s.text.columns = []byte(columns)
	case "$STARTTIME":
		if ns, ok := dayNumber(bytes.TrimSpace(value)); ok {
			s.text.startNs = ns
			s.clock = Local
		}
	case "$COLUMNS":
		columns := bytes.ReplaceAll(value, []byte(","), nil)
		columns = bytes.ReplaceAll(columns, []byte(" "), nil)
		if i := bytes.IndexByte(columns, 'D'); bytes.IndexByte(columns, 'O') < 0 || bytes.IndexByte(columns, 'I') < 0 || i < 0 || i+1 < len(columns) || len(columns) > 12 {
			return s.fail(fmt.Errorf("%w: TRC with columns %.40q; expected O (time), I (identifier) and D (data) among them, D at the end", ErrForm, value))
		}
		s.text.columns = append([]byte(nil), columns...)
	default:
		if text, ok := bytes.CutPrefix(line, []byte("Start time: ")); ok && s.clock == FromStart {
			if ns, ok := pointDate(text); ok {
				s.text.startNs = ns
				s.clock = Local
			}
		}
	}
	return true
}

// event is what a line of TRC holds.
type event uint8

const (
	eventMalformed event = iota
	eventFrame
	eventFD
	eventError
	eventOther
)

func (s *Scanner) frameTRC(line []byte) event {
	t := &s.text
	f := t.field[:fields(line, t.field[:])]
	fr := can.Frame{}
	p := parts{wholeNs: 1e6, spaced: true}
	ns := int64(0)
	bus, remote, length := uint32(1), false, -1
	for i, c := range t.columns {
		if i >= len(f) {
			if c != 'D' || length > 0 && !remote || length < 0 {
				return eventMalformed
			}
			break
		}
		w := f[i]
		switch c {
		case 'N':
			p.number = bytes.TrimSuffix(w, []byte(")"))
		case 'O':
			if _, ok := scaled(w); !ok {
				return eventMalformed
			}
			ns = milliseconds(w)
			p.time = w
		case 'T':
			switch string(w) {
			case "DT":
			case "RR":
				remote = true
			case "FD", "FB", "FE", "BI":
				return eventFD
			case "ER":
				return eventError
			default:
				return eventOther
			}
		case 't':
			switch string(w) {
			case "Rx", "Tx":
			case "Error":
				return eventError
			default:
				return eventOther
			}
		case 'B':
			bus, _ = number(w, 10)
		case 'I':
			id, ok := number(w, 16)
			if !ok {
				return eventMalformed
			}
			if id == 0xFFFFFFFF {
				return eventOther
			}
			p.id = w
			fr.ID, fr.IsExtended = id, len(w) > 4
			if id > can.MaxExtendedID || !fr.IsExtended && id > can.MaxID {
				return eventMalformed
			}
		case 'l', 'L':
			n, ok := number(w, 10)
			if !ok || n > 15 {
				return eventMalformed
			}
			length = int(min(n, 8))
			fr.Length = uint8(length)
		case 'D':
			if remote || string(w) == "RTR" {
				remote = true
				break
			}
			if length < 0 || len(f) < i+length {
				return eventMalformed
			}
			p.data = w
			for k := range length {
				w := f[i+k]
				if len(w) != 2 {
					return eventMalformed
				}
				v, ok := hexByte(w[0], w[1])
				if !ok {
					return eventMalformed
				}
				fr.Data[k] = v
			}
		}
	}
	fr.IsRemote = remote
	s.frame.TimeNs = s.instant(ns)
	s.frame.Frame = fr
	s.channelNumber(int(bus))
	s.learn(line, p, ns)
	return eventFrame
}

// milliseconds returns a decimal number of milliseconds, which scaled has
// accepted, in nanoseconds.
func milliseconds(w []byte) int64 {
	whole, fraction, _ := bytes.Cut(w, []byte("."))
	v := int64(0)
	for _, c := range whole {
		v = v*10 + int64(c-'0')
	}
	v *= 1e6
	scale := int64(1e5)
	for _, c := range fraction {
		v += int64(c-'0') * scale
		scale /= 10
	}
	return v
}

// dayNumber returns a decimal number of days since 1899-12-30 in nanoseconds
// since 1970. Loggers write ten decimals, steps of 8.64 µs, for an instant in
// tenths of a millisecond: it is rounded to those.
func dayNumber(b []byte) (int64, bool) {
	whole, fraction, _ := bytes.Cut(b, []byte("."))
	days, ok := number(whole, 10)
	if !ok || days > 120000 || len(fraction) > 15 {
		return 0, false
	}
	part, scale := uint64(0), uint64(1)
	for _, c := range fraction {
		if c-'0' > 9 {
			return 0, false
		}
		part = part*10 + uint64(c-'0')
		scale *= 10
	}
	const tenthsPerDay = 86400 * 1e4
	tenths := (mulDiv(part, tenthsPerDay*10, scale) + 5) / 10
	return (int64(days)-daysTo1970)*86400*1e9 + int64(tenths)*1e5, true
}

// daysTo1970 is 1970-01-01 less 1899-12-30.
const daysTo1970 = 25569

// pointDate returns a date such as 18.12.2021 14:28:07.062 in nanoseconds since
// 1970.
func pointDate(b []byte) (int64, bool) {
	day, clock, ok := bytes.Cut(b, []byte(" "))
	var n [3]uint32
	for i := range n {
		var part []byte
		var partOK bool
		part, day, _ = bytes.Cut(day, []byte("."))
		n[i], partOK = number(part, 10)
		ok = ok && partOK
	}
	if i := bytes.IndexByte(clock, '.'); i >= 0 {
		if k := bytes.IndexByte(clock[i+1:], '.'); k >= 0 {
			// 07.062.1: milliseconds and tenths of them
			clock = append(append([]byte(nil), clock[:i+1+k]...), clock[i+2+k:]...)
		}
	}
	if !ok {
		return 0, false
	}
	return dateTime(int(n[2]), time.Month(n[1]), int(n[0]), clock, 0)
}
