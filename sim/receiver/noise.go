// Position noise that is like itself from one epoch to the next.

package receiver

import (
	"math"
	"math/rand/v2"
)

// noise is one axis of unit variance: white by share, the rest a first-order
// Gauss-Markov process.
type noise struct {
	rng         *rand.Rand
	keep        float64 // of the process from epoch to epoch, exp(-T/τ)
	slow, white float64 // standard deviations of the two parts
	state       float64
}

func newNoise(rng *rand.Rand, periodS, correlationS, whiteShare float64) noise {
	n := noise{rng: rng, slow: math.Sqrt(1 - whiteShare), white: math.Sqrt(whiteShare)}
	if correlationS > 0 {
		n.keep = math.Exp(-periodS / correlationS)
	}
	n.state = rng.NormFloat64()
	return n
}

// next is the next epoch's value.
//
// x ← k·x + √(1 - k²)·N(0, 1) keeps variance 1 and correlation k per step.
func (n *noise) next() float64 {
	n.state = n.keep*n.state + math.Sqrt(1-n.keep*n.keep)*n.rng.NormFloat64()
	return n.slow*n.state + n.white*n.rng.NormFloat64()
}
