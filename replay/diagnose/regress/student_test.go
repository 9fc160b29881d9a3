// Intervals beside printed tables and equations.

package regress

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Student's t from printed tables.
func TestStudentsT(t *testing.T) {
	for _, tc := range []struct {
		df   int
		p, t float64
	}{{1, 0.05, 12.7062}, {6, 0.05, 2.446912}, {10, 0.01, 3.169273}, {30, 0.05, 2.042272}} {
		if got := Quantile(tc.p, tc.df); !(math.Abs(got-tc.t) <= 1e-4) {
			t.Errorf("quantile of %g, %d degrees: %g; want %g", tc.p, tc.df, got, tc.t)
		}
		for _, x := range []float64{tc.t, -tc.t} {
			if got := TwoSided(x, tc.df); !(math.Abs(got-tc.p) <= 1e-5) {
				t.Errorf("beyond %g, %d degrees: %g; want %g", x, tc.df, got, tc.p)
			}
		}
		ci := Around(3, 0.5, tc.df)
		if !(math.Abs(ci[0]-3+0.5*Quantile(0.05, tc.df)) <= 1e-9) || !(math.Abs(ci[0]+ci[1]-6) <= 1e-9) {
			t.Errorf("around 3: %v", ci)
		}
	}
}

// Choices that agree are one; choices that do not widen the interval as far as
// they are likely.
func TestAveraged(t *testing.T) {
	one := Guess{Size: 0.3, SE: 0.01, DF: 1000, Weight: 1}
	if got := Averaged([]Guess{one}, 1, 0.975) - 0.3; math.Abs(got-0.0196) > 1e-4 {
		t.Errorf("half width %g; want Student's t times the standard error", got)
	}
	if got := Averaged([]Guess{one}, 2, 0.975) - 0.3; math.Abs(got-0.0392) > 1e-4 {
		t.Errorf("half width %g; want it twice as wide", got)
	}
	half := func(weight, size float64) []Guess {
		return []Guess{{0.3, 0.01, 1000, 1 - weight}, {size, 0.01, 1000, weight}}
	}
	if a, b := Averaged(half(0.2, 0.3), 1, 0.025), Averaged([]Guess{one}, 1, 0.025); math.Abs(a-b) > 1e-9 {
		t.Errorf("two that agree give %g; want %g", a, b)
	}
	for _, c := range []struct{ weight, below, above float64 }{{0.5, 0.1, 0.3}, {0.2, 0.1, 0.3}, {0.001, 0.28, 0.3}} {
		lo, hi := Averaged(half(c.weight, 0.1), 1, 0.025), Averaged(half(c.weight, 0.1), 1, 0.975)
		if math.Abs(lo-c.below) > 0.03 || math.Abs(hi-c.above) > 0.03 {
			t.Errorf("another choice of weight %g: %g to %g; want %g to %g", c.weight, lo, hi, c.below, c.above)
		}
	}
}

// Of estimates that are given only where they stand out, 95 % hold the truth; far from the
// limit the interval is the usual one.
func TestSelected(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	const df, least = 30, 2.4
	for _, truth := range []float64{0.5, 1, 2, 3, 5, -2} {
		given, inside, usual := 0, 0, 0
		for given < 400 {
			squares := 0.0
			for range df {
				x := rng.NormFloat64()
				squares += x * x / df
			}
			se, x := math.Sqrt(squares), truth+rng.NormFloat64()
			if math.Abs(x) < least*se {
				continue
			}
			given++
			if ci := Selected(x, se, least*se, df); ci[0] <= truth && truth <= ci[1] {
				inside++
			}
			if ci := Around(x, se, df); ci[0] <= truth && truth <= ci[1] {
				usual++
			}
		}
		if inside < 366 || inside < usual {
			t.Errorf("truth %g: in %d of %d intervals, in %d of the usual ones", truth, inside, given, usual)
		}
	}
	if got, want := Selected(9, 1, least, df), Around(9, 1, df); math.Abs(got[0]-want[0]) > 0.01 || got[1] != want[1] {
		t.Errorf("far from the limit %v; want %v", got, want)
	}
}
