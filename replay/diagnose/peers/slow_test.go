// A section that is later than its peers, and one that is not.

package peers

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/sections/score"
)

// fleet is crossings of five sections, lifts and drops in turn.
func fleet(n int, late func(k, section int, on bool) float64) (moves []evidence.Move, list []evidence.Crossing) {
	for k := range n {
		c := evidence.Crossing{Crossing: score.Crossing{On: k%2 == 1, FromNs: int64(k) * 60e9, UntilNs: int64(k) * 60e9}}
		for s := range 5 {
			v := 1 + 0.1*float64(k%7)
			c.Changes = append(c.Changes, int32(len(moves)))
			moves = append(moves, evidence.Move{Section: s, On: c.On, IdealNs: c.FromNs, SpeedMps: v, LateM: v * late(k, s, c.On)})
		}
		list = append(list, c)
	}
	return moves, list
}

// A section that is later than the others by so much is found, by so much; what all share
// does not count.
func TestSlowSections(t *testing.T) {
	shared := func(k int) float64 { return 0.1 * math.Sin(float64(k)) }
	for _, tc := range []struct {
		name         string
		liftS, dropS float64
		kind         evidence.Kind
		found        bool
		differ       bool
	}{
		{"lifts", 0.05, 0, evidence.Lifts, true, false},
		{"drops, early", 0, -0.05, evidence.Drops, true, false},
		{"both alike", 0.05, 0.05, evidence.Both, true, false},
		{"both, not alike", 0.05, 0.09, evidence.Both, true, true},
		{"too little", 0.009, 0, evidence.Lifts, false, false},
		{"just enough", 0.011, 0, evidence.Lifts, true, false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			moves, list := fleet(24, func(k, s int, on bool) float64 {
				if s != 2 {
					return shared(k)
				}
				return shared(k) + map[bool]float64{false: tc.liftS, true: tc.dropS}[on]
			})
			out, floorS := FindSlow(moves, list, 5, Pumped{})
			if !(math.Abs(floorS-0.010) <= 1e-9) {
				t.Errorf("the smallest that shows: %g s; want 10 ms, without scatter", floorS)
			}
			if (len(out) == 1) != tc.found {
				t.Fatalf("found %+v", out)
			}
			if !tc.found {
				return
			}
			f := out[0]
			size := tc.liftS + tc.dropS
			late := [2]float64{size, size}
			if tc.kind == evidence.Both {
				size /= 2
				late = [2]float64{size, size}
				if tc.differ {
					late = [2]float64{tc.liftS, tc.dropS}
				}
			}
			n := 12
			if tc.kind == evidence.Both {
				n = 24
			}
			if f.Section != 2 || f.Kind != tc.kind || !(math.Abs(f.DelayS-size) <= 1e-9) || f.Differ != tc.differ || f.Crossings != n ||
				!(math.Abs(f.LateS[0]-late[0]) <= 1e-9) || !(math.Abs(f.LateS[1]-late[1]) <= 1e-9) || f.CI95[0] > size || f.CI95[1] < size {
				t.Errorf("found %+v; want section 2 of 0 to 4, %g s, %v", f, size, late)
			}
		})
	}
	moves, list := fleet(24, func(k, s int, _ bool) float64 { return float64(s) })
	if out, floorS := FindSlow(moves, list, 2, Pumped{}); out != nil || !math.IsInf(floorS, 1) {
		t.Errorf("of two sections: %v, %g", out, floorS)
	}
	// With scatter the floor is a threshold and 1.645 on top, in standard errors.
	rng := rand.New(rand.NewPCG(61, 62))
	moves, list = fleet(400, func(int, int, bool) float64 { return 0.05 * rng.NormFloat64() })
	_, floorS := FindSlow(moves, list, 5, Pumped{})
	// The median of four others scatters by 0.55 of one; 200 crossings each way.
	se := 0.05 * math.Hypot(1, 0.55) / math.Sqrt(200)
	if want := (3.29 + 1.645) * se; !(math.Abs(floorS/want-1) <= 0.15) {
		t.Errorf("floor %g s; want about %g", floorS, want)
	}
}

// Two samples of which none scatters are alike as far as the least scatter allows.
func TestAlike(t *testing.T) {
	// Four alike in each: t(0.01, 3) = 5.8409 times √2·0.5 ms, and 5 ms.
	for offMs, want := range map[float64]bool{9.0: true, 9.3: false, -9.0: true, -9.3: false} {
		x := 0.5 + offMs*1e-3
		if got := alike(delaysOf([]float64{0.5, 0.5, 0.5, 0.5}), delaysOf([]float64{x, x, x, x})); got != want {
			t.Errorf("%g ms apart: alike %v", offMs, got)
		}
	}
}

// One section that scatters is found with its standard deviation; the others, and a delay
// that stays the same, are not.
func TestFindErratic(t *testing.T) {
	for _, tc := range []struct {
		name  string
		sdS   float64
		found bool
	}{{"steady", 0.005, false}, {"scatters", 0.3, true}, {"scatters a little", 0.045, false}} {
		rng := rand.New(rand.NewPCG(3, 8))
		moves, crossings := fleet(200, func(k, s int, on bool) float64 {
			switch s {
			case 1:
				return 0.4 // slow, and never erratic
			case 3:
				return tc.sdS * rng.NormFloat64()
			}
			return 0.005 * rng.NormFloat64()
		})
		before := slices.Clone(moves)
		out := FindErratic(moves, crossings, 5, 0)
		if (len(out) == 1) != tc.found || !slices.Equal(before, moves) {
			t.Fatalf("%s: %+v", tc.name, out)
		}
		if !tc.found {
			continue
		}
		f, sumM2 := out[0], 0.0
		for i := range moves {
			if moves[i].Section == 3 {
				sumM2 += math.Pow(f.ScatterS*moves[i].SpeedMps, 2)
			}
		}
		chi := regress.Deviation(f.ScatterS, 198)
		if f.Section != 3 || f.Crossings != 200 || f.CI95 != chi || chi[0] > tc.sdS || chi[1] < tc.sdS || !(f.UsualS > 0.004 && f.UsualS < 0.008) || !(math.Abs(f.SumM2/sumM2-1) <= 1e-9) {
			t.Errorf("%s: %+v; want section 3 of 0 to 4 with %g s in %v", tc.name, f, tc.sdS, chi)
		}
	}
	// All of them: no single section's fault.
	rng := rand.New(rand.NewPCG(3, 8))
	moves, crossings := fleet(200, func(int, int, bool) float64 { return 0.3 * rng.NormFloat64() })
	if out := FindErratic(moves, crossings, 5, 0); len(out) != 0 {
		t.Errorf("all scatter alike: %+v", out)
	}
	// Rare and far: one in ten crossings of one section.
	for _, tc := range []struct {
		every int
		found bool
	}{{10, true}, {15, false}, {100, false}} {
		moves, crossings := fleet(200, func(k, s int, on bool) float64 {
			if s == 3 && k%tc.every == 0 {
				return 0.8
			}
			return 0.005 * rng.NormFloat64()
		})
		if out := FindErratic(moves, crossings, 5, 0); (len(out) == 1) != tc.found {
			t.Errorf("far off at every %d. crossing: %+v; want found %v", tc.every, out, tc.found)
		}
	}
	moves, crossings = fleet(40, func(k, s int, _ bool) float64 { return float64(s*k%7) / 10 })
	if out := FindErratic(moves, crossings, 2, 0); out != nil {
		t.Errorf("of two sections: %+v", out)
	}
}
