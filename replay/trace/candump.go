// This file reads the two text forms of candump (can-utils).
//
// The log form has a frame a line: the time in parentheses, the interface, the
// identifier with three (11 bits) or eight digits (29 bits), # and the data;
// R after # is a remote frame, a second # a frame of CAN FD, and the flag
// 0x20000000 in the identifier an error frame (linux/can.h). The direction R or T may
// follow.
//
// The screen form has an optional time, the interface, the identifier, the
// length in brackets, with two digits for CAN FD, and the bytes. An older
// candump wrote <0x18eeff01> [8] 05 …

package trace

import (
	"bytes"

	"go.einride.tech/can"
)

// The flags in an identifier of linux/can.h, also in captures of SocketCAN.
const (
	flagExtended = 1 << 31
	flagRemote   = 1 << 30
	flagError    = 1 << 29
)

// lineKind is what a line holds.
type lineKind uint8

const (
	dataLine lineKind = iota // a data or remote frame
	fdLine
	errorLine
)

// stampKind is what the time of a line is.
type stampKind uint8

const (
	noStamp    stampKind = iota
	smallStamp           // seconds from a start, or since the line before
	unixStamp
	dateStamp // local
)

// earliestUnixNs is 1973: less is no time since 1970.
const earliestUnixNs = 1e8 * 1e9

// candumpLine is what one line says. Its slices point into the line.
type candumpLine struct {
	stamp  stampKind
	timeNs int64
	clock  []byte // the time, without a date
	name   []byte
	id     []byte
	data   []byte // from its first byte
	spaced bool   // the bytes of the data stand apart
	kind   lineKind
	frame  can.Frame
}

// textState is what a text form carries from line to line.
type textState struct {
	candump candumpLine
	delta   bool  // times count from the line before
	sumNs   int64 // of such times
	startNs int64 // ASC, TRC: time of the start
	base    uint32
	columns []byte // TRC: one letter a column
	field   [24][]byte

	shapes         []shape
	latest, oldest int // of shapes: the last that was found or learnt; the first learnt, once there are many
}

// instant returns the time of a line whose own is ns.
func (s *Scanner) instant(ns int64) int64 {
	t := &s.text
	if t.delta {
		t.sumNs += ns
		ns = t.sumNs
	}
	return t.startNs + round(ns)
}

// openCandump looks at the times in the first block: those of candump -t d
// count from the frame before, so that some are less than the one before, and
// those of -t z from the first.
func (s *Scanner) openCandump() {
	head := s.buf[:s.end]
	if bytes.HasPrefix(head, utf8Mark) {
		s.pos = len(utf8Mark)
		head = head[s.pos:]
	}
	lastNs := int64(-1)
	for n := 0; len(head) > 0; n++ {
		line, rest, _ := bytes.Cut(head, []byte("\n"))
		head = rest
		var l candumpLine
		if !l.parse(bytes.TrimRight(line, "\r")) {
			continue
		}
		switch l.stamp {
		case unixStamp:
			s.clock = UTC
			return
		case dateStamp:
			s.clock = Local
			return
		case noStamp:
			return
		}
		s.clock = FromStart
		if l.timeNs < lastNs {
			s.text.delta = true
			return
		}
		lastNs = l.timeNs
	}
}

func (s *Scanner) nextCandump() bool {
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
		l := &s.text.candump
		if blank(line) {
			continue
		}
		if !l.parse(line) {
			s.malformed(offset, "a frame as candump writes it, such as (1666164652.190000) can0 09F8011C#CD74351F0DFCC904", line)
			continue
		}
		if s.clock == NoClock {
			l.timeNs, l.clock = 0, nil
		}
		timeNs := s.instant(l.timeNs)
		switch l.kind {
		case fdLine:
			s.counts.FD++
			continue
		case errorLine:
			s.counts.Errors++
			continue
		}
		s.frame.TimeNs = timeNs
		s.frame.Frame = l.frame
		s.channel(l.name)
		s.counts.Frames++
		s.learn(line, parts{time: l.clock, dated: l.stamp == dateStamp, wholeNs: 1e9, id: l.id, data: l.data, spaced: l.spaced}, l.timeNs)
		return true
	}
}

// blank reports whether a line is empty or a comment.
func blank(line []byte) bool {
	for _, c := range line {
		if c != ' ' && c != '\t' {
			return c == '#'
		}
	}
	return true
}

// ParseCandump reads one line of candump, without its end, in either form, into
// f; name is the interface and points into line. A line without a time leaves
// f.TimeNs 0. It reports whether the line is a data or remote frame; f.Channel
// stays as it is.
func ParseCandump(line []byte, f *Frame) (name []byte, ok bool) {
	var l candumpLine
	if !l.parse(line) || l.kind != dataLine {
		return nil, false
	}
	f.TimeNs, f.Frame = l.timeNs, l.frame
	return l.name, true
}

// AppendCandump appends a frame in the log form, with a line end: time, the name
// of the interface, identifier and data.
func AppendCandump(b []byte, name string, f *Frame) []byte {
	us := f.TimeNs / 1000
	b = append(b, '(')
	b = appendDecimal(b, us/1e6, 10)
	b = append(b, '.')
	b = appendDecimal(b, us%1e6, 6)
	b = append(b, ") "...)
	b = append(b, name...)
	b = append(b, ' ')
	digits := 3
	if f.IsExtended {
		digits = 8
	}
	for i := digits - 1; i >= 0; i-- {
		b = append(b, upperHex[f.ID>>(4*i)&15])
	}
	b = append(b, '#')
	if f.IsRemote {
		b = append(b, 'R', '0'+min(f.Length, 8))
	} else {
		for _, v := range f.Data[:min(f.Length, 8)] {
			b = append(b, upperHex[v>>4], upperHex[v&15])
		}
	}
	return append(b, '\n')
}

