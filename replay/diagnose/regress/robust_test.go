// Means and medians beside sums by hand.

package regress

import (
	"math"
	"math/rand/v2"
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
}

// A row is an outlier beyond the quantile that one in 2000 of a normal sample
// exceeds; the spread comes from the median residual.
func TestOutliers(t *testing.T) {
	// 0.37·(102 - 2) = 37 degrees of freedom.
	limit := ClipAt(102, 2)
	if p := TwoSided(limit, 37); !(math.Abs(p-1.0/2000) <= 1e-7) {
		t.Errorf("limit %g has the probability %g; want 1/2000", limit, p)
	}
	if !math.IsInf(ClipAt(4, 2), 1) || math.IsInf(ClipAt(5, 2), 1) {
		t.Errorf("limits %g, %g of four and five rows; want none with 0.74 degrees of freedom, one with 1.11", ClipAt(4, 2), ClipAt(5, 2))
	}
	y, fit := make([]float64, 102), make([]float64, 102)
	for i := range y {
		fit[i] = float64(i)
		y[i] = fit[i] + 0.1*float64(1-2*(i%2))
	}
	spread := 1.4826 * 0.1 * math.Sqrt(102.0/100)
	if got := Spread(y, fit, 2, 0.001); !(math.Abs(got-spread) <= 1e-9) {
		t.Errorf("spread %g; want %g", got, spread)
	}
	if got := Spread(y, fit, 2, 0.3); got != 0.3 {
		t.Errorf("spread %g; want no less than 0.3", got)
	}
	if got := Spread(y[:2], fit[:2], 2, 0.001); !(math.Abs(got-1.4826*0.1*math.Sqrt2) <= 1e-9) {
		t.Errorf("spread of two rows and two parameters %g", got)
	}
	y[10], y[20] = fit[10]+50, fit[20]-50
	for i, c := range Clipped(y, fit, 2, 0.001) {
		want := y[i]
		switch i {
		case 10:
			want = fit[i] + limit*spread
		case 20:
			want = fit[i] - limit*spread
		}
		if !(math.Abs(c-want) <= 1e-9) {
			t.Errorf("row %d: %g becomes %g; want %g", i, y[i], c, want)
		}
	}
}

// A mean's outliers are those beyond the limit on either side of the median, whatever
// the median is; a value at the median never is.
func TestMeanOutliers(t *testing.T) {
	list := []float64{-5.2, -5.1, -5, -5, -4.9, -4.8, -5.05, -4.95}
	m, se, df := Mean(append([]float64{5, -15}, list...), 0.01)
	want, variance := MeanVariance(list)
	if !(math.Abs(m-want) <= 1e-12) || df != 7 || !(math.Abs(se-math.Sqrt(variance/8)) <= 1e-12) {
		t.Errorf("%g ± %g, %d degrees; want %g ± %g, 7", m, se, df, want, math.Sqrt(variance/8))
	}
	if m, se, df := Mean([]float64{0.1, 0.3}, 0.01); !(math.Abs(m-0.2) <= 1e-12) || df != 1 || !(math.Abs(se-0.1) <= 1e-12) {
		t.Errorf("of two: %g ± %g, %d; want 0.2 ± 0.1, 1", m, se, df)
	}
}

// Values that jump are random, values that drift are not.
func TestAtRandom(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	var jumping, drifting [2][]float64
	for i := range 40 {
		way := i % 2
		jumping[way] = append(jumping[way], rng.NormFloat64())
		drifting[way] = append(drifting[way], math.Cos(float64(i)/8)+0.2*rng.NormFloat64())
	}
	if !AtRandom(jumping[:]...) || AtRandom(drifting[:]...) {
		t.Errorf("jumping %v, drifting %v; want true, false", AtRandom(jumping[:]...), AtRandom(drifting[:]...))
	}
}

// The ratio counts jumps of each list alone: 4 jumps of 1 in squares of 2 are half.
func TestRatio(t *testing.T) {
	if !AtRandom([]float64{1, 0, 1, 0, 1}, []float64{0}) || AtRandom([]float64{1, 1, 1, 1}, []float64{-1, -1, -1, -1}) {
		t.Error("jumps within a list are random, those from one list to the next are not")
	}
}
