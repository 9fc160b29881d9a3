// Package epoch combines the NMEA sentences of one instant, an epoch, into one
// nmea.Fix, and decides which of the receiver's times and dates are believed.
package epoch

import (
	"io"

	"liftbench/nmea"
)

// ReaderCounts is what a Reader found in its stream. Everything that looks like
// a sentence is one of OK, BadChecksum, Malformed and Unknown.
type ReaderCounts struct {
	OK          int64               // good checksum, decoded
	ByType      [nmea.ZDA + 1]int64 // of OK, by Type
	BadChecksum int64
	Malformed   int64 // no checksum, cut short, too long, or a field that is not valid
	Unknown     int64 // good checksum, but of a type that is not decoded

	Scan   nmea.Counts // what the scanner found, with the reasons for dropping
	Epochs Counts      // what became of the decoded sentences
}

// Reader reads fixes from a stream of bytes: nmea.Scanner, nmea.Parse and
// Assembler in one. Set the options of its parts before the first Next.
type Reader struct {
	Scanner   *nmea.Scanner
	Assembler Assembler
	// Each, if set, is called with each sentence that has a good checksum,
	// before the sentence is used: its bytes, the decoded sentence and the error
	// of nmea.Parse. It must keep neither the bytes nor the sentence.
	Each func(raw []byte, s *nmea.Sentence, err error)

	sentence  nmea.Sentence
	fix       nmea.Fix
	flushed   bool
	byType    [nmea.ZDA + 1]int64
	malformed int64
	unknown   int64
}

// NewReader returns a Reader that reads from r.
func NewReader(r io.Reader) *Reader {
	return &Reader{Scanner: nmea.NewScanner(r)}
}

// Next reads up to the next fix. It returns false at the end of the stream, or
// when reading failed: Err then says why. All that was read before a failure
// has been returned.
func (r *Reader) Next() bool {
	for !r.Assembler.Next(&r.fix) {
		if r.flushed {
			return false
		}
		if !r.Scanner.Scan() {
			r.Assembler.Flush()
			r.flushed = true
			continue
		}
		r.sentence.ArrivalNs = r.Scanner.ArrivalNs()
		err := nmea.Parse(r.Scanner.Bytes(), &r.sentence)
		if r.Each != nil {
			r.Each(r.Scanner.Bytes(), &r.sentence, err)
		}
		switch err {
		case nil:
			r.byType[r.sentence.Type]++
			r.Assembler.Add(&r.sentence)
		case nmea.ErrUnknown:
			r.unknown++
			r.Assembler.noteArrival(r.sentence.ArrivalNs)
		default:
			r.malformed++
			r.Assembler.noteArrival(r.sentence.ArrivalNs)
		}
	}
	return true
}

// Fix returns the fix that the last Next read.
func (r *Reader) Fix() nmea.Fix { return r.fix }

// Err returns the error that ended the stream early, or nil.
func (r *Reader) Err() error { return r.Scanner.Err() }

// Counts returns the counts so far.
func (r *Reader) Counts() ReaderCounts {
	c := r.Scanner.Counts()
	ok := int64(0)
	for _, n := range r.byType {
		ok += n
	}
	return ReaderCounts{
		OK:          ok,
		ByType:      r.byType,
		BadChecksum: c.BadChecksum,
		Malformed:   r.malformed + c.NoChecksum + c.Cut + c.Overlong,
		Unknown:     r.unknown,
		Scan:        c,
		Epochs:      r.Assembler.Counts(),
	}
}

// ReadAsLive makes the Reader return each fix when a controller on the machine
// would have had it: where sentences have an arrival time, as soon as the epoch
// is complete (see Assembler.Live). Where they have none, it waits for the next
// epoch, so that no sentence is late.
func (r *Reader) ReadAsLive() {
	each := r.Each
	r.Each = func(raw []byte, s *nmea.Sentence, err error) {
		r.Assembler.Live = s.ArrivalNs != 0
		if each != nil {
			each(raw, s, err)
		}
	}
}
