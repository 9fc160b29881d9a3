// Sentences are found in any stream of bytes, whatever lies between them, and
// their checksums are checked.

package nmea

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
)

const (
	// maxSentence is the longest sentence taken, with its checksum. NMEA 0183
	// allows 82 characters; receivers with many decimals and proprietary
	// sentences pass that.
	maxSentence = 1024
	// blockSize is what is read at once, and all that is ever held.
	blockSize = 64 << 10
	// loadPad is what sumText may read past a sentence.
	loadPad = 8
)

// Counts says what a Scanner found in the stream.
type Counts struct {
	Sentences   int64 // taken: whole, and with a good checksum (or with none, where that is allowed)
	BadChecksum int64 // whole, but the checksum does not fit
	NoChecksum  int64 // whole, but without a checksum where one is required
	Cut         int64 // ended before its checksum: by another sentence, a foreign byte or the end of the stream
	Overlong    int64 // no end within 1024 characters
	BadTagBlock int64 // tag blocks that are cut short or whose checksum does not fit
	Comments    int64 // lines that start with #
	// SkippedBytes is every byte that belongs neither to a taken sentence nor
	// to its tag block, host time or line end, nor to a comment: binary
	// frames, text, and all that was dropped.
	SkippedBytes int64
}

// Scanner finds the sentences in a stream of bytes. Whatever stands between
// them (UBX and RTCM frames, half sentences, NUL bytes, text), it finds the
// next good one. Use it like a bufio.Scanner.
//
// A sentence starts with $ or ! and ends with its checksum; what follows, be
// it CR LF, LF, CR or nothing, does not matter, so a sentence is delivered as
// soon as its last digit is read. A gzip stream is told by its first three
// bytes and unpacked.
//
// Memory is constant, and no sentence costs an allocation.
type Scanner struct {
	// AllowNoChecksum takes sentences that end at a line end without a
	// checksum. A wrong checksum is never taken. Set it before the first Scan.
	AllowNoChecksum bool
	// Clock, when set, is asked after each read from the stream for the host's
	// time in nanoseconds since 1970: the arrival time of its sentences, even
	// of those that carry one. It is for live streams.
	Clock func() int64

	src    io.Reader
	buf    []byte // blockSize, and loadPad beyond
	pos    int    // next byte to look at
	end    int    // end of what was read
	opened bool
	zipped bool
	ended  bool // the stream gave its last byte
	err    error

	lineEnds  int64 // line ends passed
	afterCR   bool  // an LF now belongs to the same line end
	lineStart bool  // nothing but blanks since the line end
	inComment bool

	sentence []byte
	line     int64
	hostNs   int64 // time at the head of this line
	tagNs    int64 // time of the tag block on this line
	readNs   int64 // Clock after the last read
	counts   Counts
}

// NewScanner returns a Scanner that reads from r.
func NewScanner(r io.Reader) *Scanner {
	return &Scanner{src: r, buf: make([]byte, blockSize+loadPad), lineStart: true}
}

// Bytes returns the sentence from its $ or ! to the last digit of its
// checksum. It is valid until the next Scan.
func (s *Scanner) Bytes() []byte { return s.sentence }

// Line returns the number of the line, from 1, on which the sentence starts.
func (s *Scanner) Line() int64 { return s.line }

// ArrivalNs returns the host's time of the sentence, nanoseconds since 1970:
// that of Clock, else that at the head of its line, else that of its tag
// block, else 0.
func (s *Scanner) ArrivalNs() int64 {
	switch {
	case s.readNs != 0:
		return s.readNs
	case s.hostNs != 0:
		return s.hostNs
	}
	return s.tagNs
}

// Counts returns what was found so far.
func (s *Scanner) Counts() Counts { return s.counts }

// ErrCutShort is what Err wraps where compressed data end before their end, as
// of a logger whose power went off.
var ErrCutShort = errors.New("gzip data is cut short")

// Err returns what ended the stream early, nil at its proper end. Whatever
// could be read before has been delivered.
func (s *Scanner) Err() error {
	switch {
	case s.err == nil:
		return nil
	case errors.Is(s.err, io.ErrUnexpectedEOF): // also of a stream that the caller unpacks
		return fmt.Errorf("%w after line %d; the sentences up to there were read", ErrCutShort, s.lineEnds)
	case s.zipped:
		return fmt.Errorf("gzip data is damaged after line %d; the sentences up to there were read: %w", s.lineEnds, s.err)
	}
	return fmt.Errorf("reading NMEA after line %d: %w", s.lineEnds, s.err)
}

// progress is what one step over the buffer did.
type progress uint8

const (
	moved progress = iota // passed something that is no sentence
	taken                 // passed a sentence
	stuck                 // needs more bytes to tell
)

// Scan goes to the next sentence. It returns false at the end of the stream
// or when reading failed.
func (s *Scanner) Scan() bool {
	for {
		p := stuck
		if s.pos < s.end {
			p = s.step()
		}
		switch {
		case p == taken:
			return true
		case p == moved:
		case s.ended:
			return false
		default:
			s.fill()
		}
	}
}

// step passes one thing at the head of the buffer, which holds at least one
// byte. Once the stream has ended it is never stuck.
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

// frame looks at a sentence that starts at the head of the buffer.
func (s *Scanner) frame() progress {
	start := s.pos
	s.afterCR = false
	// An address has five characters, or P and three of a maker: without at
	// least three this $ is a byte of something else.
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
		if !s.AllowNoChecksum || !wholeAddress(s.buf[start+1:at]) {
			return s.drop(&s.counts.NoChecksum)
		}
		return s.take(at)
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

func (s *Scanner) take(end int) progress {
	s.sentence = s.buf[s.pos:end]
	s.pos = end
	s.line = s.lineEnds + 1
	s.lineStart = false
	s.counts.Sentences++
	return taken
}

// drop passes the start character alone, so that a sentence inside what looked
// like one is still found, and counts the reason unless it is nil.
func (s *Scanner) drop(reason *int64) progress {
	if reason != nil {
		*reason++
	}
	s.pos++
	s.lineStart = false
	s.counts.SkippedBytes++
	return moved
}

// skip passes bytes that mean nothing here; the first is one of them.
func (s *Scanner) skip() progress {
	i := s.pos
	for ; i < s.end; i++ {
		switch s.buf[i] {
		case ' ', '\t', 0:
			if s.lineStart {
				// Whatever follows is still the head of the line.
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

// comment passes text up to the end of the line. A control character shows
// that it is none, but a binary frame that happened to look like one.
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
	s.lineStart = false
	return moved
}

// fill moves what is left to the front of the buffer and reads once. What is
// left is always shorter than the longest sentence.
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

// read adds what the stream has. An error counts once all before it is passed.
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

// open makes the first reads and looks for the start of gzip data: the two
// magic bytes and the only method there is (RFC 1952, 2.3.1).
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
	s.zipped = true
	if err != nil {
		s.ended, s.err = true, err
		return
	}
	s.src, s.ended, s.err = unpacked, false, nil
}

func isAddress(c byte) bool { return c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' }

// wholeAddress reports whether a sentence without checksum at least starts
// like one: an address of four to six characters and a comma.
func wholeAddress(b []byte) bool {
	n := bytes.IndexByte(b[:min(len(b), 7)], ',')
	if n < 4 {
		return false
	}
	for _, c := range b[:n] {
		if !isAddress(c) {
			return false
		}
	}
	return true
}
