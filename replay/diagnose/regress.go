// Least squares on one row a crossing, for any choice of columns, from the
// sums of products of all of them.

package diagnose

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// gram holds XᵀX, Xᵀy and yᵀy: any subset of the columns can be fitted from it
// without another look at the rows.
type gram struct {
	rows   int
	xx     [][]float64
	xy     []float64
	yy     float64
	born   []int   // rows that bear each column
	floorM float64 // least standard deviation of a row that is believed
}

// newGram sums up columns and response.
func newGram(cols [][]float64, y []float64, floorM float64) *gram {
	g := &gram{rows: len(y), xx: make([][]float64, len(cols)), xy: make([]float64, len(cols)), born: make([]int, len(cols)), floorM: floorM}
	for i := range cols {
		g.xx[i] = make([]float64, len(cols))
		for j := 0; j <= i; j++ {
			g.xx[i][j] = dot(cols[i], cols[j])
			g.xx[j][i] = g.xx[i][j]
		}
		g.xy[i] = dot(cols[i], y)
		for _, x := range cols[i] {
			if x != 0 {
				g.born[i]++
			}
		}
	}
	g.yy = dot(y, y)
	return g
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

// fitted is a least squares fit of the columns set.
type fitted struct {
	set   []int
	beta  []float64
	inv   *mat.SymDense // (XᵀX)⁻¹
	rss   float64
	df    int     // rows - columns
	sigma float64 // standard deviation of a row
}

// worstCondition is the condition of the scaled normal matrix beyond which
// columns count as one and the same.
const worstCondition = 1e9

// fit solves β = (XᵀX)⁻¹·Xᵀy. It reports false where the rows are too few or the
// columns cannot be told apart.
func (g *gram) fit(set ...int) (fitted, bool) {
	k := len(set)
	f := fitted{set: set, rss: g.yy, df: g.rows - k}
	if f.df < 1 {
		return f, false
	}
	if k > 0 {
		// Columns scaled to length 1, so that metres and seconds compare.
		a, scale := mat.NewSymDense(k, nil), make([]float64, k)
		for i, p := range set {
			if !(g.xx[p][p] > 0) {
				return f, false
			}
			scale[i] = 1 / math.Sqrt(g.xx[p][p])
		}
		for i, p := range set {
			for j := 0; j <= i; j++ {
				a.SetSym(i, j, g.xx[p][set[j]]*scale[i]*scale[j])
			}
		}
		var c mat.Cholesky
		if !c.Factorize(a) || c.Cond() > worstCondition {
			return f, false
		}
		f.inv = mat.NewSymDense(k, nil)
		if err := c.InverseTo(f.inv); err != nil {
			return f, false
		}
		f.beta = make([]float64, k)
		for i := range set {
			for j := 0; j <= i; j++ {
				f.inv.SetSym(i, j, f.inv.At(i, j)*scale[i]*scale[j])
			}
		}
		for i := range set {
			for j, q := range set {
				f.beta[i] += f.inv.At(i, j) * g.xy[q]
			}
			f.rss -= f.beta[i] * g.xy[set[i]]
		}
	}
	f.rss = max(f.rss, 0)
	f.sigma = max(math.Sqrt(f.rss/float64(f.df)), g.floorM)
	return f, true
}

// se is the standard error of coefficient i.
func (f *fitted) se(i int) float64 { return f.sigma * math.Sqrt(f.inv.At(i, i)) }

// p is the probability of a coefficient as far from 0 as i by chance, by
// Student's t.
func (f *fitted) p(i int) float64 { return twoSided(f.beta[i]/f.se(i), f.df) }

// interval is the 95 % confidence interval of coefficient i.
func (f *fitted) interval(i int) Interval { return around(f.beta[i], f.se(i), f.df) }

// at returns the place of column p in the fit, or -1.
func (f *fitted) at(p int) int {
	for i, q := range f.set {
		if p == q {
			return i
		}
	}
	return -1
}

// twoSided is P(|T| ≥ |t|) with df degrees of freedom.
func twoSided(t float64, df int) float64 {
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(df)}.Survival(math.Abs(t))
}

// quantile is Student's t with df degrees of freedom that p lies beyond, both
// sides together.
func quantile(p float64, df int) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(df)}.Quantile(1 - p/2)
}

// around is the 95 % interval of an estimate.
func around(x, se float64, df int) Interval {
	h := quantile(0.05, df) * se
	return Interval{x - h, x + h}
}
