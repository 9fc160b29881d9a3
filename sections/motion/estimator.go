// The tractor's motion from antenna fixes, as they arrive: an extended Kalman
// filter with six states and scalar updates.

package motion

import (
	"math"

	"liftbench/nmea"
	"liftbench/sections/exact"
)

// Antenna places the antenna from the turning point: x forward, y right.
type Antenna struct{ XM, YM float64 }

// Estimator estimates the motion of the turning point. Its zero value with an
// Antenna set is ready. It allocates nothing, and its whole state is plain
// numbers, so that a copy of it is a snapshot.
//
// The state is (east, north, θ, v, ω, a): position, heading, speed along the
// heading, yaw rate and acceleration. The antenna's position and velocity are
// the measurements; with the antenna off the turning point its velocity is
// (v - ω·y) forward and ω·x to the right, so that its course differs from the
// heading by atan(ω·x / (v - ω·y)): measuring the vector corrects for it, and
// tells reversing (the vector flips, the heading cannot) without a special
// case.
type Estimator struct {
	Antenna Antenna

	X     [6]float64    // east m, north m, θ rad, v m/s, ω rad/s, a m/s²
	P     [6][6]float64 // covariance of X
	State EstimatorState
}

// EstimatorState is what the filter knows beside its state vector.
type EstimatorState struct {
	TimeNs   int64   // of the newest fix; until Ready, of the first one; 0 before any fix
	Started  bool    // a position is known
	Ready    bool    // heading and speed are known too
	ReverseM float64 // how far the tractor has reversed without a break
	// Spread is the factor, 1 or more, by which the variance of the receiver's errors
	// seems to exceed what the receiver says. It comes from the innovations of the past
	// second or so: positions in a log whose times are rounded to the second are off by
	// metres along the way.
	Spread float64
	// LastMps is the antenna's speed at the newest fix, without sign, as the receiver
	// or the way says.
	LastMps float64
	// AheadE and AheadN are the antenna's velocity, m/s, when it was last startSpeedMps
	// or more; in reverse its opposite.
	AheadE, AheadN float64
	// DoubtM is for how far on the way a decision between forward and reverse stays in
	// doubt; DoubtBack, that it was decided for reverse.
	DoubtM    float64
	DoubtBack bool
	Before    Before // until Ready: the motion before the gap
	Still     Standstill
}

// Indices of the state vector.
const (
	east = iota
	north
	theta
	speed
	yaw
	accel
)

// Process and measurement noise. All from memory and common practice, no
// source; the drives in the tests confirm them.
const (
	yawWalkRadPerS      = 0.08 // random walk of ω in one second at 1 m/s and above
	sqrt12              = 2 * 1.7320508075688772
	steadyS             = 0.5  // within it neither speed nor curvature changes much
	drivenMps2          = 0.7  // changes of speed in a longer step
	steeredRadPerS2     = 0.2  // changes of ω in it, at 1 m/s and above
	accelSigmaMps2      = 0.20 // spread of a, which fades with accelFadeS
	velocitySigmaMps    = 0.04 // receiver's velocity, each axis
	headingSigmaRad     = 0.005
	rtkFixedSigmaM      = 0.014 // Carballido et al. 2014: 1.43 cm between rows
	otherSigmaM         = 0.10  // float and less: error from fix to fix, not from the truth
	tightestTurnRadiusM = 3.5
	startSpeedMps       = 0.3 // course is trusted as a heading from here on
	startSigmas         = 5.0 // and so many of the position's, in a second,
	sureSpeedMps        = 1.0 // up to this
	startDistanceM      = 1.0 // or the way travelled, where the stream has no course
	longestReverseM     = 60.0
	likelyReverseMps    = 3.0 // after a gap or a stand it is forward if faster: common practice, no source
	fastestReverseMps   = 4.5 // nobody reverses faster with a hoe: common practice, no source
	fastReverseM        = 5.0 // driven so, it is no error of the estimate
	spreadGain          = 0.04
	widestSpread        = 1e4
	deviatingSigmas     = 2.5
	longestStepS        = 5.0 // a gap after which the motion is begun anew
)

