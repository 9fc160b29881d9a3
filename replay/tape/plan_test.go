// Plans beside every plan of a grid, and figures computed by hand.

package tape

import (
	"math"
	"testing"
)

// With readings that scatter by 5 cm, ten passes at 4 and 10 km/h give ±37 ms, at 6 and 8 km/h
// ±112 ms: 1.96·σ/√Σ(v-v̄)².
func TestPlanFigures(t *testing.T) {
	for _, c := range []struct{ slow, fast, wantMs float64 }{{4, 10, 37}, {6, 8, 112}} {
		p := Plan{Legs: []Leg{{c.slow / 3.6, 5, 0}, {c.fast / 3.6, 5, 0}}}
		if got := 1000 * p.HalfS(0.05, false); math.Round(got) != c.wantMs {
			t.Errorf("%g and %g km/h: ±%.1f ms; want ±%g", c.slow, c.fast, got, c.wantMs)
		}
	}
	d := DefaultDriving()
	p, ok := BestPlan(0.0375, DefaultWish(), d)
	if !ok || p.Passes() != 10 || len(p.Legs) != 2 || p.Legs[0].Passes() != 5 {
		t.Errorf("for ±37.5 ms %+v, %v; want five passes at 4 and five at 10 km/h", p, ok)
	}
	if _, ok := BestPlan(0.001, DefaultWish(), d); ok {
		t.Error("±1 ms planned; want it refused, as it takes thousands of passes")
	}
}

// slowHalf is the half interval by the inverse of XᵀX, by Gauss and Jordan: a second way.
func slowHalf(rows [][3]float64, sigma float64, directions bool) float64 {
	n := 2
	if directions {
		n = 3
	}
	var a [3][6]float64
	for _, r := range rows {
		for i := range n {
			for j := range n {
				a[i][j] += r[i] * r[j]
			}
		}
	}
	for i := range n {
		a[i][n+i] = 1
	}
	for c := range n {
		if math.Abs(a[c][c]) < 1e-9 {
			return math.Inf(1)
		}
		for i := range n {
			if i == c {
				continue
			}
			f := a[i][c] / a[c][c]
			for j := range 2 * n {
				a[i][j] -= f * a[c][j]
			}
		}
	}
	return 1.959964 * sigma * math.Sqrt(a[1][n+1]/a[1][1])
}

// No plan of a grid, of up to three speeds and up to five passes at each, both ways or one, that
// costs as much or less is better.
func TestPlanBesideGrid(t *testing.T) {
	for _, tc := range []struct {
		name       string
		slow, fast int // km/h
		wantS      float64
		d          Driving
	}{
		{"one way", 4, 10, 0.045, DefaultDriving()},
		{"every pass costs the same", 4, 10, 0.055, Driving{MeasureS: 180}},
		{"a narrow window", 5, 8, 0.09, DefaultDriving()},
		{"a long way at each pass, read at once", 2, 12, 0.045, Driving{MeasureS: 5, RunM: 200}},
		{"both ways", 4, 10, 0.05, Driving{MeasureS: 180, RunM: 60, BothWays: true}},
		{"both ways, a long way", 3, 9, 0.05, Driving{MeasureS: 10, RunM: 150, BothWays: true}},
	} {
		w := DefaultWish()
		w.SlowMps, w.FastMps = float64(tc.slow)/3.6, float64(tc.fast)/3.6
		p, ok := BestPlan(tc.wantS, w, tc.d)
		if !ok {
			t.Fatalf("%s: no plan", tc.name)
		}
		var rows [][3]float64
		cost := 0.0
		for _, l := range p.Legs {
			for i := range l.There + l.Back {
				way := 0.5
				if i >= l.There {
					way = -0.5
				}
				rows = append(rows, [3]float64{1, l.SpeedMps, way})
				cost += tc.d.MeasureS + tc.d.RunM/l.SpeedMps
			}
		}
		half := slowHalf(rows, w.SigmaM, tc.d.BothWays)
		if math.Abs(half-p.HalfS(w.SigmaM, tc.d.BothWays)) > 1e-9 || math.Abs(cost-p.CostS(tc.d)) > 1e-9 || half > tc.wantS {
			t.Errorf("%s: ±%.4f s for %.0f s; by hand ±%.4f s for %.0f s, wanted ±%.4f s", tc.name, p.HalfS(w.SigmaM, tc.d.BothWays), p.CostS(tc.d), half, cost, tc.wantS)
		}
		tried, better := 0, 0
		counts := []int{0, 3, 4, 5}
		for a := tc.slow; a <= tc.fast; a++ {
			for b := a + 1; b <= tc.fast; b++ {
				for c := b; c <= tc.fast; c++ {
					for _, na := range counts {
						for _, nb := range counts {
							for _, nc := range counts {
								if c == b && nc > 0 {
									continue
								}
								var rows [][3]float64
								cost := 0.0
								for _, l := range [][2]int{{a, na}, {b, nb}, {c, nc}} {
									for range l[1] {
										v := float64(l[0]) / 3.6
										way := 0.5
										if tc.d.BothWays && len(rows)%2 == 1 {
											way = -0.5
										}
										rows = append(rows, [3]float64{1, v, way})
										cost += tc.d.MeasureS + tc.d.RunM/v
									}
								}
								if len(rows) < 3 || cost > p.CostS(tc.d)+1e-9 {
									continue
								}
								tried++
								if slowHalf(rows, w.SigmaM, tc.d.BothWays) < half-1e-9 {
									better++
									if better == 1 {
										t.Errorf("%s: planned ±%.4f s for %.0f s as %+v; better: %v at %d, %d, %d km/h", tc.name, half, p.CostS(tc.d), p.Legs, []int{na, nb, nc}, a, b, c)
									}
								}
							}
						}
					}
				}
			}
		}
		t.Logf("%s: %+v, ±%.1f ms, %.0f s; %d plans of the grid cost no more, %d are better", tc.name, p.Legs, 1000*half, p.CostS(tc.d), tried, better)
		if tried < 50 {
			t.Errorf("%s: only %d plans of the grid compared", tc.name, tried)
		}
	}
}
