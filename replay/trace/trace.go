// Package trace reads recordings of a CAN bus, in whatever form a logger wrote
// them, as frames with their times. The form is told by the content.
package trace

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"go.einride.tech/can"
)

// Frame is one frame of a trace and when the logger saw it. It is a plain value
// of 32 bytes without pointers, made to be copied.
type Frame struct {
	// TimeNs is the logger's time in nanoseconds since 1970, of the clock that
	// Scanner.Clock tells, rounded to a microsecond: a bit on the bus lasts 4 µs,
	// and a trace that was turned into another form has stray nanoseconds.
	TimeNs int64
	can.Frame
	// Channel counts the buses of the trace from 0 in the order of their first
	// frame; Scanner.Channels has their names.
	Channel uint8
}

// Form is how a trace is written.
type Form uint8

const (
	Unknown       Form = iota
	CandumpLog         // text of can-utils, as candump -l and -L write it: (1666164652.190000) can0 09F8011C#CD74351F0DFCC904
	CandumpScreen      // text of can-utils, as candump shows it: can0  09F8011C   [8]  CD 74 35 1F 0D FC C9 04
	ASC                // text with a "date" and a "base" line
	TRC                // text with ;$FILEVERSION, versions 1.0 to 2.1
	BLF                // binary, begins with LOGG
	Pcap               // capture of SocketCAN
	Pcapng             // the same, next generation
)

var formNames = [...]string{"unknown", "candump log", "candump screen", "ASC", "TRC", "BLF", "pcap", "pcapng"}

// String returns the form in words, such as "candump log".
func (f Form) String() string {
	if int(f) < len(formNames) {
		return formNames[f]
	}
	return formNames[Unknown]
}

// Clock is what the times of a trace count.
type Clock uint8

const (
	NoClock   Clock = iota // the trace has no times: TimeNs is 0 throughout
	FromStart              // time since the logger started, or since an instant that the trace does not tell
	Local                  // the date and time of the logger's place, with no word on the zone: TimeNs is as if it were UTC
	UTC                    // Unix time
)

var clockNames = [...]string{"none", "from the start", "local, zone unknown", "UTC"}

// String returns the clock in words, such as "local, zone unknown".
func (c Clock) String() string {
	if int(c) < len(clockNames) {
		return clockNames[c]
	}
	return clockNames[NoClock]
}

// Counts is what a Scanner found.
type Counts struct {
	Frames    int64 // returned by Next: data and remote frames with identifiers of 11 and 29 bits
	FD        int64 // left out: frames of CAN FD or CAN XL, which neither NMEA 2000 nor ISO 11783 uses
	Errors    int64 // left out: error frames
	Other     int64 // left out: statistics, status, events and packets that are no frames
	Malformed int64 // left out: lines or records that cannot be read; the first of them are in Warnings
}

// Warning is something in a trace that was left out.
type Warning struct {
	Line   int64 // from 1; 0 in a binary form
	Offset int64 // bytes before it in the trace
	Text   string
}

// String returns the warning with its place.
func (w Warning) String() string {
	if w.Line > 0 {
		return fmt.Sprintf("line %d: %s", w.Line, w.Text)
	}
	return fmt.Sprintf("byte %d: %s", w.Offset, w.Text)
}

// mostWarnings is how many warnings are kept.
const mostWarnings = 20

// ErrForm is wrapped by Err where the data are no trace that Scanner reads.
var ErrForm = errors.New("not a CAN trace that can be read")

// ErrIncomplete is wrapped by Err where a trace ends before its end, as of a
// logger whose power went off. All frames before that were read.
var ErrIncomplete = errors.New("the CAN trace is incomplete")

// Scanner reads the frames of a trace one by one. It uses a fixed amount of
// memory, but for BLF and pcapng, whose blocks it holds one at a time, up to
// 16 MiB. It does not allocate while it reads.
//
// A line or record that cannot be read is left out, counted, and told in
// Warnings. Compressed traces are unpacked by the caller.
type Scanner struct {
	source
	frame    Frame
	form     Form
	version  string // of TRC
	clock    Clock
	counts   Counts
	warnings []Warning
	failure  error // of the trace itself
	next     func(*Scanner) bool

	channels []string
	last     int // index of the channel of the frame before
	numbered [256]uint8

	text   textState
	blf    blfState
	packet packetState
}

// NewScanner returns a Scanner that reads from r.
func NewScanner(r io.Reader) *Scanner {
	s := &Scanner{source: source{r: r, buf: make([]byte, blockBytes)}, next: (*Scanner).open}
	return s
}

// Next advances to the next frame. It returns false at the end of the trace, or
// when reading failed: Err then returns why.
func (s *Scanner) Next() bool { return s.next(s) }

// Frame returns the frame that Next advanced to.
func (s *Scanner) Frame() Frame { return s.frame }

// Form returns the form of the trace; Unknown before the first Next.
func (s *Scanner) Form() Form { return s.form }

// Version returns the version of the form where it has several (TRC, such as
// "2.1"), or "".
func (s *Scanner) Version() string { return s.version }

// Clock returns what the times count. It is known after the first Next.
func (s *Scanner) Clock() Clock { return s.clock }

// Channels returns the names of the buses so far, in the order of
// Frame.Channel.
func (s *Scanner) Channels() []string { return s.channels }

// Counts returns the counts so far.
func (s *Scanner) Counts() Counts { return s.counts }

// Warnings returns the first 20 warnings.
func (s *Scanner) Warnings() []Warning { return s.warnings }

