// A fit to the last digits, for few rows; and the row that does not belong to the others.

package regress

import (
	"math"

	"liftbench/sections/score/sample"
)

// Refine takes out what rounding in the sums of squares has left in a fit of cols, row by row: one
// step β += (XᵀX)⁻¹·Xᵀ(y - X·β), and the residuals' sum of squares from the residuals themselves.
func (f *Fit) Refine(cols [][]float64, y []float64, floorM float64) {
	f.refine(cols, y)
	f.Sigma = max(math.Sqrt(f.RSS/float64(f.DF)), floorM)
}

func (f *Fit) refine(cols [][]float64, y []float64) {
	left := f.residuals(cols, y)
	step := make([]float64, len(f.Set))
	for i := range f.Set {
		for j, q := range f.Set {
			step[i] += f.Inv.At(i, j) * Dot(cols[q], left)
		}
	}
	for i := range step {
		f.Beta[i] += step[i]
	}
	left = f.residuals(cols, y)
	f.RSS = Dot(left, left)
}

// priorDF is how many degrees of freedom a scatter counts for that is known beforehand.
const priorDF = 10

// FitKnown fits the columns of cols with the indices set to rows whose standard deviation is known beforehand, about as
// well as from a dozen rows, and refines the fit: there may be as many columns as rows. Sigma is that of both
// together, and not below sigma; DF is the sum. ok is false if there are fewer rows or the columns cannot be told apart.
func FitKnown(cols [][]float64, y []float64, sigma float64, set ...int) (f Fit, ok bool) {
	g := NewGram(cols, y, 0)
	if f = (Fit{Set: set, RSS: g.yy, DF: g.Rows - len(set)}); f.DF < 0 || !g.solve(&f) {
		return f, false
	}
	f.refine(cols, y)
	f.DF += priorDF
	f.Sigma = max(math.Sqrt((f.RSS+priorDF*sigma*sigma)/float64(f.DF)), sigma)
	return f, true
}

// residuals is y - X·β.
func (f *Fit) residuals(cols [][]float64, y []float64) []float64 {
	left := Predict(f, cols, len(y))
	for r := range left {
		left[r] = y[r] - left[r]
	}
	return left
}

// Slipped finds a row that does not belong to the others, as where a number was misread. It is the
// row with the largest residual beside the fit of all others: r/(s·√(1-h)), with h its leverage
// and s the standard deviation that the others have without it, at least floorM (externally
// studentized residuals; Belsley, Kuh and Welsch, Regression Diagnostics, 1980; from memory). p is the
// probability that chance puts any of the rows so far off, by Student's t and Bonferroni. alike
// are other rows each of which would, if it were the wrong one, explain the scatter as well.
// row is -1 if there are too few rows. taken is the leverage that each row has by effects that were
// taken out of cols and y before, as the mean of a group is; nil = none.
func (f *Fit) Slipped(cols [][]float64, y []float64, floorM float64, taken []float64) (row int, p float64, alike []int) {
	row, p = -1, 1
	if f.DF < 2 {
		return row, p, nil
	}
	left := f.residuals(cols, y)
	without := make([]float64, len(y)) // the sum of squares that the others leave without the row
	chance := make([]float64, len(y))
	x := make([]float64, len(f.Set))
	for r := range y {
		for j, q := range f.Set {
			x[j] = cols[q][r]
		}
		own := 1 - Quadratic(f.Inv, x)
		if taken != nil {
			own -= taken[r]
		}
		if own < 1e-9 {
			without[r], chance[r] = f.RSS, 1 // alone at its place: nothing contradicts it
			continue
		}
		without[r] = max(0, f.RSS-left[r]*left[r]/own)
		s := max(math.Sqrt(without[r]/float64(f.DF-1)), floorM)
		chance[r] = min(1, float64(len(y))*sample.StudentTwoSided(left[r]/(s*math.Sqrt(own)), float64(f.DF-1)))
		if row < 0 || without[r] < without[row] {
			row = r
		}
	}
	if row < 0 {
		return row, p, nil
	}
	enough := 2*without[row] + floorM*floorM
	for r := range y {
		if r != row && chance[r] < Alpha && without[r] <= enough {
			alike = append(alike, r)
		}
	}
	return row, chance[row], alike
}
