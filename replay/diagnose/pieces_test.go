// Pieces of the regression beside a second way to compute them: by trying everything, by
// matrices of all rows, or by hand.

package diagnose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/peers"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/suspect"
	"liftbench/replay/diagnose/terms"
	"liftbench/sections/score"
)

// plain returns n terms of different causes that are worth something from leastSize on.
func plain(n int, leastSize float64) []terms.Term {
	list := make([]terms.Term, n)
	for i := range list {
		list[i] = terms.Term{Cause: Cause(fmt.Sprint("cause ", i)), Tried: 1, LeastSize: leastSize}
	}
	return list
}

// All subsets of one and two are tried; of three and more, those that hold all but one of the best
// before and one or two others.
func TestSupersets(t *testing.T) {
	for _, tc := range []struct {
		best    []int
		n, size int
	}{{nil, 5, 1}, {[]int{3}, 5, 2}, {[]int{1, 3}, 6, 3}, {[]int{0, 2, 5}, 7, 4}, {[]int{4}, 6, 3}, {nil, 6, 3}} {
		seen := map[string]bool{}
		for set := range regress.Supersets(tc.best, tc.n, tc.size) {
			list := slices.Clone(set)
			slices.Sort(list)
			if len(slices.Compact(slices.Clone(list))) != tc.size {
				t.Errorf("%d of %d after %v: %v", tc.size, tc.n, tc.best, set)
			}
			seen[fmt.Sprint(list)] = true
		}
		want := 0
		for bits := range 1 << tc.n {
			var list []int
			shared := 0
			for i := range tc.n {
				if bits>>i&1 == 1 {
					list = append(list, i)
					if slices.Contains(tc.best, i) {
						shared++
					}
				}
			}
			if len(list) != tc.size || tc.size > 2 && (len(tc.best) != tc.size-1 || shared < tc.size-2) {
				continue
			}
			want++
			if !seen[fmt.Sprint(list)] {
				t.Errorf("%d of %d after %v: %v is not tried", tc.size, tc.n, tc.best, list)
			}
		}
		if len(seen) != want {
			t.Errorf("%d of %d after %v: %d subsets; want %d", tc.size, tc.n, tc.best, len(seen), want)
		}
	}
}

// Drawn days with none to three causes: the choice is the best of all subsets of its size that
// hold, and one cause more or less does not explain as it must.
func TestChooseBesideAllSubsets(t *testing.T) {
	const rows, n = 30, 5
	sizes := map[int]int{}
	for day := range 120 {
		rng := rand.New(rand.NewPCG(uint64(day), 11))
		list := plain(n, 0.02)
		list[1].OnlyLate = true
		list[2].Tried = 40
		cols, y := make([][]float64, n), make([]float64, rows)
		for r := range rows {
			for c := range n {
				x := rng.NormFloat64()
				if c == 4 && r > 3 { // bears on few
					x = 0
				}
				cols[c] = append(cols[c], x)
			}
			y[r] = 0.02 * rng.NormFloat64()
		}
		for c := range day % 4 {
			size := 0.08 * rng.Float64() * float64(1-2*rng.IntN(2))
			for r := range rows {
				y[r] += size * cols[(c+day)%n][r]
			}
		}
		g := regress.NewGram(cols, y, 0.001)
		// holds is each term's own test: beyond chance among all of them, worth something, late if
		// it can only be late, and moving its rows by 1 cm in a way of its own.
		holds := func(f *regress.Fit) bool {
			for i, q := range f.Set {
				own := slices.Clone(cols[q])
				if len(f.Set) > 1 {
					var others [][]float64
					var all []int
					for _, p := range f.Set {
						if p != q {
							all = append(all, len(others))
							others = append(others, cols[p])
						}
					}
					rest, _ := regress.NewGram(others, own, 0).Fit(all...)
					for r, x := range regress.Predict(&rest, others, rows) {
						own[r] -= x
					}
				}
				born := 0.0
				for _, x := range cols[q] {
					if x != 0 {
						born++
					}
				}
				movesM := math.Abs(f.Beta[i]) * math.Sqrt(regress.Dot(own, own)/born)
				if born < 3 || math.Abs(f.Beta[i]) < 0.02 || movesM < 0.01 || list[q].OnlyLate && f.Beta[i] < 0 || f.P(i)*max(n, list[q].Tried) >= 0.02 {
					return false
				}
			}
			return true
		}
		var want []int
		before, _ := g.Fit()
		for size := 1; size <= 2; size++ {
			var best *regress.Fit
			for bits := range 1 << n {
				var set []int
				for i := range n {
					if bits>>i&1 == 1 {
						set = append(set, i)
					}
				}
				if f, ok := g.Fit(set...); len(set) == size && ok && holds(&f) && (best == nil || f.RSS < best.RSS) {
					best = &f
				}
			}
			if best == nil {
				continue
			}
			if g.ChanceOfGain(&before, best) < 0.02/(n*float64(size)) {
				before, want = *best, best.Set
			}
		}
		got := terms.Choose(g, list)
		set := slices.Clone(got.Set)
		slices.Sort(set)
		sizes[len(set)]++
		if len(set) <= 2 && !slices.Equal(set, want) {
			t.Errorf("day %d: %v; want %v", day, set, want)
		}
		if len(set) > 2 && !holds(&got) {
			t.Errorf("day %d: %v do not hold", day, set)
		}
	}
	if sizes[0] < 10 || sizes[1] < 10 || sizes[2] < 10 {
		t.Errorf("choices by size: %v; the days show too little", sizes)
	}
}

