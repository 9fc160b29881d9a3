package tolerance

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"liftbench/sections/score/sample"
	"liftbench/sim/campaign"
)

// Success runs: the smallest n with pⁿ ≤ 1 − C, as tables of zero-failure tests give
// them (from memory): 59 for 95 % at 95 %, 29 for 90 % at 95 %, 22 for 90 % at 90 %,
// 299 for 99 % at 95 %, 44 for 90 % at 99 %, 90 for 95 % at 99 %.
func TestAllOf(t *testing.T) {
	for _, c := range []struct {
		share, confidence float64
		want              int
	}{{0.95, 0.95, 59}, {0.9, 0.95, 29}, {0.9, 0.9, 22}, {0.99, 0.95, 299}, {0.9, 0.99, 44}, {0.95, 0.99, 90}, {0.5, 0.5, 1}} {
		n := AllOf(c.share, c.confidence)
		if n != c.want {
			t.Errorf("%g at %g: %d; want %d", c.share, c.confidence, n, c.want)
		}
		if math.Pow(c.share, float64(n)) > 1-c.confidence+1e-12 || math.Pow(c.share, float64(n-1)) <= 1-c.confidence {
			t.Errorf("%g at %g: %d is not the smallest", c.share, c.confidence, n)
		}
	}
}

// The lower bound of a share is where as many hits or more have the probability
// 1 − C: summed here term by term, and by the quantile of gonum's beta distribution.
// 59 of 59 show 95 % at 95 %, and 58 of 59 do not.
func TestShareAtLeast(t *testing.T) {
	tail := func(k, n int, p float64) float64 { // of k hits or more
		sum := 0.0
		for i := k; i <= n; i++ {
			l, _ := math.Lgamma(float64(n + 1))
			a, _ := math.Lgamma(float64(i + 1))
			b, _ := math.Lgamma(float64(n - i + 1))
			sum += math.Exp(l - a - b + float64(i)*math.Log(p) + float64(n-i)*math.Log1p(-p))
		}
		return sum
	}
	for _, c := range []float64{0.9, 0.95, 0.99} {
		for _, n := range []int{1, 5, 10, 59, 93, 400} {
			for _, k := range []int{1, n / 2, n - 3, n - 1, n} {
				if k < 1 {
					continue
				}
				lo := ShareAtLeast(k, n, c)
				if got := tail(k, n, lo); !(math.Abs(got-(1-c)) <= 1e-9) {
					t.Errorf("%d of %d at %g: %g, where as many or more have the probability %g", k, n, c, lo, got)
				}
				if want := (distuv.Beta{Alpha: float64(k), Beta: float64(n - k + 1)}).Quantile(1 - c); !(math.Abs(lo-want) <= 1e-12) {
					t.Errorf("%d of %d at %g: %g; gonum %g", k, n, c, lo, want)
				}
				if hi := ShareAtMost(n-k, n, c); !(math.Abs(hi+lo-1) <= 1e-12) {
					t.Errorf("%d of %d at %g: the misses are at most %g, the hits at least %g", k, n, c, hi, lo)
				}
			}
		}
	}
	// Two-sided 95 % by Clopper and Pearson 1934 for 81 of 263: 0.2527 to 0.3676, for 0 of
	// 20: 0 to 0.1684 (Newcombe 1998, table I, method 5; from memory).
	for _, c := range []struct {
		k, n   int
		lo, hi float64
	}{{81, 263, 0.2527, 0.3676}, {0, 20, 0, 0.1684}} {
		if lo, hi := ShareAtLeast(c.k, c.n, 0.975), ShareAtMost(c.k, c.n, 0.975); !(math.Abs(lo-c.lo) <= 5e-5 && math.Abs(hi-c.hi) <= 5e-5) {
			t.Errorf("%d of %d: %.4f to %.4f; want %.4f to %.4f", c.k, c.n, lo, hi, c.lo, c.hi)
		}
	}
	if lo := ShareAtLeast(59, 59, 0.95); lo < 0.95 {
		t.Errorf("59 of 59: %g", lo)
	}
	if lo := ShareAtLeast(58, 58, 0.95); lo >= 0.95 {
		t.Errorf("58 of 58: %g", lo)
	}
	if lo := ShareAtLeast(0, 5, 0.95); lo != 0 {
		t.Errorf("none of 5: %g", lo)
	}
	if hi := ShareAtMost(5, 5, 0.95); hi != 1 {
		t.Errorf("5 of 5: %g", hi)
	}
}

