// The noise floor of a receiver: no controller that begins anew with each pass can
// place better.

package suite

import (
	"math"

	"liftbench/sim/receiver"
)

// passS is the length of the pass that the floor is told for.
const passS = 60.0

// Floor returns the standard deviation, in metres and along one axis, of the best
// unbiased estimate of where a tractor is after fixes over timeS, if all is known of
// its motion meanwhile but where it began.
//
// The error of the receiver's positions is g + w: w is white with the variance
// wσ², g a first-order Gauss-Markov process with (1-w)σ² and the correlation time τ
// (receiver.Params). With the motion known, each fix measures the same place x:
//
//	z_k = x + g_k + w_k
//
// By Gauss and Markov no linear unbiased estimate of x has a variance below
// 1/(1ᵀC⁻¹1), C being the covariance of g + w; as both are Gaussian, by Cramér and
// Rao no unbiased estimate at all has. Where w is 0 and fixes are many, that is
// σ²·2τ/(timeS + 2τ). It is computed fix by fix: a filter for x and g that knows
// nothing of x at first (both bounds from memory, as in any textbook of estimation).
func Floor(p *receiver.Params, timeS float64) float64 {
	if p.SigmaM == 0 {
		return 0
	}
	rate := p.RateHz
	if rate == 0 {
		rate = 10
	}
	white, fade := p.WhiteShare, 0.0
	if p.CorrelationS > 0 {
		fade = math.Exp(-1 / (rate * p.CorrelationS))
	} else {
		white = 1
	}
	r, q := white*p.SigmaM*p.SigmaM, (1-white)*p.SigmaM*p.SigmaM
	// Information of x from innovations: d is what a fix says of x, given the best
	// guess at g from those before, whose variance is v and whose dependence on x is b.
	// g's prediction error is a filter without x: its gain does not depend on x.
	var information float64
	v, b := q, 0.0
	for range max(1, int(timeS*rate)) {
		s := v + r
		d := 1 + b // derivative of the innovation by x, when g is estimated as if x were 0
		if s > 0 {
			information += d * d / s
			k := v / s
			b, v = b-k*d, v-k*v
		}
		b, v = fade*b, fade*fade*v+q*(1-fade*fade)
	}
	return math.Sqrt(1 / information)
}
