// This file finds the minimum of the mean cost over a setting, and the interval
// in which it lies.

package tune

import (
	"math"

	"liftbench/sections/score/sample"
)

// Curve is the cost of each drive at rising, evenly spaced values of a
// setting: Costs[value][drive].
type Curve struct {
	At    []float64
	Costs [][]float64
}

// Mean returns the mean cost at each value.
func (c *Curve) Mean() []float64 {
	m := make([]float64, len(c.At))
	for k := range m {
		m[k], _ = sample.MeanSD(c.Costs[k])
	}
	return m
}

// Least returns the index of the value with the lowest mean cost.
func (c *Curve) Least() int {
	best := 0
	m := c.Mean()
	for k := range m {
		if m[k] < m[best] {
			best = k
		}
	}
	return best
}

// Minimum is the value of a setting at which the mean cost is lowest.
type Minimum struct {
	At, Lo, Hi float64 // the value, and the ends of its 95 % confidence interval
	Cost       float64 // lowest mean cost among the values of the curve
	// WithinLo and WithinHi bound the values around the lowest at which the mean
	// cost is at most 5 % above it. A bound at the end of the curve may in truth
	// lie beyond it.
	WithinLo, WithinHi float64
	// LoOpen and HiOpen say that Lo or Hi in truth lies beyond the curve.
	LoOpen, HiOpen bool
}

// confidence is the two-sided confidence of the interval.
const confidence = 0.95

// Find returns the minimum of the curve, which has at least three values.
//
// At the minimum x* the drives' mean slope is 0. The slope between two
// neighbouring values is taken to hold at their middle, and to change linearly
// from middle to middle; x* is where it changes sign. The interval contains all
// x at which a t test with one slope for each drive does not reject a mean of 0.
// This inverts the test, and needs neither the curvature at the minimum nor
// resampling. The interval is as reliable as the t test, whose assumption of
// normal slopes is fair because each slope is a sum over many transitions.
func (c *Curve) Find() Minimum {
	n := len(c.At) - 1
	h := c.At[1] - c.At[0]
	mids, slope, t := make([]float64, n), make([]float64, n), make([]float64, n)
	drives := len(c.Costs[0])
	diff := make([]float64, drives)
	for k := range n {
		for d := range drives {
			diff[d] = (c.Costs[k+1][d] - c.Costs[k][d]) / h
		}
		mean, sd := sample.MeanSD(diff)
		if drives < 2 {
			sd = 0
		}
		mids[k], slope[k], t[k] = (c.At[k]+c.At[k+1])/2, mean, ratio(mean, sd/math.Sqrt(float64(drives)))
	}
	k := c.Least()
	m := Minimum{At: zero(mids, slope, k, c.At), Cost: c.Mean()[k]}
	critical := math.Inf(1)
	if drives > 1 {
		critical = sample.StudentQuantile(1-(1-confidence)/2, float64(drives-1))
	}
	m.Lo, m.LoOpen = end(mids, t, m.At, -critical, -1)
	m.Hi, m.HiOpen = end(mids, t, m.At, critical, +1)
	m.Lo, m.Hi = min(m.Lo, m.At), max(m.Hi, m.At)
	m.WithinLo, m.WithinHi = c.near(k)
	return m
}

// ratio returns a mean divided by its standard error. If the error is 0, that is
// infinite with the sign of the mean, or 0 for a mean of 0.
func ratio(mean, standardError float64) float64 {
	switch {
	case standardError > 0:
		return mean / standardError
	case mean == 0:
		return 0
	}
	return math.Inf(int(math.Copysign(1, mean)))
}

// zero returns where the slope changes from negative to positive near the value
// with index k, which has the lowest mean cost. If it does not, the minimum is
// at the end of the curve, at[k].
func zero(mids, slope []float64, k int, at []float64) float64 {
	for j := max(k-1, 0); j < min(k+2, len(mids)); j++ {
		if slope[j] < 0 {
			continue
		}
		if j == 0 {
			return at[0]
		}
		if slope[j-1] < 0 {
			return mids[j-1] + (mids[j]-mids[j-1])*slope[j-1]/(slope[j-1]-slope[j])
		}
	}
	return at[k]
}

// end goes from the minimum in the direction of step, -1 or +1, to where t
// passes the critical value. open says that it does not do so within the curve.
func end(mids, t []float64, from, critical float64, step int) (at float64, open bool) {
	before, tBefore := from, 0.0
	first, last := 0, len(mids)
	for i := range mids {
		j := i
		if step < 0 {
			j = len(mids) - 1 - i
		}
		if float64(step)*(mids[j]-from) <= 0 || first > last {
			continue
		}
		if float64(step)*(t[j]-critical) > 0 {
			if math.IsInf(t[j], 0) { // the drives do not differ: the interval is one step
				return from + float64(step)*(mids[1]-mids[0]), false
			}
			return before + (mids[j]-before)*(critical-tBefore)/(t[j]-tBefore), false
		}
		before, tBefore = mids[j], t[j]
	}
	return before, true
}

// near returns the range around the value with index k in which the mean cost is
// at most 5 % higher than there.
func (c *Curve) near(k int) (lo, hi float64) {
	m := c.Mean()
	limit := 1.05 * m[k]
	edge := func(j, step int) float64 {
		for j+step >= 0 && j+step < len(m) {
			if m[j+step] > limit {
				return c.At[j] + (c.At[j+step]-c.At[j])*(limit-m[j])/(m[j+step]-m[j])
			}
			j += step
		}
		return c.At[j]
	}
	return edge(k, -1), edge(k, +1)
}
