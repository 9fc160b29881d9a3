// Package chance draws random numbers for how machines and people vary. They
// follow a normal distribution that is cut off, so that no value is absurd.
package chance

import (
	"math"
	"math/rand/v2"
)

// Limit is the largest magnitude that Vary returns, in standard deviations.
const Limit = 3.0

// Vary draws from the standard normal distribution cut off at ±Limit. The cut
// reduces the variance from 1 to
// 1 - 2·Limit·φ(Limit)/(2·Φ(Limit) - 1) = 0.973.
func Vary(rng *rand.Rand) float64 {
	for {
		if x := rng.NormFloat64(); math.Abs(x) <= Limit {
			return x
		}
	}
}
