// One epoch after the other: the true antenna, and what the receiver makes of
// it.

package receiver

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"

	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// Receiver says a track epoch by epoch:
//
//	for r.Scan() {
//		use(r.Fix())
//	}
type Receiver struct {
	p       Params
	track   motion.Track
	plane   field.Plane
	machine *sections.Machine

	cursor       int
	times        times
	fix          nmea.Fix
	truth        motion.Pose
	lastCourse   float64
	lastArrival  int64
	east, north  noise
	velocity     *rand.Rand
	heading      *rand.Rand
	jitter       *rand.Rand
	leanE, leanN float64
}

// New returns a receiver on machine driven along track.
func New(track motion.Track, plane *field.Plane, machine *sections.Machine, params Params) (*Receiver, error) {
	p, err := params.complete()
	if err != nil {
		return nil, err
	}
	if len(track) == 0 {
		return nil, errors.New("the track has no poses; expected a drive")
	}
	// A stream of its own for each noise, so that one setting does not change
	// the others' values.
	stream := func(i uint64) *rand.Rand { return rand.New(rand.NewPCG(p.Seed, i)) }
	r := &Receiver{
		p: p, track: track, plane: *plane, machine: machine,
		times:      newTimes(track[0].TimeNs, p.RateHz),
		lastCourse: math.NaN(),
		east:       newNoise(stream(1), 1/p.RateHz, p.CorrelationS, p.WhiteShare),
		north:      newNoise(stream(2), 1/p.RateHz, p.CorrelationS, p.WhiteShare),
		velocity:   stream(3), heading: stream(4), jitter: stream(5),
	}
	lean := machine.AntennaZM * math.Sin(p.SlopeDeg*math.Pi/180)
	sin, cos := math.Sincos(p.DownhillDeg * math.Pi / 180)
	r.leanE, r.leanN = lean*sin, lean*cos

	return r, nil
}

// Scan goes to the next epoch at which the receiver is not silent. It reports
// false at the end of the track.
func (r *Receiver) Scan() bool {
	for {
		timeNs := r.times.next()
		if timeNs > r.track[len(r.track)-1].TimeNs {
			return false
		}
		if r.say(timeNs) {
			return true
		}
	}
}

// Fix returns the current epoch, before it is rounded to sentences. Heading and
// sigmas are there only where HDT and GST are among them.
func (r *Receiver) Fix() *nmea.Fix { return &r.fix }

// Truth returns the true pose at the current epoch.
func (r *Receiver) Truth() *motion.Pose { return &r.truth }

// say makes the fix of one epoch. It reports false when the receiver is
// silent. Every source of chance moves on at every epoch.
func (r *Receiver) say(timeNs int64) bool {
	r.truth = r.track.At(timeNs, &r.cursor)
	nE, nN := r.east.next(), r.north.next()
	nVE, nVN := r.velocity.NormFloat64(), r.velocity.NormFloat64()
	nHeading, late := r.heading.NormFloat64(), r.jitter.Float64()

	f := &r.fix
	*f = nmea.EmptyFix()
	f.TimeNs, f.Dated = timeNs, true
	// Sentences do not overtake each other.
	r.lastArrival = max(r.lastArrival, timeNs+r.p.LatencyNs+int64(late*float64(r.p.JitterNs)))
	f.ArrivalNs = r.lastArrival

	sigma := r.p.SigmaM
	f.Quality, f.Satellites, f.HDOP = r.p.Quality, r.p.Satellites, float32(r.p.HDOP)
	if fault, ok := r.fault(timeNs); ok {
		switch fault {
		case Silence:
			return false
		case NoFix:
			f.Quality, f.Satellites, f.HDOP = nmea.NoFix, 0, float32(math.NaN())
			return true
		case Float:
			f.Quality, sigma = nmea.RTKFloat, r.p.FloatSigmaM
		}
	}

	e, n, ve, vn := r.antenna()
	f.LatDeg, f.LonDeg = r.plane.ToGeodetic(e+r.leanE+sigma*nE, n+r.leanN+sigma*nN)
	f.HeightM, f.GeoidM = r.machine.AntennaZM, 0
	if slices.Contains(r.p.Sentences, nmea.GST) {
		f.SigmaEastM, f.SigmaNorthM, f.SigmaHeightM = float32(sigma), float32(sigma), float32(2*sigma)
	}
	f.AgeS = 1

	ve += r.p.VelocitySigmaMps * nVE
	vn += r.p.VelocitySigmaMps * nVN
	f.SpeedMps = math.Hypot(ve, vn)
	switch {
	case f.SpeedMps >= r.p.MinCourseMps:
		f.CourseDeg = degrees(math.Atan2(ve, vn))
		r.lastCourse = f.CourseDeg
	case r.p.HoldCourse:
		f.CourseDeg = r.lastCourse
	}
	if slices.Contains(r.p.Sentences, nmea.HDT) {
		f.HeadingDeg = degrees(r.truth.HeadingRad + r.p.HeadingSigmaDeg*math.Pi/180*nHeading)
	}
	return true
}

// antenna returns the true position of the antenna on level ground and its
// velocity, v + ω × r: a lever forward moves sideways in a turn, one to the
// side moves back or ahead.
func (r *Receiver) antenna() (eastM, northM, eastMps, northMps float64) {
	p, m := &r.truth, r.machine
	s, c := math.Sincos(p.HeadingRad)
	forward := p.SpeedMps - p.YawRateRadPerS*m.AntennaYM
	right := p.YawRateRadPerS * m.AntennaXM
	return p.EastM + m.AntennaXM*s + m.AntennaYM*c,
		p.NorthM + m.AntennaXM*c - m.AntennaYM*s,
		forward*s + right*c,
		forward*c - right*s
}

// fault returns what is wrong at an instant, if anything.
func (r *Receiver) fault(timeNs int64) (FaultKind, bool) {
	s := float64(timeNs-r.track[0].TimeNs) * 1e-9
	for i := len(r.p.Faults) - 1; i >= 0; i-- {
		if f := &r.p.Faults[i]; s >= f.FromS && s < f.ToS {
			return f.Kind, true
		}
	}
	return 0, false
}

// degrees turns radians into [0, 360).
func degrees(rad float64) float64 {
	d := math.Mod(rad*180/math.Pi, 360)
	if d < 0 {
		d += 360
	}
	if d >= 360 {
		d = 0
	}
	return d
}