// Update takes a fix whose antenna position on the plane is (eastM, northM).
// Fixes must come in order of time.
func (k *Estimator) Update(f *nmea.Fix, eastM, northM float64) {
	dt := float64(f.TimeNs-k.State.TimeNs) * 1e-9
	if !k.State.Started || dt > longestStepS || dt < 0 {
		if !k.resume(f, eastM, northM) {
			k.begin(f, eastM, northM)
		}
		return
	}
	if !k.State.Ready {
		k.align(f, eastM, northM)
		return
	}
	if dt > gapS && math.IsNaN(f.SpeedMps) && math.IsNaN(f.HeadingDeg) {
		if !k.resume(f, eastM, northM) && !k.passOn(f, eastM, northM) {
			k.begin(f, eastM, northM)
		}
		return
	}
	k.State.TimeNs = f.TimeNs
	s, long := k.stepTo(f, eastM, northM, dt), dt > steadyS
	k.advance(dt)
	if long {
		k.chooseWay(&s)
	}
	if !long || !k.regainHeading(&s) {
		k.measurePosition(eastM, northM, positionSigma(f), long)
		if !math.IsNaN(f.HeadingDeg) {
			k.measure(row{theta, 1, speed, 0, yaw, 0}, Wrap(f.HeadingDeg*math.Pi/180-k.X[theta]), headingSigmaRad)
		}
		if !math.IsNaN(s.toldE) {
			k.measureVelocity(s.toldE, s.toldN, long)
		} else if f.SpeedMps < slowMps {
			// A receiver that hardly moves knows how fast, but not where to.
			v := k.X[speed]
			k.measure(row{speed, 1, theta, 0, yaw, 0}, max(-f.SpeedMps, min(v, f.SpeedMps))-v, velocitySigmaMps)
		}
		if long && !k.regainHeading(&s) {
			k.boundTurn(&s)
		}
	}
	k.pinAtStandstill()
	k.bound()
	k.watchReverse(dt)
	if exact.Hypot(s.ve, s.vn) >= startSpeedMps {
		k.State.AheadE, k.State.AheadN = s.ve, s.vn
		if long && s.goesBack || !long && k.X[speed] < 0 {
			k.State.AheadE, k.State.AheadN = -s.ve, -s.vn
		}
	}
	k.watchStandstill(f, eastM, northM)
}

// velocity returns what the receiver says of the antenna's velocity, east and
// north; NaN where it says nothing. A receiver at rest may leave the course
// empty.
func velocity(f *nmea.Fix) (eastMps, northMps float64) {
	if f.SpeedMps < 0.05 {
		return 0, 0
	}
	s, c := exact.Sincos(f.CourseDeg * math.Pi / 180)
	return f.SpeedMps * s, f.SpeedMps * c
}

// measurePosition takes the antenna's position on the plane.
//
// It is at (e + x·sin θ + y·cos θ, n + x·cos θ - y·sin θ). This and the velocity
// are taken along the machine's axes as they are before, forward and right, so
// that turning the world changes nothing.
func (k *Estimator) measurePosition(eastM, northM, sigmaM float64, long bool) {
	ax, ay := k.Antenna.XM, k.Antenna.YM
	s, c := exact.Sincos(k.X[theta])
	de, dn := eastM-k.X[east], northM-k.X[north]
	k.measurePair(
		row{east, s, north, c, theta, -ay}, float64(de*s)+float64(dn*c)-ax,
		row{east, c, north, -s, theta, ax}, float64(de*c)-float64(dn*s)-ay, sigmaM, long)
}

