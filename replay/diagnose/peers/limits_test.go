// How far a section must be off to be called slow or erratic: just enough and
// just too little, beside the same limits computed by hand.

package peers

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/sections/score"
)

// bar is lifts and drops of a bar, each at a border of its own. at returns how late each
// section is, in s.
func bar(lifts, drops int, at func(k int, on bool) []float64) (moves []evidence.Move, list []evidence.Crossing) {
	for k := range lifts + drops {
		c := evidence.Crossing{Crossing: score.Crossing{On: k >= lifts}}
		for s, lateS := range at(k, c.On) {
			v := 1 + 0.25*float64(k%5)
			c.Changes = append(c.Changes, int32(len(moves)))
			moves = append(moves, evidence.Move{Section: s, On: c.On, SpeedMps: v, LateM: lateS * v, Others: float64((k + s) % 3)})
		}
		list = append(list, c)
	}
	return moves, list
}

// beside returns the delays of eight sections, of which the last is late by lateS. Two
// are early and two late by otherS, in turn, and three are in time: whatever the last
// one does, the median of any seven of them is 0.
func beside(k int, lateS, otherS float64) []float64 {
	if k%2 == 1 {
		otherS = -otherS
	}
	return []float64{otherS, -otherS, 0, otherS, 0, -otherS, 0, lateS}
}

// far returns n delays with the median 0, of which so many are sizeS from 0, half of them
// either way.
func far(n, many int, sizeS float64) []float64 {
	list := make([]float64, n)
	for i := range many {
		list[i] = sizeS * float64(1-2*(i%2))
	}
	return list
}

// A section is erratic if three of its delays and 8 % of them are 60 ms and four times the usual
// spread from its median, and if it scatters by 60 ms beyond the others.
func TestErraticLimits(t *testing.T) {
	for _, tc := range []struct {
		name           string
		lifts, drops   int
		farUp, farDown int
		sizeS, otherS  float64
		found          bool
	}{
		{"three of 37", 35, 2, 3, 0, 0.5, 0, true},
		{"three of 38", 36, 2, 3, 0, 0.5, 0, false},
		{"four of 50, just 8 %", 45, 5, 4, 0, 0.5, 0, true},
		{"two of 20", 18, 2, 2, 0, 0.5, 0, false},
		{"four of four", 2, 2, 2, 2, 0.5, 0, true},
		{"three of 37, scatter by 61.5 ms", 35, 2, 3, 0, 0.210, 0, true},
		{"three of 37, scatter by 58.6 ms", 35, 2, 3, 0, 0.200, 0, false},
		{"all but three of 40, 62 ms", 20, 20, 18, 18, 0.062, 0, true},
		{"all but three of 40, 59 ms", 20, 20, 18, 18, 0.059, 0, false},
		// The others' spread is 1.4826 · √(40/38) times 50 ms: 76.1 ms.
		{"four times the others' spread", 20, 20, 10, 10, 0.306, 0.050, true},
		{"less than four times the others' spread", 20, 20, 10, 10, 0.302, 0.050, false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			off := append(far(tc.lifts, tc.farUp, tc.sizeS), far(tc.drops, tc.farDown, tc.sizeS)...)
			moves, crossings := bar(tc.lifts, tc.drops, func(k int, _ bool) []float64 { return beside(k, off[k], tc.otherS) })
			got := FindErratic(moves, crossings, 8, 0)
			if (len(got) == 1) != tc.found {
				t.Fatalf("found %+v", got)
			}
			if !tc.found {
				return
			}
			n := tc.lifts + tc.drops
			usualS := max(0.001, 1.4826*tc.otherS*math.Sqrt(float64(n)/float64(n-2)))
			squares, speeds := 0.0, 0.0
			for k := range off {
				squares += off[k] * off[k]
				speeds += math.Pow(1+0.25*float64(k%5), 2)
			}
			scatterS := math.Sqrt(squares/float64(n-2) - usualS*usualS)
			f := got[0]
			if f.Section != 7 || f.Crossings != n || !(math.Abs(f.UsualS-usualS) <= 1e-9) || !(math.Abs(f.ScatterS-scatterS) <= 1e-9) ||
				!(math.Abs(f.SumM2-scatterS*scatterS*speeds) <= 1e-9) || f.CI95 != regress.Deviation(f.ScatterS, float64(n-2)) {
				t.Errorf("found %+v; want %d crossings, scatter %g s against %g s", f, n, scatterS, usualS)
			}
		})
	}
}

