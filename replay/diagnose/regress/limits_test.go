// Limits of fits, means and intervals, just within and just beyond.

package regress

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Chance may show any cause in one day of 50, as the README of diagnose says; a size is seen in 95 % of
// drives if it lies the normal distribution's one-sided 95 % quantile above the threshold.
func TestPolicy(t *testing.T) {
	if Alpha != 0.02 {
		t.Errorf("Alpha %g; want 0.02", Alpha)
	}
	if above := math.Erfc(Power/math.Sqrt2) / 2; !(math.Abs(above-0.05) <= 1e-4) {
		t.Errorf("%g of a normal distribution lie above %g; want 0.05", above, Power)
	}
}

// Rows that columns explain exactly scatter by the floor, however the rounding falls.
func TestExactRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfNDistinct(rapid.Float64Range(-10, 10), 4, 12, rapid.ID).Draw(t, "x")
		a, b := rapid.Float64Range(-3, 3).Draw(t, "a"), rapid.Float64Range(-3, 3).Draw(t, "b")
		ones, y := make([]float64, len(x)), make([]float64, len(x))
		for i := range x {
			ones[i], y[i] = 1, a+b*x[i]
		}
		f, ok := NewGram([][]float64{ones, x}, y, 0.01).Fit(0, 1)
		if ok && f.Sigma != 0.01 {
			t.Fatalf("scatter %g; want the floor", f.Sigma)
		}
	})
}

// Two columns at an angle θ have the condition (1 + cos θ)/(1 - cos θ), and cannot be told apart
// beyond 1e9. How long they are does not count.
func TestCondition(t *testing.T) {
	for _, tc := range []struct {
		condition, lengthM float64
		want               bool
	}{{1e8, 1, true}, {0.8e9, 1, true}, {1.2e9, 1, false}, {0.8e9, 1e-3, true}, {0.8e9, 1e3, true}, {1.2e9, 1e-3, false}} {
		angle := math.Acos((tc.condition - 1) / (tc.condition + 1))
		sin, cos := math.Sincos(angle)
		columns := [][]float64{{tc.lengthM, 0, 0, 0}, {3 * cos, 3 * sin, 0, 0}}
		if _, ok := NewGram(columns, []float64{1, 2, 3, 4}, 0.01).Fit(0, 1); ok != tc.want {
			t.Errorf("condition %g, length %g: fitted %v", tc.condition, tc.lengthM, ok)
		}
	}
	if _, ok := NewGram([][]float64{{0, 0, 0}}, []float64{1, 2, 3}, 0.01).Fit(0); ok {
		t.Error("a column of zeros was fitted")
	}
}

// One more column is worth the square of its Student's t, also beside others.
func TestGainOfOne(t *testing.T) {
	columns := [][]float64{{1, 1, 1, 1, 1, 1}, {0, 1, 2, 3, 4, 5}, {1, 0, 0, 1, 0, 2}}
	g := NewGram(columns, []float64{0.1, 0.9, 2.3, 3.4, 3.7, 5.8}, 1e-6)
	for _, set := range [][]int{{0}, {0, 1}, {1, 2, 0}} {
		from, _ := g.Fit(set[:len(set)-1]...)
		to, _ := g.Fit(set...)
		if got, want := g.ChanceOfGain(&from, &to), to.P(len(set)-1); !(math.Abs(got/want-1) <= 1e-6) {
			t.Errorf("columns %v: %g; want %g", set, got, want)
		}
	}
}

// A value of a mean is an outlier beyond ClipAt robust standard deviations from the median.
func TestMeanLimit(t *testing.T) {
	list := []float64{-4, -3, -2, -1, 0, 1, 2, 3, 4, 0, 0} // the last is replaced
	// Whatever replaces it, the median of the 11 is 0 and that of their sizes 2.
	limit := ClipAt(11, 1) * 1.4826 * 2 * math.Sqrt(11.0/10)
	for share, df := range map[float64]int{0.999: 10, 1.001: 9} {
		for _, side := range []float64{-1, 1} {
			list[10] = side * share * limit
			if _, _, got := Mean(list, 0.01); got != df {
				t.Errorf("%g of the limit: %d degrees of freedom; want %d", side*share, got, df)
			}
		}
	}
}

// Two values that differ by as much as they are from 0 are random: the ratio is 1/2.
func TestLeastRatio(t *testing.T) {
	for _, tc := range []struct {
		list []float64
		want bool
	}{{[]float64{2, 0}, true}, {[]float64{1, -1}, true}, {[]float64{2, 0.001}, false}, {[]float64{2, 2}, false}} {
		if got := AtRandom(tc.list); got != tc.want {
			t.Errorf("%v: random %v", tc.list, got)
		}
	}
}

// The interval of a standard deviation, by quantiles of chi squared from printed tables.
func TestDeviation(t *testing.T) {
	for _, tc := range []struct{ df, low, high float64 }{{10, 3.247, 20.483}, {1, 0.000982, 5.024}, {30, 16.791, 46.979}} {
		want := [2]float64{2 * math.Sqrt(tc.df/tc.high), 2 * math.Sqrt(tc.df/tc.low)}
		if got := Deviation(2, tc.df); !(math.Abs(got[0]/want[0]-1) <= 2e-4) || !(math.Abs(got[1]/want[1]-1) <= 2e-4) {
			t.Errorf("%g degrees: %v; want %v", tc.df, got, want)
		}
	}
}

// A matrix of which only the last row depends on the others has no inverse either.
func TestInverseRefusesTheLast(t *testing.T) {
	for _, v := range [][3]float64{{1, 0, 0}, {1, 1, 1}, {4, 2, 1}} {
		a := NewSymmetric(2)
		a.Set(0, 0, v[0])
		a.Set(0, 1, v[1])
		a.Set(1, 1, v[2])
		if _, _, ok := a.inverse(); ok {
			t.Errorf("%v has an inverse", v)
		}
	}
}
