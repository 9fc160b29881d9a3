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
	turnBackMps2   = 4.0  // a tractor on soil brakes, and starts again, with less
	turnBackSlackM = 0.3  // for the error of the speeds, beside the position's own noise
	regainMps      = 0.5  // slower, the direction of motion is no heading
	otherSideRad   = 0.35 // swings out before a turn are less
	meanSpeedS     = 2.5  // longer, the mean velocity is not that at the end
	turnSlackRad   = 0.1  // noise of the heading from fix to fix
	// lostHeadingRad is the angle between predicted and measured direction of motion
	// beyond which the heading begins anew from the measured one.
	lostHeadingRad = 0.6
	// After reversing for againM or more and a stand, slower than strokeMps, the tractor
	// is taken to go on in reverse only if the cosine of the angle between heading and
	// motion is below cosAgain. The test is stricter than usual because a tractor mostly
	// drives forward then, and its heading is uncertain.
	againM = 1.0
	// So far a tractor has gone in reverse if it seems to have turned back.
	turnedBackM = 0.3
	strokeMps   = 0.3
	cosAgain    = -0.5
)

// step is what the antenna did between two fixes.
type step struct {
	dt             float64 // s
	eastM, northM  float64 // of the antenna, at its end
	ve, vn         float64 // m/s, of the antenna, at its end; NaN where nothing says it
	toldE, toldN   float64 // what the receiver says of it; NaN where it says nothing
	headingRad     float64 // at its beginning
	wayM           float64 // driven
	backward       bool    // the tractor went backward at its beginning
	through        bool    // it has gone on the same way: it cannot have stood in between
	cosBackward    float64 // if not: it goes backward where the cosine of the angle between heading and motion is below
	chordE, chordN float64 // from the antenna's position before to its newest
	chordM, sigmaM float64
	goesBack       bool // the tractor goes backward at its end, by chooseWay
	before         Before
}

