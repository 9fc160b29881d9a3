// A position error that wanders: crossings soon after one another share part of
// it, with the sign of their headings.

package diagnose

import "math"

const (
	// wanderS is how long a receiver's error lasts, e-fold (the usual order for
	// RTK, from memory).
	wanderS = 60.0
	// nearRows is how many rows on are still looked at: several wanderS.
	nearRows = 8
	// leastPairsNear: of fewer pairs no correlation is believed.
	leastPairsNear = 12
)

// alikeness is the correlation of the place errors of two rows that all of the
// position's error being of the wandering kind would make:
// cos(θᵢ - θⱼ)·exp(-|tᵢ - tⱼ|/τ).
func (a *analysis) alikeness(r, s int) float64 {
	m, n := &a.moves[a.list[a.rows[r]].of[0]], &a.moves[a.list[a.rows[s]].of[0]]
	return math.Cos(m.headingRad-n.headingRad) * math.Exp(-math.Abs(m.sinceS-n.sinceS)/wanderS)
}

// wander returns the share of the scatter that wanders, 0 to 1: the regression
// of products of residuals on their alikeness.
func (a *analysis) wander() float64 {
	fit := predict(&a.best, a.cols, len(a.y))
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
	if pairs < leastPairsNear || a.best.sigma == 0 {
		return 0
	}
	return max(0, min(num/den/(a.best.sigma*a.best.sigma), 1))
}

// widened returns by how much wandering widens the interval of coefficient i, at
// least 1: √(wᵀ·C·w / wᵀ·w) with w the row of (XᵀX)⁻¹·Xᵀ and C the rows'
// correlation.
func (a *analysis) widened(i int, share float64) float64 {
	w := make([]float64, len(a.y))
	for j, q := range a.best.set {
		for r, x := range a.cols[q] {
			w[r] += a.best.inv.At(i, j) * x
		}
	}
	own, shared := 0.0, 0.0
	for r := range w {
		own += w[r] * w[r]
		for s := r + 1; s < min(r+nearRows, len(w)); s++ {
			shared += 2 * share * w[r] * w[s] * a.alikeness(r, s)
		}
	}
	return math.Sqrt(max(1, 1+shared/own))
}
