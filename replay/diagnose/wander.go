// The position error wanders slowly: crossings soon after one another share part of it,
// with the same sign if they are driven in the same direction.

package diagnose

import (
	"math"

	"liftbench/replay/diagnose/regress"
)

// wanderS is the time in which a position error falls to 1/e (the usual order for RTK;
// from memory).
const wanderS = 60.0

// alikeness is the correlation of the place errors of two rows if all of their scatter
// were a wandering position error:
// cos(θᵢ - θⱼ)·exp(-|tᵢ - tⱼ|/τ).
func (a *analysis) alikeness(r, s int) float64 {
	m, n := &a.moves[a.crossings[a.rows[r]].Changes[0]], &a.moves[a.crossings[a.rows[s]].Changes[0]]
	return math.Cos(m.HeadingRad-n.HeadingRad) * math.Exp(-math.Abs(m.SinceS-n.SinceS)/wanderS)
}

// wanderingShare returns the share of the scatter that wanders, 0 to 1.
func (a *analysis) wanderingShare() float64 {
	return regress.WanderingShare(&a.chosen, a.columns, a.y, a.alikeness)
}

// widening returns the factor, at least 1, by which uneven scatter and wandering widen
// the interval of coefficient i.
func (a *analysis) widening(i int, share float64) float64 {
	return regress.Widening(&a.chosen, a.columns, a.y, i, share, a.alikeness)
}
