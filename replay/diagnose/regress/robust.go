// Medians, means and fits that a few wild values do not move.

package regress

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// outlying is how often a normal sample may have a row beyond clipAt: once in
// so many rows.
const outlying = 2000.0

// madEfficiency is the efficiency of the median size as a measure of spread: it
// knows as much as 37 % of the rows (Huber and Ronchetti, Robust Statistics,
// 2009; from memory).
const madEfficiency = 0.37

// clipAt is how many robust standard deviations from the fit a row may pull:
// Student's t for as many degrees of freedom as that spread is worth, so that
// few rows, of which the spread is uncertain, lose none.
func ClipAt(rows, parameters int) float64 {
	df := madEfficiency * float64(rows-parameters)
	if df < 1 {
		return math.Inf(1)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(1 - 0.5/outlying)
}

// clipped returns y with residuals beyond clipAt robust standard deviations
// brought in: Huber's modified residuals (Huber and Ronchetti, 2009, 7.8; from
// memory). A normal sample is left as it is.
func Clipped(y, fit []float64, parameters int, floorM float64) []float64 {
	limit := ClipAt(len(y), parameters) * Spread(y, fit, parameters, floorM)
	out := make([]float64, len(y))
	for i := range y {
		out[i] = fit[i] + max(-limit, min(y[i]-fit[i], limit))
	}
	return out
}

// spreadOf is the standard deviation of residuals from their median size:
// 1.4826·median|r|, the factor for a normal sample, times √(n/(n-p)) for p
// parameters that were fitted.
func Spread(y, fit []float64, parameters int, floorM float64) float64 {
	size := make([]float64, len(y))
	for i := range y {
		size[i] = math.Abs(y[i] - fit[i])
	}
	n := float64(len(y))
	return max(floorM, 1.4826*Median(size)*math.Sqrt(n/max(1, n-float64(parameters))))
}

// median returns the middle of a list, which it sorts; 0 of none.
func Median(list []float64) float64 {
	n := len(list)
	if n == 0 {
		return 0
	}
	slices.Sort(list)
	return (list[(n-1)/2] + list[n/2]) / 2
}

// predict returns Σ β·x for each row.
func Predict(f *Fit, cols [][]float64, rows int) []float64 {
	out := make([]float64, rows)
	for i, p := range f.Set {
		for r, x := range cols[p] {
			out[r] += f.Beta[i] * x
		}
	}
	return out
}

// meanOf returns the mean of a sample without its outliers, its standard error
// and degrees of freedom. No sample is believed to scatter less than a tenth
// of what is worth a setting, and none is an outlier that is within a few times
// that.
func Mean(list []float64, least float64) (mean, se float64, df int) {
	if len(list) == 0 {
		return 0, math.Inf(1), 0
	}
	mid := Median(slices.Clone(list))
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
