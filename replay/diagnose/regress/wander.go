// Intervals where scatter is uneven, and where rows near to one another share some of it.

package regress

import "math"

const (
	// nearRows is how many of the following rows are compared: those of several minutes.
	nearRows = 8
	// leastPairsNear is the fewest pairs of rows from which a correlation is computed.
	leastPairsNear = 12
)

// WanderingShare returns the share of a fit's scatter that rows near to one another have in
// common, 0 to 1, by regression of products of residuals on their alikeness: the
// correlation that rows r and s would have if all of it were shared.
func WanderingShare(f *Fit, columns [][]float64, y []float64, alikeness func(r, s int) float64) float64 {
	fit := Predict(f, columns, len(y))
	num, den, pairs := 0.0, 0.0, 0
	for r := range y {
		for s := r + 1; s < min(r+nearRows, len(y)); s++ {
			c := alikeness(r, s)
			if math.Abs(c) < 0.05 {
				continue
			}
			num += c * (y[r] - fit[r]) * (y[s] - fit[s])
			den += c * c
			pairs++
		}
	}
	if pairs < leastPairsNear || f.Sigma == 0 {
		return 0
	}
	return max(0, min(num/den/(f.Sigma*f.Sigma), 1))
}

// Widening returns the factor, at least 1, by which uneven scatter and a share of it that
// wanders widen the interval of coefficient i.
//
// Even scatter gives the coefficient the variance σ²·Σ w², with w the weights of the
// rows in it. Uneven scatter gives Σ w²·r²/(1-h), with r the residual and h the leverage
// of a row (HC2; MacKinnon and White, J. Econometrics 29:305-325, 1985; from memory).
// Wandering adds the covariances share·σ²·wᵣ·wₛ·alikeness of near rows.
func Widening(f *Fit, columns [][]float64, y []float64, i int, share float64, alikeness func(r, s int) float64) float64 {
	n := len(y)
	w := make([]float64, n)
	for j, q := range f.Set {
		for r, x := range columns[q] {
			w[r] += f.Inv.At(i, j) * x
		}
	}
	fit := Predict(f, columns, n)
	row := make([]float64, len(f.Set))
	var even, uneven, shared float64
	square := f.Sigma * f.Sigma
	for r := range w {
		for j, q := range f.Set {
			row[j] = columns[q][r]
		}
		left := y[r] - fit[r]
		even += w[r] * w[r] * square
		uneven += w[r] * w[r] * left * left / max(1e-3, 1-Quadratic(f.Inv, row))
		if share == 0 {
			continue
		}
		for s := r + 1; s < min(r+nearRows, n); s++ {
			shared += 2 * share * square * w[r] * w[s] * alikeness(r, s)
		}
	}
	return math.Sqrt(max(1, (max(even, uneven)+shared)/even))
}