// At least five crossings for each cause, and four causes at most.
func TestMostCauses(t *testing.T) {
	for _, tc := range []struct{ rows, want int }{{4, 0}, {9, 1}, {14, 2}, {19, 3}, {24, 4}, {60, 4}} {
		const n = 6
		cols, y := make([][]float64, n), make([]float64, tc.rows)
		rng := rand.New(rand.NewPCG(5, uint64(tc.rows)))
		for r := range tc.rows {
			for c := range n {
				cols[c] = append(cols[c], rng.NormFloat64())
				y[r] += math.Pow(30, float64(-c)) * 1e6 * cols[c][r]
			}
		}
		if got := terms.Choose(regress.NewGram(cols, y, 1e-6), plain(n, 0)); len(got.Set) != tc.want {
			t.Errorf("%d crossings and six causes: %d chosen; want %d", tc.rows, len(got.Set), tc.want)
		}
	}
}

// Cold oil of lifts goes with cold oil of drops, not with that of both.
func TestColdOilTwice(t *testing.T) {
	cold := func(of evidence.Kind) terms.Term { return terms.Term{Cause: ColdOil, Moves: of} }
	other := terms.Term{Cause: LiftTiming, Moves: evidence.Lifts}
	for _, tc := range []struct {
		one, two terms.Term
		want     bool
	}{
		{cold(evidence.Lifts), cold(evidence.Drops), false}, {cold(evidence.Lifts), cold(evidence.Lifts), true}, {cold(evidence.Drops), cold(evidence.Both), true},
		{cold(evidence.Both), cold(evidence.Lifts), true}, {cold(evidence.Lifts), other, false}, {other, cold(evidence.Lifts), false}, {other, other, false},
	} {
		if got := terms.ColdOilTwice([]terms.Term{{}, tc.one, tc.two}, []int{0, 1, 2}); got != tc.want {
			t.Errorf("%v and %v: twice %v", tc.one.Moves, tc.two.Moves, got)
		}
	}
}

