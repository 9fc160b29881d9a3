// Which few causes explain a day: the best subset of the dictionary, enlarged
// only while another cause improves it by more than chance would.

package diagnose

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
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
func tests(terms []term) float64 {
	n := 0.0
	for i := range terms {
		if terms[i].arc == nil {
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
func choose(g *gram, terms []term) fitted {
	m := tests(terms)
	now, ok := g.fit()
	if !ok {
		return fitted{}
	}
	try := func(best *fitted, found *bool, set []int) {
		if twice(terms, set) || slices.ContainsFunc(set, func(q int) bool { return g.born[q] < leastBorn }) {
			return
		}
		f, ok := g.fit(set...)
		if ok && (!*found || f.rss < best.rss) && g.holds(&f, terms, m) {
			f.set = slices.Clone(set)
			*best, *found = f, true
		}
	}
	last := []int{}
	for size := 1; size <= min(mostTerms, g.rows/leastRows); size++ {
		var best fitted
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
		last = best.set
		if g.gains(&now, &best) < alpha/(m*float64(size)) {
			now = best
		} else if size > 1 {
			break
		}
	}
	return now
}

// twice reports whether a set warms the oil of the same transitions twice.
func twice(terms []term, set []int) bool {
	for i, p := range set {
		for _, q := range set[:i] {
			t, o := &terms[p], &terms[q]
			if t.cause == ColdOil && o.cause == ColdOil && (t.of == o.of || t.of == both || o.of == both) {
				return true
			}
		}
	}
	return false
}

// holds reports whether each term of the fit is above chance and worth it, and
// does what the others cannot do.
func (g *gram) holds(f *fitted, terms []term, m float64) bool {
	for i, q := range f.set {
		t := &terms[q]
		if math.Abs(f.beta[i]) < max(t.least, apartM*g.perApart(f, i)) || t.late && f.beta[i] < 0 || !(f.p(i)*max(m, t.tests) < alpha) {
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
func (g *gram) perApart(f *fitted, i int) float64 {
	return math.Sqrt(float64(g.born[f.set[i]]) * f.inv.At(i, i))
}

// gains is the probability with which chance makes as much of the step from one
// fit to a larger one.
func (g *gram) gains(from, to *fitted) float64 {
	k := len(to.set) - len(from.set)
	noise := max(to.rss/float64(to.df), g.floorM*g.floorM)
	f := (from.rss - to.rss) / float64(k) / noise
	if !(f > 0) {
		return 1
	}
	return distuv.F{D1: float64(k), D2: float64(to.df)}.Survival(f)
}

// outlying is how often a normal sample may have a row beyond clipAt: once in
// so many rows.
const outlying = 2000.0

// madEfficiency is the efficiency of the median size as a measure of spread: it
// knows as much as 37 % of the rows (Huber and Ronchetti, Robust Statistics,
// 2009; from memory).
const madEfficiency = 0.37

// clipAt is how many robust standard deviations from the fit a row may pull:
// Student's t for as many degrees of freedom as that spread is worth, so that
// few rows, of which the spread is uncertain, lose none.
func clipAt(rows, parameters int) float64 {
	df := madEfficiency * float64(rows-parameters)
	if df < 1 {
		return math.Inf(1)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(1 - 0.5/outlying)
}

// clipped returns y with residuals beyond clipAt robust standard deviations
// brought in: Huber's modified residuals (Huber and Ronchetti, 2009, 7.8; from
// memory). A normal sample is left as it is.
func clipped(y, fit []float64, parameters int, floorM float64) []float64 {
	limit := clipAt(len(y), parameters) * spreadOf(y, fit, parameters, floorM)
	out := make([]float64, len(y))
	for i := range y {
		out[i] = fit[i] + max(-limit, min(y[i]-fit[i], limit))
	}
	return out
}

// spreadOf is the standard deviation of residuals from their median size:
// 1.4826·median|r|, the factor for a normal sample, times √(n/(n-p)) for p
// parameters that were fitted.
func spreadOf(y, fit []float64, parameters int, floorM float64) float64 {
	size := make([]float64, len(y))
	for i := range y {
		size[i] = math.Abs(y[i] - fit[i])
	}
	n := float64(len(y))
	return max(floorM, 1.4826*median(size)*math.Sqrt(n/max(1, n-float64(parameters))))
}

// median returns the middle of a list, which it sorts; 0 of none.
func median(list []float64) float64 {
	n := len(list)
	if n == 0 {
		return 0
	}
	slices.Sort(list)
	return (list[(n-1)/2] + list[n/2]) / 2
}

// predict returns Σ β·x for each row.
func predict(f *fitted, cols [][]float64, rows int) []float64 {
	out := make([]float64, rows)
	for i, p := range f.set {
		for r, x := range cols[p] {
			out[r] += f.beta[i] * x
		}
	}
	return out
}