// A bar of three sections can have an erratic one. Half of the sections of a bar can be
// Where nearly all of the usual spread is a grid's, which is bounded, less is far: two and a half
// times the spread, 190 ms, and not four times, 304 ms.
func TestErraticOnGrid(t *testing.T) {
	for _, tc := range []struct {
		name         string
		sizeS, gridS float64
		found        bool
	}{
		{"just beyond a grid", 0.193, 0.060, true},
		{"just within", 0.187, 0.060, false},
		{"a grid that is less than the spread", 0.193, 0.057, false},
		{"no grid", 0.193, 0, false},
	} {
		off := append(far(20, 10, tc.sizeS), far(20, 10, tc.sizeS)...)
		moves, crossings := bar(20, 20, func(k int, _ bool) []float64 { return beside(k, off[k], 0.050) })
		for i := range moves {
			moves[i].GridS = tc.gridS
		}
		if got := FindErratic(moves, crossings, 8, 0); (len(got) == 1) != tc.found {
			t.Errorf("%s: found %+v", tc.name, got)
		}
	}
}

// erratic; if more are, it is no single section's fault.
func TestErraticSections(t *testing.T) {
	off := far(37, 3, 0.210)
	moves, crossings := bar(37, 0, func(k int, _ bool) []float64 { return []float64{0, off[k], 0} })
	if got := FindErratic(moves, crossings, 3, 0); len(got) != 1 || got[0].Section != 1 {
		t.Errorf("of three sections: %+v; want the middle one", got)
	}
	for many, want := range []int{0, 1, 2, 3, 4, 0, 0} {
		// Each of them is far off at ten crossings of its own.
		moves, crossings := bar(100, 0, func(k int, _ bool) []float64 {
			late := make([]float64, 8)
			if s := k / 10; s < many {
				late[s] = 0.4 * float64(1-2*(k%2))
			}
			return late
		})
		if got := FindErratic(moves, crossings, 8, 0); len(got) != want {
			t.Errorf("%d of eight sections scatter: %d found; want %d", many, len(got), want)
		}
	}
}

// A section that is slow on lifts moves the median of the others at the crossings where
// another section is missing. That makes none of them erratic.
func TestErraticBesideASlowOne(t *testing.T) {
	for _, slowOn := range []bool{false, true} {
		moves, crossings := bar(40, 40, func(k int, on bool) []float64 {
			late := []float64{0, 0, 0, 0}
			if on == slowOn {
				late[0] = 0.4
			}
			return late[:4-k%2]
		})
		if got := FindErratic(moves, crossings, 4, 0); len(got) != 0 {
			t.Errorf("slow on drops %v: %+v; want none erratic", slowOn, got)
		}
	}
}

// A slow section is off by 10 ms, by more than three times what the median of the others
// is off, and beyond chance, which has a hundredth divided by all lifts and drops.
func TestStandsApart(t *testing.T) {
	const n = 5
	// Student's t of a section that chance puts so far off once in 4·5/0.02 = 1000 bars.
	limit := regress.Quantile(regress.Alpha/(4*n), 6)
	for _, tc := range []struct {
		name string
		d    delays
		want bool
	}{
		{"beyond chance", delays{meanS: 0.5, se: 0.5 / limit / 1.001, df: 6}, true},
		{"within chance", delays{meanS: 0.5, se: 0.5 / limit * 1.001, df: 6}, false},
		{"early, beyond chance", delays{meanS: -0.5, se: 0.5 / limit / 1.001, df: 6}, true},
		{"two degrees of freedom", delays{meanS: 0.5, se: 1e-4, df: 2}, true},
		{"one degree of freedom", delays{meanS: 0.5, se: 1e-9, df: 1}, false},
		{"just above the others", delays{meanS: 0.0913, se: 1e-6, df: 6}, true},
		{"not above the others", delays{meanS: 0.0899, se: 1e-6, df: 6}, false},
	} {
		all := make([][2]delays, n)
		// The others are off by 10, 20, 40 and 90 ms, their median is 30 ms; what they do the other
		// way does not count.
		for s, meanS := range []float64{-0.010, 0.020, 0, 0.040, -0.090} {
			all[s] = [2]delays{{meanS: 2, se: 1e-6, df: 6}, {meanS: meanS, se: 1e-6, df: 6}}
		}
		all[2][1] = tc.d
		if got := standsApart(all, 2, 1); got != tc.want {
			t.Errorf("%s: stands apart %v", tc.name, got)
		}
	}
	// Just three times the others is not above them; just 10 ms is worth a repair.
	for _, tc := range []struct {
		meanS, otherS float64
		want          bool
	}{{0.75, 0.25, false}, {evidence.LeastS, 0, true}} {
		d := delays{meanS: tc.meanS, se: 1e-6, df: 6}
		other := delays{meanS: tc.otherS, se: 1e-6, df: 6}
		if got := standsApart([][2]delays{{d}, {other}, {other}}, 0, 0); got != tc.want {
			t.Errorf("%g s beside %g s: stands apart %v", tc.meanS, tc.otherS, got)
		}
	}
}

