// Package nmea finds the NMEA 0183 sentences in any stream of bytes, decodes
// them, and writes sentences from a Fix. Package epoch puts the sentences of one
// instant into a Fix.
package nmea

import "math"

// Quality is the GGA quality indicator, 0 to 8 (NMEA 0183 v4).
type Quality uint8

const (
	NoFix        Quality = iota // 0: fix not available or invalid
	Autonomous                  // 1: GNSS fix, no corrections
	Differential                // 2: differential corrections, or SBAS
	PPS                         // 3: precise positioning service
	RTKFixed                    // 4: RTK with integer ambiguities
	RTKFloat                    // 5: RTK with float ambiguities
	Estimated                   // 6: dead reckoning
	ManualInput                 // 7: entered by hand
	Simulator                   // 8: simulator
)

var qualityNames = [...]string{
	"no fix", "autonomous", "differential", "PPS", "RTK fixed", "RTK float",
	"estimated", "manual input", "simulator",
}

// String returns the meaning in words, such as "RTK fixed".
func (q Quality) String() string {
	if int(q) < len(qualityNames) {
		return qualityNames[q]
	}
	return "unknown quality"
}

// Rank orders qualities by what they are good for, best first: RTK fixed and
// simulator 5, float 4, differential and PPS 3, autonomous 2, estimated and
// entered by hand 1, no fix and any other 0.
func (q Quality) Rank() int {
	switch q {
	case RTKFixed, Simulator:
		return 5
	case RTKFloat:
		return 4
	case Differential, PPS:
		return 3
	case Autonomous:
		return 2
	case Estimated, ManualInput:
		return 1
	}
	return 0
}

// Fix is what a receiver said about one instant: one epoch, put together from
// all its sentences. It is a plain value, copied freely; it holds no pointers.
//
// A floating-point field that no sentence gave is NaN; an integer field is 0.
type Fix struct {
	// TimeNs is the UTC time of the position in nanoseconds since
	// 1970-01-01T00:00:00Z (no leap seconds). While no sentence has given a
	// date, Dated is false and TimeNs counts from the midnight before the
	// first fix. It never decreases within one stream.
	TimeNs int64
	// ClockSetNs is how far the receiver's clock has been set since the stream
	// began. TimeNs goes on as if it had not been: the receiver itself says
	// TimeNs + ClockSetNs. As a rule 0.
	ClockSetNs int64
	// ArrivalNs is the host's clock when the first sentence of the epoch
	// arrived, nanoseconds since 1970; 0 when the stream does not say.
	ArrivalNs int64
	// ReadyNs is the host's clock when the sentence arrived by which the epoch
	// was known to be complete (see Assembler): from then on a controller could
	// use it. 0 when the stream does not say.
	ReadyNs int64

	LatDeg float64 // WGS 84 latitude, positive north, -90 to 90
	LonDeg float64 // WGS 84 longitude, positive east, -180 to 180

	HeightM  float64 // antenna above mean sea level
	GeoidM   float64 // mean sea level above the ellipsoid
	SpeedMps float64 // over ground, never negative

	CourseDeg      float64 // course over ground of the antenna, clockwise from true north, [0, 360)
	HeadingDeg     float64 // true heading (HDT, THS), clockwise from true north, [0, 360)
	YawRateDegPerS float64 // from ROT, positive = turning right

	HDOP         float32
	SigmaEastM   float32 // 1 sigma from GST; worked out of the error ellipse where it gives no other
	SigmaNorthM  float32
	SigmaHeightM float32
	AgeS         float32 // age of the differential corrections

	Satellites uint8
	Quality    Quality
	Dated      bool
}

// EmptyFix returns the fix of which nothing is known: NaN in every
// floating-point field, 0 elsewhere. Start from it to fill one by hand.
func EmptyFix() Fix { return emptyFix }

var emptyFix = Fix{
	LatDeg: nan, LonDeg: nan, HeightM: nan, GeoidM: nan,
	SpeedMps: nan, CourseDeg: nan, HeadingDeg: nan, YawRateDegPerS: nan,
	HDOP: float32(nan), SigmaEastM: float32(nan), SigmaNorthM: float32(nan),
	SigmaHeightM: float32(nan), AgeS: float32(nan),
}

var nan = math.NaN()

// HasPosition reports whether the fix holds a usable position.
func (f *Fix) HasPosition() bool {
	return f.Quality != NoFix && !math.IsNaN(f.LatDeg) && !math.IsNaN(f.LonDeg)
}