// Two-sided tolerance factors for 95 % of a normal population at 95 % confidence, mean
// and deviation both estimated: the exact values that ISO 16269-6 and Krishnamoorthy and
// Mathew (Statistical Tolerance Regions, 2009) tabulate, from memory. The worked example
// of the NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3, gives 2.217 for 90 %
// at 99 % and n = 43 by Howe's approximation, which is some tenths of a percent off; from memory too.
func TestFactorTable(t *testing.T) {
	for _, c := range []struct {
		n                 int
		share, confidence float64
		want, within      float64
	}{
		{2, 0.95, 0.95, 36.519, 5e-4}, {3, 0.95, 0.95, 9.789, 5e-4}, {4, 0.95, 0.95, 6.341, 5e-4}, {5, 0.95, 0.95, 5.077, 5e-4},
		{6, 0.95, 0.95, 4.422, 5e-4}, {7, 0.95, 0.95, 4.020, 5e-4}, {8, 0.95, 0.95, 3.746, 5e-4}, {9, 0.95, 0.95, 3.546, 5e-4},
		{10, 0.95, 0.95, 3.393, 5e-4}, {20, 0.95, 0.95, 2.760, 5e-4}, {30, 0.95, 0.95, 2.555, 5e-4}, {100, 0.95, 0.95, 2.234, 5e-4},
		{43, 0.9, 0.99, 2.217, 0.008},
	} {
		if k := Factor(c.n, c.share, c.confidence); !(math.Abs(k-c.want) <= c.within) {
			t.Errorf("n = %d, %g at %g: %.4f; want %.4f", c.n, c.share, c.confidence, k, c.want)
		}
	}
	if k := Factor(1, 0.95, 0.95); !math.IsInf(k, 1) {
		t.Errorf("of one value: %g; want infinity", k)
	}
}

// The confidence of a factor by the integral in the other order: over the deviation s,
// of the probability that the mean is close enough to 0 for mean ± k·s to hold the
// share, by plain midpoints.
func TestFactorIntegral(t *testing.T) {
	normal := distuv.UnitNormal
	for _, n := range []int{2, 3, 8, 10, 25, 58} {
		for _, share := range []float64{0.5, 0.9, 0.95, 0.99} {
			for _, confidence := range []float64{0.8, 0.95, 0.99} {
				k := Factor(n, share, confidence)
				chi := distuv.ChiSquared{K: float64(n - 1)}
				const steps = 4000
				sum := 0.0
				for i := range steps {
					s := math.Sqrt(chi.Quantile((float64(i)+0.5)/steps) / float64(n-1))
					held := func(mean float64) float64 { return normal.CDF(mean+k*s) - normal.CDF(mean-k*s) }
					if held(0) < share {
						continue
					}
					lo, hi := 0.0, 1.0
					for held(hi) >= share {
						hi *= 2
					}
					for range 60 {
						if mid := (lo + hi) / 2; held(mid) >= share {
							lo = mid
						} else {
							hi = mid
						}
					}
					sum += 2*normal.CDF(lo*math.Sqrt(float64(n))) - 1
				}
				if got := sum / steps; !(math.Abs(got-confidence) <= 5e-4) {
					t.Errorf("n = %d, %g at %g: k = %g has the confidence %.5f", n, share, confidence, k, got)
				}
			}
		}
	}
}

// TestFactorCoverage draws normal samples: mean ± k·s holds the share in as many of
// them as the confidence says.
func TestFactorCoverage(t *testing.T) {
	draws := campaign.Times(2000, 4000, 20000)
	for _, n := range []int{8, 10, 30} {
		k := Factor(n, 0.95, 0.95)
		r := rand.New(rand.NewPCG(7, uint64(n)))
		hits := 0
		list := make([]float64, n)
		for range draws {
			for i := range list {
				list[i] = 0.4 + 1.7*r.NormFloat64()
			}
			mean, sd := sample.MeanSD(list)
			d := distuv.Normal{Mu: 0.4, Sigma: 1.7}
			if d.CDF(mean+k*sd)-d.CDF(mean-k*sd) >= 0.95 {
				hits++
			}
		}
		lo, hi := ShareAtLeast(hits, draws, 0.9995), ShareAtMost(hits, draws, 0.9995)
		t.Logf("n = %d: %d of %d hold the share", n, hits, draws)
		if lo > 0.95 || hi < 0.95 {
			t.Errorf("n = %d: %d of %d hold the share; want 95 %%", n, hits, draws)
		}
	}
}