// By how much each cause of size 1 makes a lift and a drop late at 2 m/s, with 1.25 m for each metre
// of place error and three other sections rising, an hour into the day.
func TestDictionary(t *testing.T) {
	move := evidence.Move{SpeedMps: 2, PerPlace: 1.25, Others: 3, SinceS: 3600}
	drop := move
	drop.On = true
	fadeM := func(tauS float64) float64 { return 2 * math.Exp(-3600/tauS) }
	for leg, want := range map[evidence.Leg]map[string][2]float64{
		evidence.Whole:   {"lift timing": {2, 0}, "drop timing": {0, 2}},
		evidence.Command: {"lift command": {2, 0}, "drop command": {0, 2}},
		evidence.Machine: {"lift slow": {2, 0}, "drop slow": {0, 2}, " slow": {2, 2}},
	} {
		want["lift place"], want["drop place"], want[" place"] = [2]float64{1.25, 0}, [2]float64{0, 1.25}, [2]float64{1.25, 1.25}
		if leg != evidence.Machine {
			want[" latency"], want[" border"] = [2]float64{2, 2}, [2]float64{1.25, -1.25}
		}
		if leg != evidence.Command {
			want["lift flow"] = [2]float64{6, 0}
			for _, tauS := range []float64{300, 600, 1200} {
				x := fadeM(tauS)
				want[fmt.Sprint(" cold ", tauS)], want[fmt.Sprint("lift cold ", tauS)], want[fmt.Sprint("drop cold ", tauS)] = [2]float64{x, x}, [2]float64{x, 0}, [2]float64{0, x}
			}
		}
		names := map[Cause]string{LiftTiming: "timing", DropTiming: "timing", CommandTiming: "command", MachineSlow: "slow", Latency: "latency",
			LiftGeometry: "place", DropGeometry: "place", Geometry: "place", WrongBorder: "border", FlowShortage: "flow", ColdOil: "cold"}
		list := terms.Dictionary(leg, 1200, 3)
		if len(list) != len(want) {
			t.Errorf("leg %d: %d causes; want %d", leg, len(list), len(want))
		}
		for _, x := range list {
			name := x.Moves.Name() + " " + names[x.Cause]
			least := 0.010
			switch {
			case x.Cause == ColdOil:
				name += fmt.Sprint(" ", x.TauS)
			case x.Cause == FlowShortage:
				least = 0.010 / 3
			case x.Family() == "place":
				least = 0.020
			}
			w, ok := want[name]
			if got := [2]float64{x.PerUnitM(&move), x.PerUnitM(&drop)}; !ok || !(math.Abs(got[0]-w[0]) <= 1e-12) || !(math.Abs(got[1]-w[1]) <= 1e-12) {
				t.Errorf("leg %d, %q: %v; want %v", leg, name, got, w)
			}
			if x.LeastSize != least || x.Tried != 1 || x.OnlyLate != (x.Cause == ColdOil || x.Cause == FlowShortage) {
				t.Errorf("leg %d, %q: worth something from %g on, only late %v", leg, name, x.LeastSize, x.OnlyLate)
			}
		}
	}
	for _, x := range terms.Dictionary(evidence.Whole, 1199, 0) {
		if x.Cause == FlowShortage || x.TauS >= 1200 {
			t.Errorf("%s, %g s: on a day of 1199 s without sections that rise together", x.Cause, x.TauS)
		}
	}
}

// Sizes have settled if none changed by more than a tenth of its standard error.
func TestSettled(t *testing.T) {
	cols := [][]float64{{1, 1, 1, 1}, {0, 1, 2, 4}}
	now, _ := regress.NewGram(cols, []float64{1, 2, 2, 4}, 0).Fit(0, 1)
	for _, tc := range []struct {
		i      int
		shares float64
		want   bool
	}{{0, 0.09, true}, {1, 0.09, true}, {1, -0.09, true}, {0, 0.11, false}, {1, 0.11, false}, {1, -0.11, false}} {
		before := now
		before.Beta = slices.Clone(now.Beta)
		before.Beta[tc.i] += tc.shares * now.SE(tc.i)
		if got := settled(&now, &before); got != tc.want {
			t.Errorf("size %d moved by %g standard errors: settled %v", tc.i, tc.shares, got)
		}
	}
	if before := now; settled(&now, &before) != true {
		t.Error("nothing moved, and not settled")
	}
	before := now
	if before.DF++; settled(&now, &before) {
		t.Error("a row less, and settled")
	}
}

// anAnalysis is 40 crossings of one section up and down the field, with drawn columns of which
// two are chosen.
func anAnalysis(seed uint64) *analysis {
	rng := rand.New(rand.NewPCG(seed, 23))
	a := &analysis{terms: plain(3, 0)}
	a.columns = make([][]float64, 3)
	for r := range 40 {
		a.moves = append(a.moves, evidence.Move{On: r%2 == 1, SpeedMps: 1 + rng.Float64(), SinceS: 25 * float64(r), HeadingRad: math.Pi * float64(r/2%2)})
		a.crossings = append(a.crossings, evidence.Crossing{Crossing: score.Crossing{On: r%2 == 1, Changes: []int32{int32(r)}}})
		a.rows = append(a.rows, r)
		a.weight, a.members = append(a.weight, 1), append(a.members, 1)
		y := 0.03 * rng.NormFloat64()
		for c := range a.columns {
			x := rng.NormFloat64()
			a.columns[c] = append(a.columns[c], x)
			y += []float64{0.1, 0, 0.2}[c] * x
		}
		a.y = append(a.y, y)
	}
	a.chosen, _ = a.gram().Fit(0, 2)
	return a
}

