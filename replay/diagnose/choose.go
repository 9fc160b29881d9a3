// Which few causes explain a day: the best subset of the dictionary, enlarged
// only while another cause improves it by more than chance would.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/regress"
)

// alpha is the probability, all terms together, with which chance alone may
// show a cause.
const alpha = 0.02

const (
	mostTerms = 4 // causes that are looked for at once, at most
	// leastRows is how many crossings there must be for each cause, and leastBorn
	// how many must bear it: of fewer any two causes explain all.
	leastRows = 5
	leastBorn = 3
)

// tests is how many columns chance has had to look like y.
func candidates(terms []term) float64 {
	n := 0.0
	for i := range terms {
		if terms[i].piece == nil {
			n++
		}
	}
	return n
}

// choose returns the best subset of the terms.
//
// Sizes 1, 2, … are searched in full (beyond two in order of size: the best
// pair and each further term). A larger subset is taken when the F test of its
// gain, F = ((RSS₀ - RSS₁)/k) / (RSS₁/df), and the t test of each of its terms
// hold at alpha, divided by the number of terms looked at (Bonferroni).
func choose(g *regress.Gram, terms []term) regress.Fit {
	m := candidates(terms)
	now, ok := g.Fit()
	if !ok {
		return regress.Fit{}
	}
	try := func(best *regress.Fit, found *bool, set []int) {
		if coldOilTwice(terms, set) || slices.ContainsFunc(set, func(q int) bool { return g.Born[q] < leastBorn }) {
			return
		}
		f, ok := g.Fit(set...)
		if ok && (!*found || f.RSS < best.RSS) && allHold(g, &f, terms, m) {
			f.Set = slices.Clone(set)
			*best, *found = f, true
		}
	}
	last := []int{}
	for size := 1; size <= min(mostTerms, g.Rows/leastRows); size++ {
		var best regress.Fit
		found := false
		switch {
		case size <= 2:
			for i := range terms {
				if size == 1 {
					try(&best, &found, []int{i})
					continue
				}
				for j := i + 1; j < len(terms); j++ {
					try(&best, &found, []int{i, j})
				}
			}
		case len(last) == size-1:
			// Every term more, and every exchange of one for two.
			for i := range terms {
				if slices.Contains(last, i) {
					continue
				}
				try(&best, &found, append(slices.Clone(last), i))
				for out := range last {
					rest := slices.Delete(slices.Clone(last), out, out+1)
					for j := i + 1; j < len(terms); j++ {
						if !slices.Contains(rest, j) {
							try(&best, &found, append(slices.Clone(rest), i, j))
						}
					}
				}
			}
		}
		if !found {
			continue
		}
		last = best.Set
		if g.ChanceOfGain(&now, &best) < alpha/(m*float64(size)) {
			now = best
		} else if size > 1 {
			break
		}
	}
	return now
}

// twice reports whether a set warms the oil of the same transitions twice.
func coldOilTwice(terms []term, set []int) bool {
	for i, p := range set {
		for _, q := range set[:i] {
			t, o := &terms[p], &terms[q]
			if t.cause == ColdOil && o.cause == ColdOil && (t.moves == o.moves || t.moves == both || o.moves == both) {
				return true
			}
		}
	}
	return false
}

// holds reports whether each term of the fit is above chance and worth it, and
// does what the others cannot do.
func allHold(g *regress.Gram, f *regress.Fit, terms []term, m float64) bool {
	for i, q := range f.Set {
		t := &terms[q]
		if math.Abs(f.Beta[i]) < max(t.leastSize, apartM*perApart(g, f, i)) || t.onlyLate && f.Beta[i] < 0 || !(f.P(i)*max(m, t.tried) < alpha) {
			return false
		}
	}
	return true
}

// apartM is by how much, root mean square over its crossings, a cause must move
// them in a way that no other can: positions that are off by the same for hours
// bend a line as much (of leastM, half).
const apartM = leastM / 2

// perApart is the size of the i-th term of a fit that moves its crossings by 1 m
// in a way that the others of the fit cannot: beside them its column is left
// with the square 1/((XᵀX)⁻¹)ᵢᵢ.
func perApart(g *regress.Gram, f *regress.Fit, i int) float64 {
	return math.Sqrt(float64(g.Born[f.Set[i]]) * f.Inv.At(i, i))
}