// Err returns the error that ended the trace early, or nil. It wraps ErrForm or
// ErrIncomplete, or what the reader returned.
func (s *Scanner) Err() error {
	switch {
	case s.failure != nil:
		return s.failure
	case s.source.err == nil:
		return nil
	case s.form.text():
		return fmt.Errorf("reading %s after line %d: %w; the frames up to there were read", s.form, s.line, s.source.err)
	}
	return fmt.Errorf("reading %s after byte %d: %w; the frames up to there were read", s.form, s.at(), s.source.err)
}

// text reports whether the form has lines.
func (f Form) text() bool { return f >= CandumpLog && f <= TRC }

// ended ends the trace: Next returns false from here on.
func ended(*Scanner) bool { return false }

func (s *Scanner) fail(err error) bool {
	s.failure, s.next = err, ended
	return false
}

// malformed counts and tells a line or record that cannot be read. what takes
// no arguments where none are needed, so that nothing is allocated once enough
// has been told.
func (s *Scanner) malformed(offset int64, what string, found []byte) {
	s.counts.Malformed++
	if len(s.warnings) == mostWarnings {
		return
	}
	if found != nil {
		what = fmt.Sprintf("%.60q; expected %s", found, what)
	}
	w := Warning{Offset: offset, Text: what}
	if s.form.text() {
		w.Line = s.line
	}
	s.warnings = append(s.warnings, w)
}

// open tells the form by the first block and reads the first frame.
func (s *Scanner) open() bool {
	for s.end < len(s.buf) && s.more() {
	}
	if s.end == 0 {
		if s.source.err != nil {
			return s.fail(fmt.Errorf("reading a CAN trace: %w", s.source.err))
		}
		return s.fail(fmt.Errorf("%w: empty; expected %s", ErrForm, expected))
	}
	s.form = Detect(s.buf[:s.end])
	switch s.form {
	case CandumpLog, CandumpScreen:
		s.openCandump()
		s.next = (*Scanner).nextCandump
	case ASC:
		s.openASC()
		s.next = (*Scanner).nextASC
	case TRC:
		s.openTRC()
		s.next = (*Scanner).nextTRC
	case BLF:
		if !s.openBLF() {
			return false
		}
		s.next = (*Scanner).nextBLF
	case Pcap:
		if !s.openPcap() {
			return false
		}
		s.next = (*Scanner).nextPcap
	case Pcapng:
		s.clock = UTC
		s.next = (*Scanner).nextPcapng
	default:
		return s.fail(fmt.Errorf("%w: begins with %.40q; expected %s", ErrForm, s.buf[:min(s.end, 40)], expected))
	}
	return s.next(s)
}

const expected = "candump (log or screen), ASC, TRC, BLF, pcap or pcapng of SocketCAN"

// HeadBytes is how much of the start of a file Detect looks at.
const HeadBytes = 16 << 10

// Detect tells the form of a trace by the bytes it starts with, of which it
// looks at HeadBytes at most. It returns Unknown for anything that is no trace,
// such as NMEA 0183.
func Detect(head []byte) Form {
	head = head[:min(len(head), HeadBytes)]
	switch {
	case bytes.HasPrefix(head, []byte("LOGG")):
		return BLF
	case bytes.HasPrefix(head, []byte("\x0a\x0d\x0d\x0a")):
		return Pcapng
	}
	if _, _, ok := pcapMagic(head); ok {
		return Pcap
	}
	head = bytes.TrimPrefix(head, utf8Mark)
	whole := bytes.IndexByte(head, '\n') >= 0
	semicolons := false
	for lines := 0; lines < 200 && len(head) > 0; lines++ {
		line, rest, found := bytes.Cut(head, []byte("\n"))
		head = rest
		if !found && whole {
			break // perhaps cut by the end of the block
		}
		line = bytes.TrimSpace(line)
		var l candumpLine
		switch {
		case len(line) == 0, line[0] == '#':
		case line[0] == ';':
			if bytes.HasPrefix(line, []byte(";$FILEVERSION=")) {
				return TRC
			}
			semicolons = true
		case semicolons:
			if isTRC10(line) {
				return TRC
			}
			return Unknown
		case lines < 5 && isASCHead(line):
			return ASC
		case l.parseLog(line):
			return CandumpLog
		case l.parseScreen(line):
			return CandumpScreen
		}
	}
	return Unknown
}

var utf8Mark = []byte("\xef\xbb\xbf")

// channel sets the frame's channel by the name of its bus.
func (s *Scanner) channel(name []byte) {
	if s.last < len(s.channels) && string(name) == s.channels[s.last] {
		s.frame.Channel = uint8(s.last)
		return
	}
	for i, c := range s.channels {
		if string(name) == c {
			s.last = i
			s.frame.Channel = uint8(i)
			return
		}
	}
	if len(s.channels) < mostChannels {
		s.channels = append(s.channels, string(name))
	}
	s.last = len(s.channels) - 1
	s.frame.Channel = uint8(s.last)
}

// channelNumber is channel for a form that numbers its buses.
func (s *Scanner) channelNumber(n int) {
	if n < len(s.numbered) && s.numbered[n] > 0 {
		s.frame.Channel = s.numbered[n] - 1
		return
	}
	s.channel(fmt.Appendf(nil, "%d", n))
	if n < len(s.numbered) {
		s.numbered[n] = s.frame.Channel + 1
	}
}

// mostChannels is how many buses are told apart; frames of any beyond count to
// the last.
const mostChannels = 16
