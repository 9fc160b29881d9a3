// The receiver's settings.

package receiver

import (
	"fmt"
	"math"
	"slices"

	"liftbench/nmea"
	"liftbench/sections/enum"
)

// Stamp says how the host's arrival time is written in front of each sentence.
type Stamp uint8

const (
	NoStamp   Stamp = iota
	UnixStamp       // seconds since 1970 with nine decimals
	RFC3339Stamp
)

var stampNames = []string{NoStamp: "none", UnixStamp: "unix", RFC3339Stamp: "rfc3339"}

// String returns the name that files and messages use: none, unix or rfc3339.
func (s Stamp) String() string { return enum.Name(stampNames, s) }

// MarshalText returns the same name, or an error for a value that has none.
func (s Stamp) MarshalText() ([]byte, error) { return enum.Text(stampNames, s) }

// UnmarshalText sets s to the value of that name.
func (s *Stamp) UnmarshalText(text []byte) error { return enum.Set(s, stampNames, text) }

// FaultKind is what the receiver does while a Fault lasts.
type FaultKind uint8

const (
	Float   FaultKind = iota // float solution: quality 5, noise of FloatSigmaM
	NoFix                    // sentences without a position
	Silence                  // no sentences
)

var faultNames = []string{Float: "float", NoFix: "no-fix", Silence: "silence"}

// String returns the name that files and messages use: float, no-fix or silence.
func (k FaultKind) String() string { return enum.Name(faultNames, k) }

// MarshalText returns the same name, or an error for a value that has none.
func (k FaultKind) MarshalText() ([]byte, error) { return enum.Text(faultNames, k) }

// UnmarshalText sets k to the value of that name.
func (k *FaultKind) UnmarshalText(text []byte) error { return enum.Set(k, faultNames, text) }

// Fault is an interval, in seconds from the start of the track, in which
// reception is bad. Where two overlap, the later one in the list applies.
type Fault struct {
	FromS, ToS float64
	Kind       FaultKind
}

// Params are the receiver's settings. The zero value is a receiver without
// error: 10 Hz, no latency, GGA, RMC and VTG.
type Params struct {
	RateHz float64 // epochs per second, at whole multiples of the period from a UTC second on; 0: 10
	// LatencyNs is the time from the instant at which a position is valid until
	// its sentences arrive at the host. To it is added a random time, uniform
	// from 0 to JitterNs.
	LatencyNs, JitterNs int64
	// LostShare is the share of epochs whose sentences never arrive. Each epoch
	// is lost independently of the others.
	LostShare float64
	// ClockAheadNs is how far the host's clock, by which Stamp is written, is
	// ahead of the receiver's; negative = behind.
	ClockAheadNs int64

	// SigmaM is the standard deviation of the position on each axis. The share
	// WhiteShare (0 to 1) of its variance is white noise, drawn anew at each
	// epoch; the rest is a first-order Gauss-Markov process with the correlation
	// time CorrelationS. Carballido et al. 2014 (Appl. Eng. Agric.
	// 30(3):361-366) found 0.0143 m between rows with RTK.
	SigmaM       float64
	CorrelationS float64 // 0: no correlation, all the noise is white
	WhiteShare   float64
	// The same three for a float solution, in a Float fault or a spell of
	// Floats. FloatSigmaM 0: 0.3 m. If the other two are both 0, CorrelationS
	// and WhiteShare apply.
	FloatSigmaM, FloatCorrelationS, FloatWhiteShare float64

	// Floats are spells in which the receiver has only a float solution. Outages
	// are spells without any solution: for the first ReckonedS the receiver
	// continues the last one by dead reckoning (quality 6), after that its
	// sentences are empty. Dead reckoning uses a velocity with a constant error,
	// drawn for each outage and axis with the standard deviation DriftMps, so
	// after t seconds it has added an error of standard deviation DriftMps·t.
	Floats, Outages     Spells
	ReckonedS, DriftMps float64
	// RefixSigmaM is the standard deviation, on each axis, of an offset that
	// appears when a lost fix (float, or no solution) is regained, and lasts
	// until the fix is lost again. Real receivers do this when they fix the
	// ambiguities to wrong integers or set their datum anew. The track starts
	// without an offset.
	RefixSigmaM float64

	// VelocitySigmaMps is the standard deviation of the velocity on each axis.
	// Speed and course both follow from that velocity, so the course grows
	// noisy as the tractor slows.
	VelocitySigmaMps float64
	// MinCourseMps is the speed below which the receiver does not know its
	// course: it leaves the course empty or, with HoldCourse, repeats the last
	// one. 0: 0.1 m/s.
	MinCourseMps float64
	HoldCourse   bool

	HeadingSigmaDeg float64 // of the true heading in HDT

	// The ground slopes by SlopeDeg, downhill toward the bearing DownhillDeg.
	// This shifts the antenna downhill by its height times sin(SlopeDeg).
	SlopeDeg, DownhillDeg float64

	Quality    nmea.Quality // while nothing is wrong; 0: RTKFixed
	Satellites uint8        // 0: 16
	HDOP       float64      // 0: 0.7
	Sentences  []nmea.Type  // of each epoch, in this order; empty: GGA, RMC, VTG
	// MinuteDigits is the number of decimals of a minute of arc in GGA and
	// RMC, 1 to 9; 0: 8. With 4 decimals, latitude comes in steps of 0.19 m.
	MinuteDigits int
	Stamp        Stamp
	Faults       []Fault // during a fault, Floats and Outages are ignored
	Seed         uint64
}

