// This file reads lines of the text forms that look like one before them. Where
// a line differs from an earlier one only in digits, those of its time, its
// identifier, its data and, in TRC, its number, it says the same in the same
// places. So the first line of each kind is taken apart word by word, which
// teaches a shape: which characters stay, and where the digits are. Lines of that
// shape are read eight characters at a time, without looking for where words
// begin; TestLikeTheFirst and the fuzz targets compare the two ways.

package trace

import (
	"bytes"
	"encoding/binary"

	"go.einride.tech/can"
)

const (
	// mostShapes is how many shapes are known at a time. Lengths of data and
	// identifiers, buses and directions make several of them.
	mostShapes = 16
	// mostShapeBytes is how long a line of a shape is at most, up to the end of its
	// data.
	mostShapeBytes = 120
	// windowBytes is how much must be there to compare a line with a shape: eight
	// characters from any offset that a byte can hold.
	windowBytes = 256 + 8
	// mostRestBytes is how far a line of a shape may go on behind its data.
	mostRestBytes = 4096
)

// window is the start of a line, and what follows it.
type window = [windowBytes]byte

// shape is what lines that are the same but for digits have in common.
type shape struct {
	words, bytes int                        // of what stays or is digits: to the line end, or to the blank behind the data
	goesOn       bool                       // behind that blank stands anything, up to the line end
	same, stays  [mostShapeBytes / 8]uint64 // the characters that stay, and a mask of them
	number       digitsAt                   // of the line
	high, low    digitsAt                   // the whole of the time: its last eight digits are low
	part         digitsAt                   // its decimals
	wholeNs      int64                      // what the last digit of the whole counts
	partNs       int64                      // what the last of the decimals counts
	baseNs       int64                      // what is neither, that of a date
	id           digitsAt
	extended     bool
	spaced       bool      // a blank stands between the bytes of the data
	dataAt       [3]uint8  // where three, or without blanks four bytes of data begin
	keep         [3]uint64 // a mask of their digits
	length       uint8
	channel      uint8
}

// parts is where the parts of a line stand in which a line like it may differ.
type parts struct {
	number, time, id []byte
	data             []byte // from the first byte on; any where there is none
	dated            bool   // the decimals alone may differ in time
	spaced           bool
	wholeNs          int64
}

// learn keeps the shape of a line that holds the scanner's frame; timeNs is what
// the line itself says of the time. The parts are parts of the line.
func (s *Scanner) learn(line []byte, p parts, timeNs int64) {
	f := &s.frame
	sh := shape{extended: f.IsExtended, spaced: p.spaced, length: f.Length, channel: f.Channel, wholeNs: p.wholeNs}
	whole, decimals, _ := bytes.Cut(p.time, []byte("."))
	if p.dated {
		whole = nil
	}
	between, characters := 8, 2*int(f.Length)
	if p.spaced {
		between, characters = 9, max(3*int(f.Length)-1, 0)
	}
	dataAt, end := offset(line, p.data), len(line)
	if characters == 0 {
		dataAt = 0
	} else if p.spaced {
		end = dataAt + characters
	}
	if f.IsRemote || end > len(line) || end+2 > mostShapeBytes ||
		len(p.number) > 8 || len(p.id) > 8 || len(whole) > 16 || len(decimals) >= len(powersOf10) {
		return
	}

	// Behind the data, or at the end of the line.
	sh.bytes = end
	rest := line[end:cap(line)]
	switch {
	case end < len(line) && rest[0] == ' ':
		sh.goesOn = true
		sh.bytes++
	case end < len(line):
		return
	case len(rest) > 0 && rest[0] == '\n':
		sh.bytes++
	case len(rest) > 1 && rest[0] == '\r' && rest[1] == '\n':
		sh.bytes += 2
	default:
		return
	}

	early := max(len(whole)-8, 0)
	sh.number = digitsOf(line, p.number)
	sh.high, sh.low = digitsOf(line, whole[:early]), digitsOf(line, whole[early:])
	sh.part = digitsOf(line, decimals)
	sh.partNs = p.wholeNs / powersOf10[len(decimals)]
	sh.id = digitsOf(line, p.id)
	var w window
	copy(w[:], line[:sh.bytes:cap(line)])
	stays := window{}
	for i := range sh.bytes {
		stays[i] = 0xFF
	}
	for _, d := range []digitsAt{sh.number, sh.high, sh.low, sh.part, sh.id} {
		clear(stays[d.at:][:8-d.shift/8])
	}
	for i := range sh.keep {
		n := min(max(characters-between*i, 0), 8)
		sh.keep[i] = uint64(1)<<(8*n) - 1
		if p.spaced {
			sh.keep[i] &^= 0xFF<<16 | 0xFF<<40
		}
		sh.dataAt[i] = uint8(dataAt + between*i)
	}
	for i := range characters {
		if !p.spaced || i%3 != 2 {
			stays[dataAt+i] = 0
		}
	}
	sh.words = (sh.bytes + 7) / 8
	for i := range sh.words {
		sh.stays[i] = load(stays[8*i:])
		sh.same[i] = load(w[8*i:]) & sh.stays[i]
	}

	// What it makes of this line is the frame, or it is none.
	var got Frame
	ok := sh.read(&w, &got)
	if p.dated {
		sh.baseNs, got.TimeNs = timeNs-got.TimeNs, timeNs
	}
	if !ok || got != (Frame{TimeNs: timeNs, Frame: f.Frame, Channel: f.Channel}) {
		return
	}
	t := &s.text
	t.latest = len(t.shapes)
	if t.latest == mostShapes {
		t.latest, t.oldest = t.oldest, (t.oldest+1)%mostShapes
	} else {
		t.shapes = append(t.shapes, shape{})
	}
	t.shapes[t.latest] = sh
}