// measureVelocity takes the antenna's velocity, east and north.
//
// It is (v - ω·y, ω·x) forward and right.
func (k *Estimator) measureVelocity(ve, vn float64, long bool) {
	ax, ay := k.Antenna.XM, k.Antenna.YM
	s, c := exact.Sincos(k.X[theta])
	fwd, right := k.X[speed]-float64(k.X[yaw]*ay), float64(k.X[yaw]*ax)
	k.measurePair(
		row{theta, -right, speed, 1, yaw, -ay}, float64(ve*s)+float64(vn*c)-fwd,
		row{theta, fwd, speed, 0, yaw, ax}, float64(ve*c)-float64(vn*s)-right, velocitySigmaMps, long)
}

// measurePair takes two measurements, along the machine and across it, whose rows and
// innovations are those before either was taken: what the first changes is taken off
// the second's innovation.
//
// With an antenna aside of the turning point the one along the machine depends on the
// turn too, and a driver who brakes harder than the filter expects would be taken for one
// who turns. Where it is beyond what is expected, and the one across the machine is
// not, it changes neither heading nor yaw rate. Over a long step he may have turned
// unseen, and it tells of that.
func (k *Estimator) measurePair(along row, innovation float64, across row, other, sigma float64, long bool) {
	before := across.times(&k.X)
	if !long && k.deviates(&along, innovation, sigma) && !k.deviates(&across, other, sigma) {
		k.measureBut(along, innovation, sigma, theta, yaw)
	} else {
		k.measure(along, innovation, sigma)
	}
	k.measure(across, other-(across.times(&k.X)-before), sigma)
}

// deviates reports whether an innovation is beyond deviatingSigmas of what is expected of
// a receiver as good as it says: hard braking makes its errors seem to spread.
func (k *Estimator) deviates(h *row, innovation, sigma float64) bool {
	p := &k.P
	d := float64(sigma*sigma) +
		float64(h.h0*h.times(&p[h.i0])) + float64(h.h1*h.times(&p[h.i1])) + float64(h.h2*h.times(&p[h.i2]))
	return innovation*innovation > deviatingSigmas*deviatingSigmas*d
}

// pinAtStandstill holds the heading while the tractor stands: it cannot turn
// tighter than its turning radius, so ω fades with v, as the wheels are steered.
func (k *Estimator) pinAtStandstill() {
	v := math.Abs(k.X[speed])
	if v < slowMps {
		k.measure(row{yaw, 1, theta, 0, speed, 0}, float64(k.State.Still.PerM*k.X[speed])-k.X[yaw], 0.002+v/tightestTurnRadiusM)
		return
	}
	k.State.Still.PerM = max(-1/tightestTurnRadiusM, min(k.X[yaw]/k.X[speed], 1/tightestTurnRadiusM))
}

// watchReverse turns the tractor round when it seems to have reversed farther, or
// faster, than any tractor with a hoe does: it began in reverse.
func (k *Estimator) watchReverse(dt float64) {
	most := longestReverseM
	if k.State.DoubtM > 0 {
		k.State.DoubtM -= float64(math.Abs(k.X[speed]) * dt)
		most = doubtfulM
	}
	if k.X[speed] > -0.1 {
		if k.X[speed] > startSpeedMps {
			k.State.ReverseM = 0
		}
		return
	}
	k.State.ReverseM -= float64(k.X[speed] * dt)
	if k.State.ReverseM < most && !(k.State.ReverseM > fastReverseM && k.X[speed] < -fastestReverseMps) {
		return
	}
	k.State.ReverseM, k.State.DoubtM = 0, 0
	s, c := exact.Sincos(k.X[theta])
	k.X[east] += float64(2 * (float64(k.Antenna.XM*s) + float64(k.Antenna.YM*c)))
	k.X[north] += float64(2 * (float64(k.Antenna.XM*c) - float64(k.Antenna.YM*s)))
	k.X[theta] += math.Pi
	k.X[speed], k.X[accel] = -k.X[speed], -k.X[accel]
	for i := range k.X {
		for _, j := range [...]int{speed, accel} {
			k.P[i][j] = -k.P[i][j]
			k.P[j][i] = -k.P[j][i]
		}
	}
}

