// The track of a whole recorded drive, smoothed with hindsight: what a score
// takes for the truth where the true poses are not known.

package motion

import (
	"math"

	"liftbench/nmea"
	"liftbench/sections/exact"
)

// Sample is one fix of a recorded drive on the plane, for Smooth.
type Sample struct {
	TimeNs        int64
	EastM, NorthM float64 // of the antenna
	VelocityE     float32 // m/s, of the antenna, by speed and course; NaN where the receiver gave none
	VelocityN     float32
	HeadingRad    float32 // true heading; NaN where the receiver gave none
	SigmaM        float32 // of the position, from fix to fix
}

// SampleOf makes a sample of a fix whose antenna is at (eastM, northM).
func SampleOf(f *nmea.Fix, eastM, northM float64) Sample {
	ve, vn := velocity(f)
	return Sample{
		TimeNs: f.TimeNs, EastM: eastM, NorthM: northM,
		VelocityE:  float32(ve),
		VelocityN:  float32(vn),
		HeadingRad: float32(f.HeadingDeg * math.Pi / 180),
		SigmaM:     float32(positionSigma(f)),
	}
}

const (
	smoothHalfNs = 600e6  // samples this far on both sides take part
	gapNs        = 5000e6 // no sample for longer: the drive is broken there
	courseMps    = 0.15   // slower, the direction of motion says nothing

	// Between two samples no tractor goes further than jumpM beyond what
	// fastestMps explains: common practice, no source.
	jumpM      = 5.0
	fastestMps = 20.0
)

// Smooth returns the track of the turning point through samples in order of
// time: around each sample a parabola in east and in north is fitted by least
// squares to the positions and velocities within 0.6 s (at least one
// neighbour on either side), and the heading from the directions of motion as
// smoothHeading says. Over a gap of more than 5 s the tractor stands, then is
// somewhere else; where its position jumps it is so at once.
func Smooth(samples []Sample, antenna Antenna) Track {
	track := make(Track, 0, len(samples)+8)
	for from := 0; from < len(samples); {
		to := from + 1
		for to < len(samples) && samples[to].TimeNs-samples[to-1].TimeNs <= gapNs && !jumps(&samples[to-1], &samples[to]) {
			to++
		}
		if from > 0 && samples[from].TimeNs-samples[from-1].TimeNs > gapNs {
			last := &track[len(track)-1]
			last.SpeedMps, last.YawRateRadPerS = 0, 0
			p := *last
			p.TimeNs = samples[from].TimeNs - 1e6
			track = append(track, p)
		}
		track = smoothStretch(track, samples[from:to], antenna)
		from = to
	}
	return track
}

// jumps reports whether no tractor can have gone from a to b.
func jumps(a, b *Sample) bool {
	return exact.Hypot(b.EastM-a.EastM, b.NorthM-a.NorthM) > jumpM+float64(fastestMps*float64(b.TimeNs-a.TimeNs)*1e-9)
}

// smoothStretch appends the track of samples without a gap or a jump.
func smoothStretch(track Track, samples []Sample, antenna Antenna) Track {
	first := len(track)
	lo, hi := 0, 0
	var w window
	for i := range samples {
		t := samples[i].TimeNs
		for samples[lo].TimeNs < t-smoothHalfNs {
			lo++
		}
		for hi < len(samples) && samples[hi].TimeNs <= t+smoothHalfNs {
			hi++
		}
		// East, north and their rates, all of the antenna, until smoothHeading
		// turns the rates into heading, speed and yaw rate.
		w.moveTo(samples, min(lo, max(i-1, 0)), max(hi, min(i+2, len(samples))), i)
		m := fitParabola(samples[w.from:w.until], t, &w.normal)
		track = append(track, Pose{TimeNs: t, EastM: m.e, NorthM: m.n, SpeedMps: m.ve, YawRateRadPerS: m.vn})
	}
	smoothHeading(track[first:], samples, antenna)
	turnLongReverse(track[first:])
	for i := first; i < len(track); i++ {
		p := &track[i]
		s, c := exact.Sincos(p.HeadingRad)
		p.EastM -= float64(antenna.XM*s) + float64(antenna.YM*c)
		p.NorthM -= float64(antenna.XM*c) - float64(antenna.YM*s)
		p.ToolHeadingRad = p.HeadingRad
	}
	return track
}

// turnLongReverse turns round each stretch that seems to reverse for longer
// than any tractor with a hoe does: there it began in reverse. Which way the tractor
// goes was mistaken at some stand before, so what follows is turned round as well,
// short ways to and fro at a corner, until a stretch is driven forward for as long.
func turnLongReverse(track Track) {
	mistaken := false
	for i := 0; i < len(track); {
		j, way, backward := i, 0.0, track[i].SpeedMps < courseMps
		for j < len(track) && track[j].SpeedMps < courseMps == backward {
			if j > i {
				way += math.Abs(float64(track[j].SpeedMps * float64(track[j].TimeNs-track[j-1].TimeNs) * 1e-9))
			}
			j++
		}
		if way > longestReverseM {
			mistaken = backward
		}
		if mistaken {
			for k := i; k < j; k++ {
				track[k].SpeedMps = -track[k].SpeedMps
				track[k].HeadingRad += math.Pi
			}
		}
		i = j
	}
}
