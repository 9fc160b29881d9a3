// The choice of causes: the best subset of the dictionary, enlarged only while one more
// cause explains more than chance would.

package terms

import (
	"iter"
	"liftbench/replay/diagnose/cause"
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
)

const (
	mostTerms = 4 // causes that are chosen, at most
	// LeastRows is how many crossings there must be for each cause, and LeastBorn how
	// many of them a cause must make late. With fewer, any two causes would explain all.
	LeastRows = 5
	LeastBorn = 3
)

// Candidates is the number of terms among which chance could have found one that fits;
// a piece of border counts its own trials.
func Candidates(terms []Term) float64 {
	n := 0.0
	for i := range terms {
		if terms[i].Piece == nil {
			n++
		}
	}
	return n
}

// Choose returns the best subset of the terms.
//
// Subsets of one term and of two are all tried; a larger one is the best of its size
// with one term more, or with one of its terms exchanged for two others. The result
// grows to a larger subset only if the F test of its gain holds at alpha divided by the
// number of Candidates and by the subset's size (Bonferroni) and allHold approves of
// its terms.
func Choose(g *regress.Gram, terms []Term) regress.Fit {
	chosen, ok := g.Fit()
	if !ok {
		return regress.Fit{}
	}
	m := Candidates(terms)
	var best regress.Fit // of the size before
	for size := 1; size <= min(mostTerms, g.Rows/LeastRows); size++ {
		larger, found := bestOf(g, terms, regress.Supersets(best.Set, len(terms), size), m)
		if !found {
			continue
		}
		best = larger
		if g.ChanceOfGain(&chosen, &best) < regress.Alpha/(m*float64(size)) {
			chosen = best
		} else if size > 1 {
			break
		}
	}
	return chosen
}

// bestOf returns the fit with the least residuals among the subsets whose terms hold;
// found is false if there is none.
func bestOf(g *regress.Gram, terms []Term, subsets iter.Seq[[]int], m float64) (best regress.Fit, found bool) {
	for set := range subsets {
		if ColdOilTwice(terms, set) || slices.ContainsFunc(set, func(q int) bool { return g.Born[q] < LeastBorn }) {
			continue
		}
		f, ok := g.Fit(set...)
		if ok && (!found || f.RSS < best.RSS) && allHold(g, &f, terms, m) {
			f.Set = slices.Clone(set)
			best, found = f, true
		}
	}
	return best, found
}

// ColdOilTwice reports whether two terms of a set are cold oil of the same transitions.
func ColdOilTwice(terms []Term, set []int) bool {
	for i, p := range set {
		for _, q := range set[:i] {
			t, o := &terms[p], &terms[q]
			if t.Cause == cause.ColdOil && o.Cause == cause.ColdOil && (t.Moves == o.Moves || t.Moves == evidence.Both || o.Moves == evidence.Both) {
				return true
			}
		}
	}
	return false
}

// allHold reports whether each term of the fit is above chance, large enough to matter,
// and moves its crossings in a way that the other terms cannot. m is the number of
// Candidates.
func allHold(g *regress.Gram, f *regress.Fit, terms []Term, m float64) bool {
	for i, q := range f.Set {
		t := &terms[q]
		if math.Abs(f.Beta[i]) < max(t.LeastSize, ApartM*PerApart(g, f, i)) || t.OnlyLate && f.Beta[i] < 0 || !(f.P(i)*max(m, t.Tried) < regress.Alpha) {
			return false
		}
	}
	return !beforeCommand(terms, f)
}

// beforeCommand reports whether the terms of a fit together say that a section that moves
// alone moves before it is told to.
func beforeCommand(terms []Term, f *regress.Fit) bool {
	flow := slices.ContainsFunc(f.Set, func(q int) bool { return terms[q].Cause == cause.FlowShortage })
	for _, on := range [...]bool{false, true} {
		lateS, leadS := 0.0, 0.0
		for i, q := range f.Set {
			if t := &terms[q]; t.Soonest != nil && (flow || t.Soonest.Told) && t.Moves.Applies(on) != 0 {
				lateS, leadS = lateS+f.Beta[i]*t.Soonest.PerUnit, t.Soonest.LeadS[evidence.Way(on)]
			}
		}
		if lateS < -leadS {
			return true
		}
	}
	return false
}

// ApartM is by how much, root mean square over its crossings, a cause must move them in
// a way that no other cause can. A position error that stays for hours bends a line
// through the crossings by about as much.
const ApartM = evidence.LeastM / 2

// PerApart is the size at which the i-th term of a fit moves its crossings by 1 m root
// mean square in a way that the other terms cannot: what is left of its column beside
// theirs has the sum of squares 1/((XᵀX)⁻¹)ᵢᵢ.
func PerApart(g *regress.Gram, f *regress.Fit, i int) float64 {
	return math.Sqrt(float64(g.Born[f.Set[i]]) * f.Inv.At(i, i))
}