// An outlier is left out of every list, the others stay aligned, and the fit is that of them.
func TestDropOutliers(t *testing.T) {
	a, want := anAnalysis(1), anAnalysis(1)
	a.y[7] += 3
	a.members[8] = 5
	a.dropOutliers()
	if len(a.y) != 39 || len(a.rows) != 39 || len(a.weight) != 39 || len(a.members) != 39 || slices.Contains(a.rows, 7) || a.rows[7] != 8 || a.members[7] != 5 {
		t.Fatalf("rows %v, members %v", a.rows, a.members)
	}
	for i, r := range a.rows {
		for c := range a.columns {
			if len(a.columns[c]) != 39 || a.columns[c][i] != want.columns[c][r] || a.y[i] != want.y[r] {
				t.Fatalf("row %d is not that of crossing %d", i, r)
			}
		}
	}
	fit, _ := a.gram().Fit(0, 2)
	if !slices.Equal(a.chosen.Beta, fit.Beta) || a.sigmaM != fit.Sigma || a.chosen.DF != 37 {
		t.Errorf("chosen %v ± %g; want %v ± %g", a.chosen.Beta, a.sigmaM, fit.Beta, fit.Sigma)
	}
	if a := anAnalysis(1); true {
		if a.dropOutliers(); len(a.y) != 40 {
			t.Errorf("%d of 40 rows are left of a normal sample", len(a.y))
		}
	}
}

// The share that wanders is the slope, through 0, of products of residuals over their alikeness, in
// units of the variance; intervals are as much wider as the matrix of all covariances says.
func TestWanderBesideMatrices(t *testing.T) {
	for seed := range uint64(30) {
		a := anAnalysis(seed)
		n := len(a.y)
		// Residuals that wander.
		rng := rand.New(rand.NewPCG(seed, 5))
		shared := 0.0
		for r := range a.y {
			shared = 0.8*shared + 0.05*rng.NormFloat64()
			a.y[r] += shared * math.Cos(a.moves[r].HeadingRad)
		}
		a.chosen, _ = a.gram().Fit(0, 2)
		left := slices.Clone(a.y)
		for r := range left {
			left[r] -= a.chosen.Beta[0]*a.columns[0][r] + a.chosen.Beta[1]*a.columns[2][r]
		}
		alike := func(r, s int) float64 {
			return math.Cos(a.moves[r].HeadingRad-a.moves[s].HeadingRad) * math.Exp(-math.Abs(a.moves[r].SinceS-a.moves[s].SinceS)/60)
		}
		num, den := 0.0, 0.0
		for r := range n {
			for s := range n {
				if c := alike(r, s); s > r && s < r+8 && math.Abs(c) >= 0.05 {
					num, den = num+c*left[r]*left[s], den+c*c
				}
			}
		}
		square := a.chosen.Sigma * a.chosen.Sigma
		want := max(0, min(1, num/den/square))
		share := regress.WanderingShare(a.left(), a.chosen.Sigma, a.alikeness)
		if !(math.Abs(share-want) <= 1e-9) {
			t.Errorf("day %d: %g wanders; want %g", seed, share, want)
		}
		for i := range a.chosen.Set {
			for _, share := range []float64{0, share, 0.4} {
				w := make([]float64, n)
				for r := range w {
					w[r] = a.chosen.Inv.At(i, 0)*a.columns[0][r] + a.chosen.Inv.At(i, 1)*a.columns[2][r]
				}
				even, uneven, near := 0.0, 0.0, 0.0
				for r := range n {
					x, z := a.columns[0][r], a.columns[2][r]
					h := x*x*a.chosen.Inv.At(0, 0) + 2*x*z*a.chosen.Inv.At(0, 1) + z*z*a.chosen.Inv.At(1, 1)
					even += w[r] * w[r] * square
					uneven += w[r] * w[r] * left[r] * left[r] / (1 - h)
					for s := range n {
						if s != r && max(s-r, r-s) < 8 {
							near += w[r] * w[s] * share * square * alike(r, s)
						}
					}
				}
				if got, want := a.widening(i, share), math.Sqrt(max(1, (max(even, uneven)+near)/even)); !(math.Abs(got-want) <= 1e-9) {
					t.Errorf("day %d, size %d, share %g: wider by %g; want %g", seed, i, share, got, want)
				}
			}
		}
	}
	// Of fewer than 12 pairs nothing can be said: six rows have 15, five have 10.
	for rows, known := range map[int]bool{5: false, 6: true} {
		a := anAnalysis(3)
		for c := range a.columns {
			a.columns[c] = a.columns[c][:rows]
		}
		a.y, a.rows = a.y[:rows], a.rows[:rows]
		for r := range rows {
			a.moves[r].SinceS, a.moves[r].HeadingRad = float64(r), 0
			a.y[r] = 1 + 0.01*a.columns[0][r]
		}
		a.chosen, _ = a.gram().Fit(0)
		if got := regress.WanderingShare(a.left(), a.chosen.Sigma, a.alikeness); (got > 0) != known {
			t.Errorf("%d rows: %g wanders; want it known %v", rows, got, known)
		}
	}
}

