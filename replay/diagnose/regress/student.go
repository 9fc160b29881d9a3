// Student's t and intervals: of an estimate, and of a size that several fits were
// averaged for; and how sure is sure enough.

package regress

import (
	"math"

	"liftbench/sections/score/sample"
)

const (
	// Alpha is the probability with which chance alone may show any cause at all.
	Alpha = 0.02
	// Power is the one-sided 95 % quantile of the normal distribution: a size that many
	// standard errors above a threshold is found above it in 95 % of drives.
	Power = 1.645
)

// TwoSided is P(|T| ≥ |t|) with df degrees of freedom.
func TwoSided(t float64, df int) float64 {
	return sample.StudentTwoSided(t, float64(df))
}

// Quantile is the t that Student's t with df degrees of freedom exceeds in size with
// probability p, both sides together.
func Quantile(p float64, df int) float64 {
	return sample.StudentQuantile(1-p/2, float64(df))
}

// Around is the 95 % interval of an estimate x with standard error se.
func Around(x, se float64, df int) [2]float64 {
	h := Quantile(0.05, df) * se
	return [2]float64{x - h, x + h}
}

// Guess is a size as one of several fits estimates it. The weights of all add up to 1.
type Guess struct {
	Size, SE float64
	DF       int
	Weight   float64
}

// Averaged returns the quantile p of the mixture of the guesses: the x at which
// Σ weight·F((x - size)/(by·se)) = p, with F of Student's t. by widens every standard
// error alike. This is the model-averaged tail area of Turek and Fletcher (Comput.
// Stat. Data Anal. 56(9):2809-2815, 2012; from memory).
func Averaged(list []Guess, by, p float64) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, m := range list {
		q := m.Size + by*m.SE*sample.StudentQuantile(p, float64(m.DF))
		lo, hi = min(lo, q), max(hi, q)
	}
	for range 60 {
		mid, sum := (lo+hi)/2, 0.0
		for _, m := range list {
			sum += m.Weight * sample.StudentCDF((mid-m.Size)/(by*m.SE), float64(m.DF))
		}
		if sum < p {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// Deviation is the 95 % interval of a standard deviation with df degrees of
// freedom, by the chi-squared distribution.
func Deviation(sd, df float64) [2]float64 {
	return [2]float64{sd * math.Sqrt(df/sample.ChiSquaredQuantile(0.975, df)), sd * math.Sqrt(df/sample.ChiSquaredQuantile(0.025, df))}
}