const upperHex = "0123456789ABCDEF"

// appendDecimal appends v with so many digits, at most 20.
func appendDecimal(b []byte, v int64, digits int) []byte {
	var text [20]byte
	for i := range digits {
		text[digits-1-i] = byte('0' + v%10)
		v /= 10
	}
	return append(b, text[:digits]...)
}

func (l *candumpLine) parse(line []byte) bool {
	return l.parseLog(line) || l.parseScreen(line)
}

// parseLog reads a line of the log form.
func (l *candumpLine) parseLog(line []byte) bool {
	var f [4][]byte
	rest, ok := l.parseStamp(line)
	if !ok || l.stamp == noStamp {
		return false
	}
	n := fields(rest, f[:])
	if n < 2 || n > 3 {
		return false
	}
	mark := bytes.IndexByte(f[1], '#')
	if mark < 0 {
		return false
	}
	l.name = f[0]
	if !l.identifier(f[1][:mark]) {
		return false
	}
	data := f[1][mark+1:]
	l.data, l.spaced = data, false
	switch {
	case len(data) > 0 && data[0] == '#', len(data) > 2 && data[0] == 'X':
		l.kind = fdLine
		return true
	case len(data) > 0 && (data[0] == 'R' || data[0] == 'r'):
		l.frame.IsRemote = true
		if len(data) > 1 {
			v := data[1] - '0'
			if v > 8 {
				return false
			}
			l.frame.Length = v
		}
		return true
	}
	if i := bytes.IndexByte(data, '_'); i >= 0 {
		data = data[:i] // the length code of a frame of 8 bytes follows
	}
	if len(data)%2 != 0 || len(data) > 16 {
		return false
	}
	for i := 0; i < len(data); i += 2 {
		v, ok := hexByte(data[i], data[i+1])
		if !ok {
			return false
		}
		l.frame.Data[i/2] = v
	}
	l.frame.Length = uint8(len(data) / 2)
	return true
}

// identifier reads three or eight digits and sets the frame but for its data.
func (l *candumpLine) identifier(b []byte) bool {
	id, ok := number(b, 16)
	if !ok || len(b) != 3 && len(b) != 8 || id&^(flagError|can.MaxExtendedID) != 0 {
		return false
	}
	l.id = b
	l.kind = dataLine
	if id&flagError != 0 {
		l.kind = errorLine
	}
	l.frame = can.Frame{ID: id & can.MaxExtendedID, IsExtended: len(b) == 8}
	return l.frame.IsExtended || id <= can.MaxID
}

// parseScreen reads a line of the screen form.
func (l *candumpLine) parseScreen(line []byte) bool {
	var f [16][]byte
	rest, ok := l.parseStamp(line)
	if !ok {
		return false
	}
	n := fields(rest, f[:])
	if n < 2 {
		return false
	}
	i := 0
	if id, ok := bytes.CutPrefix(f[0], []byte("<0x")); ok {
		id, ok = bytes.CutSuffix(id, []byte(">"))
		if !ok || !l.identifier(id) {
			return false
		}
		l.name, i = nil, 1
	} else {
		// candump -x puts the direction and two flags between interface and
		// identifier.
		i = 1
		if n > 5 && (string(f[1]) == "RX" || string(f[1]) == "TX") {
			i = 4
		}
		if i >= n || !l.identifier(f[i]) {
			return false
		}
		l.name = f[0]
		i++
	}
	if i >= n {
		return false
	}
	length := f[i]
	i++
	if len(length) == 4 && length[0] == '[' && length[3] == ']' {
		l.kind = fdLine
		return true
	}
	if len(length) != 3 || length[0] != '[' || length[2] != ']' || length[1]-'0' > 8 {
		return false
	}
	l.frame.Length = length[1] - '0'
	if i < n && (string(f[i]) == "remote") {
		l.frame.IsRemote = true
		return true
	}
	l.data, l.spaced = nil, true
	if i < n {
		l.data = f[i]
	}
	for k := range l.frame.Length {
		if i >= n || len(f[i]) != 2 {
			return false
		}
		v, ok := hexByte(f[i][0], f[i][1])
		if !ok {
			return false
		}
		l.frame.Data[k] = v
		i++
	}
	return true
}

// parseStamp reads the time in parentheses at the start of a line, if there is
// one, and returns the rest of the line.
func (l *candumpLine) parseStamp(line []byte) (rest []byte, ok bool) {
	l.stamp, l.timeNs, l.clock = noStamp, 0, nil
	i := 0
	for i < len(line) && (line[i] == ' ' || line[i] == '\t') {
		i++
	}
	if i == len(line) || line[i] != '(' {
		return line, true
	}
	end := bytes.IndexByte(line[i:], ')')
	if end < 0 {
		return nil, false
	}
	text := line[i+1 : i+end]
	rest = line[i+end+1:]
	if day, clock, found := bytes.Cut(text, []byte(" ")); found {
		l.timeNs, ok = isoTime(day, clock)
		l.stamp, l.clock = dateStamp, clock
		return rest, ok
	}
	l.clock = text
	l.timeNs, ok = scaled(text)
	l.stamp = smallStamp
	if l.timeNs >= earliestUnixNs {
		l.stamp = unixStamp
	}
	return rest, ok
}
