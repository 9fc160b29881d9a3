// Distributions that intervals and tests go by, from the incomplete beta and gamma
// functions (Abramowitz and Stegun, Handbook of Mathematical Functions, chapter 26;
// from memory). Compared in tests with another library.

package sample

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// StudentCDF is the probability that Student's t with df degrees of freedom is at
// most t. The tail beyond |t| is I_x(df/2, 1/2)/2 with x = df/(df + t²).
func StudentCDF(t, df float64) float64 {
	if t > 0 {
		return 1 - float64(studentTail(t, df))
	}
	return studentTail(t, df)
}

// StudentTwoSided is the probability that Student's t with df degrees of freedom is
// as far from 0 as t.
func StudentTwoSided(t, df float64) float64 { return 2 * studentTail(t, df) }

func studentTail(t, df float64) float64 {
	return float64(mathext.RegIncBeta(df/2, 0.5, df/(float64(t*t)+df)) / 2)
}

// StudentQuantile returns the t that Student's t with df degrees of freedom is at
// most with probability p, 0 to 1.
func StudentQuantile(p, df float64) float64 {
	if p == 0.5 {
		return 0
	}
	x := mathext.InvRegIncBeta(df/2, 0.5, 2*min(p, 1-p))
	return math.Copysign(math.Sqrt(df*(1-x)/x), p-0.5)
}

// FSurvival is the probability that an F-distributed value with d1 and d2 degrees of
// freedom is larger than f: 1 - I_x(d1/2, d2/2) with x = d1·f/(d1·f + d2).
func FSurvival(f, d1, d2 float64) float64 {
	return 1 - mathext.RegIncBeta(d1/2, d2/2, d1*f/(float64(d1*f)+d2))
}

// ChiSquaredQuantile returns the value that the sum of squares of df standard normal
// values is at most with probability p, 0 to 1.
func ChiSquaredQuantile(p, df float64) float64 { return 2 * mathext.GammaIncRegInv(df/2, p) }

// NormalQuantile returns the value that a standard normal value is at most with
// probability p, 0 to 1.
func NormalQuantile(p float64) float64 { return mathext.NormalQuantile(p) }

// MeanSD returns the mean and the standard deviation of a sample; the deviation is
// NaN for fewer than two values.
func MeanSD(list []float64) (mean, sd float64) {
	n := float64(len(list))
	for _, x := range list {
		mean += x
	}
	mean /= n
	squares, sum := 0.0, 0.0
	for _, x := range list {
		d := x - mean
		squares += float64(d * d)
		sum += d // what rounding has left in the mean
	}
	return mean, math.Sqrt((squares - float64(sum*sum)/n) / (n - 1))
}
