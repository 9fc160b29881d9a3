// Position noise that is correlated from one epoch to the next.

package receiver

import (
	"math"
	"math/rand/v2"

	"liftbench/sections/exact"
)

// noise is the position noise on one axis, scaled to a variance of 1: one
// process for fixed solutions and one for float solutions. Both use the same
// random numbers, because both solutions come from the same satellites.
type noise struct {
	rng          *rand.Rand
	fixed, float process
}

// process is the sum of white noise and a first-order Gauss-Markov process; the
// variance of the sum is 1.
type process struct {
	keep, fresh float64 // Gauss-Markov factors of the last state, exp(-T/τ), and of the new draw
	slow, white float64 // standard deviations of the Gauss-Markov part and of the white part
	state       float64
}

func newNoise(rng *rand.Rand, p *Params) noise {
	n := noise{
		rng:   rng,
		fixed: newProcess(1/p.RateHz, p.CorrelationS, p.WhiteShare),
		float: newProcess(1/p.RateHz, p.FloatCorrelationS, p.FloatWhiteShare),
	}
	n.fixed.state = rng.NormFloat64()
	n.float.state = n.fixed.state
	return n
}

func newProcess(periodS, correlationS, whiteShare float64) process {
	p := process{slow: math.Sqrt(1 - whiteShare), white: math.Sqrt(whiteShare)}
	if correlationS > 0 {
		p.keep = exact.Exp(-periodS / correlationS)
	}
	p.fresh = math.Sqrt(1 - float64(p.keep*p.keep))
	return p
}

// next returns the values of the next epoch.
func (n *noise) next() (fixed, float float64) {
	slow, white := n.rng.NormFloat64(), n.rng.NormFloat64()
	return n.fixed.next(slow, white), n.float.next(slow, white)
}

// next returns the value of the next epoch from two draws of N(0, 1).
//
// x ← k·x + √(1 - k²)·N(0, 1) has variance 1 and correlation k from one epoch
// to the next.
func (p *process) next(slow, white float64) float64 {
	p.state = float64(p.keep*p.state) + float64(p.fresh*slow)
	return float64(p.slow*p.state) + float64(p.white*white)
}
