// Fixes as the sentences of a receiver that says the same.

package day

import (
	"io"
	"math"
	"time"

	"liftbench/nmea"
)

// Sentences is an io.Reader of fixes as NMEA 0183: GGA and RMC for each, and HDT where a
// fix has a heading. Where a fix has an arrival time, it stands before each sentence, as
// nmea.Scanner reads it. Positions are whole to 1e-8 minutes of arc, times to a
// millisecond.
type Sentences struct {
	fixes []nmea.Fix
	epoch []byte // sentences of the current fix
	rest  []byte // what of them is not read yet
	one   []byte
}

// NewSentences returns a reader of fixes, in order of time.
func NewSentences(fixes []nmea.Fix) *Sentences { return &Sentences{fixes: fixes} }

// Read returns the next bytes, or io.EOF after the last fix.
func (s *Sentences) Read(b []byte) (int, error) {
	n := 0
	for n < len(b) {
		if len(s.rest) == 0 {
			if len(s.fixes) == 0 {
				break
			}
			s.say(&s.fixes[0])
			s.fixes = s.fixes[1:]
		}
		k := copy(b[n:], s.rest)
		s.rest = s.rest[k:]
		n += k
	}
	if n == 0 && len(b) > 0 {
		return 0, io.EOF
	}
	return n, nil
}

// say makes the sentences of a fix the rest.
func (s *Sentences) say(f *nmea.Fix) {
	s.epoch = s.epoch[:0]
	s.add(f, nmea.AppendGGA(s.one[:0], f))
	s.add(f, nmea.AppendRMC(s.one[:0], f))
	if !math.IsNaN(f.HeadingDeg) {
		s.add(f, nmea.AppendHDT(s.one[:0], f))
	}
	s.rest = s.epoch
}

// add adds a sentence, after its arrival time where there is one.
func (s *Sentences) add(f *nmea.Fix, sentence []byte) {
	s.one = sentence
	if f.ArrivalNs != 0 {
		s.epoch = time.Unix(0, f.ArrivalNs).UTC().AppendFormat(s.epoch, "2006-01-02T15:04:05.000000000Z ")
	}
	s.epoch = append(s.epoch, sentence...)
}
