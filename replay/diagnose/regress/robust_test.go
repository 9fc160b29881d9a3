// Means and medians beside sums by hand.

package regress

import (
	"math"
	"testing"
)

// Means without outliers, with a least scatter of a tenth of what is worth a
// setting, and when two are alike.
func TestMeans(t *testing.T) {
	list := []float64{0.01, 0.03, 0.02, 0.04, 0.02, 0.03, 0.03, 0.02}
	mean, se, df := Mean(list, 0.010)
	if !(math.Abs(mean-0.025) <= 1e-12) || df != 7 || !(math.Abs(se-math.Sqrt(0.0006/7/8)) <= 1e-9) {
		t.Errorf("%g ± %g, %d degrees; want 0.025 ± %g, 7", mean, se, df, math.Sqrt(0.0006/7/8))
	}
	if m, s, d := Mean(append([]float64{3}, list...), 0.010); !(math.Abs(m-mean) <= 1e-12) || !(math.Abs(s-se) <= 1e-12) || d != 7 {
		t.Errorf("with an outlier: %g ± %g, %d degrees; want it left out", m, s, d)
	}
	if m, s, d := Mean([]float64{0.5, 0.5, 0.5, 0.5}, 0.010); m != 0.5 || !(math.Abs(s-0.0005) <= 1e-12) || d != 3 {
		t.Errorf("four alike: %g ± %g, %d degrees; want 0.5 ± 0.0005, 3", m, s, d)
	}
	if m, s, d := Mean([]float64{0.2}, 0.010); m != 0.2 || !math.IsInf(s, 1) || d != 0 {
		t.Errorf("one: %g ± %g, %d degrees", m, s, d)
	}
	if m, s, d := Mean(nil, 0.010); m != 0 || !math.IsInf(s, 1) || d != 0 {
		t.Errorf("none: %g ± %g, %d degrees", m, s, d)
	}
	if m, v := MeanVariance([]float64{1, 2, 6}); !(math.Abs(m-3) <= 1e-12) || !(math.Abs(v-7) <= 1e-12) {
		t.Errorf("mean %g, variance %g of 1, 2, 6; want 3, 7", m, v)
	}
	for list, want := range map[[4]float64]float64{{4, 1, 3, 2}: 2.5, {1, 1, 9, 9}: 5} {
		if got := Median(list[:]); got != want {
			t.Errorf("median of %v: %g", list, got)
		}
	}
	if Median([]float64{3, 1, 2}) != 2 || Median(nil) != 0 {
		t.Error("median of three, of none")
	}
}
