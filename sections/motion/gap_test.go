package motion

import (
	"math"
	"testing"
)

// Ways over gaps whose end follows from what was driven. The tractor heads north and is
// at (0, 0) before, with its antenna over the axle.
func TestGapBackward(t *testing.T) {
	for _, tc := range []struct {
		name                string
		mps, perM           float64
		s, eastM, northM    float64
		courseDeg, afterMps float64
		stoodM              float64
		back, sure          bool
	}{
		{"straight on", 2, 0, 5, 0, 10, 0, 2, 0, false, true},
		{"straight on, fast", 5, 0, 8, 0, 40, 0, 5, 0, false, true},
		{"straight on, after a stand", 3, 0, 6, 0, 8, 0, 0.5, 0.3, false, true},
		// A circle of 5 m to the left at 2.8 m/s for 4.8 s: 154°, 5 m·(1-cos) to the left.
		{"most of half a circle", 2.8, -0.2, 4.8, -9.49, 2.2, 360 - 154, 2.8, 0, false, true},
		// Half a circle and more, by the left: to the right it would be less.
		{"more than half a circle", 2.8, -0.2, 6.2, -9.72, -1.62, 360 - 199, 2.8, 0, false, true},
		// 1 m to come to stand, then 3 m back.
		{"stopped and went back", 1.5, 0, 6, 0, -2, 180, 1, 0, true, true},
		// The last 4 m of a three-point turn: 2 m on to the right, round 6 m, and 2 m back to the left.
		{"back with the other lock", 1.2, 1.0 / 6, 6, 0, 0.9, 180 + 38, 1, 0, true, true},
		{"in reverse all along", -1.2, 0, 4, 0, -4.8, 180, 1.2, 0, true, true},
		{"reversed, stood, went forward", -1, 0, 8, 0, -1.5, 0, 1.5, 0, false, true},
		{"stood, went back 5 m, stood, goes forward", 0.1, 0, 10, 0, -4, 0, 1, 1, false, false},
		{"too fast to reverse", 3, 0, 9, 3, -2, 180, 3.5, 0, false, false},
	} {
		g := gap{
			northM: tc.northM, eastM: tc.eastM, headingSigmaRad: 0.1, mps: tc.mps, perM: tc.perM,
			courseRad: tc.courseDeg * math.Pi / 180, afterMps: tc.afterMps, dt: tc.s, stoodM: tc.stoodM,
		}
		back, by := g.backward()
		t.Logf("%s: backward %v by %.1f", tc.name, back, by)
		if back != tc.back || tc.sure && !(by >= 2) {
			t.Errorf("%s: backward %v by %g; want %v", tc.name, back, by, tc.back)
		}
		// The same seen in a mirror, and from another side.
		m := g
		m.eastM, m.perM, m.courseRad = -g.eastM, -g.perM, -g.courseRad
		if other, _ := m.backward(); other != back {
			t.Errorf("%s: in a mirror %v", tc.name, other)
		}
		sin, cos := math.Sincos(1)
		m = g
		m.headingRad, m.courseRad = 1, g.courseRad+1
		m.eastM, m.northM = g.eastM*cos+g.northM*sin, g.northM*cos-g.eastM*sin
		if other, turnedBy := m.backward(); other != back || !(math.Abs(turnedBy-by) <= 0.1) {
			t.Errorf("%s: turned by 1 rad %v by %g; want by %g", tc.name, other, turnedBy, by)
		}
	}
}

// The estimate after a gap allocates nothing.
func TestGapAllocates(t *testing.T) {
	g := gap{eastM: 3, northM: -2, headingSigmaRad: 0.1, mps: 3, courseRad: 3, afterMps: 1, dt: 9}
	if n := testing.AllocsPerRun(5, func() { g.backward() }); n > 0 {
		t.Errorf("%g allocations", n)
	}
}

// A decision in doubt is revised: who seems to reverse 10 m goes forward.
func TestDoubtIsRevised(t *testing.T) {
	for _, tc := range []struct{ doubtM, revisedM float64 }{{0, longestReverseM}, {doubtM, doubtfulM}} {
		k := driving(Antenna{XM: 1}, 0, -1)
		k.State.DoubtM = tc.doubtM
		wayM := 0.0
		for ; k.X[speed] < 0 && wayM < 100; wayM++ {
			k.watchReverse(1)
		}
		if wayM != tc.revisedM || k.State.DoubtM != 0 || math.Abs(Wrap(k.X[theta]-math.Pi)) > 1e-9 {
			t.Errorf("in doubt for %g m: revised after %g m, heads %g, %g m left; want %g m", tc.doubtM, wayM, k.X[theta], k.State.DoubtM, tc.revisedM)
		}
	}
}
