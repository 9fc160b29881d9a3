package tolerance

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"liftbench/sim/campaign"
)

// agreed: with 1, 2 outside, 93, 124 crossings show it (tables of success runs, from memory).
var agreed = Agreed{LimitM: 0.05, Share: 0.95, Confidence: 0.95}

// drawn returns crossings of sections whose errors are drawn.
func drawn(n, sections int, draw func(section int) float64) []Crossing {
	list := make([]Crossing, n)
	for i := range list {
		for s := range sections {
			list[i].Readings = append(list[i].Readings, Reading{Section: s + 1, ErrorM: draw(s)})
		}
	}
	return list
}

// share 95 % of a normal error lies within ±5 cm with this deviation and a mean of 1 cm.
func deviation(meanM float64) float64 {
	lo, hi := 1e-4, 1.0
	for range 60 {
		sd := (lo + hi) / 2
		d := distuv.Normal{Mu: meanM, Sigma: sd}
		if d.CDF(agreed.LimitM)-d.CDF(-agreed.LimitM) > agreed.Share {
			lo = sd
		} else {
			hi = sd
		}
	}
	return lo
}

// TestJudgeCoverage draws machines that keep the tolerance in exactly the agreed share:
// of normal errors no more than 1 in 20 may pass, however many crossings were driven, and
// of any errors where there are enough to count. With fewer crossings and long tails, of
// which so few show nothing, more pass: 1 in 9.
func TestJudgeCoverage(t *testing.T) {
	draws := campaign.Times(2000, 4000, 20000)
	laplace := func(r *rand.Rand) float64 { return r.ExpFloat64() * float64(2*r.IntN(2)-1) * 0.05 / math.Log(20) }
	skewed := func(r *rand.Rand) float64 { return r.ExpFloat64() * 0.05 / math.Log(20) }
	uniform := func(r *rand.Rand) float64 { return (2*r.Float64() - 1) * 0.05 / 0.95 }
	normal := func(meanM float64) func(r *rand.Rand) float64 {
		sd := deviation(meanM)
		return func(r *rand.Rand) float64 { return meanM + sd*r.NormFloat64() }
	}
	for _, w := range []struct {
		name   string
		n      int
		draw   func(r *rand.Rand) float64
		atMost float64 // that pass; more is an error
	}{
		{"normal", 8, normal(0), 0.05},
		{"normal", 10, normal(0), 0.05},
		{"normal", 20, normal(0.01), 0.05},
		{"normal", 58, normal(0.02), 0.05},
		{"normal", 59, normal(0.02), 0.05},
		{"normal", 100, normal(0), 0.05},
		{"even", 20, uniform, 0.05},
		{"even", 59, uniform, 0.05},
		{"two exponential tails", 59, laplace, 0.05},
		{"two exponential tails", 20, laplace, 0.20},
		{"one exponential tail", 59, skewed, 0.05},
		{"one exponential tail", 20, skewed, 0.25},
	} {
		r := rand.New(rand.NewPCG(5, uint64(w.n)))
		passed := 0
		for range draws {
			if Judge(drawn(w.n, 1, func(int) float64 { return w.draw(r) }), agreed).Finding == Shown {
				passed++
			}
		}
		t.Logf("%s, %d crossings, 95 %% of them within the tolerance: %.3f pass", w.name, w.n, float64(passed)/float64(draws))
		if ShareAtLeast(passed, draws, 0.9995) > w.atMost {
			t.Errorf("%s, %d crossings: %d of %d pass", w.name, w.n, passed, draws)
		}
	}
}

// Machines far better than agreed pass, with ten crossings as with a hundred; those far
// worse are found to exceed the tolerance.
func TestJudgePower(t *testing.T) {
	draws := campaign.Times(500, 1000, 5000)
	for _, n := range []int{10, 20, 59, 120} {
		r := rand.New(rand.NewPCG(6, uint64(n)))
		good, bad := 0, 0
		for range draws {
			if Judge(drawn(n, 6, func(int) float64 { return 0.007 * r.NormFloat64() }), agreed).Finding == Shown {
				good++
			}
			if Judge(drawn(n, 6, func(int) float64 { return 0.09 + 0.01*r.NormFloat64() }), agreed).Finding == Exceeded {
				bad++
			}
		}
		t.Logf("%d crossings of 6 sections: a seventh of the tolerance passes in %.3f, nearly twice the tolerance is refused in %.3f", n, float64(good)/float64(draws), float64(bad)/float64(draws))
		if float64(good) < 0.7*float64(draws) || bad != draws {
			t.Errorf("%d crossings: %d of %d good machines pass, %d bad ones are refused", n, good, draws, bad)
		}
	}
}

