// What the day cannot tell apart, and what it would have shown.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/terms"
)

const (
	// mistakenlyApart is the probability with which chance may tell two causes apart
	// although both explain the day.
	mistakenlyApart = 0.02
)

// rivals returns the terms that explain the day as well as the i-th chosen one does:
// beside them that one is not above chance, or moves no crossing in a way that they
// cannot. This is the encompassing test of Mizon and Richard (Econometrica
// 54(3):657-678, 1986; from memory) for one regressor each.
func (a *analysis) rivals(g *regress.Gram, i int) []int {
	own := &a.terms[a.chosen.Set[i]]
	relatives := a.familySize(a.chosen.Set[i])
	var out []int
	for q := range a.terms {
		t := &a.terms[q]
		if slices.Contains(a.chosen.Set, q) || t.Piece != nil || t.Cause == own.Cause ||
			t.Family() == own.Family() && relatives > 1 {
			continue
		}
		f, ok := g.Fit(append(slices.Clone(a.chosen.Set), q)...)
		if !ok && a.chosen.DF < 2 {
			continue
		}
		if ok && t.OnlyLate && f.Beta[len(f.Beta)-1] < 0 && f.P(len(f.Beta)-1) < 0.5 {
			continue // it would have to make transitions early, and can only make them late
		}
		if (!ok || !(f.P(i) < mistakenlyApart) || math.Abs(f.Beta[i]) < terms.ApartM*terms.PerApart(g, &f, i)) && !a.bearsOnNothing(q) {
			out = append(out, q)
		}
	}
	for _, q := range a.twoInOne(g, i) {
		if !slices.Contains(out, q) {
			out = append(out, q)
		}
	}
	return out
}

// familySize returns how many chosen terms are of a term's family. If two are, every
// other term of the family is a sum or a difference of them.
func (a *analysis) familySize(of int) int {
	n := 0
	for _, q := range a.chosen.Set {
		if a.terms[q].Family() == a.terms[of].Family() {
			n++
		}
	}
	return n
}

// bearsOnNothing reports whether a term is 0 in every row.
func (a *analysis) bearsOnNothing(q int) bool {
	for _, x := range a.columns[q] {
		if x != 0 {
			return false
		}
	}
	return true
}

// floor returns the smallest size of a term that the rows would show, alone and beside
// each other cause, with the scatter found; +Inf if no size would show.
//
// A size of (q + 1.645)·se is found above the threshold q·se with a probability of
// 95 %; the other thresholds are raised by 1.645·se in the same way.
func (a *analysis) floor(g *regress.Gram, q int) float64 {
	t := &a.terms[q]
	f, ok := g.Fit(q)
	if !ok || g.Born[q] < terms.LeastBorn || g.Rows < terms.LeastRows {
		return math.Inf(1)
	}
	m := terms.Candidates(a.terms)
	f.Sigma = a.sigmaM
	least := max(t.LeastSize, terms.ApartM*terms.PerApart(g, &f, 0), regress.Quantile(regress.Alpha/max(m, t.Tried), f.DF)*f.SE(0)) + regress.Power*f.SE(0)
	if t.Piece != nil {
		return least
	}
	for other := range a.terms {
		o := &a.terms[other]
		if other == q || o.Piece != nil || o.Cause == t.Cause || a.bearsOnNothing(other) {
			continue
		}
		f, ok := g.Fit(q, other)
		if !ok {
			return math.Inf(1)
		}
		f.Sigma = a.sigmaM
		least = max(least, apart(g, &f))
	}
	if others := a.opposite(q, nil); t.Moves == evidence.Both && len(others) == 2 {
		f, ok := g.Fit(slices.Concat([]int{q}, others)...)
		if !ok {
			return math.Inf(1)
		}
		f.Sigma = a.sigmaM
		least = max(least, apart(g, &f))
	}
	return least
}

// apart is the size at which the first term of a fit stands out beside the others, with a
// probability of 95 %.
func apart(g *regress.Gram, f *regress.Fit) float64 {
	return max(terms.ApartM*terms.PerApart(g, f, 0), regress.Quantile(mistakenlyApart, f.DF)*f.SE(0)) + regress.Power*f.SE(0)
}

// floors returns the floor of each cause on the leg; of cold oil, that of the time
// constant which shows best.
func (a *analysis) floors() []Floor {
	if len(a.moves) == 0 {
		return nil
	}
	g := a.gram()
	var out []Floor
	add := func(c Cause, move string, size float64) {
		f := Floor{Cause: c, Move: move, Unit: c.Unit()}
		if !math.IsInf(size, 1) {
			f.Size = &size
		}
		out = keep(out, f, true)
	}
	for q := range a.terms {
		if t := &a.terms[q]; t.Piece == nil {
			add(t.Cause, t.MoveName(), a.floor(g, q))
		}
	}
	if a.leg != evidence.Command {
		add(SlowSection, "", a.sectionS)
	}
	return out
}

// keep adds a floor to a list in which each cause stands once: the smaller of two, or the larger.
func keep(list []Floor, f Floor, smaller bool) []Floor {
	for i := range list {
		if o := &list[i]; o.Cause == f.Cause && o.Move == f.Move {
			if less := f.Size != nil && (o.Size == nil || *f.Size < *o.Size); less == smaller {
				*o = f
			}
			return list
		}
	}
	return append(list, f)
}
