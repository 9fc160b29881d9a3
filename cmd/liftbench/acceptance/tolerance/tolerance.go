// Package tolerance says what a sample shows of the share of a population that keeps a
// tolerance: by counting, whatever the distribution, or by a tolerance interval of a
// normal one, with a test of whether it looks normal.
package tolerance

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"

	"liftbench/sections/score/sample"
)

// AllOf returns the smallest n for which n hits of n independent trials show, with the
// given confidence, a share of hits of at least share: shareⁿ ≤ 1 − confidence. Both are
// above 0 and below 1.
func AllOf(share, confidence float64) int {
	n := max(1, int(math.Log(1-confidence)/math.Log(share))-1)
	for math.Pow(share, float64(n)) > (1-confidence)*(1+1e-12) {
		n++
	}
	return n
}

// ShareAtLeast returns the lower bound of a share of which hits were seen among n
// independent trials: one-sided, exact, with the given confidence (Clopper and Pearson
// 1934, Biometrika 26:404-413). It is 0 without a hit.
func ShareAtLeast(hits, n int, confidence float64) float64 {
	if hits <= 0 {
		return 0
	}
	return mathext.InvRegIncBeta(float64(hits), float64(n-hits+1), 1-confidence)
}

// ShareAtMost is the upper bound that belongs to ShareAtLeast. It is 1 where all are hits.
func ShareAtMost(hits, n int, confidence float64) float64 {
	if hits >= n {
		return 1
	}
	return 1 - ShareAtLeast(n-hits, n, confidence)
}

// Factor returns the k for which mean ± k·s of a normal sample of n values holds,
// with the given confidence, at least the given share of the population (two-sided
// tolerance interval, mean and deviation unknown: ISO 16269-6). Infinity for n below 2.
//
// With the mean off by x = z/√n deviations, the share lies within ±r of the sample's
// mean where Φ(x + r) − Φ(x − r) = share, and s is large enough for that with the
// probability that χ² of n − 1 degrees of freedom exceeds (n − 1)·r²/k². The confidence
// is the mean of this probability over the normal z.
func Factor(n int, share, confidence float64) float64 {
	if n < 2 {
		return math.Inf(1)
	}
	// The integrand is even, and so smooth that the trapezoidal rule is exact to some
	// 1e-12; what lies beyond 8 is below 1e-15.
	const steps, stepZ = 40, 0.2
	var r, weight [steps + 1]float64
	for i := range r {
		z := float64(i) * stepZ
		r[i] = halfWidth(z/math.Sqrt(float64(n)), share)
		weight[i] = 2 * stepZ * math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
	}
	weight[0] /= 2
	df := float64(n - 1)
	excess := func(k float64) float64 {
		sum := -confidence
		for i := range r {
			sum += weight[i] * mathext.GammaIncRegComp(df/2, df*r[i]*r[i]/(k*k)/2)
		}
		return sum
	}
	lo, hi := 0.0, 4.0
	below, above := -confidence, excess(hi)
	for above < 0 {
		lo, hi, below = hi, 2*hi, above
		above = excess(hi)
	}
	// False position; an end that stays twice counts half (the Illinois rule).
	for last := 0; hi-lo > 1e-10*hi; {
		k := (lo*above - hi*below) / (above - below)
		e := excess(k)
		switch {
		case math.Abs(e) < 1e-13:
			return k
		case e < 0:
			lo, below = k, e
			if last < 0 {
				above /= 2
			}
			last = -1
		default:
			hi, above = k, e
			if last > 0 {
				below /= 2
			}
			last = 1
		}
	}
	return (lo + hi) / 2
}

// halfWidth returns r with Φ(x + r) − Φ(x − r) = share.
func halfWidth(x, share float64) float64 {
	phi := func(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
	lo, hi := 0.0, math.Abs(x)+10
	for range 60 {
		if mid := (lo + hi) / 2; phi(x+mid)-phi(x-mid) < share {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// FewestForNormal is the smallest sample of which NormalPValue says anything.
const FewestForNormal = 8

// NormalPValue returns the probability that a normal sample of this size departs from the
// normal shape as far as this one: by Anderson and Darling's A², mean and deviation
// estimated (D'Agostino and Stephens 1986, Goodness-of-Fit Techniques, table 4.9; from
// memory). NaN for fewer than FewestForNormal values, and where all are the same.
func NormalPValue(list []float64) float64 {
	n := float64(len(list))
	a := andersonDarling(list)
	if len(list) < FewestForNormal || math.IsNaN(a) {
		return math.NaN()
	}
	a *= 1 + 0.75/n + 2.25/(n*n)
	aa := a * a
	switch {
	case a >= 13: // the parabola turns round
		return 0
	case a >= 0.6:
		return math.Exp(1.2937 - 5.709*a + 0.0186*aa)
	case a > 0.34:
		return math.Exp(0.9177 - 4.279*a - 1.38*aa)
	case a > 0.2:
		return 1 - math.Exp(-8.318+42.796*a-59.938*aa)
	}
	return 1 - math.Exp(-13.436+101.14*a-223.73*aa)
}

// andersonDarling returns A² of the list against the normal distribution of its mean and
// deviation: −n − Σ (2i − 1)·(ln Φ(zᵢ) + ln(1 − Φ(zₙ₊₁₋ᵢ)))/n over the values in order.
func andersonDarling(list []float64) float64 {
	mean, sd := sample.MeanSD(list)
	if !(sd > 0) {
		return math.NaN()
	}
	sorted := slices.Sorted(slices.Values(list))
	n := len(sorted)
	sum := 0.0
	for i := range sorted {
		below := math.Erfc(-(sorted[i]-mean)/sd/math.Sqrt2) / 2
		above := math.Erfc((sorted[n-1-i]-mean)/sd/math.Sqrt2) / 2
		sum += float64(2*i+1) * (math.Log(below) + math.Log(above))
	}
	return -float64(n) - sum/float64(n)
}
