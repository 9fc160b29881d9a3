// Intervals compared with published values, and how often they contain the true
// value.

package sweep

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"liftbench/sections/score/sample"
)

// Student's t of 9 degrees of freedom is 2.262 at 97.5 % (tables, as
// NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2).
func TestMean(t *testing.T) {
	got := Mean([]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, math.NaN()})
	half := 2.262 * math.Sqrt(55.0/6) / math.Sqrt(10)
	if got.Value != 5.5 || math.Abs(got.Hi-got.Value-half) > 1e-3 || math.Abs(got.Value-got.Lo-half) > 1e-3 {
		t.Errorf("%+v; want 5.5 ± %.4f", got, half)
	}
	if one := Mean([]float64{4}); one.Value != 4 || !math.IsNaN(one.Lo) {
		t.Errorf("%+v of one value; want no interval", one)
	}
	if none := Mean(nil); !math.IsNaN(none.Value) {
		t.Errorf("%+v of nothing", none)
	}
}

// How often the interval contains the true value, over many studies.
func TestCoverage(t *testing.T) {
	const studies = 4000
	rng := rand.New(rand.NewPCG(20, 6))
	covered := func(t *testing.T, truth float64, draw func() Interval, least float64) {
		t.Helper()
		n := 0
		for range studies {
			if i := draw(); i.Lo <= truth && truth <= i.Hi {
				n++
			}
		}
		share := 100 * float64(n) / studies
		t.Logf("the true value in %.1f %% of intervals", share)
		if share < least || share > 98 {
			t.Errorf("the true value in %.1f %% of intervals; want %g to 98 %%", share, least)
		}
	}
	for _, drives := range []int{5, 20} {
		t.Run("mean", func(t *testing.T) {
			covered(t, 2, func() Interval {
				v := make([]float64, drives)
				for i := range v {
					v[i] = 2 + 0.5*rng.NormFloat64()
				}
				return Mean(v)
			}, 92)
		})
	}
	// The drives' shares follow a beta distribution, so transitions of one drive
	// have the correlation 1/(a + b + 1).
	for _, c := range []struct {
		name                string
		share, correlation  float64
		drives, transitions int
	}{
		{"independent", 0.95, 0, 20, 100},
		{"half hang together a little", 0.5, 0.02, 10, 100},
		{"a little", 0.95, 0.02, 20, 200},
		{"much", 0.9, 0.2, 20, 200},
		{"many drives", 0.95, 0.05, 60, 200},
		{"few drives", 0.9, 0.05, 8, 200},
		{"nearly all", 0.99, 0.02, 40, 200},
	} {
		t.Run(c.name, func(t *testing.T) {
			covered(t, c.share, func() Interval {
				hits, trials := make([]float64, c.drives), make([]float64, c.drives)
				for i := range hits {
					p := c.share
					if c.correlation > 0 {
						sum := 1/c.correlation - 1
						p = distuv.Beta{Alpha: p * sum, Beta: (1 - p) * sum, Src: source{rng}}.Rand()
					}
					trials[i] = float64(c.transitions)
					hits[i] = distuv.Binomial{N: trials[i], P: p, Src: source{rng}}.Rand()
				}
				return Share(hits, trials, 6)
			}, 92)
		})
	}
}

// source lets gonum draw from rng.
type source struct{ *rand.Rand }

func TestShareWithoutMisses(t *testing.T) {
	all := []float64{40, 40, 40}
	lo, hi := sample.Wilson(1, 20, student(2))
	if got, want := Share(all, all, 6), (Interval{1, lo, hi}); got != want {
		t.Errorf("%+v; want as of 20 trials, %+v", got, want)
	}
	if one := Share(all[:1], all[:1], 6); one.Lo != 0 || one.Hi != 1 {
		t.Errorf("%+v of one drive; want no bound", one)
	}
}
