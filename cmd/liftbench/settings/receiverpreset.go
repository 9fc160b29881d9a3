// Receivers by their kind of solution, with their errors and the source of each
// figure.

package settings

import (
	"liftbench/nmea"
	"liftbench/sim/receiver"
)

// The kinds of solution.
const (
	RtkFixed   = "rtk-fixed"
	RtkFloat   = "rtk-float"
	Sbas       = "sbas"
	Standalone = "standalone"
)

// PresetReceiver returns the receiver of that kind, whose values the keys of
// a scenario then replace. What a site adds (spells, outages, lost positions,
// steps) is in none of them.
//
// Accuracies are published as the radius that holds 95 % of the horizontal
// errors. Of two axes alike, each normal with σ, that is σ·√(-2·ln 0.05) =
// 2.45·σ (Rayleigh distribution).
func PresetReceiver(kind string) Receiver {
	r := Receiver{
		Preset: kind,
		// 10 Hz and 0.1 s: common practice, no source.
		RateHz: 10, LatencyMs: 100,
		// Carballido et al. 2014 (Appl. Eng. Agric. 30(3):361-366) found a
		// standard deviation of 1.43 cm between rows with RTK. How it is spread
		// over time, and the velocity's: our choice, no source.
		NoiseCm: 1.4, CorrelationS: 60, WhiteShare: 0.1, VelocityCmS: 2,
		// A float solution is off by some decimetres; spells of half a minute,
		// outages of ten seconds, a drift of 5 cm/s: common practice, no source.
		FloatNoiseCm: 30, FloatS: 30, OutageS: 10, DriftCmS: 5,
		MinCourseKmh: 0.36,
		Quality:      int(nmea.RTKFixed), Satellites: 16, HDOP: 0.7,
		MinuteDigits: 8,
		Sentences:    []nmea.Type{nmea.GGA, nmea.RMC, nmea.VTG},
		Stamp:        receiver.NoStamp,
	}
	switch kind {
	case RtkFloat:
		// As FloatNoiseCm. It wanders over minutes as the ambiguities converge:
		// common practice, no source.
		r.Quality, r.NoiseCm = int(nmea.RTKFloat), r.FloatNoiseCm
		r.CorrelationS, r.WhiteShare = 300, 0.01
	case Sbas:
		// The FAA's quarterly WAAS Performance Analysis Reports find some 1 m,
		// 95 % horizontal, at their reference stations (from memory); ICAO Annex 10
		// volume I asks for 16 m (from memory). 1 m / 2.45 = 0.4 m. The rest is
		// common practice, no source.
		r.Quality, r.NoiseCm = int(nmea.Differential), 40
		r.CorrelationS, r.WhiteShare, r.VelocityCmS = 300, 0.01, 5
		r.Satellites, r.HDOP = 10, 1
	case Standalone:
		// The GPS Standard Positioning Service Performance Standard, 5th edition,
		// April 2020, promises 8 m or better, 95 % horizontal, averaged over the
		// globe, for the signal in space alone (from memory). 8 m / 2.45 = 3.3 m:
		// a bound, of which a good receiver under open sky needs less than half
		// (common practice, no source). The rest is common practice too.
		r.Quality, r.NoiseCm = int(nmea.Autonomous), 330
		r.CorrelationS, r.WhiteShare, r.VelocityCmS = 600, 0.001, 5
		r.Satellites, r.HDOP = 10, 1
	}
	return r
}
