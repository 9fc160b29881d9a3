// Intervals for what is estimated from several drives.

package sweep

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Interval is an estimate with the ends of its interval; NaN where the data
// give none.
type Interval struct{ Value, Lo, Hi float64 }

// confidence is of every interval, both sides together.
const confidence = 0.95

// Mean estimates the mean of what values were drawn from, one a drive:
// x̄ ± t·s/√n with Student's t of n - 1 degrees of freedom (NIST/SEMATECH
// e-Handbook of Statistical Methods, 1.3.5.2). NaN values are left out; of one
// value there is no interval.
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
	mean, sd := stat.MeanStdDev(v, nil)
	half := student(len(v)-1) * sd / math.Sqrt(float64(len(v)))
	return Interval{mean, mean - half, mean + half}
}

// student is the factor of a two-sided interval with so many degrees of
// freedom.
func student(degrees int) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(degrees)}.Quantile(1 - (1-confidence)/2)
}

// Wilson is the score interval of a share of hits among n trials that do not
// hang together (Wilson 1927, J. Am. Stat. Assoc. 22:209-212), of which n need
// not be whole, with the factor z of the normal distribution, 1.96, or of
// Student's:
//
//	(p + z²/2n ± z·√(p(1-p)/n + z²/4n²)) / (1 + z²/n)
func Wilson(share, n, z float64) Interval {
	if !(n > 0) {
		return Interval{math.NaN(), math.NaN(), math.NaN()}
	}
	zz := z * z / n
	mid, half := share+zz/2, z*math.Sqrt(share*(1-share)/n+zz/(4*n))
	return Interval{share, max((mid-half)/(1+zz), 0), min((mid+half)/(1+zz), 1)}
}

// Share estimates the share of hits among transitions, of which drive i has
// hits[i] of trials[i]. Transitions of one drive hang together: sections that
// cross at once share the position's error. So n is what as many transitions
// that do not would be, n/deff, with the design effect of the ratio estimate,
// variance between drives over that of independent trials (Kish 1965, Survey
// Sampling, 8.2; from memory), at least 1, and z is Student's with one degree
// of freedom less than there are drives (Korn and Graubard 1998, Survey
// Methodology 24(2):193-201, who adjust n so; from memory). Where all hit, or
// none, nothing tells how they hang together: together is how many then count
// as one trial.
func Share(hits, trials []float64, together float64) Interval {
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
	deff := max(together, 1)
	if independent := n * p * (1 - p); independent > 0 {
		deff = max(drives/(drives-1)*squares/independent, 1)
	}
	return Wilson(p, n/deff, student(int(drives)-1))
}