// How much later sections with longer levers are, beside the line through each crossing; what the
// uncertain sizes of the causes add, beside the derivative of the size.
func TestTiltsBesideLines(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	a := &analysis{terms: []terms.Term{{PerUnitM: func(m *evidence.Move) float64 { return m.SpeedMps }}, {}}}
	a.chosen.Set, a.chosen.Beta = []int{0, 1}, []float64{0.3, 0.7}
	const crossings, n = 9, 4
	yaws := []float64{0, 0.019, 0.021, -0.03, 0, 0.02, -0.019, 0.04, 0.1}
	for k := range crossings {
		c := evidence.Crossing{Crossing: score.Crossing{On: k%3 == 0}}
		for s := range n {
			c.Changes = append(c.Changes, int32(len(a.moves)))
			a.moves = append(a.moves, evidence.Move{SideM: 3*float64(s) - 5, LeverM: 5 + rng.NormFloat64(), SpeedMps: 2 + rng.NormFloat64(), LateM: 1 + rng.NormFloat64(), YawRateRadPerS: yaws[k]})
		}
		a.crossings = append(a.crossings, c)
	}
	// All levers alike: says nothing of a heading.
	a.crossings = append(a.crossings, evidence.Crossing{Crossing: score.Crossing{Changes: []int32{int32(len(a.moves))}}})
	a.moves = append(a.moves, evidence.Move{LeverM: 3, SideM: 99, YawRateRadPerS: 9})
	ts := a.tilts()
	if len(ts.Late) != crossings || ts.Turns != 5 || ts.WidestM != 5 || ts.FastestRadPerS != 0.1 || len(ts.Causes) != 2 {
		t.Fatalf("%d rows, %d turns, %g m, %g rad/s", len(ts.Late), ts.Turns, ts.WidestM, ts.FastestRadPerS)
	}
	for k := range crossings {
		ones, lever := make([]float64, n), make([]float64, n)
		speed, late := make([]float64, n), make([]float64, n)
		for s := range n {
			m := &a.moves[a.crossings[k].Changes[s]]
			ones[s], lever[s], speed[s], late[s] = 1, m.LeverM, m.SpeedMps, m.LateM-0.3*m.SpeedMps
		}
		_, variance := regress.MeanVariance(lever)
		spread := math.Sqrt(variance * (n - 1) / n)
		of := func(y []float64) float64 {
			f, _ := regress.NewGram([][]float64{ones, lever}, y, 0).Fit(0, 1)
			return f.Beta[1] * spread
		}
		if !(math.Abs(ts.Late[k]-of(late)) <= 1e-9) || !(math.Abs(ts.Causes[0][k]-of(speed)) <= 1e-9) || ts.Causes[1][k] != 0 ||
			!(math.Abs(ts.Straight[k]-spread) <= 1e-9) || !(math.Abs(ts.Yaw[k]-spread*yaws[k]) <= 1e-9) || ts.Drop[k] != (k%3 == 0) {
			t.Errorf("crossing %d: late %g, cause %g, spread %g; want %g, %g, %g", k, ts.Late[k], ts.Causes[0][k], ts.Straight[k], of(late), of(speed), spread)
		}
	}
	// The variance of two sizes, and by how much each moves the heading error when it changes by 1.
	cols := [][]float64{ts.Straight, ts.Yaw}
	f, _ := regress.NewGram(cols, ts.Late, 0).Fit(0, 1)
	a.chosen.Sigma, a.chosen.Inv = 0.5, regress.NewSymmetric(2)
	a.chosen.Inv.Set(0, 0, 2)
	a.chosen.Inv.Set(0, 1, 0.7)
	a.chosen.Inv.Set(1, 1, 3)
	by := [2]float64{}
	for j := range by {
		moved := slices.Clone(ts.Late)
		for k := range moved {
			moved[k] += ts.Causes[j][k]
		}
		g, _ := regress.NewGram(cols, moved, 0).Fit(0, 1)
		by[j] = g.Beta[1] - f.Beta[1]
	}
	want := 0.25 * (2*by[0]*by[0] + 1.4*by[0]*by[1] + 3*by[1]*by[1])
	if got := ts.Uncertain(&f, &a.chosen); !(math.Abs(got-want) <= 1e-9*want) || !(want > 0) {
		t.Errorf("variance %g; want %g", got, want)
	}
}

