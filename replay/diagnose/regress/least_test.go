// Least squares beside its normal equations, F beside printed tables.

package regress

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The residuals of a fit are at right angles to its columns, and its matrix is the
// inverse of the sums of products, whatever the order of the columns.
func TestFit(t *testing.T) {
	rng := rand.New(rand.NewPCG(81, 82))
	const n = 12
	columns, y := make([][]float64, 4), make([]float64, n)
	for r := range y {
		columns[0] = append(columns[0], 1)
		columns[1] = append(columns[1], 3*rng.Float64())
		columns[2] = append(columns[2], float64(r%3)) // 0 in every third row
		columns[3] = append(columns[3], 1e4*rng.NormFloat64())
		y[r] = 0.5*columns[0][r] - 0.2*columns[1][r] + rng.NormFloat64()
	}
	g := NewGram(columns, y, 0.001)
	if g.Rows != n || g.Born[2] != 8 || g.Born[0] != n || g.FloorM != 0.001 {
		t.Errorf("%d rows, not 0 in %v", g.Rows, g.Born)
	}
	for _, set := range [][]int{{0}, {2, 0}, {0, 1, 2}, {3, 1, 0, 2}} {
		f, ok := g.Fit(set...)
		if !ok || f.DF != n-len(set) {
			t.Fatalf("columns %v: %+v, %v", set, f, ok)
		}
		rss, fitted := 0.0, Predict(&f, columns, n)
		for r := range y {
			sum := 0.0
			for i, p := range set {
				sum += f.Beta[i] * columns[p][r]
			}
			if !(math.Abs(sum-fitted[r]) <= 1e-12) {
				t.Errorf("columns %v, row %d: predicted %g; want %g", set, r, fitted[r], sum)
			}
			rss += (y[r] - sum) * (y[r] - sum)
		}
		if !(math.Abs(f.RSS-rss) <= 1e-9) || !(math.Abs(f.Sigma-math.Sqrt(rss/float64(f.DF))) <= 1e-9) {
			t.Errorf("columns %v: residuals %g, scatter %g; want %g, %g", set, f.RSS, f.Sigma, rss, math.Sqrt(rss/float64(f.DF)))
		}
		for i, p := range set {
			across := 0.0
			for r := range y {
				across += columns[p][r] * (y[r] - fitted[r])
			}
			if !(math.Abs(across) <= 1e-6*math.Sqrt(Dot(columns[p], columns[p]))) {
				t.Errorf("columns %v: residuals are not at right angles to column %d: %g", set, p, across)
			}
			for j := range set {
				sum := 0.0
				for k, q := range set {
					sum += Dot(columns[p], columns[q]) * f.Inv.At(k, j)
				}
				want := 0.0
				if i == j {
					want = 1
				}
				if !(math.Abs(sum-want) <= 1e-6) {
					t.Errorf("columns %v: inverse times matrix is %g at %d, %d", set, sum, i, j)
				}
			}
			se := f.Sigma * math.Sqrt(f.Inv.At(i, i))
			if f.SE(i) != se || f.P(i) != TwoSided(f.Beta[i]/se, f.DF) || f.Interval(i) != Around(f.Beta[i], se, f.DF) || f.At(p) != i {
				t.Errorf("columns %v, coefficient %d: %g, %g, %v, %d", set, i, f.SE(i), f.P(i), f.Interval(i), f.At(p))
			}
		}
		if f.At(7) != -1 {
			t.Error("a column that was not fitted is found")
		}
	}
	if f, ok := g.Fit(); !ok || f.RSS != Dot(y, y) || f.DF != n {
		t.Errorf("no columns: %+v, %v", f, ok)
	}
	// One degree of freedom is enough, none is not, and exact rows scatter by the floor.
	if f, ok := NewGram([][]float64{{1, 2, 3}, {1, 1, 1}}, []float64{3, 5, 7}, 0.01).Fit(0, 1); !ok || f.DF != 1 || f.Sigma != 0.01 || !(math.Abs(f.Beta[0]-2) <= 1e-9) {
		t.Errorf("three rows on a line: %+v, %v", f, ok)
	}
	for name, g := range map[string]*Gram{
		"two rows decide two columns":      NewGram([][]float64{{1, 2}, {1, 1}}, []float64{3, 5}, 0),
		"a column twice":                   NewGram([][]float64{{1, 2, 3, 4}, {2, 4, 6, 8}}, []float64{3, 5, 7, 9}, 0),
		"two columns all but in one line":  NewGram([][]float64{{1, 2, 3, 4}, {1, 2, 3, 4 + 1e-8}}, []float64{3, 5, 7, 9}, 0),
		"a column that is 0 in every row ": NewGram([][]float64{{0, 0, 0, 0}, {1, 2, 3, 5}}, []float64{3, 5, 7, 9}, 0),
	} {
		if f, ok := g.Fit(0, 1); ok {
			t.Errorf("%s is fitted: %+v", name, f)
		}
	}
}

