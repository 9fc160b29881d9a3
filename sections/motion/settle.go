// How long the estimate of the motion takes to settle when a turn has ended and
// when the tractor has come to its speed.

package motion

import (
	"math"

	"liftbench/sections/exact"
)

// settledM is how far off a predicted place may be, by the heading and by the speed
// each, once the estimate counts as settled: 5 cm together, half of the 10 cm
// that is common practice (no source).
const settledM = 0.025

// TurnSettlingS returns how long after a turn's end, in seconds, the place of a
// bar's end, halfM to the side of the tractor, is predicted aheadS seconds ahead to
// settledM along the rows. The wheels come straight at unturnRadPerS2 (yaw rate of
// the turn over the time to steer), at speedMps, with fixes rateHz times a second.
//
// On a straight the filter is in its steady state: heading θ' = ω and ω' = w, a
// white noise of density q = yawWalkRadPerS², of which the velocity measures θ
// with density r = (velocitySigmaMps/v)²/rate. Its Riccati equation gives two
// poles of natural frequency Ω = (q/r)^¼ and damping 1/√2 (Kalman and Bucy 1961;
// the double integrator is in every textbook, from memory): errors fade with
// e^(-Ω·t/√2). The position, which measures θ too, only makes it faster.
//
// While ω changes at a steady rate α such a filter is behind by √2·α/Ω in ω and
// by α/Ω² in θ. Carried T ahead, the bar's end comes out halfM·(θ + ω·T) along the
// rows from where it will be.
func TurnSettlingS(rateHz, speedMps, aheadS, halfM, unturnRadPerS2 float64) float64 {
	r := velocitySigmaMps / speedMps
	q := yawWalkRadPerS * min(1, speedMps)
	natural := math.Sqrt(q / r * math.Sqrt(rateHz))
	off := halfM * unturnRadPerS2 * (1/(natural*natural) + float64(math.Sqrt2/natural*aheadS))
	return fadeTo(off, natural/math.Sqrt2)
}

// SpeedSettlingS is the same from the end of a steady acceleration on. The filter's
// acceleration fades with accelFadeS and is driven by noise of density q =
// 2·accelSigmaMps²/accelFadeS; the velocity measures v with density r =
// velocitySigmaMps²/rate: the same two poles, -d ± i·d with d = Ω/√2. When an
// acceleration a ends, its estimate is off by a; t later that and the speed are off by
//
//	a·e^(-d·t)·(cos d·t - sin d·t) and a·e^(-d·t)·sin(d·t)/d
//
// which carried T ahead, where fade makes g of 1 m/s², is no farther off than
// a·e^(-d·t)·√(g² + (T/d - g)²).
func SpeedSettlingS(rateHz, aheadS, accelMps2 float64) float64 {
	d := math.Sqrt(accelSigmaMps2/velocitySigmaMps*math.Sqrt(2/accelFadeS*rateHz)) / math.Sqrt2
	_, g := fade(1, aheadS)
	return fadeTo(math.Abs(accelMps2)*exact.Hypot(g, aheadS/d-g), d)
}

// fadeTo is when an error that fades with e^(-rate·t) has come down to settledM.
func fadeTo(offM, ratePerS float64) float64 {
	return exact.Log(max(offM/settledM, 1)) / ratePerS
}