// complete returns p with its defaults filled in, or an error that names the
// first setting outside its range.
func (p Params) complete() (Params, error) {
	setDefault := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	setDefault(&p.RateHz, 10)
	setDefault(&p.FloatSigmaM, 0.3)
	setDefault(&p.MinCourseMps, 0.1)
	setDefault(&p.HDOP, 0.7)
	if p.FloatCorrelationS == 0 && p.FloatWhiteShare == 0 {
		p.FloatCorrelationS, p.FloatWhiteShare = p.CorrelationS, p.WhiteShare
	}
	if p.MinuteDigits == 0 {
		p.MinuteDigits = 8
	}
	if p.Quality == nmea.NoFix {
		p.Quality = nmea.RTKFixed
	}
	if p.Satellites == 0 {
		p.Satellites = 16
	}
	if len(p.Sentences) == 0 {
		p.Sentences = []nmea.Type{nmea.GGA, nmea.RMC, nmea.VTG}
	}
	for _, c := range []struct {
		name, unit string
		v, lo, hi  float64
	}{
		{"rate", "Hz", p.RateHz, minRateHz, maxRateHz},
		{"latency", "ns", float64(p.LatencyNs), 0, 60e9},
		{"jitter", "ns", float64(p.JitterNs), 0, 60e9},
		{"share of lost epochs", "", p.LostShare, 0, 1},
		{"clock ahead by", "ns", float64(p.ClockAheadNs), -60e9, 60e9},
		{"position noise", "m", p.SigmaM, 0, 1000},
		{"correlation time", "s", p.CorrelationS, 0, 1e6},
		{"white share", "", p.WhiteShare, 0, 1},
		{"position noise when float", "m", p.FloatSigmaM, 0, 1000},
		{"correlation time when float", "s", p.FloatCorrelationS, 0, 1e6},
		{"white share when float", "", p.FloatWhiteShare, 0, 1},
		{"float spells an hour", "", p.Floats.PerHour, 0, maxSpellsPerHour},
		{"outages an hour", "", p.Outages.PerHour, 0, maxSpellsPerHour},
		{"dead reckoning", "s", p.ReckonedS, 0, maxSpellS},
		{"drift", "m/s", p.DriftMps, 0, 100},
		{"step of a new fix", "m", p.RefixSigmaM, 0, 1000},
		{"velocity noise", "m/s", p.VelocitySigmaMps, 0, 100},
		{"lowest speed with a course", "m/s", p.MinCourseMps, 0, 100},
		{"heading noise", "°", p.HeadingSigmaDeg, 0, 180},
		{"slope", "°", p.SlopeDeg, 0, 45},
		{"downhill bearing", "°", p.DownhillDeg, -360, 360},
		{"HDOP", "", p.HDOP, 0, 99.9},
		{"quality", "", float64(p.Quality), 1, 8},
		{"decimals of a minute", "", float64(p.MinuteDigits), 1, 9},
	} {
		if !(c.v >= c.lo && c.v <= c.hi) {
			return p, fmt.Errorf("%s %g%s; expected %g to %g", c.name, c.v, space(c.unit), c.lo, c.hi)
		}
	}
	for _, c := range []struct {
		name string
		Spells
	}{{"float spell", p.Floats}, {"outage", p.Outages}} {
		if c.PerHour > 0 && !(c.MeanS > 0 && c.MeanS <= maxSpellS) {
			return p, fmt.Errorf("%s of %g s on average; expected more than 0, up to %g", c.name, c.MeanS, float64(maxSpellS))
		}
	}
	for _, t := range p.Sentences {
		if !slices.Contains(writable[:], t) {
			return p, fmt.Errorf("sentence %v; a receiver says GGA, RMC, VTG, HDT, ZDA or GST", t)
		}
	}
	for i, f := range p.Faults {
		if !(f.FromS < f.ToS) || math.IsInf(f.FromS, 0) {
			return p, fmt.Errorf("fault %d lasts from %g s to %g s; expected an end after the start", i+1, f.FromS, f.ToS)
		}
		if f.Kind > Silence {
			return p, fmt.Errorf("fault %d is of kind %d; expected Float, NoFix or Silence", i+1, f.Kind)
		}
	}
	return p, nil
}

func space(unit string) string {
	if unit == "" {
		return ""
	}
	return " " + unit
}