// Motion returns the motion at the newest fix, and whether it is known:
// before the tractor has moved, its heading is not.
func (k *Estimator) Motion() (m Motion, ok bool) {
	m = Motion{
		Pose: Pose{
			TimeNs:         k.State.TimeNs,
			EastM:          k.X[east],
			NorthM:         k.X[north],
			HeadingRad:     k.X[theta],
			ToolHeadingRad: k.X[theta],
			SpeedMps:       k.X[speed],
			YawRateRadPerS: k.X[yaw],
		},
		AccelMps2: k.X[accel],
	}
	if k.State.Still.Standing {
		m.SpeedMps, m.AccelMps2 = 0, 0
	}
	if math.Abs(m.SpeedMps) < slowMps {
		m.YawRateRadPerS = k.State.Still.PerM * m.SpeedMps
	}
	return m, k.State.Ready
}

// begin starts from one fix: position known, heading not unless the receiver
// gives it.
func (k *Estimator) begin(f *nmea.Fix, eastM, northM float64) {
	was, before := k.X[theta], k.State.Before
	if k.State.Ready {
		before = k.now()
	}
	switch {
	case before.TimeNs == 0:
	case f.SpeedMps < startSpeedMps && (before.Stand.TimeNs == 0 || exact.Hypot(eastM-before.Stand.EastM, northM-before.Stand.NorthM) >= startDistanceM):
		before.Stand = Stand{Place: Place{f.TimeNs, eastM, northM}}
		if f.SpeedMps >= toldMps && !math.IsNaN(f.CourseDeg) {
			before.Stand.CourseRad, before.Stand.Told = f.CourseDeg*math.Pi/180, true
		}
	case math.IsNaN(f.SpeedMps) && math.IsNaN(f.HeadingDeg) && before.Stand.TimeNs == 0:
		before.passes(k.Antenna, Place{f.TimeNs, eastM, northM})
	}
	k.X = [6]float64{east: eastM, north: northM, theta: was}
	k.P = [6][6]float64{}
	k.State = EstimatorState{TimeNs: f.TimeNs, Started: true, Spread: 1, Before: before, DoubtM: k.State.DoubtM, DoubtBack: k.State.DoubtBack}
	k.align(f, eastM, northM)
}

// passOn takes a position after a gap, of which nothing else is told, for one on the way
// straight on, and reports whether it can be.
func (k *Estimator) passOn(f *nmea.Fix, eastM, northM float64) bool {
	b := k.now()
	if !b.passes(k.Antenna, Place{f.TimeNs, eastM, northM}) {
		return false
	}
	k.X = [6]float64{east: b.EastM, north: b.NorthM, theta: b.HeadingRad, speed: b.SpeedMps, yaw: b.SpeedMps * b.PerM}
	k.beginCovariance()
	k.State.TimeNs, k.State.LastMps = f.TimeNs, b.SpeedMps
	k.watchStandstill(f, eastM, northM)
	return true
}