// A² is n times the integral of (Fₙ − F)²/(F·(1 − F)) over F: here by steps from its
// definition (Anderson and Darling 1952), not from the sum over the ordered values.
func TestNormalPValueDefinition(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for _, n := range []int{8, 20, 57} {
		list := make([]float64, n)
		for i := range list {
			list[i] = 3 + r.ExpFloat64()
		}
		mean, sd := sample.MeanSD(list)
		u := make([]float64, n)
		for i, x := range list {
			u[i] = distuv.UnitNormal.CDF((x - mean) / sd)
		}
		const steps = 400_000
		sum := 0.0
		for i := range steps {
			f := (float64(i) + 0.5) / steps
			below := 0
			for _, x := range u {
				if x <= f {
					below++
				}
			}
			d := float64(below)/float64(n) - f
			sum += d * d / (f * (1 - f)) / steps
		}
		if got, want := andersonDarling(list), sum*float64(n); !(math.Abs(got-want) <= 2e-3*(1+want)) {
			t.Errorf("n = %d: A² = %g; by its definition %g", n, got, want)
		}
	}
}

// Of normal samples a share α has a p-value of at most α, whatever the sample's size
// from 8 on; other shapes are told the better the larger the sample.
func TestNormalPValueLevel(t *testing.T) {
	draws := campaign.Times(2000, 4000, 40000)
	shapes := []struct {
		name string
		draw func(r *rand.Rand) float64
		n    int
		lo   float64 // at 0.05
		hi   float64
	}{
		{"normal", (*rand.Rand).NormFloat64, 8, 0.05, 0.05},
		{"normal", (*rand.Rand).NormFloat64, 20, 0.05, 0.05},
		{"normal", (*rand.Rand).NormFloat64, 58, 0.05, 0.05},
		{"exponential", (*rand.Rand).ExpFloat64, 30, 0.9, 1},
		{"two valves 6 deviations apart", func(r *rand.Rand) float64 { return r.NormFloat64() + 6*float64(r.IntN(2)) }, 40, 0.9, 1},
	}
	for _, s := range shapes {
		r := rand.New(rand.NewPCG(11, uint64(s.n)))
		hits := 0
		list := make([]float64, s.n)
		for range draws {
			for i := range list {
				list[i] = s.draw(r)
			}
			if NormalPValue(list) <= 0.05 {
				hits++
			}
		}
		lo, hi := ShareAtLeast(hits, draws, 0.9995), ShareAtMost(hits, draws, 0.9995)
		t.Logf("%s, n = %d: %.3f of the samples have p ≤ 0.05", s.name, s.n, float64(hits)/float64(draws))
		// The formula of the p-value is itself an approximation, good to some tenths of a percent.
		if lo > s.hi+0.005 || hi < s.lo-0.005 {
			t.Errorf("%s, n = %d: %d of %d", s.name, s.n, hits, draws)
		}
	}
	for _, list := range [][]float64{nil, {1, 2, 3, 4, 5, 6, 7}, {2, 2, 2, 2, 2, 2, 2, 2, 2}} {
		if p := NormalPValue(list); !math.IsNaN(p) {
			t.Errorf("%v: p = %g; want NaN", list, p)
		}
	}
}

func ExampleFactor() {
	errorsCm := []float64{1.2, -0.4, 2.0, 0.7, -1.1, 0.3, 1.5, 0.9, -0.2, 0.6}
	mean, sd := sample.MeanSD(errorsCm)
	k := Factor(len(errorsCm), 0.95, 0.95)
	fmt.Printf("95 %% lie within %.1f to %.1f cm, with 95 %% confidence\n", mean-k*sd, mean+k*sd)
	// Output: 95 % lie within -2.6 to 3.7 cm, with 95 % confidence
}

func ExampleShareAtLeast() {
	fmt.Println(AllOf(0.95, 0.95))
	fmt.Printf("%.1f %% and %.1f %%\n", 100*ShareAtLeast(59, 59, 0.95), 100*ShareAtLeast(58, 59, 0.95))
	// Output:
	// 59
	// 95.0 % and 92.2 %
}
