// Which way the tractor goes, and a heading that the filter has lost: fixes further
// apart than steadyS show a tight turn as a few corners, which straight lines
// through the last estimate do not fit.

package motion

import (
	"math"

	"liftbench/nmea"
	"liftbench/sections/exact"
)

// From memory and common practice, no source; the rough tracks in the tests confirm them.
const (
	turnBackMps2   = 4.0 // a tractor on soil brakes, and starts again, with less
	turnBackSlackM = 0.3 // for the error of the speeds, beside the position's own noise
	regainMps      = 0.5 // slower, the direction of motion is no heading
	turnSlackRad   = 0.1 // noise of the heading from fix to fix
	// lostHeadingRad is the angle between predicted and measured direction of motion
	// beyond which the heading begins anew from the measured one.
	lostHeadingRad = 0.6
	// After reversing for againM or more and a stand, slower than strokeMps, the tractor
	// is taken to go on in reverse only if the cosine of the angle between heading and
	// motion is below cosAgain. The test is stricter than usual because a tractor mostly
	// drives forward then, and its heading is uncertain.
	againM    = 1.0
	strokeMps = 0.3
	cosAgain  = -0.7
)

// step is what the antenna did between two fixes.
type step struct {
	dt            float64 // s
	eastM, northM float64 // of the antenna, at its end
	ve, vn        float64 // m/s, of the antenna, at its end; NaN where nothing says it
	toldE, toldN  float64 // what the receiver says of it; NaN where it says nothing
	headingRad    float64 // at its beginning
	wayM          float64 // driven
	backward      bool    // the tractor went backward at its beginning
	through       bool    // it has gone on the same way: it cannot have stood in between
	cosBackward   float64 // if not: it goes backward where the cosine of the angle between heading and motion is below
}

// stepTo returns the step to the antenna's newest position, before the state is
// carried to it.
//
// A tractor that turns back comes to stand. With speeds v before and u after, and
// as much braking as starting, it then ends (v-u)·dt/2 from where it began. A
// tractor that goes on ends further away, even through half a turn: 2/π of
// (v+u)·dt/2.
func (k *Estimator) stepTo(f *nmea.Fix, eastM, northM, dt float64) step {
	s := step{dt: dt, eastM: eastM, northM: northM, headingRad: k.X[theta], backward: k.X[speed] < 0}
	s.toldE, s.toldN = velocity(f)
	s.ve, s.vn = s.toldE, s.toldN
	still := &k.State.Still
	de, dn := eastM-still.LastEastM, northM-still.LastNorthM
	wayM := exact.Hypot(de, dn)
	if math.IsNaN(s.ve) && math.IsNaN(f.SpeedMps) && wayM > startDistanceM {
		s.ve, s.vn = de/dt, dn/dt
	}
	before, after := math.Abs(k.X[speed]), exact.Hypot(s.ve, s.vn)
	switch {
	case !math.IsNaN(f.SpeedMps):
		after = f.SpeedMps
	case math.IsNaN(after):
		after = before
	}
	if k.State.ReverseM > againM && k.X[speed] > -strokeMps {
		s.cosBackward = cosAgain
	}
	slower := min(before, k.State.LastMps)
	k.State.LastMps = after
	s.through = slower >= regainMps && (before+after > turnBackMps2*dt ||
		wayM > float64(math.Abs(before-after)*dt/2)+turnBackSlackM+float64(awaySigmas*positionSigma(f)))
	s.wayM = max(wayM, (before+after)*dt/2)
	return s
}

// regainHeading begins the heading anew, where the antenna moves in another
// direction than the tractor can, and reports whether it did. The position is the
// newest then, too.
func (k *Estimator) regainHeading(s *step) bool {
	mps := exact.Hypot(s.ve, s.vn)
	if !(mps >= regainMps) {
		return false
	}
	bearing := exact.Atan2(s.ve, s.vn)
	backward := s.backward
	if !s.through {
		backward = exact.Cos(bearing-k.X[theta]) < s.cosBackward
	}
	v := mps
	if backward {
		v = -v
	}
	// Where the antenna would move with the heading and yaw rate as predicted.
	along := exact.Atan2(k.X[yaw]*k.Antenna.XM, v-float64(k.X[yaw]*k.Antenna.YM))
	offRad := Wrap(bearing - k.X[theta] - along)
	if math.Abs(offRad) <= lostHeadingRad && (!s.through || k.X[speed] < 0 == backward) {
		return false
	}
	tightest := mps / tightestTurnRadiusM
	w := max(-tightest, min(k.X[yaw]+offRad/s.dt, tightest))
	heading := k.X[theta] + offRad
	sin, cos := exact.Sincos(heading)
	k.X = [6]float64{
		east:  s.eastM - float64(k.Antenna.XM*sin) - float64(k.Antenna.YM*cos),
		north: s.northM - float64(k.Antenna.XM*cos) + float64(k.Antenna.YM*sin),
		theta: heading,
		speed: v,
		yaw:   w,
	}
	k.beginCovariance()
	return true
}

// boundTurn takes back what the filter has turned the tractor by more than its
// steering can on the way driven. Where the antenna runs behind the axle, as one
// in front of it does in reverse, its positions alone hardly tell the heading.
func (k *Estimator) boundTurn(s *step) {
	w := math.Abs(k.X[speed])/tightestTurnRadiusM + turnSlackRad
	k.X[yaw] = max(-w, min(k.X[yaw], w))
	most := s.wayM/tightestTurnRadiusM + turnSlackRad
	turn := k.X[theta] - s.headingRad
	if math.Abs(turn) <= most {
		return
	}
	k.X[theta] = s.headingRad + math.Copysign(most, turn)
	sin, cos := exact.Sincos(k.X[theta])
	k.X[east] = s.eastM - float64(k.Antenna.XM*sin) - float64(k.Antenna.YM*cos)
	k.X[north] = s.northM - float64(k.Antenna.XM*cos) + float64(k.Antenna.YM*sin)
}