// align waits for the first heading: from the receiver, from its course once
// it moves, or from the way travelled. Until then X holds the first antenna
// position.
func (k *Estimator) align(f *nmea.Fix, eastM, northM float64) {
	de, dn := eastM-k.X[east], northM-k.X[north]
	dt := float64(f.TimeNs-k.State.TimeNs) * 1e-9
	if k.State.Before.TimeNs != 0 && f.SpeedMps < startSpeedMps && math.IsNaN(f.HeadingDeg) && exact.Hypot(de, dn) >= startDistanceM {
		k.begin(f, eastM, northM) // it stands elsewhere
		return
	}
	var heading, v float64
	switch {
	case !math.IsNaN(f.HeadingDeg):
		heading = f.HeadingDeg * math.Pi / 180
		if f.SpeedMps > 0 && !math.IsNaN(f.CourseDeg) {
			v = f.SpeedMps * exact.Cos(f.CourseDeg*math.Pi/180-heading)
		}
	case f.SpeedMps >= max(startSpeedMps, min(float64(startSigmas*positionSigma(f)), sureSpeedMps)) && !math.IsNaN(f.CourseDeg):
		heading, v = f.CourseDeg*math.Pi/180, f.SpeedMps
	case exact.Hypot(de, dn) >= startDistanceM && dt > 0:
		heading, v = exact.Atan2(de, dn), exact.Hypot(de, dn)/dt
	default:
		if f.SpeedMps < toldMps {
			k.State.Before.Stand.Rested = true
		}
		return
	}
	if b := &k.State.Before; b.TimeNs != 0 && math.IsNaN(f.HeadingDeg) {
		if dt := float64(f.TimeNs-b.TimeNs) * 1e-9; dt > 0 && dt <= longestGapS {
			g := b.gapAfter(k.Antenna, Place{f.TimeNs, eastM, northM}, heading, v)
			if k.doubt(&g) {
				heading, v = heading+math.Pi, -v
			}
		}
	}
	k.State.Before = Before{}
	if was := k.X[theta]; was != 0 {
		heading = was + Wrap(heading-was) // it runs on from before the gap
	}
	s, c := exact.Sincos(heading)
	k.X = [6]float64{
		east:  eastM - float64(k.Antenna.XM*s) - float64(k.Antenna.YM*c),
		north: northM - float64(k.Antenna.XM*c) + float64(k.Antenna.YM*s),
		theta: heading,
		speed: v,
	}
	k.beginCovariance()
	k.State.TimeNs, k.State.Ready = f.TimeNs, true
	k.State.LastMps = math.Abs(v)
	k.State.Still = Standstill{EastM: eastM, NorthM: northM, SinceNs: f.TimeNs, LastEastM: eastM, LastNorthM: northM}
}

// beginCovariance says how far off a state is that one fix gave.
func (k *Estimator) beginCovariance() {
	k.P = [6][6]float64{}
	for i, sigma := range [6]float64{0.3, 0.3, 0.2, 0.3, 0.2, accelSigmaMps2} {
		k.P[i][i] = sigma * sigma
	}
}

