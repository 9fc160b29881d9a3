// This file writes and reads the compact line, which holds the setpoints of all
// sections from a certain time on. It is a proprietary NMEA 0183 sentence, so
// any program that reads NMEA finds its start, end and checksum.

package wire

import (
	"errors"
	"fmt"
	"math"

	"liftbench/sections"
)

// ErrLine is wrapped by the errors of ParseLine.
var ErrLine = errors.New("not a line of work states")

const lineHead = "$PLBS,"

// AppendLine appends the compact line of s, with CR LF at its end:
//
//	$PLBS,17,24,1936274587.250000,00005555,FFFF0000*hh
//
// The fields are the sequence number, the number of sections, the time from
// which the state applies (UTC seconds since 1970, rounded down to 1 µs), and one
// word of eight hexadecimal digits for each 16 sections. hh is the checksum of
// NMEA 0183, the exclusive or of all bytes between $ and *.
func AppendLine(b []byte, s *State) []byte {
	start := len(b)
	b = append(b, lineHead...)
	b = appendUint(b, uint64(s.Seq), 1)
	b = append(b, ',')
	b = appendUint(b, uint64(s.Sections), 1)
	b = append(b, ',')
	us := uint64(max(s.DueNs, 0)) / 1000
	b = appendUint(b, us/1e6, 1)
	b = append(b, '.')
	b = appendUint(b, us%1e6, 6)
	for _, w := range s.Words[:words(s.Sections)] {
		b = append(b, ',')
		b = appendHex(b, w, 8)
	}
	sum := checksum(b[start+1:])
	b = append(b, '*')
	b = appendHex(b, uint32(sum), 2)
	return append(b, '\r', '\n')
}

// ParseLine parses a line, with or without its line end, into s. It accepts
// exactly the lines that AppendLine writes. Its errors wrap ErrLine, say what
// was found and what was expected, and leave s unchanged.
func ParseLine(line []byte, s *State) error {
	p := lineParser{rest: trimLineEnd(line)}
	got := p.line()
	if p.err != nil {
		return fmt.Errorf("%w: %w", ErrLine, p.err)
	}
	*s = got
	return nil
}

// lineParser parses a line field by field and keeps the first error.
type lineParser struct {
	rest []byte
	err  error
}

func (p *lineParser) fail(format string, args ...any) {
	if p.err == nil {
		p.err = fmt.Errorf(format, args...)
	}
	p.rest = nil
}

func (p *lineParser) line() (s State) {
	n := len(p.rest)
	if n < len(lineHead)+3 || string(p.rest[:len(lineHead)]) != lineHead {
		p.fail("%.12q; expected %s", p.rest, lineHead)
		return s
	}
	if p.rest[n-3] != '*' {
		p.fail("no checksum; expected * and two hexadecimal digits at the end")
		return s
	}
	body, sent := p.rest[1:n-3], p.rest[n-2:]
	if sum := checksum(body); sent[0] != hexDigits[sum>>4] || sent[1] != hexDigits[sum&15] {
		p.fail("checksum %q; expected %02X for this line", sent, sum)
		return s
	}
	p.rest = body[len(lineHead)-1:]
	s.Seq = uint32(p.number("sequence number", 0, math.MaxUint32))
	s.Sections = int(p.number("number of sections", 1, sections.MaxSections))
	s.DueNs = p.instant()
	count := words(s.Sections)
	for i := range s.Words {
		if i < count {
			s.Words[i] = p.word()
		} else {
			s.Words[i] = ^uint32(0)
		}
		if u := s.unused(i); p.err == nil && s.Words[i]&u != u {
			p.fail("word %d is %08X; expected 11 in the bits beyond section %d", i+1, s.Words[i], s.Sections)
		}
	}
	if len(p.rest) != 0 {
		p.fail("%q after the last word; expected %d words for %d sections", p.rest, count, s.Sections)
	}
	return s
}

// field returns the text up to the next comma and skips past it.
func (p *lineParser) field(what string) []byte {
	for i, c := range p.rest {
		if c == ',' {
			f := p.rest[:i]
			p.rest = p.rest[i+1:]
			return f
		}
	}
	f := p.rest
	p.rest = nil
	if len(f) == 0 {
		p.fail("no %s", what)
	}
	return f
}

func (p *lineParser) number(what string, low, high uint64) uint64 {
	f := p.field(what)
	v, ok := parseUint(f)
	if !ok || v < low || v > high {
		p.fail("%s %q; expected %d to %d", what, f, low, high)
	}
	return v
}

// lastSecond is the last second since 1970 that fits an int64 in nanoseconds.
const lastSecond = 9223372035

func (p *lineParser) instant() int64 {
	f := p.field("instant")
	point := len(f) - 7
	if point < 1 || f[point] != '.' {
		p.fail("instant %q; expected seconds since 1970 with six decimals", f)
		return 0
	}
	s, ok1 := parseUint(f[:point])
	us, ok2 := digits(f[point+1:])
	if !ok1 || !ok2 || s > lastSecond {
		p.fail("instant %q; expected seconds since 1970 with six decimals", f)
		return 0
	}
	return int64(s)*1e9 + int64(us)*1000
}

func (p *lineParser) word() uint32 {
	f := p.field("word")
	v, ok := parseHex(f)
	if !ok || len(f) != 8 {
		p.fail("word %q; expected eight hexadecimal digits", f)
	}
	return v
}

func checksum(b []byte) (sum byte) {
	for _, c := range b {
		sum ^= c
	}
	return sum
}

func trimLineEnd(b []byte) []byte {
	for n := len(b); n > 0 && (b[n-1] == '\n' || b[n-1] == '\r'); n-- {
		b = b[:n-1]
	}
	return b
}
