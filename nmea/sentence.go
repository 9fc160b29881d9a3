// One decoded sentence: its type, and its fields in metres, seconds and degrees.

package nmea

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Type is the type of a sentence: the three letters after the talker.
type Type uint8

// The types that Parse decodes.
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

// MarshalText returns the three letters, or an error if t is none of the types.
func (t Type) MarshalText() ([]byte, error) {
	if t == 0 || int(t) >= len(typeNames) {
		return nil, fmt.Errorf("nmea: type %d; expected %d to %d", t, GGA, ZDA)
	}
	return []byte(typeNames[t]), nil
}

// UnmarshalText sets t to the type of those three letters.
func (t *Type) UnmarshalText(text []byte) error {
	i := slices.Index(typeNames[1:], string(text))
	if i < 0 {
		return fmt.Errorf("nmea: type %q; expected %s or %s", text, strings.Join(typeNames[1:ZDA], ", "), ZDA)
	}
	*t = GGA + Type(i)
	return nil
}

// Status is whether the data of a sentence may be used.
type Status uint8

const (
	StatusAbsent Status = iota // the sentence does not say
	StatusValid                // A: the data may be used
	StatusVoid                 // V, or mode N: the data must not be used
)

// Values of TimeOfDayNs and DateNs when the sentence gave none.
const (
	noTime int64 = -1
	noDate int64 = -1 << 63
)

// Sentence is one decoded sentence. A floating-point field that the sentence did
// not give is NaN. For TimeOfDayNs and DateNs, which can be 0, see HasTime and
// HasDate.
type Sentence struct {
	Type   Type
	Talker [2]byte // such as "GP", "GN"

	TimeOfDayNs int64 // UTC, nanoseconds since midnight
	DateNs      int64 // midnight at the start of the day, nanoseconds since 1970
	ArrivalNs   int64 // when it arrived by the host's clock, nanoseconds since 1970; 0 if unknown. Parse does not change it

	LatDeg, LonDeg  float64 // WGS 84, positive north and east
	HeightM, GeoidM float64 // as in Fix
	SpeedMps        float64
	CourseDeg       float64 // [0, 360), true
	HeadingDeg      float64 // [0, 360), true
	YawRateDegPerS  float64 // positive when turning right
	HDOP            float64
	SigmaEastM      float64
	SigmaNorthM     float64
	SigmaHeightM    float64
	AgeS            float64 // of the differential corrections

	Quality    Quality // from the quality field or the mode letters
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
	HDOP:       nan,
	SigmaEastM: nan, SigmaNorthM: nan, SigmaHeightM: nan, AgeS: nan,
}

var (
	// ErrUnknown is returned by Parse for a sentence of a type that it does
	// not decode, and for proprietary sentences and those that start with !.
	ErrUnknown = errors.New("nmea: unknown type of sentence; expected GGA, GNS, RMC, GLL, VTG, HDT, THS, ROT, GST, GSA or ZDA")
	// ErrMalformed is returned by Parse for a sentence with a field that is not
	// valid: text in place of a number, 60 minutes, latitude 91.
	ErrMalformed = errors.New("nmea: a field is not valid")
)

// Parse decodes raw, a sentence as Scanner.Bytes returns it, into s. It does not
// check the checksum, because the Scanner has. Any field may be empty, and
// fields at the end may be missing. After an error the contents of s mean
// nothing, except ArrivalNs, which Parse never changes.
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
		s.decodeGGA(&f)
	case 'R'<<16 | 'M'<<8 | 'C':
		s.Type = RMC
		s.decodeRMC(&f)
	case 'V'<<16 | 'T'<<8 | 'G':
		s.Type = VTG
		s.decodeVTG(&f)
	case 'G'<<16 | 'N'<<8 | 'S':
		s.Type = GNS
		s.decodeGNS(&f)
	case 'G'<<16 | 'L'<<8 | 'L':
		s.Type = GLL
		s.decodeGLL(&f)
	case 'Z'<<16 | 'D'<<8 | 'A':
		s.Type = ZDA
		s.decodeZDA(&f)
	case 'H'<<16 | 'D'<<8 | 'T':
		s.Type = HDT
		s.decodeHDT(&f)
	case 'T'<<16 | 'H'<<8 | 'S':
		s.Type = THS
		s.decodeTHS(&f)
	case 'R'<<16 | 'O'<<8 | 'T':
		s.Type = ROT
		s.decodeROT(&f)
	case 'G'<<16 | 'S'<<8 | 'T':
		s.Type = GST
		s.decodeGST(&f)
	case 'G'<<16 | 'S'<<8 | 'A':
		s.Type = GSA
		s.decodeGSA(&f)
	default:
		return ErrUnknown
	}
	if f.bad {
		return ErrMalformed
	}
	return nil
}
