// Residuals of near rows that are alike: what that says of the intervals.

package regress

import "math"

const (
	// nearRows is how many of the following rows are compared.
	nearRows = 8
	// leastPairsNear is the fewest pairs of rows from which a correlation is computed.
	leastPairsNear = 12
)

// WanderingShare returns the share, 0 to 1, of the scatter sigma of residuals that near
// rows have in common as alike says: by regression of products of residuals on their
// alikeness, the correlation that two rows would have if all were in common.
func WanderingShare(left []float64, sigma float64, alike func(r, s int) float64) float64 {
	num, den, pairs := 0.0, 0.0, 0
	for r := range left {
		for s := r + 1; s < min(r+nearRows, len(left)); s++ {
			c := alike(r, s)
			if math.Abs(c) < 0.05 {
				continue
			}
			num += c * left[r] * left[s]
			den += c * c
			pairs++
		}
	}
	if pairs < leastPairsNear || sigma == 0 {
		return 0
	}
	return max(0, min(num/den/(sigma*sigma), 1))
}

// Widening returns the factor, at least 1, by which uneven scatter and wandering widen
// the interval of coefficient i of a fit. left are the residuals of its rows.
//
// Even scatter gives the coefficient the variance σ²·Σ w², with w the weights of the
// rows in it. Uneven scatter gives Σ w²·r²/(1-h), with r the residual and h the leverage
// of a row (HC2; MacKinnon and White, J. Econometrics 29:305-325, 1985; from memory).
// Wandering adds the covariances share·σ²·wᵣ·wₛ·alikeness of near rows.
func (f *Fit) Widening(i int, cols [][]float64, left []float64, share float64, alike func(r, s int) float64) float64 {
	w, row := make([]float64, len(left)), make([]float64, len(f.Set))
	for j, q := range f.Set {
		for r, x := range cols[q] {
			w[r] += f.Inv.At(i, j) * x
		}
	}
	var even, uneven, shared float64
	square := f.Sigma * f.Sigma
	for r := range w {
		for j, q := range f.Set {
			row[j] = cols[q][r]
		}
		even += w[r] * w[r] * square
		uneven += w[r] * w[r] * left[r] * left[r] / max(1e-3, 1-Quadratic(f.Inv, row))
		if share == 0 {
			continue
		}
		for s := r + 1; s < min(r+nearRows, len(left)); s++ {
			shared += 2 * share * square * w[r] * w[s] * alike(r, s)
		}
	}
	return math.Sqrt(max(1, (max(even, uneven)+shared)/even))
}
