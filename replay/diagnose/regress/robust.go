// Medians, means and fits that a few outliers do not move.

package regress

import (
	"math"
	"slices"

	"liftbench/sections/score/sample"
)

// outlying: of a normal sample, one row in so many lies beyond ClipAt.
const outlying = 2000.0

// madEfficiency is the efficiency of the median absolute residual as a measure of
// spread: it is as precise as the standard deviation of 37 % of the rows (Huber and
// Ronchetti, Robust Statistics, 2009; from memory).
const madEfficiency = 0.37

// ClipAt is how many robust standard deviations from the fit a row may lie before it
// is an outlier: a quantile of Student's t, with as many degrees of freedom as the
// spread is known from. With few rows the spread is uncertain and none is an outlier.
func ClipAt(rows, parameters int) float64 {
	df := madEfficiency * float64(rows-parameters)
	if df < 1 {
		return math.Inf(1)
	}
	return sample.StudentQuantile(1-0.5/outlying, df)
}

// Clipped returns y with each outlier moved to ClipAt robust standard deviations from
// the fit: Huber's modified residuals (Huber and Ronchetti, 2009, 7.8; from memory).
// A normal sample stays as it is.
func Clipped(y, fit []float64, parameters int, floorM float64) []float64 {
	limit := ClipAt(len(y), parameters) * Spread(y, fit, parameters, floorM)
	out := make([]float64, len(y))
	for i := range y {
		out[i] = fit[i] + max(-limit, min(y[i]-fit[i], limit))
	}
	return out
}

// Spread is the standard deviation of the residuals, estimated from their median size:
// 1.4826·median|r|, the factor for a normal sample, times √(n/(n-p)) for p
// parameters that were fitted. It is at least floorM.
func Spread(y, fit []float64, parameters int, floorM float64) float64 {
	size := make([]float64, len(y))
	for i := range y {
		size[i] = math.Abs(y[i] - fit[i])
	}
	n := float64(len(y))
	return max(floorM, 1.4826*sample.Median(size)*math.Sqrt(n/max(1, n-float64(parameters))))
}

// Predict returns Σ β·x for each of the rows.
func Predict(f *Fit, cols [][]float64, rows int) []float64 {
	out := make([]float64, rows)
	for i, p := range f.Set {
		for r, x := range cols[p] {
			out[r] += f.Beta[i] * x
		}
	}
	return out
}

// Mean returns the mean of a sample without its outliers, its standard error and its
// degrees of freedom. least is a difference worth knowing: the sample is taken to
// scatter by at least a tenth of it, and the limit for outliers is computed with a
// spread of at least all of it. Of fewer than two values the standard error is +Inf.
func Mean(list []float64, least float64) (mean, se float64, df int) {
	if len(list) == 0 {
		return 0, math.Inf(1), 0
	}
	mid := sample.Median(slices.Clone(list))
	middle := make([]float64, len(list))
	for i := range middle {
		middle[i] = mid
	}
	limit := ClipAt(len(list), 1) * Spread(list, middle, 1, least)
	n, sum, squares := 0.0, 0.0, 0.0
	for _, x := range list {
		if math.Abs(x-mid) <= limit {
			n++
			sum += x - mid
			squares += (x - mid) * (x - mid)
		}
	}
	mean = sum / n
	if n < 2 {
		return mid + mean, math.Inf(1), 0
	}
	sigma := max(math.Sqrt(max(0, squares-n*mean*mean)/(n-1)), least/10)
	return mid + mean, sigma / math.Sqrt(n), int(n) - 1
}

// MeanVariance returns the mean and the variance of a sample of two or more.
func MeanVariance(list []float64) (mean, variance float64) {
	n := float64(len(list))
	for _, x := range list {
		mean += x / n
	}
	for _, x := range list {
		variance += (x - mean) * (x - mean) / (n - 1)
	}
	return mean, variance
}

// leastRatio is the least von Neumann ratio of scatter that is called random. Chance alone
// puts that of twelve values below it once in twenty times, of more hardly ever.
const leastRatio = 0.5

// AtRandom reports whether values jump from one to the next as far as they scatter. Those
// that drift do not: a cause that fades was fitted badly. The von Neumann ratio is the mean
// square of successive differences over twice the variance, 1 for independent values. Lists are
// sequences of their own, each around 0.
func AtRandom(lists ...[]float64) bool {
	jumps, squares := 0.0, 0.0
	for _, list := range lists {
		for i, x := range list {
			squares += x * x
			if i > 0 {
				jumps += (x - list[i-1]) * (x - list[i-1])
			}
		}
	}
	return jumps >= 2*leastRatio*squares
}
