// The time constant of warming oil: the one number of the dictionary that least squares
// cannot fit.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/terms"
)

// shortestTauS is the shortest time constant; the longest is the length of the day.
const shortestTauS = 120.0

// warm fits the time constant of cold oil, if cold oil was chosen, and chooses the causes
// again: what a wrong time constant leaves unexplained looks like a wrong lead.
func (a *analysis) warm() {
	for round := range 3 {
		at := slices.IndexFunc(a.chosen.Set, func(q int) bool { return a.terms[q].Cause == ColdOil })
		if at < 0 {
			return
		}
		q := a.chosen.Set[at]
		set := slices.Clone(a.chosen.Set)
		if round == 0 {
			set = []int{q} // alone, because other causes may have explained part of it
		}
		y := regress.Clipped(a.y, regress.Predict(&a.chosen, a.columns, len(a.y)), len(a.chosen.Set), a.roughM)
		a.setTau(q, a.bestTau(func(tauS float64) float64 {
			a.setTau(q, tauS)
			f, ok := regress.NewGram(a.columns, y, a.roughM).Fit(set...)
			if !ok {
				return math.Inf(1)
			}
			return f.RSS
		}))
		// There is one time constant: the other terms of the same kind are cleared.
		for o := range a.terms {
			if t := &a.terms[o]; o != q && t.Cause == ColdOil {
				if t.Moves == a.terms[q].Moves {
					clear(a.columns[o])
				} else {
					a.setTau(o, a.terms[q].TauS)
				}
			}
		}
		a.chosen = a.chooseRobustly()
	}
}

// setTau changes the time constant of term q.
func (a *analysis) setTau(q int, tauS float64) {
	t := &a.terms[q]
	t.TauS, t.PerUnitM = tauS, terms.Fade(t.Moves, tauS)
	a.columns[q] = a.column(t.PerUnitM)
}

// column returns the weighted column of a term.
func (a *analysis) column(x func(m *evidence.Move) float64) []float64 {
	col := make([]float64, len(a.rows))
	for r, k := range a.rows {
		list := a.crossings[k].Changes
		for _, i := range list {
			col[r] += x(&a.moves[i])
		}
		col[r] *= a.weight[r] / float64(len(list))
	}
	return col
}

// fitWith fits a set of terms. If own, one of them, is cold oil, its time constant is
// fitted together with them and widens the interval of its size.
func (a *analysis) fitWith(g *regress.Gram, set []int, own int) (regress.Fit, bool) {
	if a.terms[own].Cause != ColdOil {
		return g.Fit(set...)
	}
	cols, all := make([][]float64, len(set)), make([]int, len(set)+1)
	for j, q := range set {
		cols[j], all[j] = a.columns[q], j
	}
	all[len(set)] = len(set)
	at := slices.Index(set, own)
	t := &a.terms[own]
	tauS := a.bestTau(func(tauS float64) float64 {
		cols[at] = a.column(terms.Fade(t.Moves, tauS))
		f, ok := regress.NewGram(cols, a.y, g.FloorM).Fit(all[:len(set)]...)
		if !ok {
			return math.Inf(1)
		}
		return f.RSS
	})
	// d/d(ln τ) v·exp(-t/τ) = v·exp(-t/τ)·t/τ
	x := terms.Fade(t.Moves, tauS)
	cols[at] = a.column(x)
	cols = append(cols, a.column(func(m *evidence.Move) float64 { return x(m) * m.SinceS / tauS }))
	return regress.NewGram(cols, a.y, g.FloorM).Fit(all...)
}

// bestTau returns the time constant at which rss is least.
func (a *analysis) bestTau(rss func(tauS float64) float64) float64 {
	return math.Exp(regress.Minimum(func(logTau float64) float64 { return rss(math.Exp(logTau)) },
		math.Log(shortestTauS), math.Log(max(2*shortestTauS, a.lastS))))
}