// A line needs three crossings of its kind, and 0.2 km/h between the slowest and the fastest.
func TestLineTerms(t *testing.T) {
	for _, tc := range []struct {
		crossings int
		apartKmh  float64
		known     bool
		used      int // terms of lifts
	}{{3, 0.21, true, 2}, {3, 0.19, false, 1}, {2, 1, false, 1}, {0, 0, false, 0}} {
		a := &analysis{terms: terms.Dictionary(evidence.Whole, 0, 0)}
		for k := range tc.crossings + 3 {
			c := evidence.Crossing{Crossing: score.Crossing{On: k >= tc.crossings, Changes: []int32{int32(k)}}}
			m := evidence.Move{On: c.On, SpeedMps: 2}
			if k == 0 || k == tc.crossings {
				m.SpeedMps += tc.apartKmh / 3.6
			}
			if c.On {
				m.SpeedMps *= 3 // drops have speeds of their own
			}
			a.rows, a.moves, a.crossings = append(a.rows, k), append(a.moves, m), append(a.crossings, c)
		}
		_, known, use := a.lineTerms()
		lifts := 0
		for _, q := range use {
			if a.terms[q].Moves == evidence.Lifts {
				lifts++
			}
		}
		if known[0] != tc.known || lifts != tc.used {
			t.Errorf("%d lifts %g km/h apart: known %v, %d terms", tc.crossings, tc.apartKmh, known[0], lifts)
		}
	}
}

// A slow section's delays are taken out of its own moves of that kind, and explain their squares.
func TestSlowSectionIsTakenOut(t *testing.T) {
	var moves []evidence.Move
	var crossings []evidence.Crossing
	for k := range 24 {
		c := evidence.Crossing{Crossing: score.Crossing{On: k%2 == 1}}
		for s := range 5 {
			m := evidence.Move{Section: s, On: c.On, SpeedMps: 1 + 0.1*float64(k%5)}
			if s == 3 && !c.On {
				m.LateM = 0.25 * m.SpeedMps
			}
			c.Changes = append(c.Changes, int32(len(moves)))
			moves = append(moves, m)
		}
		crossings = append(crossings, c)
	}
	want := 0.0
	for i := range moves {
		want += moves[i].LateM * moves[i].LateM
	}
	list, floorS := suspect.SlowSections(moves, crossings, 5, peers.Pumped{})
	if len(list) != 1 || list[0].Section != 4 || list[0].Moves != evidence.Lifts || list[0].Crossings != 12 || floorS != 0.010 ||
		!(math.Abs(list[0].Size-0.25) <= 1e-9) || !(math.Abs(list[0].SumM2-want) <= 1e-9) {
		t.Errorf("%+v from %g s on; want section 4, 0.25 s, %g m²", list, floorS, want)
	}
	for i := range moves {
		if !(math.Abs(moves[i].LateM) <= 1e-9) {
			t.Fatalf("%+v is left", moves[i])
		}
	}
}