// Six sections that err together are no more crossings than one section has: the same
// readings, given six times, decide nothing that one does not.
func TestJudgeCountsCrossings(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	for range 300 {
		n := 8 + r.IntN(70)
		one := drawn(n, 1, func(int) float64 { return 0.02 * r.NormFloat64() })
		six := make([]Crossing, n)
		for i := range six {
			for s := range 6 {
				six[i].Readings = append(six[i].Readings, Reading{Section: s + 1, ErrorM: one[i].Readings[0].ErrorM})
			}
		}
		a, b := Judge(one, agreed), Judge(six, agreed)
		// Six tests of the shape ask for a rarer shape than one.
		if a.Basis == b.Basis && a.Finding != b.Finding || a.Crossings != b.Crossings || a.Within != b.Within || a.AtLeast != b.AtLeast {
			t.Fatalf("%d crossings: %+v; six times the same: %+v", n, a, b)
		}
	}
}

func TestJudge(t *testing.T) {
	even := func(n int, m float64) []Crossing { // ±m in turn, with a little around it
		i := 0
		return drawn(n, 1, func(int) float64 {
			i++
			return m * distuv.UnitNormal.Quantile((float64(i)-0.5)/float64(n))
		})
	}
	with := func(list []Crossing, change func(c *Crossing)) []Crossing {
		change(&list[len(list)/2])
		return list
	}
	outside := func(c *Crossing) { c.Readings[0].ErrorM = -0.06 }
	for _, c := range []struct {
		name    string
		list    []Crossing
		finding Finding
		basis   Basis
		within  int
		more    int
	}{
		{"none", nil, NotShown, TooFew, 0, 59},
		{"seven", even(7, 0.005), NotShown, TooFew, 7, 52},
		{"ten, close", even(10, 0.005), Shown, Interval, 10, 0},
		{"ten, scattered", even(10, 0.018), NotShown, Interval, 10, 9},
		{"ten, one reading slipped", with(even(10, 0.002), func(c *Crossing) { c.Readings[0].ErrorM = 0.04 }), NotShown, NotNormal, 10, 49},
		{"ten, one missed", with(even(10, 0.005), func(c *Crossing) { *c = Crossing{Missed: 1} }), NotShown, Incomplete, 9, 83},
		{"fifty-eight, scattered", even(58, 0.024), NotShown, Interval, 56, 66},
		{"fifty-nine within", even(59, 0.018), Shown, Counted, 59, 0},
		{"fifty-nine, one outside", with(even(59, 0.005), outside), NotShown, Counted, 58, 34},
		{"ninety-three, one outside", with(even(93, 0.005), outside), Shown, Counted, 92, 0},
		{"ninety-three, one moved where nothing was due", with(even(93, 0.005), func(c *Crossing) { *c = Crossing{Extra: 1} }), Shown, Counted, 92, 0},
		{"ten, all outside", drawn(10, 2, func(s int) float64 { return 0.2 + 0.01*float64(s) }), Exceeded, NotNormal, 0, 0},
	} {
		got := Judge(c.list, agreed)
		more, asThese := got.More()
		if got.Finding != c.finding || got.Basis != c.basis || got.Within != c.within || more != c.more || asThese != (c.name == "ten, scattered") || got.Crossings != len(c.list) {
			t.Errorf("%s: %+v; want finding %d, basis %d, %d within, %d more; got %d", c.name, got, c.finding, c.basis, c.within, c.more, more)
		}
	}
	// The interval holds at the limit exactly: mean ± k·s, k of ten values 3.393.
	s := Judge(even(10, 0.01), agreed).Sections[0]
	if !(math.Abs(s.Factor-3.393) < 1e-3) || !(math.Abs(s.HighM-s.Factor*s.SDM) < 1e-12) || !(math.Abs(s.LowM+s.HighM) < 1e-12) {
		t.Errorf("ten: %+v", s)
	}
}

// Neighbouring crossings that resemble each other are told from those that do not.
func TestJudgeSerial(t *testing.T) {
	draws := campaign.Times(1000, 2000, 10000)
	for _, c := range []struct {
		keeps  float64 // of the error before
		lo, hi float64 // share that is told
	}{{0, 0, 0.08}, {0.8, 0.85, 1}} {
		r := rand.New(rand.NewPCG(4, 4))
		told := 0
		for range draws {
			x := r.NormFloat64()
			list := drawn(30, 1, func(int) float64 {
				x = c.keeps*x + math.Sqrt(1-c.keeps*c.keeps)*r.NormFloat64()
				return 0.01 * x
			})
			if s := Judge(list, agreed); s.Alike() {
				told++
			}
		}
		share := float64(told) / float64(draws)
		t.Logf("an error that keeps %g of the one before: told in %.3f", c.keeps, share)
		if share < c.lo || share > c.hi {
			t.Errorf("an error that keeps %g of the one before: told in %.3f; want %g to %g", c.keeps, share, c.lo, c.hi)
		}
	}
}