// advance carries state and covariance dt seconds ahead.
func (k *Estimator) advance(dt float64) {
	x, p := &k.X, &k.P
	// Motion along the arc, as in Predict.
	w := accelFadeS * -exact.Expm1(-dt/accelFadeS)
	half := float64(0.5 * x[yaw] * dt)
	sin, cos := exact.Sincos(x[theta] + half)
	shape := sinc(half)
	dsda := accelFadeS * (dt - w) // ∂s/∂a; ∂v/∂a is w
	s := float64(x[speed]*dt) + float64(x[accel]*dsda)
	de, dn := float64(s*shape*sin), float64(s*shape*cos)
	x[east] += de
	x[north] += dn
	x[theta] += float64(2 * half)
	x[speed] += float64(x[accel] * w)
	keep := 1 - float64(w/accelFadeS)
	x[accel] *= keep

	// P = F·P·Fᵀ with F the identity but for: east and north by θ, v, ω
	// (through the mean heading), a; θ by ω; v by a; a by itself.
	fe := [6]float64{theta: dn, speed: dt * shape * sin, yaw: dn * dt / 2, accel: dsda * sin}
	fn := [6]float64{theta: -de, speed: dt * shape * cos, yaw: -de * dt / 2, accel: dsda * cos}
	// Of either product only what symmetrise keeps is computed, and what that comes from.
	for j := range 6 {
		p[east][j] += float64(fe[theta]*p[theta][j]) + float64(fe[speed]*p[speed][j]) + float64(fe[yaw]*p[yaw][j]) + float64(fe[accel]*p[accel][j])
		if j >= north {
			p[north][j] += float64(fn[theta]*p[theta][j]) + float64(fn[speed]*p[speed][j]) + float64(fn[yaw]*p[yaw][j]) + float64(fn[accel]*p[accel][j])
		}
		if j >= theta {
			p[theta][j] += float64(dt * p[yaw][j])
		}
		if j >= speed {
			p[speed][j] += float64(w * p[accel][j])
		}
	}
	p[accel][accel] *= keep
	r := &p[east]
	r[east] += float64(fe[theta]*r[theta]) + float64(fe[speed]*r[speed]) + float64(fe[yaw]*r[yaw]) + float64(fe[accel]*r[accel])
	for i := range 6 {
		r := &p[i]
		if i <= north {
			r[north] += float64(fn[theta]*r[theta]) + float64(fn[speed]*r[speed]) + float64(fn[yaw]*r[yaw]) + float64(fn[accel]*r[accel])
		}
		if i <= theta {
			r[theta] += float64(dt * r[yaw])
		}
		if i <= speed {
			r[speed] += float64(w * r[accel])
		}
		r[accel] *= keep
	}
	// Process noise. The walk of ω is one of curvature: none at standstill.
	q := yawWalkRadPerS * min(1, math.Abs(x[speed]))
	qq := float64(q * q * dt)
	p[theta][theta] += qq * dt * dt / 3
	p[theta][yaw] += float64(qq * dt / 2)
	p[yaw][theta] += float64(qq * dt / 2)
	p[yaw][yaw] += qq
	p[accel][accel] += float64(accelSigmaMps2 * accelSigmaMps2 * (1 - float64(keep*keep)))
	if unseenS := dt - steadyS; unseenS > 0 {
		// What the driver may have done meanwhile with brake, throttle and wheel: a
		// random walk of v and of ω. Such a walk that ends at 1 has the mean 1/2 on the
		// way, and a part of its own, 1/√12, for when it went there.
		mps := drivenMps2 * unseenS
		k.addNoise(&[6]float64{east: dt / 2 * sin, north: dt / 2 * cos, speed: 1}, mps)
		k.addNoise(&[6]float64{east: dt / sqrt12 * sin, north: dt / sqrt12 * cos}, mps)
		radPerS := steeredRadPerS2 * unseenS * min(1, math.Abs(x[speed]))
		k.addNoise(&[6]float64{east: s * dt / 6 * cos, north: -s * dt / 6 * sin, theta: dt / 2, yaw: 1}, radPerS)
		k.addNoise(&[6]float64{east: s * dt / 2 / sqrt12 * cos, north: -s * dt / 2 / sqrt12 * sin, theta: dt / sqrt12}, radPerS)
	}
	k.symmetrise()
}

// addNoise adds the covariance σ²·g·gᵀ of one unknown number of standard deviation
// σ whose effect on the state is g.
func (k *Estimator) addNoise(g *[6]float64, sigma float64) {
	for i := range g {
		w := g[i] * sigma * sigma
		for j := range g {
			k.P[i][j] += float64(w * g[j])
		}
	}
}

// symmetrise copies the half of P above the diagonal into the other: they are the
// same but for rounding.
func (k *Estimator) symmetrise() {
	p := &k.P
	p[1][0] = p[0][1]
	p[2][0], p[2][1] = p[0][2], p[1][2]
	p[3][0], p[3][1], p[3][2] = p[0][3], p[1][3], p[2][3]
	p[4][0], p[4][1], p[4][2], p[4][3] = p[0][4], p[1][4], p[2][4], p[3][4]
	p[5][0], p[5][1], p[5][2], p[5][3], p[5][4] = p[0][5], p[1][5], p[2][5], p[3][5], p[4][5]
}

// row is a measurement's row h: up to three of the state's elements, each
// with its derivative.
type row struct {
	i0 int
	h0 float64
	i1 int
	h1 float64
	i2 int
	h2 float64
}

