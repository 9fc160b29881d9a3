// The scanner finds sentences in a stream of bytes, whatever else is in it, and
// checks their checksums.

package nmea

import (
	"bytes"
	"compress/flate"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
)

const (
	// maxSentence is the greatest length of a sentence with its checksum. NMEA
	// 0183 allows 82 characters, but receivers that send many decimals exceed
	// that, and so do proprietary sentences.
	maxSentence = 1024
	// blockSize is how many bytes are read at once and kept at most.
	blockSize = 64 << 10
	// loadPad is how many bytes sumText may load beyond a sentence.
	loadPad = 8
)

// Counts is what a Scanner found in its stream.
type Counts struct {
	Sentences   int64 // with a good checksum: those that Scan stopped at
	BadChecksum int64 // dropped: the checksum is not that of the text
	NoChecksum  int64 // dropped: the line ends without a checksum
	Cut         int64 // dropped: cut short by another sentence, by a byte that no sentence may have, or by the end of the stream
	Overlong    int64 // dropped: no end within 1024 characters
	BadTagBlock int64 // tag blocks that are cut short or have a wrong checksum
	Comments    int64 // lines that start with #
	// SkippedBytes is how many bytes belong to none of these: a good sentence,
	// its tag block, its host time, a line end, a comment. They are binary
	// frames, other text, and all that was dropped.
	SkippedBytes int64
}

// Scanner finds the NMEA sentences in a stream of bytes. Between them there may
// be anything: UBX and RTCM frames, half a sentence, NUL bytes, text. Use it
// like a bufio.Scanner.
//
// A sentence starts with $ or ! and ends with its checksum. Scan stops at it as
// soon as the last digit of the checksum has been read, so that a live stream is
// not delayed; the line may end with CR LF, LF, CR or not at all. A sentence
// without a checksum is dropped. A stream that starts with the first three bytes
// of gzip data is decompressed.
//
// A Scanner uses a fixed amount of memory and does not allocate while it scans.
type Scanner struct {
	// Clock, if set, returns the host's time in nanoseconds since 1970. It is
	// called after each read, and gives the sentences in what was read their
	// arrival time, in place of any in the stream. Set it on live streams.
	Clock func() int64

	src    io.Reader
	buf    []byte // of blockSize + loadPad bytes
	pos    int    // index of the next byte to look at
	end    int    // index of the end of what was read
	opened bool
	ended  bool // there is nothing more to read
	err    error

	lineEnds  int64 // line ends passed
	afterCR   bool  // the last byte was CR, so that an LF belongs to the same line end
	lineStart bool  // since the line end there were only blanks
	inComment bool

	sentence []byte
	line     int64 // on which the sentence starts
	hostNs   int64 // time at the start of this line
	tagNs    int64 // time of the tag block on this line
	readNs   int64 // Clock after the last read
	counts   Counts
}

// NewScanner returns a Scanner that reads from r.
func NewScanner(r io.Reader) *Scanner {
	return &Scanner{src: r, buf: make([]byte, blockSize+loadPad), lineStart: true}
}

// Bytes returns the sentence, from its $ or ! to the last digit of its checksum.
// It is valid until the next Scan.
func (s *Scanner) Bytes() []byte { return s.sentence }

// ArrivalNs returns when the sentence arrived by the host's clock, in
// nanoseconds since 1970. It is the first of these that there is: the time from
// Clock, the time at the start of the line, the time of the tag block; otherwise
// 0.
func (s *Scanner) ArrivalNs() int64 {
	switch {
	case s.readNs != 0:
		return s.readNs
	case s.hostNs != 0:
		return s.hostNs
	}
	return s.tagNs
}

// Line returns the number of the line, from 1, on which the sentence starts.
func (s *Scanner) Line() int64 { return s.line }

// Counts returns the counts so far.
func (s *Scanner) Counts() Counts { return s.counts }

// ErrIncomplete is what Err wraps where compressed data end before their end, as
// of a logger whose power went off, or are damaged, as on a worn memory card.
var ErrIncomplete = errors.New("gzip data is incomplete")

// incomplete is an ErrIncomplete that says what is wrong and after which line.
type incomplete struct {
	what, how string
	line      int64
	cause     error
}

