// This file keeps a window on the bytes of a trace.

package trace

import (
	"bytes"
	"io"
)

const (
	// blockBytes is how much is read at once.
	blockBytes = 256 << 10
	// mostRecordBytes is the largest record that is held whole.
	mostRecordBytes = 16 << 20
)

// source is a window on the bytes of a reader: buf[pos:end] is read and not yet
// used.
type source struct {
	r        io.Reader
	buf      []byte
	pos, end int
	before   int64 // bytes of the stream before buf
	line     int64 // lines used so far
	finished bool  // the reader has no more
	err      error // other than io.EOF
}

// at returns the offset of the next byte in the stream.
func (s *source) at() int64 { return s.before + int64(s.pos) }

// more reads on, behind what is unused, and reports whether anything came. It
// makes room by moving what is unused to the front and, where that fills the
// buffer, by doubling it up to mostRecordBytes.
func (s *source) more() bool {
	if s.finished {
		return false
	}
	if s.pos > 0 {
		copy(s.buf, s.buf[s.pos:s.end])
		s.before += int64(s.pos)
		s.end -= s.pos
		s.pos = 0
	}
	if s.end == len(s.buf) {
		if len(s.buf) >= mostRecordBytes {
			return false
		}
		s.buf = append(s.buf, make([]byte, len(s.buf))...)
	}
	for range 100 {
		n, err := s.r.Read(s.buf[s.end:])
		s.end += n
		if err != nil {
			s.finished = true
			if err != io.EOF {
				s.err = err
			}
		}
		if n > 0 || err != nil {
			return n > 0
		}
	}
	s.finished, s.err = true, io.ErrNoProgress
	return false
}

// need reports whether n unused bytes are there, after reading on.
func (s *source) need(n int) bool {
	for s.end-s.pos < n {
		if !s.more() {
			return false
		}
	}
	return true
}

// skip drops n bytes and reports whether there were as many.
func (s *source) skip(n int64) bool {
	for n > int64(s.end-s.pos) {
		n -= int64(s.end - s.pos)
		s.pos = s.end
		if !s.more() {
			return false
		}
	}
	s.pos += int(n)
	return true
}

// mostLineBytes is far longer than a line of any form.
const mostLineBytes = 64 << 10

// nextLine returns the next line without its end, and whether there is one. Of a
// line of more than mostLineBytes it returns the first bytes.
func (s *source) nextLine() ([]byte, bool) {
	from := 0
	for {
		if i := bytes.IndexByte(s.buf[s.pos+from:s.end], '\n'); i >= 0 {
			line := s.buf[s.pos : s.pos+from+i]
			s.pos += from + i + 1
			s.line++
			if n := len(line); n > 0 && line[n-1] == '\r' {
				line = line[:n-1]
			}
			return line[:min(len(line), mostLineBytes)], true
		}
		from = s.end - s.pos
		if from > mostLineBytes {
			s.pos += from - mostLineBytes // keep what fits; the start of such a line says nothing
			from = mostLineBytes
		}
		if !s.more() {
			break
		}
	}
	if s.pos == s.end {
		return nil, false
	}
	line := s.buf[s.pos:s.end]
	s.pos = s.end
	s.line++
	return line, true
}
