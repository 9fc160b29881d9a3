// Package epoch puts the NMEA sentences of one instant into one nmea.Fix, and
// decides which of the receiver's times and dates are believed.
package epoch

import (
	"io"

	"liftbench/nmea"
)

// ReaderCounts says what a Reader met. Every sentence-like thing in the stream
// is one of OK, BadChecksum, Malformed and Unknown.
type ReaderCounts struct {
	OK          int64               // good checksum, decoded
	ByType      [nmea.ZDA + 1]int64 // of OK, by Type
	BadChecksum int64
	Malformed   int64 // no checksum, cut, overlong, or a field that holds what it may not
	Unknown     int64 // good checksum, of a type that is not decoded

	Scan   nmea.Counts // the scanner's reasons in full
	Epochs Counts      // what became of the decoded ones
}

// Reader reads fixes from a stream of bytes: Scanner, Parse and Assembler in
// one. Set the options of its parts before the first Next.
type Reader struct {
	Scanner   *nmea.Scanner
	Assembler Assembler
	// Each, when set, is told of every sentence with a good checksum before it
	// has any effect: its bytes as in Scanner, what they were decoded to, and
	// the error of Parse. It must not keep either.
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

// Next goes to the next fix. It returns false at the end of the stream or when
// reading failed; what was read before has then been given out.
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
			r.Assembler.heard(r.sentence.ArrivalNs)
		default:
			r.malformed++
			r.Assembler.heard(r.sentence.ArrivalNs)
		}
	}
	return true
}

// Fix returns the fix that Next went to.
func (r *Reader) Fix() nmea.Fix { return r.fix }

// Err returns what ended the stream early, nil at its proper end.
func (r *Reader) Err() error { return r.Scanner.Err() }

// Counts returns what was met so far.
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
