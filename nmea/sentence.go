// What one sentence says: its type, and its fields in metres, seconds and degrees.

package nmea

import "errors"

// Type is the kind of a sentence: the three letters after the talker.
type Type uint8

// The sentences that Parse decodes.
const (
	GGA Type = iota + 1 // time, position and quality
	GNS                 // the same for several constellations
	RMC                 // time, date, position, speed and course
	GLL                 // position and time
	VTG                 // speed and course
	HDT                 // true heading
	THS                 // true heading with status
	ROT                 // rate of turn
	GST                 // standard deviations
	GSA                 // dilution of precision
	ZDA                 // time and date
)

var typeNames = [...]string{"unknown", "GGA", "GNS", "RMC", "GLL", "VTG", "HDT", "THS", "ROT", "GST", "GSA", "ZDA"}

// String returns the three letters.
func (t Type) String() string {
	if int(t) < len(typeNames) {
		return typeNames[t]
	}
	return typeNames[0]
}

// Status is what a sentence says of the fix as a whole, where it says it.
type Status uint8

const (
	StatusAbsent Status = iota // the sentence has no such field, or it is empty
	StatusValid                // A: the data may be used
	StatusVoid                 // V: a warning, do not use; also mode N, no fix
)

// Absent time and date in a Sentence.
const (
	noTime int64 = -1
	noDate int64 = -1 << 63
)

// Sentence is what one sentence said. A floating-point field that it did not
// give is NaN; see HasTime and HasDate for the two integers that 0 could mean.
type Sentence struct {
	Type   Type
	Talker [2]byte // such as "GP", "GN"

	TimeOfDayNs int64 // UTC, nanoseconds since midnight
	DateNs      int64 // the midnight the day starts with, nanoseconds since 1970
	ArrivalNs   int64 // host's time, 0 when unknown; Parse leaves it alone

	LatDeg, LonDeg  float64 // WGS 84, positive north and east
	HeightM, GeoidM float64 // as in Fix
	SpeedMps        float64
	CourseDeg       float64 // [0, 360), true
	HeadingDeg      float64 // [0, 360), true
	YawRateDegPerS  float64 // positive = turning right
	HDOP, PDOP      float64
	VDOP            float64
	SigmaEastM      float64
	SigmaNorthM     float64
	SigmaHeightM    float64
	AgeS            float64 // of the differential corrections

	Quality    Quality // by the quality field or the mode letters
	HasQuality bool
	Status     Status
	Satellites uint8 // used for the fix
}

// HasTime reports whether the sentence gave a time of day.
func (s *Sentence) HasTime() bool { return s.TimeOfDayNs != noTime }

// HasDate reports whether the sentence gave a date.
func (s *Sentence) HasDate() bool { return s.DateNs != noDate }

var emptySentence = Sentence{
	TimeOfDayNs: noTime, DateNs: noDate,
	LatDeg: nan, LonDeg: nan, HeightM: nan, GeoidM: nan,
	SpeedMps: nan, CourseDeg: nan, HeadingDeg: nan, YawRateDegPerS: nan,
	HDOP: nan, PDOP: nan, VDOP: nan,
	SigmaEastM: nan, SigmaNorthM: nan, SigmaHeightM: nan, AgeS: nan,
}

var (
	// ErrUnknown is returned by Parse for a sentence of a type that it does
	// not decode: proprietary, ! or other.
	ErrUnknown = errors.New("nmea: a sentence of a type that is not decoded")
	// ErrMalformed is returned by Parse for a sentence one of whose fields
	// holds what it may not: text for a number, minutes of 60, latitude 91.
	ErrMalformed = errors.New("nmea: a field holds what it may not")
)

// Parse decodes raw, a sentence as Scanner gives it, into s. It does not check
// the checksum: Scanner did. Every field may be empty, and fields at the end
// may be left out. When it returns an error the contents of s mean nothing,
// but ArrivalNs is kept always.
func Parse(raw []byte, s *Sentence) error {
	arrival := s.ArrivalNs
	*s = emptySentence
	s.ArrivalNs = arrival
	// $ talker type , fields [*hh]
	if len(raw) < 7 || raw[0] != '$' || raw[1] == 'P' || raw[6] != ',' {
		return ErrUnknown
	}
	body := raw[1:]
	if n := len(body) - 3; body[n] == '*' {
		body = body[:n]
	}
	f := fields{b: body, i: 6}
	if len(body) < 6 {
		return ErrUnknown
	}
	s.Talker = [2]byte{body[0], body[1]}
	switch uint32(body[2])<<16 | uint32(body[3])<<8 | uint32(body[4]) {
	case 'G'<<16 | 'G'<<8 | 'A':
		s.Type = GGA
		s.gga(&f)
	case 'R'<<16 | 'M'<<8 | 'C':
		s.Type = RMC
		s.rmc(&f)
	case 'V'<<16 | 'T'<<8 | 'G':
		s.Type = VTG
		s.vtg(&f)
	case 'G'<<16 | 'N'<<8 | 'S':
		s.Type = GNS
		s.gns(&f)
	case 'G'<<16 | 'L'<<8 | 'L':
		s.Type = GLL
		s.gll(&f)
	case 'Z'<<16 | 'D'<<8 | 'A':
		s.Type = ZDA
		s.zda(&f)
	case 'H'<<16 | 'D'<<8 | 'T':
		s.Type = HDT
		s.hdt(&f)
	case 'T'<<16 | 'H'<<8 | 'S':
		s.Type = THS
		s.ths(&f)
	case 'R'<<16 | 'O'<<8 | 'T':
		s.Type = ROT
		s.rot(&f)
	case 'G'<<16 | 'S'<<8 | 'T':
		s.Type = GST
		s.gst(&f)
	case 'G'<<16 | 'S'<<8 | 'A':
		s.Type = GSA
		s.gsa(&f)
	default:
		return ErrUnknown
	}
	if f.bad {
		return ErrMalformed
	}
	return nil
}
