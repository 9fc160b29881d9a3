// Position noise that is like itself from one epoch to the next.

package receiver

import (
	"math"
	"math/rand/v2"
)

// noise is one axis of unit variance: what the receiver is off by out of float
// spells, and what it is off by in them. Both follow from the same chance, as
// they come from the same satellites.
type noise struct {
	rng             *rand.Rand
	settled, afloat process
}

// process is white by a share of its variance, the rest a first-order
// Gauss-Markov process.
type process struct {
	keep, fresh float64 // of the slow part from epoch to epoch: exp(-T/τ), and what is new
	slow, white float64 // standard deviations of the two parts
	state       float64
}

func newNoise(rng *rand.Rand, p *Params) noise {
	n := noise{
		rng:     rng,
		settled: newProcess(1/p.RateHz, p.CorrelationS, p.WhiteShare),
		afloat:  newProcess(1/p.RateHz, p.FloatCorrelationS, p.FloatWhiteShare),
	}
	n.settled.state = rng.NormFloat64()
	n.afloat.state = n.settled.state
	return n
}

func newProcess(periodS, correlationS, whiteShare float64) process {
	p := process{slow: math.Sqrt(1 - whiteShare), white: math.Sqrt(whiteShare)}
	if correlationS > 0 {
		p.keep = math.Exp(-periodS / correlationS)
	}
	p.fresh = math.Sqrt(1 - p.keep*p.keep)
	return p
}

// next is the next epoch's values.
func (n *noise) next() (settled, afloat float64) {
	slow, white := n.rng.NormFloat64(), n.rng.NormFloat64()
	return n.settled.next(slow, white), n.afloat.next(slow, white)
}

// next is the next epoch's value, from two draws of N(0, 1).
//
// x ← k·x + √(1 - k²)·N(0, 1) keeps variance 1 and correlation k per step.
func (p *process) next(slow, white float64) float64 {
	p.state = p.keep*p.state + p.fresh*slow
	return p.slow*p.state + p.white*white
}
