// Confidence intervals of values that are estimated from several drives.

package sweep

import (
	"math"

	"liftbench/sections/score/sample"
)

// Interval is an estimate with the ends of its 95 % confidence interval. A
// number that the data cannot give is NaN.
type Interval struct{ Value, Lo, Hi float64 }

// confidence is the two-sided confidence of every interval.
const confidence = 0.95

// Mean estimates the mean of a quantity from one value for each drive:
// x̄ ± t·s/√n with Student's t of n - 1 degrees of freedom (NIST/SEMATECH
// e-Handbook of Statistical Methods, 1.3.5.2). NaN values are left out. A single
// value gives no interval.
func Mean(values []float64) Interval {
	var v []float64
	for _, x := range values {
		if !math.IsNaN(x) {
			v = append(v, x)
		}
	}
	if len(v) == 0 {
		return Interval{math.NaN(), math.NaN(), math.NaN()}
	}
	if len(v) == 1 {
		return Interval{v[0], math.NaN(), math.NaN()}
	}
	mean, sd := sample.MeanSD(v)
	half := student(len(v)-1) * sd / math.Sqrt(float64(len(v)))
	return Interval{mean, mean - half, mean + half}
}

// student returns Student's t for a two-sided interval.
func student(degreesOfFreedom int) float64 {
	return sample.StudentQuantile(1-(1-confidence)/2, float64(degreesOfFreedom))
}

// Share estimates the share of hits among the transitions of several drives;
// drive i has hits[i] hits in trials[i] transitions. Transitions of one drive
// are correlated, because sections that cross a border at the same time share
// the position's error. sample.Wilson is therefore taken with n/deff trials.
// The design effect deff of the ratio estimate is the variance between drives
// divided by that of independent trials, at least 1 (Kish 1965, Survey Sampling,
// 8.2; from memory). z is Student's t with one degree of freedom less than there
// are drives (Korn and Graubard 1998, Survey Methodology 24(2):193-201, who
// adjust n in this way; from memory). If all transitions are hits, or none is,
// the data do not show the correlation, and deff is clusterSize: how many
// transitions to count as one trial.
func Share(hits, trials []float64, clusterSize float64) Interval {
	var k, n, drives float64
	for i := range trials {
		if trials[i] > 0 {
			k, n, drives = k+hits[i], n+trials[i], drives+1
		}
	}
	if n == 0 {
		return Interval{math.NaN(), math.NaN(), math.NaN()}
	}
	if drives < 2 {
		return Interval{k / n, 0, 1}
	}
	p := k / n
	var squares float64
	for i := range trials {
		d := hits[i] - p*trials[i]
		squares += d * d
	}
	deff := max(clusterSize, 1)
	if independent := n * p * (1 - p); independent > 0 {
		deff = max(drives/(drives-1)*squares/independent, 1)
	}
	lo, hi := sample.Wilson(p, n/deff, student(int(drives)-1))
	return Interval{p, lo, hi}
}
