// This file reads ASC: a text with a line "date Wed Oct 19 07:30:52 2022", a line
// "base hex  timestamps absolute", and an event a line:
//
//	3.098426 1  18EBFF00x       Rx   d 8 01 A0 00 A6 00 FF FF FF
//
// time in seconds, bus, identifier (x: 29 bits), direction, d (data) or r
// (remote), length, bytes. "Begin Triggerblock" with a date starts the time
// anew. The date is that of the logger's place. Descriptions of the form are
// not public; what is read follows files of several loggers, and tests compare
// it with python-can and can-utils.

package trace

import (
	"bytes"

	"go.einride.tech/can"
)

// isASCHead reports whether a trimmed line is one of the first two.
func isASCHead(line []byte) bool {
	var f [8][]byte
	n := fields(line, f[:])
	if n < 2 {
		return false
	}
	if bytes.EqualFold(f[0], []byte("base")) {
		return bytes.EqualFold(f[1], []byte("hex")) || bytes.EqualFold(f[1], []byte("dec"))
	}
	_, ok := wordDate(f[1:n])
	return ok && bytes.EqualFold(f[0], []byte("date"))
}

func (s *Scanner) openASC() {
	s.clock = FromStart
	s.text.base = 16
	if bytes.HasPrefix(s.buf[:s.end], utf8Mark) {
		s.pos = len(utf8Mark)
	}
}

func (s *Scanner) nextASC() bool {
	t := &s.text
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
		f := t.field[:fields(line, t.field[:])]
		if len(f) == 0 {
			continue
		}
		ns, ok := scaled(f[0])
		if !ok {
			s.headASC(f)
			continue
		}
		timeNs := s.instant(ns)
		if len(f) < 3 {
			s.counts.Other++
			continue
		}
		bus, numbered := number(f[1], 10)
		switch {
		case !numbered && bytes.EqualFold(f[1], []byte("CANFD")):
			if hasWord(f[2:], "ErrorFrame") {
				s.counts.Errors++
			} else {
				s.counts.FD++
			}
			continue
		case numbered && bytes.EqualFold(f[2], []byte("ErrorFrame")):
			s.counts.Errors++
			continue
		case !numbered || len(f) < 5 || string(f[3]) != "Rx" && string(f[3]) != "Tx":
			s.counts.Other++
			continue
		}
		s.frame.TimeNs = timeNs
		if len(f) > 5 && string(f[4]) == "d" {
			if n, ok := number(f[5], t.base); ok && n > 15 {
				s.counts.FD++
				continue
			}
		}
		if !s.frameASC(f, t.base) {
			s.malformed(offset, "time, bus, identifier, Rx or Tx, d, length and as many bytes", line)
			continue
		}
		s.channelNumber(int(bus))
		s.counts.Frames++
		if t.base == 16 {
			p := parts{time: f[0], wholeNs: 1e9, id: bytes.TrimSuffix(f[2], []byte("x")), spaced: true}
			if len(f) > 6 {
				p.data = f[6]
			}
			s.learn(line, p, ns)
		}
		return true
	}
}

// frameASC reads a frame from the third field on.
func (s *Scanner) frameASC(f [][]byte, base uint32) bool {
	id, extended := bytes.CutSuffix(f[2], []byte("x"))
	v, ok := number(id, base)
	s.frame.Frame = can.Frame{ID: v, IsExtended: extended}
	if !ok || v > can.MaxExtendedID || !extended && v > can.MaxID {
		return false
	}
	switch string(f[4]) {
	case "r", "R":
		s.frame.IsRemote = true
		if len(f) > 5 {
			if n, ok := number(f[5], base); ok && n <= 8 {
				s.frame.Length = uint8(n)
			}
		}
		return true
	case "d", "D":
	default:
		return false
	}
	if len(f) < 6 {
		return false
	}
	n, ok := number(f[5], base)
	if !ok || n > 15 {
		return false
	}
	n = min(n, 8) // length codes above 8 mean 8 bytes
	if len(f) < 6+int(n) {
		return false
	}
	s.frame.Length = uint8(n)
	for i := range int(n) {
		b, ok := number(f[6+i], base)
		if !ok || b > 255 {
			return false
		}
		s.frame.Data[i] = byte(b)
	}
	return true
}

// headASC takes what a line without a time says about those with one.
func (s *Scanner) headASC(f [][]byte) {
	t := &s.text
	switch {
	case bytes.EqualFold(f[0], []byte("base")):
		t.base = 16
		if hasWord(f, "dec") {
			t.base = 10
		}
		t.delta = hasWord(f, "relative")
		t.shapes = t.shapes[:0]
	case bytes.EqualFold(f[0], []byte("date")):
		s.startASC(f[1:])
	case bytes.EqualFold(f[0], []byte("begin")) && len(f) > 2 && bytes.EqualFold(f[1], []byte("triggerblock")):
		s.startASC(f[2:])
	}
}

func (s *Scanner) startASC(date [][]byte) {
	if ns, ok := wordDate(date); ok {
		s.text.startNs, s.text.sumNs = ns, 0
		s.clock = Local
	}
}

// hasWord reports whether a word is among f, in any case.
func hasWord(f [][]byte, word string) bool {
	for _, w := range f {
		if bytes.EqualFold(w, []byte(word)) {
			return true
		}
	}
	return false
}
