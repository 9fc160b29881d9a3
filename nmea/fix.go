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

// String returns the quality in words, such as "RTK fixed".
func (q Quality) String() string {
	if int(q) < len(qualityNames) {
		return qualityNames[q]
	}
	return "unknown quality"
}

// Rank orders qualities by how exact such a position is, 5 being the best: RTK
// fixed and simulator 5, RTK float 4, differential and PPS 3, autonomous 2,
// estimated and manual input 1, no fix and any other value 0.
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

// Fix is what a receiver said about one instant, an epoch, in all its sentences.
// It is a plain value without pointers, made to be copied.
//
// A floating-point field that no sentence gave is NaN. Such an integer field is
// 0.
type Fix struct {
	// TimeNs is the UTC time of the position in nanoseconds since
	// 1970-01-01T00:00:00Z, without leap seconds. Until a sentence gives a date,
	// Dated is false and TimeNs counts from the midnight before the first fix.
	// It increases from each fix of a stream to the next.
	TimeNs int64
	// ClockSetNs is by how much the receiver's clock has been set since the
	// stream began, positive when it was set forward; as a rule 0. TimeNs
	// continues as if the clock had not been set: the receiver's own time is
	// TimeNs + ClockSetNs.
	ClockSetNs int64
	// ArrivalNs is the host's time, in nanoseconds since 1970, at which the
	// first sentence of the epoch arrived; 0 if the stream has no arrival times.
	ArrivalNs int64
	// ReadyNs is the host's time at which the epoch was known to be complete
	// (see epoch.Assembler), so that a controller could use it; 0 if the stream
	// has no arrival times.
	ReadyNs int64

	LatDeg float64 // WGS 84 latitude, positive north, -90 to 90
	LonDeg float64 // WGS 84 longitude, positive east, -180 to 180

	HeightM  float64 // antenna above mean sea level
	GeoidM   float64 // mean sea level above the ellipsoid
	SpeedMps float64 // over ground, never negative

	CourseDeg      float64 // direction in which the antenna moves, clockwise from true north, [0, 360)
	HeadingDeg     float64 // direction in which the machine points (HDT, THS), clockwise from true north, [0, 360)
	YawRateDegPerS float64 // from ROT, positive when turning right

	HDOP         float32
	SigmaEastM   float32 // standard deviation from GST, or from its error ellipse where it gives only that
	SigmaNorthM  float32
	SigmaHeightM float32
	AgeS         float32 // age of the differential corrections

	Satellites uint8
	Quality    Quality
	Dated      bool
}

// EmptyFix returns a fix with NaN in every floating-point field and 0 in all
// others. Start from it to fill a fix by hand.
func EmptyFix() Fix { return emptyFix }

var emptyFix = Fix{
	LatDeg: nan, LonDeg: nan, HeightM: nan, GeoidM: nan,
	SpeedMps: nan, CourseDeg: nan, HeadingDeg: nan, YawRateDegPerS: nan,
	HDOP: float32(nan), SigmaEastM: float32(nan), SigmaNorthM: float32(nan),
	SigmaHeightM: float32(nan), AgeS: float32(nan),
}

var nan = math.NaN()

// HasPosition reports whether f has a latitude, a longitude and a quality other
// than NoFix.
func (f *Fix) HasPosition() bool {
	return f.Quality != NoFix && !math.IsNaN(f.LatDeg) && !math.IsNaN(f.LonDeg)
}
