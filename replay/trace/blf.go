// This file reads BLF. The form has no public description; what is read follows
// files of several loggers, and tests compare it with python-can.
//
// A header LOGG of 144 bytes tells its own length, at 4, and the date of the
// start, at 40: year, month, day of the week, day, hour, minute, second,
// millisecond, each u16. Objects follow, each LOBJ, u16 length of its header, u16
// version of the header, u32 length, u32 type; padded by length mod 4. Type 10
// holds more objects, mostly compressed by zlib: u16 method, six bytes, u32
// length unpacked, four bytes. An object may go on in the next such container.
//
// Types 1 and 86 are CAN frames. Behind the first 16 bytes: u32 unit of the time
// (1: 10 µs, 2: 1 ns), u16, u16, u64 time from the start; behind the header: u16
// bus, u8 flags (0x80 remote), u8 length, u32 identifier, eight bytes.

package trace

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"io"
	"time"

	"go.einride.tech/can"
)

const (
	headerBLF  = 144
	objectHead = 16

	objectCAN       = 1
	objectError     = 2
	objectContainer = 10
	objectErrorExt  = 73
	objectCAN2      = 86
	objectFD        = 100
	objectFD64      = 101
	objectErrorFD64 = 104

	unitTenMicroseconds = 1
)

// blfState is what BLF carries from frame to frame.
type blfState struct {
	startNs int64
	inner   []byte // unpacked objects
	used    int    // bytes of inner that have been read
	inflate io.ReadCloser
	packed  bytes.Reader
	offset  int64 // of the container in the file
	cut     bool  // the file ends inside this container
}

func (s *Scanner) openBLF() bool {
	if !s.need(56) {
		return s.cutShort("inside its header")
	}
	h := s.buf[s.pos:s.end]
	length := int64(binary.LittleEndian.Uint32(h[4:]))
	if length < 56 || length > 1<<16 {
		return s.fail(fmt.Errorf("%w: BLF with a header of %d bytes; expected %d", ErrForm, length, headerBLF))
	}
	s.clock = FromStart
	var t [8]int
	for i := range t {
		t[i] = int(binary.LittleEndian.Uint16(h[40+2*i:]))
	}
	if y := t[0]; y >= 1970 && y < 2261 {
		s.blf.startNs = time.Date(y, time.Month(t[1]), t[3], t[4], t[5], t[6], t[7]*1e6, time.UTC).UnixNano()
		s.clock = Local
	}
	if !s.skip(length) {
		return s.cutShort("inside its header")
	}
	return true
}

// cutShort ends the trace where the file ends too soon.
func (s *Scanner) cutShort(where string) bool {
	err := s.source.err
	if err == nil {
		err = io.ErrUnexpectedEOF
	}
	return s.fail(fmt.Errorf("%w: %s ends %s, after byte %d, as when the power went off; the frames up to there were read (%w)", ErrIncomplete, s.form, where, s.at(), err))
}

func (s *Scanner) nextBLF() bool {
	b := &s.blf
	for {
		if s.objectBLF() {
			s.counts.Frames++
			return true
		}
		switch {
		case s.need(objectHead):
			s.containerBLF()
		case b.cut, s.source.err != nil:
			return s.cutShort("inside a container")
		case s.end > s.pos:
			return s.cutShort("inside the header of an object")
		case b.used < len(b.inner):
			return s.cutShort("inside a frame")
		default:
			s.next = ended
			return false
		}
	}
}

// containerBLF adds what the next object of the file holds to inner.
func (s *Scanner) containerBLF() {
	b := &s.blf
	h := s.buf[s.pos:s.end]
	b.offset = s.at()
	size := int(binary.LittleEndian.Uint32(h[8:]))
	if string(h[:4]) != "LOBJ" || size < objectHead || size > mostRecordBytes {
		s.malformed(b.offset, "no object of BLF; skipped to the next one", nil)
		s.resyncBLF()
		return
	}
	kind := binary.LittleEndian.Uint32(h[12:])
	whole := s.need(size)
	body := s.buf[s.pos+objectHead : min(s.pos+size, s.end)]
	switch {
	case kind == objectContainer && len(body) >= 16:
		s.unpackBLF(body, whole)
	case whole:
		b.compact()
		b.inner = append(b.inner, s.buf[s.pos:s.pos+size]...)
		for range size % 4 {
			b.inner = append(b.inner, 0)
		}
	}
	if !whole {
		b.cut = true
		s.pos = s.end
		return
	}
	s.pos += size
	s.skip(int64(size % 4))
}