// stepTo returns the step to the antenna's newest position, before the state is
// carried to it.
//
// A tractor that turns back comes to stand. With speeds v before and u after, and
// as much braking as starting, it then ends (v-u)·dt/2 from where it began. A
// tractor that goes on ends further away, even through half a turn: 2/π of
// (v+u)·dt/2, of which some is left out here as the speed may dip in between. Over a
// gap there is time to turn back and come as far on the other side, so both must hold,
// and chooseWay asks whether it can have steered so.
func (k *Estimator) stepTo(f *nmea.Fix, eastM, northM, dt float64) step {
	s := step{dt: dt, eastM: eastM, northM: northM, headingRad: k.X[theta], backward: k.X[speed] < -creepingMps}
	if dt > gapS {
		s.before = k.now()
	}
	s.toldE, s.toldN = velocity(f)
	s.ve, s.vn = s.toldE, s.toldN
	still := &k.State.Still
	de, dn := eastM-still.LastEastM, northM-still.LastNorthM
	wayM := exact.Hypot(de, dn)
	if math.IsNaN(s.ve) && math.IsNaN(f.SpeedMps) && wayM > startDistanceM && dt <= meanSpeedS {
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
	slackM := turnBackSlackM + float64(awaySigmas*positionSigma(f))
	s.through = slower >= regainMps && (before+after > turnBackMps2*dt ||
		wayM > float64(math.Abs(before-after)*dt/2)+slackM && wayM > float64((before+after)*dt/4)-slackM)
	s.chordE, s.chordN, s.chordM, s.sigmaM = de, dn, wayM, positionSigma(f)
	s.wayM = max(wayM, (before+after)*dt/2)
	return s
}

// chooseWay says whether the tractor goes backward at the end of a step, from the
// state carried there, before it takes the newest position: what it takes moves the
// heading, and a heading that lags behind a turn may then fit the other way as well.
//
// The heading carried there has the yaw rate of the step's beginning all along.
// What the tractor has turned is no more than its curvature on the way driven.
func (k *Estimator) chooseWay(s *step) {
	s.goesBack = s.backward
	mps := exact.Hypot(s.ve, s.vn)
	if !(mps >= startSpeedMps) {
		return
	}
	bearing := exact.Atan2(s.ve, s.vn)
	if s.dt > gapS {
		g := s.before.gapTo(k.Antenna, s.eastM, s.northM, bearing, mps, s.dt)
		s.goesBack = k.doubt(&g)
		s.through = s.goesBack == s.backward
		return
	}
	if s.through = s.through && k.steered(s, bearing); s.through {
		return
	}
	most := float64(math.Abs(k.State.Still.PerM)*s.wayM) + turnSlackRad
	k.X[theta] = s.headingRad + max(-most, min(k.X[theta]-s.headingRad, most))
	s.goesBack = mps <= likelyReverseMps && exact.Cos(bearing-k.X[theta]) < s.cosBackward
	if k.State.ReverseM > againM {
		// After some metres in reverse the heading is known less well than the way that
		// the antenna went. A tractor cannot turn on the spot.
		ahead := float64(s.ve*k.State.AheadE) + float64(s.vn*k.State.AheadN)
		s.goesBack = mps <= likelyReverseMps && ahead < 0
	}
}

// steered reports whether the tractor can have turned on the step's way from its
// heading to a direction of motion without turning back: not by more than its
// steering and what the heading may be off allow, and on a wide turn not by way of
// the other side.
func (k *Estimator) steered(s *step, bearingRad float64) bool {
	along := s.headingRad
	if s.backward {
		along += math.Pi
	}
	turn, chord := Wrap(bearingRad-along), Wrap(exact.Atan2(s.chordE, s.chordN)-along)
	if math.Abs(turn) > math.Pi/2 && chord*turn < 0 && math.Abs(chord) > otherSideRad {
		return false
	}
	return math.Abs(turn) <= s.wayM/tightestTurnRadiusM+turnSlackRad+lostHeadingRad
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
	v := mps
	if s.goesBack {
		v = -v
	}
	// Where the antenna would move with the heading and yaw rate as predicted.
	tightest := mps / tightestTurnRadiusM
	w := max(-tightest, min(k.X[yaw], tightest))
	along := exact.Atan2(w*k.Antenna.XM, v-float64(w*k.Antenna.YM))
	offRad := Wrap(bearing - k.X[theta] - along)
	// At rest the sign of the speed says nothing.
	otherWay := s.goesBack && k.X[speed] > creepingMps || !s.goesBack && k.X[speed] < -creepingMps
	if math.Abs(offRad) <= lostHeadingRad && !otherWay {
		return false
	}
	if s.goesBack && k.State.ReverseM > turnedBackM && mps >= sureSpeedMps && k.State.DoubtM > 0 && !k.State.DoubtBack {
		// It was taken to go forward, in doubt, and seems to have turned back. In reverse it
		// would not go there: so it went backward then, and goes forward now.
		s.goesBack, v, k.State.DoubtM = false, mps, 0
		k.X[theta] += math.Pi
	}
	// The yaw rate is the mean one of the step. As the antenna moves beside the heading
	// by near enough ω·x/v, the turn and that angle together are what is measured.
	if turn := Wrap(bearing - s.headingRad - exact.Atan2(0, v)); s.dt+k.Antenna.XM/v > 0.5*s.dt {
		w = turn / (s.dt + k.Antenna.XM/v)
	} else {
		w = turn / s.dt
	}
	w = max(-tightest, min(w, tightest))
	heading := k.X[theta] + Wrap(bearing-k.X[theta]-exact.Atan2(w*k.Antenna.XM, v-float64(w*k.Antenna.YM)))
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
// steering can on the way driven, and what the antenna cannot move beside the
// heading. Where the antenna runs behind the axle, as one in front of it does in
// reverse, its positions alone hardly tell the heading: an error grows by e on each
// XM driven.
func (k *Estimator) boundTurn(s *step) {
	w := math.Abs(k.X[speed])/tightestTurnRadiusM + turnSlackRad
	k.X[yaw] = max(-w, min(k.X[yaw], w))
	most := s.wayM/tightestTurnRadiusM + turnSlackRad
	k.limitTurn(s, most)
	// How far beside the heading the antenna moves in the tightest turn.
	beside := exact.Atan2(math.Abs(k.Antenna.XM), max(tightestTurnRadiusM-math.Abs(k.Antenna.YM), 1)) + turnSlackRad
	if mps := exact.Hypot(s.ve, s.vn); mps >= startSpeedMps {
		k.limitBeside(s, exact.Atan2(s.ve, s.vn)-k.X[theta], s.goesBack, beside)
	} else if s.chordM >= startDistanceM+float64(awaySigmas*s.sigmaM) {
		// Nearly at a stand, or without a speed: on an even arc the way driven has the
		// direction of the heading half way.
		off := Wrap(exact.Atan2(s.chordE, s.chordN) - s.headingRad)
		if exact.Cos(off) < 0 {
			off = Wrap(off + math.Pi)
		}
		if arc := s.headingRad + float64(2*off); math.Abs(k.X[theta]-arc) > 2*beside {
			k.headAbout(s, arc)
			k.limitTurn(s, most)
			k.beginCovariance()
		}
	}
}

// limitBeside turns the tractor until a direction offRad from its heading, or back,
// lies no farther beside it than mostRad.
func (k *Estimator) limitBeside(s *step, offRad float64, back bool, mostRad float64) {
	if back {
		offRad += math.Pi
	}
	offRad = Wrap(offRad)
	if beyond := math.Abs(offRad) - mostRad; beyond > 0 {
		k.headAbout(s, k.X[theta]+math.Copysign(beyond, offRad))
	}
}

// limitTurn takes back what the tractor has turned in a step by more than mostRad,
// about the antenna.
func (k *Estimator) limitTurn(s *step, mostRad float64) {
	turn := k.X[theta] - s.headingRad
	if math.Abs(turn) > mostRad {
		k.headAbout(s, s.headingRad+math.Copysign(mostRad, turn))
	}
}

// headAbout turns the tractor to a heading about the antenna, which is at the newest
// position.
func (k *Estimator) headAbout(s *step, headingRad float64) {
	sin, cos := exact.Sincos(headingRad)
	k.X[theta] = headingRad
	k.X[east] = s.eastM - float64(k.Antenna.XM*sin) - float64(k.Antenna.YM*cos)
	k.X[north] = s.northM - float64(k.Antenna.XM*cos) + float64(k.Antenna.YM*sin)
}