// The F test, with printed quantiles for 5 %.
func TestChanceOfGain(t *testing.T) {
	g := &Gram{FloorM: 0.001}
	for _, tc := range []struct {
		more, df int
		f        float64
	}{{1, 10, 4.9646}, {2, 7, 4.7374}, {3, 20, 3.0984}} {
		from := &Fit{RSS: 2 * (1 + tc.f*float64(tc.more)/float64(tc.df))}
		to := &Fit{RSS: 2, DF: tc.df, Set: make([]int, tc.more)}
		if got := g.ChanceOfGain(from, to); !(math.Abs(got-0.05) <= 1e-4) {
			t.Errorf("F(%d, %d) = %g: %g; want 0.05", tc.more, tc.df, tc.f, got)
		}
	}
	if got := g.ChanceOfGain(&Fit{RSS: 2}, &Fit{RSS: 2, DF: 5, Set: []int{1}}); got != 1 {
		t.Errorf("no gain: %g; want 1", got)
	}
	if got := g.ChanceOfGain(&Fit{RSS: 2 * (1 + 0.49/10)}, &Fit{RSS: 2, DF: 10, Set: []int{1}}); !(math.Abs(got-TwoSided(0.7, 10)) <= 1e-6) {
		t.Errorf("F = 0.49: %g; want %g, that of t = 0.7", got, TwoSided(0.7, 10))
	}
	// Residuals below the floor count as the floor: 4.9646 times its square is gained.
	if got := g.ChanceOfGain(&Fit{RSS: 4.9646e-6}, &Fit{DF: 10, Set: []int{1}}); !(math.Abs(got-0.05) <= 1e-4) {
		t.Errorf("exact rows: %g; want 0.05", got)
	}
}

func TestMinimum(t *testing.T) {
	for _, at := range []float64{-2, -1.9, 0.3, 1.234, 5} {
		if got := Minimum(func(x float64) float64 { return (x - at) * (x - at) }, -2, 5); !(math.Abs(got-at) <= 6e-4) {
			t.Errorf("minimum at %g; found %g", at, got)
		}
	}
	calls := 0
	Minimum(func(x float64) float64 { calls++; return x * x }, -2, 5)
	// 7 m shrink to 1e-3 by the golden ratio in 19 steps; each needs one value, the first two.
	if calls != 21 {
		t.Errorf("%d values computed; want 21", calls)
	}
}

func TestQuadratic(t *testing.T) {
	f, _ := NewGram([][]float64{{1, 1, 1, 1}, {0, 1, 2, 5}}, []float64{1, 2, 3, 5}, 0).Fit(0, 1)
	want := 0.0
	z := []float64{2, -3}
	for i := range z {
		for j := range z {
			want += z[i] * z[j] * f.Inv.At(i, j)
		}
	}
	if got := Quadratic(f.Inv, z); got != want || want == 0 {
		t.Errorf("%g; want %g", got, want)
	}
}