// times returns h·x.
func (h *row) times(x *[6]float64) float64 {
	return float64(h.h0*x[h.i0]) + float64(h.h1*x[h.i1]) + float64(h.h2*x[h.i2])
}

// measure takes one scalar measurement with the row h, the innovation and its
// standard deviation: K = P·hᵀ / (h·P·hᵀ + σ²), x += K·innovation,
// P -= K·(P·hᵀ)ᵀ, with σ² spread as the innovations say.
func (k *Estimator) measure(h row, innovation, sigma float64) {
	k.measureBut(h, innovation, sigma)
}

// measureBut is measure with some elements of the state left as they are: their K is 0.
func (k *Estimator) measureBut(h row, innovation, sigma float64, but ...int) {
	var ph [6]float64
	r0, r1, r2 := &k.P[h.i0], &k.P[h.i1], &k.P[h.i2] // P is symmetric
	for i := range ph {
		ph[i] = float64(h.h0*r0[i]) + float64(h.h1*r1[i]) + float64(h.h2*r2[i])
	}
	d := float64(sigma*sigma*k.State.Spread) + float64(h.h0*ph[h.i0]) + float64(h.h1*ph[h.i1]) + float64(h.h2*ph[h.i2])
	k.State.Spread = max(1, min(k.State.Spread*(1+float64(spreadGain*(min(innovation*innovation/d, 9)-1))), widestSpread))
	inv := 1 / d
	var gain [6]float64
	for i := range ph {
		gain[i] = ph[i] * inv
	}
	for _, i := range but {
		gain[i] = 0
	}
	for i := range gain {
		k.X[i] += float64(gain[i] * innovation)
	}
	// Joseph's form, which no rounding of K makes indefinite:
	// P = (I - K·h)·P·(I - K·h)ᵀ + K·σ²·Kᵀ = P - K·(P·hᵀ)ᵀ - (P·hᵀ - K·d)·Kᵀ. One half
	// is computed, the other copied: what is not symmetric in P would double each time.
	for i := range ph {
		left := ph[i] - float64(gain[i]*d)
		r := &k.P[i]
		for j := i; j < len(ph); j++ {
			r[j] -= float64(gain[i]*ph[j]) + float64(left*gain[j])
		}
	}
	k.symmetrise()
}

// bound keeps every variance between what no receiver betters and what a start from
// nothing has, correlations as they are.
func (k *Estimator) bound() {
	for i := range k.P {
		v := k.P[i][i]
		switch {
		case v < leastSigma[i]*leastSigma[i]:
			k.P[i][i] = leastSigma[i] * leastSigma[i]
		case v > mostSigma[i]*mostSigma[i]:
			shrink := mostSigma[i] / math.Sqrt(v)
			for j := range k.P {
				k.P[i][j] *= shrink
				k.P[j][i] *= shrink
			}
		}
	}
}

// By element of the state: m, m, rad, m/s, rad/s, m/s².
var (
	leastSigma = [6]float64{1e-5, 1e-5, 1e-6, 1e-5, 1e-6, 1e-5}
	mostSigma  = [6]float64{10, 10, math.Pi, 20, 2, 5}
)

// positionSigma is how far the position may be off from fix to fix.
func positionSigma(f *nmea.Fix) float64 {
	if s := float64(max(f.SigmaEastM, f.SigmaNorthM)); s > 0.001 {
		return min(s, 2)
	}
	if f.Quality == nmea.RTKFixed || f.Quality == nmea.Simulator {
		return rtkFixedSigmaM
	}
	return otherSigmaM
}

// Wrap returns the angle in [-π, π].
func Wrap(rad float64) float64 {
	if math.Abs(rad) <= math.Pi { // as nearly every angle between two headings is
		return rad
	}
	return math.Remainder(rad, 2*math.Pi)
}
