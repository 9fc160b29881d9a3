// Sizes and intervals that allow for the same data having chosen the causes: averages
// over the choices that explain the day about equally well.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/terms"
)

// neighboursPrior is the prior odds that the choice has missed a cause: 1 to 2, or one
// day in three. This is a judgement. With it, 97 to 98 % of the campaign's closed-form
// drives with one fault have its true size in the interval; with even odds 98 to 99 %
// would.
const neighboursPrior = 0.5

// alternatives returns the size of the i-th chosen cause as the choice estimates it, and
// as its neighbours do: the choice with one more cause, and the choice with one cause
// in place of another.
//
// A weak second cause that was not chosen, or was mistaken for a similar one, changes
// the size of the first; a single fit does not show that. Bayesian model averaging
// does (Hoeting, Madigan, Raftery and Volinsky, Stat. Sci. 14(4):382-417, 1999; from
// memory). A fit of k columns to n rows has the weight prior·exp(-BIC/2), with BIC =
// n·ln(RSS/n) + k·ln n. There are many neighbours, so all of them together have the
// prior neighboursPrior, that of the choice being 1 (Scott and Berger, Ann. Stat.
// 38(5):2587-2619, 2010; from memory).
func (a *analysis) alternatives(g *regress.Gram, i int) []regress.Guess {
	own := a.chosen.Set[i]
	n := float64(g.Rows)
	relatives := a.familySize(own)
	var list []regress.Guess
	var bic []float64
	add := func(set []int) {
		if terms.ColdOilTwice(a.terms, set) {
			return
		}
		f, ok := a.fitWith(g, set, own)
		if !ok {
			return
		}
		for j, q := range set {
			if a.terms[q].OnlyLate && f.Beta[j] < 0 {
				return
			}
		}
		at := slices.Index(set, own)
		list = append(list, regress.Guess{Size: f.Beta[at], SE: f.SE(at), DF: f.DF})
		bic = append(bic, n*math.Log(max(f.RSS/n, g.FloorM*g.FloorM))+float64(len(set))*math.Log(n))
	}
	add(a.chosen.Set)
	chosen := len(list)
	for q := range a.terms {
		if slices.Contains(a.chosen.Set, q) || a.terms[q].Piece != nil || a.bearsOnNothing(q) {
			continue
		}
		if relatives > 1 && a.terms[q].Family() == a.terms[own].Family() {
			continue // says the same as the choice, as sums and differences
		}
		add(append(slices.Clone(a.chosen.Set), q))
		for j, other := range a.chosen.Set {
			if j != i && a.terms[other].Piece == nil {
				swapped := slices.Clone(a.chosen.Set)
				swapped[j] = q
				add(swapped)
			}
		}
	}
	for k := chosen; k < len(bic); k++ {
		bic[k] += 2 * math.Log(float64(len(bic)-chosen)/neighboursPrior)
	}
	sum := 0.0
	for k := range list {
		list[k].Weight = math.Exp((slices.Min(bic) - bic[k]) / 2)
		sum += list[k].Weight
	}
	for k := range list {
		list[k].Weight /= sum
	}
	return list
}

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