// resyncBLF moves to the next object of the file, or to its end.
func (s *Scanner) resyncBLF() {
	s.blf.inner, s.blf.used = s.blf.inner[:0], 0 // an object that goes on is lost
	s.pos++
	for {
		if i := bytes.Index(s.buf[s.pos:s.end], []byte("LOBJ")); i >= 0 {
			s.pos += i
			return
		}
		s.pos = max(s.pos, s.end-3)
		if !s.more() {
			s.pos = s.end
			return
		}
	}
}

// compact drops what has been read of inner.
func (b *blfState) compact() {
	b.inner = b.inner[:copy(b.inner, b.inner[b.used:])]
	b.used = 0
}

// unpackBLF adds the objects of a container to inner. body begins with the
// method; it is whole, or what is there of it.
func (s *Scanner) unpackBLF(body []byte, whole bool) {
	b := &s.blf
	b.compact()
	method := binary.LittleEndian.Uint16(body)
	switch method {
	case 0:
		b.inner = append(b.inner, body[16:]...)
		return
	case 2:
	default:
		s.malformed(b.offset, "a container packed in an unknown way was left out; expected none or zlib", nil)
		return
	}
	b.packed.Reset(body[16:])
	var err error
	if b.inflate == nil {
		b.inflate, err = zlib.NewReader(&b.packed)
	} else {
		err = b.inflate.(zlib.Resetter).Reset(&b.packed, nil)
	}
	start := len(b.inner)
	for err == nil {
		if len(b.inner)-start > mostRecordBytes {
			s.malformed(b.offset, "a container holds more than 16 MiB; the rest of it was left out", nil)
			return
		}
		if len(b.inner) == cap(b.inner) {
			b.inner = append(b.inner, make([]byte, max(blockBytes, len(b.inner)))...)[:len(b.inner)]
		}
		var n int
		n, err = b.inflate.Read(b.inner[len(b.inner):cap(b.inner)])
		b.inner = b.inner[:len(b.inner)+n]
	}
	if err != io.EOF && whole {
		s.malformed(b.offset, "a container is damaged; what could be unpacked of it was read", nil)
	}
	if b.inflate != nil && err != io.EOF {
		// A reader that failed may be left in a state that Reset does not undo.
		b.inflate = nil
	}
}

// objectBLF reads objects of inner up to a frame and reports whether there is
// one.
func (s *Scanner) objectBLF() bool {
	b := &s.blf
	for {
		in := b.inner[b.used:]
		// Padding stands before the next object, and none at all behind some.
		i := 0
		for i < 8 && i+4 <= len(in) && string(in[i:i+4]) != "LOBJ" {
			i++
		}
		if i+objectHead > len(in) {
			return false
		}
		if i == 8 {
			s.malformed(b.offset, "a container holds what is no object; skipped to the next one", nil)
			k := bytes.Index(in, []byte("LOBJ"))
			if k < 0 {
				k = len(in)
			}
			b.used += k
			continue
		}
		in = in[i:]
		head := int(binary.LittleEndian.Uint16(in[4:]))
		size := int(binary.LittleEndian.Uint32(in[8:]))
		kind := binary.LittleEndian.Uint32(in[12:])
		if size < objectHead || size > mostRecordBytes {
			s.malformed(b.offset, "an object with an impossible length was left out", nil)
			b.used += i + 4
			continue
		}
		if size > len(in) {
			b.used += i
			return false
		}
		object := in[:size]
		b.used += i + size
		switch kind {
		case objectCAN, objectCAN2:
			if s.frameBLF(object, head) {
				return true
			}
			s.malformed(b.offset, "a frame was left out: too short, a time beyond the year 2262, or an identifier above 7FF of 11 bits", nil)
		case objectFD, objectFD64:
			s.counts.FD++
		case objectError, objectErrorExt, objectErrorFD64:
			s.counts.Errors++
		default:
			s.counts.Other++
		}
	}
}

func (s *Scanner) frameBLF(o []byte, head int) bool {
	if head < 32 || len(o) < head+16 {
		return false
	}
	t := binary.LittleEndian.Uint64(o[24:])
	unit := uint64(1)
	if binary.LittleEndian.Uint32(o[16:]) == unitTenMicroseconds {
		unit = 10_000
	}
	const most = 1<<63 - 1
	if t > (most-uint64(s.blf.startNs)-1000)/unit {
		return false
	}
	o = o[head:]
	id := binary.LittleEndian.Uint32(o[4:])
	f := &s.frame
	f.TimeNs = s.blf.startNs + round(int64(t*unit))
	f.Frame = can.Frame{ID: id & can.MaxExtendedID, IsExtended: id&flagExtended != 0, IsRemote: o[2]&0x80 != 0, Length: min(o[3], 8)}
	if !f.IsExtended && f.ID > can.MaxID {
		return false
	}
	if !f.IsRemote {
		copy(f.Data[:f.Length], o[8:16])
	}
	s.channelNumber(int(binary.LittleEndian.Uint16(o)))
	return true
}
