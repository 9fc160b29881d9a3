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
		m := fitParabola(samples[min(lo, max(i-1, 0)):max(hi, min(i+2, len(samples)))], t)
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

// parabola is a fitted position and velocity at one instant.
type parabola struct{ e, n, ve, vn float64 }

// fitParabola fits p(τ) = p0 + p1·τ + p2·τ² to positions and velocities, by
// weighted least squares, around the instant t. A weak pull of the
// acceleration towards 0, of standard deviation 1 m/s², keeps it solvable
// with two samples.
func fitParabola(samples []Sample, t int64) parabola {
	const wa = 4 / (1.0 * 1.0) // (2·p2)² / σa²
	const wv = 1 / (velocitySigmaMps * velocitySigmaMps)
	var s0, s1, s2, s3, s4 float64 // normal matrix: [s0 s1 s2; s1 s2' s3; s2 s3 s4]
	var v11, v12, v22 float64      // what the velocities add
	var e0, e1, e2, n0, n1, n2 float64
	e00, n00 := samples[0].EastM, samples[0].NorthM
	for i := range samples {
		p := &samples[i]
		tau := float64(float64(p.TimeNs-t) * 1e-9)
		w := 1 / float64(p.SigmaM*p.SigmaM)
		tt := tau * tau
		s0 += w
		s1 += float64(w * tau)
		s2 += float64(w * tt)
		s3 += float64(w * tt * tau)
		s4 += float64(w * tt * tt)
		e, n := float64(w*(p.EastM-e00)), float64(w*(p.NorthM-n00))
		e0 += e
		e1 += float64(e * tau)
		e2 += float64(e * tt)
		n0 += n
		n1 += float64(n * tau)
		n2 += float64(n * tt)
		if p.VelocityE != p.VelocityE {
			continue // NaN
		}
		ve, vn := float64(wv*float64(p.VelocityE)), float64(wv*float64(p.VelocityN))
		v11 += wv
		v12 += float64(2 * wv * tau)
		v22 += float64(4 * wv * tt)
		e1 += ve
		e2 += float64(2 * tau * ve)
		n1 += vn
		n2 += float64(2 * tau * vn)
	}
	a11, a12, a22 := s2+v11, s3+v12, s4+v22+wa
	// Eliminate p0, then solve two by two.
	b11, b12, b22 := a11-s1*s1/s0, a12-s1*s2/s0, a22-s2*s2/s0
	det := float64(b11*b22) - float64(b12*b12)
	solve := func(r0, r1, r2 float64) (p0, p1 float64) {
		if det <= 0 {
			return r0 / s0, 0
		}
		r1 -= s1 * r0 / s0
		r2 -= s2 * r0 / s0
		p1 = (float64(r1*b22) - float64(r2*b12)) / det
		p2 := (float64(b11*r2) - float64(b12*r1)) / det
		return (r0 - float64(s1*p1) - float64(s2*p2)) / s0, p1
	}
	var m parabola
	m.e, m.ve = solve(e0, e1, e2)
	m.n, m.vn = solve(n0, n1, n2)
	m.e, m.n = m.e+e00, m.n+n00
	return m
}