// offset returns where part begins in line, of which it is a part.
func offset(line, part []byte) int {
	if part == nil {
		return 0
	}
	return cap(line) - cap(part)
}

// likeBefore reads a line of a shape that is known.
func (s *Scanner) likeBefore() bool {
	if s.end-s.pos < windowBytes && (!s.more() || s.end-s.pos < windowBytes) {
		return false
	}
	w := (*window)(s.buf[s.pos:])
	t := &s.text
	at := t.latest
	for range t.shapes {
		if sh := &t.shapes[at]; sh.fits(w) {
			n := sh.bytes
			if sh.goesOn {
				rest := s.buf[s.pos+n : min(s.end, s.pos+n+mostRestBytes)]
				end := bytes.IndexByte(rest, '\n')
				if end < 0 {
					return false
				}
				n += end + 1
			}
			if !sh.read(w, &s.frame) {
				return false
			}
			s.pos += n
			s.line++
			s.counts.Frames++
			s.frame.TimeNs = s.instant(s.frame.TimeNs)
			t.latest = at
			return true
		}
		if at++; at == len(t.shapes) {
			at = 0
		}
	}
	return false
}

// fits reports whether the characters stand in the line that stay in the shape.
func (sh *shape) fits(w *window) bool {
	for i := range sh.words {
		if load(w[8*i:])&sh.stays[i] != sh.same[i] {
			return false
		}
	}
	return true
}

// read reads a line that fits into f, with the time that the line itself says,
// and reports whether digits stand where they should and are an identifier;
// else f stays as it is.
func (sh *shape) read(w *window, f *Frame) bool {
	whole, bad := sh.low.decimal(w)
	if sh.high.need != 0 {
		high, no := sh.high.decimal(w)
		whole += high * 1e8
		bad |= no
	}
	part, no := sh.part.decimal(w)
	bad |= no
	if sh.number.need != 0 {
		_, no := sh.number.decimal(w)
		bad |= no
	}
	id, no := sh.id.hexadecimal(w)
	bad |= no

	var data uint64
	if sh.spaced {
		for i, at := range sh.dataAt {
			x, class := nibbles(load(w[at:])&sh.keep[i] | '0'*everyByte&^sh.keep[i])
			bad |= topBits &^ class
			x = x<<4 | x>>8 // the three bytes in bytes 0, 3 and 6
			data |= (x&0xFF | x>>16&0xFF00 | x>>32&0xFF0000) << (24 * i)
		}
	} else {
		for i, at := range sh.dataAt[:2] {
			x, class := nibbles(load(w[at:])&sh.keep[i] | '0'*everyByte&^sh.keep[i])
			bad |= topBits &^ class
			data |= uint64(packed(x)) << (32 * i)
		}
	}
	if bad != 0 || id > can.MaxID && (!sh.extended || id > can.MaxExtendedID) || whole >= mostSeconds {
		return false
	}
	f.TimeNs = sh.baseNs + whole*sh.wholeNs + part*sh.partNs
	f.ID, f.Length, f.IsExtended, f.IsRemote, f.Channel = id, sh.length, sh.extended, false, sh.channel
	binary.LittleEndian.PutUint64(f.Data[:], data)
	return true
}