// The least delay that shows is the median section's: its limit of chance and 1.645
// standard errors more.
func TestLeastDelay(t *testing.T) {
	seen := func(se float64, df int) float64 { return (regress.Quantile(regress.Alpha/12, df) + 1.645) * se }
	none, blind := delays{se: math.Inf(1)}, delays{se: 1e-3, df: 1}
	for _, tc := range []struct {
		name string
		all  [][2]delays
		want float64
	}{
		{"none seen", [][2]delays{{none, none}, {none, none}, {none, blind}}, math.Inf(1)},
		{"one seen", [][2]delays{{none, none}, {none, none}, {blind, {se: 0.1, df: 2}}}, seen(0.1, 2)},
		{"the median of three", [][2]delays{{{se: 0.1, df: 9}, none}, {{se: 0.2, df: 9}, none}, {blind, {se: 0.7, df: 9}}}, seen(0.2, 9)},
		{"less than is worth a repair", [][2]delays{{{se: 1e-4, df: 9}, none}, {none, none}, {none, none}}, evidence.LeastS},
	} {
		if got := leastDelay(tc.all); got != tc.want {
			t.Errorf("%s: %g s; want %g", tc.name, got, tc.want)
		}
	}
}

// A delay is what a section is late by beyond the median of the others, of crossings with
// three sections or more. What is added to all of them, and what each other section
// adds on a short pump, is taken out.
func TestSectionDelays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		flowS := rapid.Float64Range(0, 0.2).Draw(t, "flow")
		own := []float64{0.125, 0, 0, 0}
		sizes := rapid.SliceOfN(rapid.IntRange(1, 4), 1, 12).Draw(t, "sections of each crossing")
		moves, crossings := bar(len(sizes), 0, func(k int, _ bool) []float64 { return own[:sizes[k]] })
		want := 0
		for k := range crossings {
			sharedS := rapid.Float64Range(-1, 1).Draw(t, "shared")
			for _, i := range crossings[k].Changes {
				m := &moves[i]
				m.Others = rapid.Float64Range(0, 3).Draw(t, "others")
				m.LateM += (sharedS + flowS*m.Others) * m.SpeedMps
			}
			if sizes[k] >= 3 {
				want++
			}
		}
		all := sectionDelays(moves, crossings, 4, flowS)
		for s, d := range all {
			if len(d[1].list) != 0 || s < 3 && len(d[0].list) != want {
				t.Fatalf("section %d has %d lifts and %d drops; want %d and none", s, len(d[0].list), len(d[1].list), want)
			}
			for _, x := range d[0].list {
				if s == 0 && !(math.Abs(x-0.125) <= 1e-9) || s > 0 && !(math.Abs(x) <= 0.0625+1e-9) {
					t.Fatalf("section %d is %g s late", s, x)
				}
			}
		}
	})
}

// A bar that hangs askew is late towards one side: no section is called slow. Of three
// sections a slow one moves the median of the others by half its delay, so it does not stand
// out three times; but what would show is known.
func TestSlowOfAFew(t *testing.T) {
	for _, tc := range []struct {
		late   []float64
		want   string
		floorS float64
	}{
		{[]float64{-0.2, -0.1, 0, 0.1, 0.2}, "[]", 0.010},
		{[]float64{0, 0.2, 0, 0}, "[1]", 0.010},
		{[]float64{0, 0.2, 0}, "[]", 0.010},
		{[]float64{0, 0.2}, "[]", math.Inf(1)},
	} {
		moves, crossings := bar(12, 12, func(int, bool) []float64 { return tc.late })
		slow, floorS := FindSlow(moves, crossings, len(tc.late), Pumped{})
		found := []int{}
		for _, s := range slow {
			found = append(found, s.Section)
		}
		if fmt.Sprint(found) != tc.want || floorS != tc.floorS {
			t.Errorf("%v s late: sections %v, from %g s; want %s from %g s", tc.late, found, floorS, tc.want, tc.floorS)
		}
	}
}