func (e *incomplete) Error() string {
	return fmt.Sprintf("gzip data is %s after line %d, %s; the sentences up to there were read", e.what, e.line, e.how)
}

func (e *incomplete) Unwrap() []error { return []error{ErrIncomplete, e.cause} }

// Err returns the error that ended the stream early, or nil. All sentences before
// it have been scanned.
func (s *Scanner) Err() error {
	switch {
	case s.err == nil:
		return nil
	case errors.Is(s.err, io.ErrUnexpectedEOF): // also of a stream that the caller unpacks
		return &incomplete{"cut short", "as when the power went off", s.lineEnds, s.err}
	case errors.Is(s.err, gzip.ErrChecksum), errors.Is(s.err, gzip.ErrHeader), errors.As(s.err, new(flate.CorruptInputError)):
		return &incomplete{"damaged", "as on a worn memory card", s.lineEnds, s.err}
	}
	return fmt.Errorf("reading NMEA after line %d: %w", s.lineEnds, s.err)
}

// progress is the result of one step through the buffer.
type progress uint8

const (
	moved progress = iota // past something that is not a sentence
	found                 // past a sentence
	stuck                 // more bytes are needed to decide
)

// Scan advances to the next sentence. It returns false at the end of the stream,
// or when reading failed: Err then returns why.
func (s *Scanner) Scan() bool {
	for {
		p := stuck
		if s.pos < s.end {
			p = s.step()
		}
		switch {
		case p == found:
			return true
		case p == moved:
		case s.ended:
			return false
		default:
			s.fill()
		}
	}
}

// step moves past one thing at the start of the unread buffer, which has at least
// one byte. Once the stream has ended, it is never stuck.
func (s *Scanner) step() progress {
	c := s.buf[s.pos]
	if c == '$' && !s.inComment {
		return s.frame()
	}
	switch {
	case c == '\n' && s.afterCR:
		s.pos++
		s.afterCR = false
		return moved
	case c == '\n' || c == '\r':
		s.pos++
		s.lineEnds++
		s.afterCR = c == '\r'
		s.lineStart, s.inComment = true, false
		s.hostNs, s.tagNs = 0, 0
		return moved
	}
	s.afterCR = false
	switch {
	case s.inComment:
		return s.comment()
	case c == '!':
		return s.frame()
	case c == '\\':
		return s.tagBlock()
	case c == '#' && s.lineStart:
		s.counts.Comments++
		s.inComment, s.lineStart = true, false
		return moved
	case s.lineStart && c >= '0' && c <= '9':
		return s.hostTime()
	}
	return s.skip()
}

// frame reads a sentence that starts at the start of the unread buffer.
func (s *Scanner) frame() progress {
	start := s.pos
	s.afterCR = false
	// An address has five characters, or P and three letters of a manufacturer.
	// Without at least three characters this $ belongs to something else.
	for i := start + 1; i < start+4; i++ {
		if i >= s.end {
			if !s.ended {
				return stuck
			}
			return s.drop(nil)
		}
		if !isAddress(s.buf[i]) {
			return s.drop(nil)
		}
	}
	limit := min(start+maxSentence, s.end)
	star := bytes.IndexByte(s.buf[start+1:limit], '*')
	stop := limit
	if star >= 0 {
		stop = start + 1 + star
	}
	sum, at := sumText(s.buf, start+1, stop)
	switch {
	case at < stop:
		if c := s.buf[at]; c != '\r' && c != '\n' {
			return s.drop(&s.counts.Cut)
		}
		return s.drop(&s.counts.NoChecksum)
	case star < 0 && limit == start+maxSentence:
		return s.drop(&s.counts.Overlong)
	case stop+2 >= s.end:
		if !s.ended {
			return stuck
		}
		return s.drop(&s.counts.Cut)
	}
	want, isHex := hexByte(s.buf[stop+1], s.buf[stop+2])
	if !isHex {
		return s.drop(&s.counts.Cut)
	}
	if want != sum {
		return s.drop(&s.counts.BadChecksum)
	}
	return s.take(stop + 3)
}

// take makes the bytes up to end the sentence that was found.
func (s *Scanner) take(end int) progress {
	s.sentence = s.buf[s.pos:end]
	s.pos = end
	s.line = s.lineEnds + 1
	s.lineStart = false
	s.counts.Sentences++
	return found
}

