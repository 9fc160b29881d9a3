// Standstill: when the tractor stands, whatever the receiver says of its speed
// and course, and when it moves again.

package motion

import (
	"math"

	"liftbench/nmea"
	"liftbench/sections/exact"
)

// Standstill is told from the distance driven: the antenna has stayed within awayM
// of one place for dwellNs. A receiver's velocity at rest is noise of some centimetres
// a second whose course points anywhere, and an estimate that follows hard
// braking runs on past zero; the distance driven does neither.
//
// It ends when the speed says so, or when the distance and some speed do (or, without
// positions, when the receiver's speed does: Controller.watchDeparture): positions
// that wander by themselves, as those of a float solution, do not. All from
// memory and common practice, no source.
const (
	awayM         = 0.05 // and awaySigmas of the position
	awaySigmas    = 4.0
	slowMps       = 0.5 // slower, yaw rate and course say nothing of the path
	backSigmas    = 3.5
	dwellNs       = 1e9
	movingMps     = 0.15 // of the estimate, 5 times its noise at rest
	creepingMps   = 0.05 // with more than awayM of way
	reportedMps   = 0.3  // of the receiver: 6 times a noise of 5 cm/s on each axis
	resumeWithinM = 2.0  // position found again within this of where it stood: it stands there still
)

// Standstill is where the tractor stands, or may be coming to stand.
type Standstill struct {
	Standing      bool
	EastM, NorthM float64 // of the antenna, since SinceNs
	SinceNs       int64
	HeadingRad    float64 // held while it stands
	// PerM is the path's curvature before the tractor slowed, 1/m. When it starts
	// again the wheels are taken to be steered as they were.
	PerM float64
	// BackM is how far the antenna has gone back from the farthest point it
	// reached; 0 as soon as it goes on.
	BackM      float64
	LastEastM  float64 // of the antenna at the newest fix
	LastNorthM float64
	// Reversing: the estimate says so, and so do the way and the receiver. An
	// estimate alone runs past zero where a driver brakes hard.
	Reversing bool
}

// watchStandstill takes the antenna's newest position.
func (k *Estimator) watchStandstill(f *nmea.Fix, eastM, northM float64) {
	s := &k.State.Still
	sigmaM := positionSigma(f)
	sin, cos := exact.Sincos(k.X[theta])
	s.BackM = max(0, s.BackM-float64((eastM-s.LastEastM)*sin)-float64((northM-s.LastNorthM)*cos))
	s.LastEastM, s.LastNorthM = eastM, northM
	away := exact.Hypot(eastM-s.EastM, northM-s.NorthM) > awayM+float64(awaySigmas*sigmaM)
	v := math.Abs(k.X[speed])
	// NaN where the receiver says nothing; then the other two decide.
	reported := f.SpeedMps
	s.Reversing = k.X[speed] < reversingMps && s.BackM > backSigmas*sigmaM && !(reported < -reversingMps)
	switch {
	case s.Standing && (v > movingMps || away && v > creepingMps):
		s.Standing = false
		k.X[yaw] = s.PerM * k.X[speed]
		s.EastM, s.NorthM, s.SinceNs = eastM, northM, f.TimeNs
	case s.Standing:
		k.rest()
	case away || reported > reportedMps:
		s.EastM, s.NorthM, s.SinceNs = eastM, northM, f.TimeNs
	case f.TimeNs-s.SinceNs >= dwellNs && !s.Reversing:
		s.Standing, s.HeadingRad, s.BackM = true, k.X[theta], 0
		k.X[speed], k.X[accel] = 0, 0
		k.rest()
	}
}

// rest holds the heading while the tractor stands: it cannot turn on the spot.
func (k *Estimator) rest() {
	k.X[theta], k.X[yaw] = k.State.Still.HeadingRad, 0
	k.State.Still.BackM = 0
}

// resume goes on at a standstill after a gap: the heading is what it was.
func (k *Estimator) resume(f *nmea.Fix, eastM, northM float64) bool {
	s := &k.State.Still
	if !s.Standing || f.TimeNs < k.State.TimeNs || exact.Hypot(eastM-s.EastM, northM-s.NorthM) > resumeWithinM {
		return false
	}
	sin, cos := exact.Sincos(s.HeadingRad)
	k.X = [6]float64{
		east:  eastM - float64(k.Antenna.XM*sin) - float64(k.Antenna.YM*cos),
		north: northM - float64(k.Antenna.XM*cos) + float64(k.Antenna.YM*sin),
		theta: s.HeadingRad,
	}
	headingVar := k.P[theta][theta]
	k.P = [6][6]float64{}
	for i, sigma := range [6]float64{0.3, 0.3, 0, 0.1, 0.01, accelSigmaMps2} {
		k.P[i][i] = sigma * sigma
	}
	k.P[theta][theta] = headingVar
	k.State.TimeNs = f.TimeNs
	s.EastM, s.NorthM, s.SinceNs = eastM, northM, f.TimeNs
	s.LastEastM, s.LastNorthM = eastM, northM
	return true
}

// Backward reports whether the estimate alone says that the tractor goes
// backward, as it may for a moment where a driver brakes hard: no reason to lift,
// but none to drop either.
func (k *Estimator) Backward() bool { return k.X[speed] < reversingMps }

// reversingMps: slower backward motion may be noise at standstill.
const reversingMps = -0.15
