// The position error wanders slowly: crossings soon after one another share part of it,
// with the same sign if they are driven in the same direction.

package diagnose

import (
	"math"

	"liftbench/replay/diagnose/regress"
)

const (
	// wanderS is the time in which a position error falls to 1/e (the usual order for
	// RTK; from memory).
	wanderS = 60.0
	// nearRows is how many of the following rows are compared: several wanderS.
	nearRows = 8
	// leastPairsNear is the fewest pairs of rows from which a correlation is computed.
	leastPairsNear = 12
)

// alikeness is the correlation of the place errors of two rows if all of their scatter
// were a wandering position error:
// cos(θᵢ - θⱼ)·exp(-|tᵢ - tⱼ|/τ).
func (a *analysis) alikeness(r, s int) float64 {
	m, n := &a.moves[a.crossings[a.rows[r]].Changes[0]], &a.moves[a.crossings[a.rows[s]].Changes[0]]
	return math.Cos(m.HeadingRad-n.HeadingRad) * math.Exp(-math.Abs(m.SinceS-n.SinceS)/wanderS)
}

// wanderingShare returns the share of the scatter that wanders, 0 to 1, by regression of
// products of residuals on their alikeness.
func (a *analysis) wanderingShare() float64 {
	fit := regress.Predict(&a.chosen, a.columns, len(a.y))
	num, den, pairs := 0.0, 0.0, 0
	for r := range a.y {
		for s := r + 1; s < min(r+nearRows, len(a.y)); s++ {
			c := a.alikeness(r, s)
			if math.Abs(c) < 0.05 {
				continue
			}
			num += c * (a.y[r] - fit[r]) * (a.y[s] - fit[s])
			den += c * c
			pairs++
		}
	}
	if pairs < leastPairsNear || a.chosen.Sigma == 0 {
		return 0
	}
	return max(0, min(num/den/(a.chosen.Sigma*a.chosen.Sigma), 1))
}

// widening returns the factor, at least 1, by which uneven scatter and wandering widen
// the interval of coefficient i.
//
// Even scatter gives the coefficient the variance σ²·Σ w², with w the weights of the
// rows in it. Uneven scatter gives Σ w²·r²/(1-h), with r the residual and h the leverage
// of a row (HC2; MacKinnon and White, J. Econometrics 29:305-325, 1985; from memory).
// Wandering adds the covariances share·σ²·wᵣ·wₛ·alikeness of near rows.
func (a *analysis) widening(i int, share float64) float64 {
	n := len(a.y)
	w := make([]float64, n)
	for j, q := range a.chosen.Set {
		for r, x := range a.columns[q] {
			w[r] += a.chosen.Inv.At(i, j) * x
		}
	}
	fit := regress.Predict(&a.chosen, a.columns, n)
	row := make([]float64, len(a.chosen.Set))
	var even, uneven, shared float64
	square := a.chosen.Sigma * a.chosen.Sigma
	for r := range w {
		for j, q := range a.chosen.Set {
			row[j] = a.columns[q][r]
		}
		left := a.y[r] - fit[r]
		even += w[r] * w[r] * square
		uneven += w[r] * w[r] * left * left / max(1e-3, 1-regress.Quadratic(a.chosen.Inv, row))
		if share == 0 {
			continue
		}
		for s := r + 1; s < min(r+nearRows, n); s++ {
			shared += 2 * share * square * w[r] * w[s] * a.alikeness(r, s)
		}
	}
	return math.Sqrt(max(1, (max(even, uneven)+shared)/even))
}
