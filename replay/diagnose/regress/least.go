// Package regress holds the statistics of a diagnosis: least squares for any
// choice of columns, robust against outliers, with intervals from Student's t.
package regress

import (
	"math"

	"liftbench/sections/score/sample"
)

// Gram holds XᵀX, Xᵀy and yᵀy of columns X and a response y. Any subset of the columns
// can be fitted from it without the rows.
type Gram struct {
	Rows   int // of each column
	xx     [][]float64
	xy     []float64
	yy     float64
	Born   []int   // for each column, how many of its rows are not 0
	FloorM float64 // no row is believed to scatter less
}

// NewGram sums up the products of columns and response, which have equal lengths.
// floorM is the least standard deviation of a row, in the unit of the response.
func NewGram(cols [][]float64, y []float64, floorM float64) *Gram {
	g := &Gram{Rows: len(y), xx: make([][]float64, len(cols)), xy: make([]float64, len(cols)), Born: make([]int, len(cols)), FloorM: floorM}
	for i := range cols {
		g.xx[i] = make([]float64, len(cols))
		for j := 0; j <= i; j++ {
			g.xx[i][j] = Dot(cols[i], cols[j])
			g.xx[j][i] = g.xx[i][j]
		}
		g.xy[i] = Dot(cols[i], y)
		for _, x := range cols[i] {
			if x != 0 {
				g.Born[i]++
			}
		}
	}
	g.yy = Dot(y, y)
	return g
}

// Dot is the sum of a[i]·b[i].
func Dot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

// Fit is a least squares fit of the columns with the indices Set.
type Fit struct {
	Set   []int
	Beta  []float64  // the coefficients, in the order of Set
	Inv   *Symmetric // (XᵀX)⁻¹
	RSS   float64    // residual sum of squares
	DF    int        // rows - columns
	Sigma float64    // standard deviation of a row, at least FloorM
}

// worstCondition is the condition number of the normal matrix, its columns scaled to
// length 1, beyond which columns cannot be told apart.
const worstCondition = 1e9

// Fit solves β = (XᵀX)⁻¹·Xᵀy for the columns with the indices set. ok is false if there
// are too few rows or the columns cannot be told apart.
func (g *Gram) Fit(set ...int) (f Fit, ok bool) {
	if f = (Fit{Set: set, RSS: g.yy, DF: g.Rows - len(set)}); f.DF < 1 || !g.solve(&f) {
		return f, false
	}
	f.Sigma = max(math.Sqrt(f.RSS/float64(f.DF)), g.FloorM)
	return f, true
}

// FitMost fits as many of the columns, from the first on, as the rows tell apart. ok is
// false if there are too few rows for none. Rows that were left out may have been all that told
// two columns apart.
func (g *Gram) FitMost(set []int) (f Fit, ok bool) {
	for f, ok = g.Fit(set...); !ok && len(set) > 0; f, ok = g.Fit(set...) {
		set = set[:len(set)-1]
	}
	return f, ok
}

// solve finds the coefficients of f.Set and the sum of squares that they leave.
func (g *Gram) solve(f *Fit) bool {
	set, k := f.Set, len(f.Set)
	if k > 0 {
		// Columns scaled to length 1, so that metres and seconds compare.
		a, scale := NewSymmetric(k), make([]float64, k)
		for i, p := range set {
			if !(g.xx[p][p] > 0) {
				return false
			}
			scale[i] = 1 / math.Sqrt(g.xx[p][p])
		}
		for i, p := range set {
			for j := 0; j <= i; j++ {
				a.Set(i, j, g.xx[p][set[j]]*scale[i]*scale[j])
			}
		}
		inv, condition, positive := a.inverse()
		if !positive || condition > worstCondition {
			return false
		}
		f.Inv = inv
		f.Beta = make([]float64, k)
		for i := range set {
			for j := 0; j <= i; j++ {
				f.Inv.Set(i, j, f.Inv.At(i, j)*scale[i]*scale[j])
			}
		}
		for i := range set {
			for j, q := range set {
				f.Beta[i] += f.Inv.At(i, j) * g.xy[q]
			}
			f.RSS -= f.Beta[i] * g.xy[set[i]]
		}
	}
	f.RSS = max(f.RSS, 0)
	return true
}

// SE is the standard error of coefficient i.
func (f *Fit) SE(i int) float64 { return f.Sigma * math.Sqrt(f.Inv.At(i, i)) }

// P is the probability that chance alone puts a coefficient as far from 0 as
// coefficient i, by Student's t.
func (f *Fit) P(i int) float64 { return TwoSided(f.Beta[i]/f.SE(i), f.DF) }

// Interval is the 95 % confidence interval of coefficient i.
func (f *Fit) Interval(i int) [2]float64 { return Around(f.Beta[i], f.SE(i), f.DF) }

// At returns which coefficient is that of column p; -1 if p was not fitted.
func (f *Fit) At(p int) int {
	for i, q := range f.Set {
		if p == q {
			return i
		}
	}
	return -1
}

// ChanceOfGain is the probability that chance alone reduces the residuals as much as
// the step from one fit to a larger one that contains it does, by the F test.
func (g *Gram) ChanceOfGain(from, to *Fit) float64 {
	k := len(to.Set) - len(from.Set)
	noise := max(to.RSS/float64(to.DF), g.FloorM*g.FloorM)
	f := (from.RSS - to.RSS) / float64(k) / noise
	if !(f > 0) {
		return 1
	}
	return sample.FSurvival(f, float64(k), float64(to.DF))
}
