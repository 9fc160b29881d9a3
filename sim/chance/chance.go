// Package chance is how machines and people vary: about a mean, seldom far
// from it, never absurdly.
package chance

import (
	"math"
	"math/rand/v2"
)

// Limit is how far Vary goes: three standard deviations.
const Limit = 3.0

// Vary draws from the standard normal distribution cut off at ±Limit. What is
// left of its variance is 1 - 2·Limit·φ(Limit)/(2·Φ(Limit) - 1) = 0.973.
func Vary(rng *rand.Rand) float64 {
	for {
		if x := rng.NormFloat64(); math.Abs(x) <= Limit {
			return x
		}
	}
}