// drop skips only the start character, so that a sentence within what looked
// like one is still found. It adds 1 to the reason, unless that is nil.
func (s *Scanner) drop(reason *int64) progress {
	if reason != nil {
		*reason++
	}
	s.pos++
	s.lineStart = false
	s.counts.SkippedBytes++
	return moved
}

// skip skips bytes up to one that may start something. The first byte is skipped
// in any case.
func (s *Scanner) skip() progress {
	i := s.pos
	for ; i < s.end; i++ {
		switch s.buf[i] {
		case ' ', '\t', 0:
			if s.lineStart {
				// What follows is still at the start of the line.
				s.counts.SkippedBytes += int64(i + 1 - s.pos)
				s.pos = i + 1
				return moved
			}
		case '\r', '\n', '$', '!', '\\':
			s.counts.SkippedBytes += int64(i - s.pos)
			s.pos = i
			return moved
		}
		s.lineStart = false
	}
	s.counts.SkippedBytes += int64(i - s.pos)
	s.pos = i
	return moved
}

// comment moves to the end of a comment, which is that of the line. A control
// character ends it too: it was not a comment but part of a binary frame.
func (s *Scanner) comment() progress {
	for s.pos < s.end {
		if c := s.buf[s.pos]; c < 0x20 && c != '\t' {
			s.inComment = false
			break
		}
		s.pos++
	}
	return moved
}

// tagBlock reads a tag block at the start of the unread buffer, or skips a byte.
func (s *Scanner) tagBlock() progress {
	timeNs, n, ok, r := parseTagBlock(s.buf[s.pos:s.end])
	if r == cutOff && !s.ended {
		return stuck
	}
	s.lineStart = false
	if r == present && ok {
		s.tagNs = timeNs
		s.pos += n
		return moved
	}
	if r != absent {
		s.counts.BadTagBlock++
	}
	s.pos++
	s.counts.SkippedBytes++
	return moved
}

// hostTime reads a host time at the start of the unread buffer, or skips bytes.
func (s *Scanner) hostTime() progress {
	ns, n, r := parseHostTime(s.buf[s.pos:s.end])
	if r == cutOff && !s.ended {
		return stuck
	}
	if r != present {
		return s.skip()
	}
	s.hostNs = ns
	s.pos += n
	return moved
}

// fill moves what is unread to the front of the buffer and reads once. What is
// unread is always shorter than the longest sentence, so there is room.
func (s *Scanner) fill() {
	if s.pos > 0 {
		s.end = copy(s.buf, s.buf[s.pos:s.end])
		s.pos = 0
	}
	if !s.opened {
		s.open()
		return
	}
	s.read()
}

// read reads once and appends to the buffer. An error is kept until all bytes
// before it have been scanned.
func (s *Scanner) read() {
	const maxEmptyReads = 100
	for range maxEmptyReads {
		n, err := s.src.Read(s.buf[s.end:blockSize])
		s.end += n
		if err != nil {
			s.ended = true
			if err != io.EOF {
				s.err = err
			}
		}
		if n > 0 && s.Clock != nil {
			s.readNs = s.Clock()
		}
		if n > 0 || err != nil {
			return
		}
	}
	s.ended, s.err = true, io.ErrNoProgress
}

// open reads for the first time, and sets up decompression if the stream starts
// as gzip data does: with two fixed bytes and the number of the only method (RFC
// 1952, 2.3.1).
func (s *Scanner) open() {
	const magic = "\x1f\x8b\x08"
	s.read()
	for s.end < len(magic) && !s.ended && string(s.buf[:s.end]) == magic[:s.end] {
		s.read()
	}
	s.opened = true
	if s.end < len(magic) || string(s.buf[:len(magic)]) != magic {
		return
	}
	head := bytes.NewReader(bytes.Clone(s.buf[:s.end]))
	unpacked, err := gzip.NewReader(io.MultiReader(head, s.src))
	s.pos, s.end = 0, 0
	if err != nil {
		s.ended, s.err = true, err
		return
	}
	s.src, s.ended, s.err = unpacked, false, nil
}

// isAddress reports whether c may be in the address of a sentence, such as GPGGA.
func isAddress(c byte) bool { return c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' }
