// Intervals that allow for a position error that wanders.

package diagnose

import (
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
)

// alikeness is that of the first moves of two rows.
func (a *analysis) alikeness(r, s int) float64 {
	first := func(r int) *evidence.Move { return &a.moves[a.crossings[a.rows[r]].Changes[0]] }
	return evidence.Alikeness(first(r), first(s))
}

// left are the residuals of the chosen causes.
func (a *analysis) left() []float64 {
	out := regress.Predict(&a.chosen, a.columns, len(a.y))
	for r := range out {
		out[r] = a.y[r] - out[r]
	}
	return out
}

// widening is by how much uneven and wandering scatter widen the interval of a chosen cause.
func (a *analysis) widening(i int, share float64) float64 {
	return a.chosen.Widening(i, a.columns, a.left(), share, a.alikeness)
}
