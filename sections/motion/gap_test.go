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
		// 17 m straight on, a quarter circle of 5 m to the right, and 1 m back.
		{"turned to a stand, went back", 4.3, 0, 7.8, 4, 22, 270, 0.5, 1, true, false},
		// The same quarter circle, and 1 m on.
		{"turned to a stand, went on", 4.3, 0, 7.8, 6, 22, 90, 0.5, 1, false, true},
		{"too fast to reverse", 3, 0, 9, 3, -2, 180, 3.5, 0, false, false},
	} {
		g := gap{
			northM: tc.northM, eastM: tc.eastM, headingSigmaRad: 0.1, mps: tc.mps, perM: tc.perM,
			courseRad: tc.courseDeg * math.Pi / 180, afterMps: tc.afterMps, dt: tc.s, stood: tc.stoodM > 0, standCourse: math.NaN(),
		}
		sin, cos := math.Sincos(g.courseRad)
		g.standE, g.standN = tc.eastM-tc.stoodM*sin, tc.northM-tc.stoodM*cos
		back, by := g.backward()
		t.Logf("%s: backward %v by %.1f", tc.name, back, by)
		if back != tc.back || tc.sure && !(by >= 2) {
			t.Errorf("%s: backward %v by %g; want %v", tc.name, back, by, tc.back)
		}
		// The same seen in a mirror, and from another side.
		m := g
		m.eastM, m.perM, m.courseRad, m.standE = -g.eastM, -g.perM, -g.courseRad, -g.standE
		if other, _ := m.backward(); other != back {
			t.Errorf("%s: in a mirror %v", tc.name, other)
		}
		sin, cos = math.Sincos(1)
		m = g
		m.headingRad, m.courseRad = 1, g.courseRad+1
		m.eastM, m.northM = g.eastM*cos+g.northM*sin, g.northM*cos-g.eastM*sin
		m.standE, m.standN = g.standE*cos+g.standN*sin, g.standN*cos-g.standE*sin
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

// Who is in doubt before a gap may have been the other way round: a tractor that seemed to
// go backward, 2 m/s, and 8 s later goes 4 m/s the same way, went forward.
func TestGapInDoubt(t *testing.T) {
	for _, inDoubt := range []bool{false, true} {
		g := gap{antenna: Antenna{XM: 1.5}, northM: -24, headingSigmaRad: 0.1, mps: -2, courseRad: math.Pi, afterMps: 4, dt: 8, inDoubt: inDoubt}
		if m := g.otherWayRound(); m.mps != 2 || !(math.Abs(m.northM+27) <= 1e-9) || !(math.Abs(m.eastM) <= 1e-9) || !(math.Abs(Wrap(m.headingRad-math.Pi)) <= 1e-9) {
			t.Errorf("the other way round: %+v; want the axle 3 m before it", m)
		}
		forward, reverse := g.either()
		back, by := g.backward()
		t.Logf("in doubt %v: forward %.1f, reverse %.1f; backward %v by %.1f", inDoubt, forward, reverse, back, by)
		if inDoubt && (back || !(by >= 2)) {
			t.Errorf("backward %v by %g", back, by)
		}
	}
}

// A position after a gap, of which nothing else is told, is one on the way where the
// tractor came straight on.
func TestPassed(t *testing.T) {
	for _, tc := range []struct {
		name          string
		mps           float64
		eastM, northM float64 // after 4 s, of an antenna 1 m ahead
		known         bool
	}{
		{"straight on", 3, 0, 13, true},
		{"a little faster", 3, 0, 15, true},
		// 12 m on an arc of 60 m: 0.2 rad.
		{"on a wide arc", 3, 1.19 + 0.2, 11.92 + 0.98, true},
		{"stopped on the way", 3, 0, 7, false},
		{"half a circle", 3, 8, 0, false},
		{"creeping", 0.5, 0, 3, false},
		{"in reverse", -1.5, 0, -5, false},
	} {
		b := Before{TimeNs: t0, HeadingSigmaRad: 0.1, SpeedMps: tc.mps}
		at := Place{t0 + 4e9, tc.eastM, tc.northM}
		if known := b.passes(Antenna{XM: 1}, at); known != tc.known {
			t.Errorf("%s: known %v", tc.name, known)
			continue
		}
		if !tc.known {
			if b.Passed != at || b.TimeNs != t0 {
				t.Errorf("%s: %+v; want the place noted", tc.name, b)
			}
			continue
		}
		sin, cos := math.Sincos(b.HeadingRad)
		if off := math.Hypot(b.EastM+sin-tc.eastM, b.NorthM+cos-tc.northM); b.TimeNs != at.TimeNs || !(off <= 1e-9) || !(math.Abs(b.SpeedMps-(tc.northM-1)/4) <= 0.1) {
			t.Errorf("%s: %+v", tc.name, b)
		}
	}
}

// A gap in doubt, of which every pattern of way is tried from everywhere, both ways round.
func BenchmarkGap(b *testing.B) {
	b.ReportAllocs()
	g := gap{eastM: 3, northM: -2, headingSigmaRad: 0.1, mps: 3, courseRad: 3, afterMps: 1, dt: 9, inDoubt: true}
	for b.Loop() {
		g.backward()
	}
}
