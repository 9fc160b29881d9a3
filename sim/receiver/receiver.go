// This file makes the receiver's fix of each epoch from the antenna's true
// position and velocity.

package receiver

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"

	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
)

// Receiver reports a drive along a track epoch by epoch:
//
//	for r.Scan() {
//		use(r.Fix())
//	}
type Receiver struct {
	p       Params
	track   motion.Track
	plane   geodesy.Plane
	machine *sections.Machine

	cursor       int
	times        times
	fix          nmea.Fix
	truth        motion.Pose
	lastCourse   float64
	lastArrival  int64
	signal       signal
	east, north  noise
	velocity     *rand.Rand
	heading      *rand.Rand
	jitter       *rand.Rand
	lost         *rand.Rand
	leanE, leanN float64
}

// New returns a receiver on machine driven along track.
func New(track motion.Track, plane *geodesy.Plane, machine *sections.Machine, params Params) (*Receiver, error) {
	p, err := params.complete()
	if err != nil {
		return nil, err
	}
	if len(track) == 0 {
		return nil, errors.New("the track has no poses; expected a drive")
	}
	// Each noise has its own stream of random numbers, so that changing one
	// setting leaves the other noises as they are.
	stream := func(i uint64) *rand.Rand { return rand.New(rand.NewPCG(p.Seed, i)) }
	r := &Receiver{
		p: p, track: track, plane: *plane, machine: machine,
		times:      newTimes(track[0].TimeNs, p.RateHz),
		lastCourse: math.NaN(),
		east:       newNoise(stream(1), &p),
		north:      newNoise(stream(2), &p),
		velocity:   stream(3), heading: stream(4), jitter: stream(5), lost: stream(6),
	}
	r.signal = signal{
		p: &r.p, startNs: track[0].TimeNs,
		floats:  newSpells(stream(7), p.Floats, track[0].TimeNs),
		outages: newSpells(stream(8), p.Outages, track[0].TimeNs),
		refix:   stream(9), drift: stream(10),
	}
	lean := machine.AntennaZM * exact.Sin(p.SlopeDeg*math.Pi/180)
	sin, cos := exact.Sincos(p.DownhillDeg * math.Pi / 180)
	r.leanE, r.leanN = lean*sin, lean*cos
	return r, nil
}

// Scan goes to the next epoch whose sentences arrive. It reports false at the
// end of the track.
func (r *Receiver) Scan() bool {
	for {
		timeNs := r.times.next()
		if timeNs > r.track[len(r.track)-1].TimeNs {
			return false
		}
		if r.observe(timeNs) {
			return true
		}
	}
}

// Fix returns the fix of the current epoch, before it is rounded for sentences.
// It has a heading only if Params.Sentences contain HDT, and sigmas only if they
// contain GST.
func (r *Receiver) Fix() *nmea.Fix { return &r.fix }

// Truth returns the true pose at the current epoch.
func (r *Receiver) Truth() *motion.Pose { return &r.truth }

// observe makes the fix of one epoch and reports whether its sentences arrive.
// It draws all random numbers at every epoch, needed or not, so that a fault
// does not change the noise of later epochs.
func (r *Receiver) observe(timeNs int64) bool {
	r.truth = r.track.At(timeNs, &r.cursor)
	var at unitNoise
	at.fixedE, at.floatE = r.east.next()
	at.fixedN, at.floatN = r.north.next()
	nVE, nVN := r.velocity.NormFloat64(), r.velocity.NormFloat64()
	nHeading, late := r.heading.NormFloat64(), r.jitter.Float64()
	arrives := r.lost.Float64() >= r.p.LostShare
	s := r.signal.solve(timeNs, &at)

	f := &r.fix
	*f = nmea.EmptyFix()
	f.TimeNs, f.Dated = timeNs, true
	// An epoch cannot arrive before the one ahead of it.
	r.lastArrival = max(r.lastArrival, timeNs+r.p.LatencyNs+int64(late*float64(r.p.JitterNs)))
	f.ArrivalNs = r.lastArrival + r.p.ClockAheadNs

	f.Quality = s.quality
	if s.quality != nmea.NoFix && s.quality != nmea.Estimated {
		f.Satellites, f.HDOP = r.p.Satellites, float32(r.p.HDOP)
	}
	if s.silent || s.quality == nmea.NoFix {
		return arrives && !s.silent
	}

	e, n, ve, vn := r.antenna()
	f.LatDeg, f.LonDeg = r.plane.ToGeodetic(e+r.leanE+s.errorE, n+r.leanN+s.errorN)
	f.HeightM, f.GeoidM = r.machine.AntennaZM, 0
	if slices.Contains(r.p.Sentences, nmea.GST) {
		f.SigmaEastM, f.SigmaNorthM, f.SigmaHeightM = float32(s.sigmaM), float32(s.sigmaM), float32(2*s.sigmaM)
	}
	f.AgeS = 1

	ve += s.driftE + float64(r.p.VelocitySigmaMps*nVE)
	vn += s.driftN + float64(r.p.VelocitySigmaMps*nVN)
	f.SpeedMps = exact.Hypot(ve, vn)
	switch {
	case f.SpeedMps >= r.p.MinCourseMps:
		f.CourseDeg = degrees(exact.Atan2(ve, vn))
		r.lastCourse = f.CourseDeg
	case r.p.HoldCourse:
		f.CourseDeg = r.lastCourse
	}
	if slices.Contains(r.p.Sentences, nmea.HDT) {
		f.HeadingDeg = degrees(r.truth.HeadingRad + float64(r.p.HeadingSigmaDeg*math.Pi/180*nHeading))
	}
	return arrives
}

// antenna returns the true position of the antenna, as on level ground, and its
// velocity v + ω × r: in a turn, an antenna ahead of the turning point also
// moves sideways, and one beside it moves faster or slower than the tractor.
func (r *Receiver) antenna() (eastM, northM, eastMps, northMps float64) {
	p, m := &r.truth, r.machine
	s, c := exact.Sincos(p.HeadingRad)
	forward := p.SpeedMps - float64(p.YawRateRadPerS*m.AntennaYM)
	right := p.YawRateRadPerS * m.AntennaXM
	return p.EastM + float64(m.AntennaXM*s) + float64(m.AntennaYM*c),
		p.NorthM + float64(m.AntennaXM*c) - float64(m.AntennaYM*s),
		float64(forward*s) + float64(right*c),
		float64(forward*c) - float64(right*s)
}

// degrees converts radians to degrees in [0, 360).
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
