// Where the bar is and whether it works there, beside rotations written as
// complex numbers and counting by hand.

package sections

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// On the plane east + i·north a bearing θ is the factor e^(-iθ), forward is i
// and right is 1.
func TestFrameBesideComplexNumbers(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 42))
	for _, mount := range []Mount{RearRigid, FrontRigid, Trailed} {
		for range 200 {
			m := &Machine{Mount: mount, HitchBehindM: rng.Float64(), DrawbarM: 3}
			for i := range 3 {
				m.Sections = append(m.Sections, Section{XM: 8 * (rng.Float64() - 0.5), YM: float64(4*i) - 5 + rng.Float64(), WidthM: 1 + rng.Float64()})
			}
			p := motion.Pose{EastM: 10 * rng.Float64(), NorthM: 10 * rng.Float64(), HeadingRad: 7 * rng.Float64(), ToolHeadingRad: 7 * rng.Float64()}
			turn := func(rad float64, xM, yM float64) complex128 { return cmplx.Exp(complex(0, -rad)) * complex(yM, xM) }
			c, psi := 0.0, p.HeadingRad
			if mount == Trailed {
				c, psi = m.HitchBehindM, p.ToolHeadingRad
			}
			f := m.Frame(&p)
			furthest := 0.0
			for i, s := range m.Sections {
				hitch := complex(p.EastM, p.NorthM) + turn(p.HeadingRad, -c, 0)
				left := hitch + turn(psi, s.XM+c, s.YM-s.WidthM/2)
				right := hitch + turn(psi, s.XM+c, s.YM+s.WidthM/2)
				le, ln, re, rn := m.Line(i, &f)
				if cmplx.Abs(complex(le, ln)-left) > 1e-9 || cmplx.Abs(complex(re, rn)-right) > 1e-9 {
					t.Fatalf("mount %d, section %d from (%g, %g) to (%g, %g); want %v to %v", mount, i+1, le, ln, re, rn, left, right)
				}
				for _, end := range []complex128{left, right} {
					furthest = max(furthest, cmplx.Abs(end-complex(f.EastM, f.NorthM)))
				}
			}
			if reach := m.ReachM(); !(math.Abs(reach-furthest) <= 1e-9) {
				t.Fatalf("mount %d reaches %g m; want %g", mount, reach, furthest)
			}
		}
	}
	m := Machine{AntennaXM: 2, AntennaYM: -1}
	if got := m.Antenna(); got != (motion.Antenna{XM: 2, YM: -1}) {
		t.Errorf("antenna at %+v", got)
	}
}

func TestEdgeRules(t *testing.T) {
	for _, tc := range []struct {
		rule         EdgeRule
		share, slack float64
		want         bool
	}{
		{CropFirst, 1, 0, true}, {CropFirst, 0.9999999, 0, true}, {CropFirst, 0.9999, 0, false},
		{CropFirst, 0.91, 0.1, true}, {CropFirst, 0.89, 0.1, false}, {CropFirst, 0.5, 0.9, true}, {CropFirst, 0.49, 0.9, false},
		{WeedFirst, 0, 0, false}, {WeedFirst, 0.0000001, 0, false}, {WeedFirst, 0.0001, 0, true},
		{WeedFirst, 0.09, 0.1, false}, {WeedFirst, 0.11, 0.1, true}, {WeedFirst, 0.5, 0.9, false}, {WeedFirst, 0.51, 0.9, true},
		{Even, 0.5, 0.1, true}, {Even, 0.49, 0.1, false}, {Even, 0.51, 0, true},
	} {
		if got := tc.rule.InWork(tc.share, tc.slack); got != tc.want {
			t.Errorf("rule %d, share %g, slack %g: in work %v", tc.rule, tc.share, tc.slack, got)
		}
	}
	// The slack is a width: 5 cm of a section 50 cm wide are a tenth of it.
	g := Gate{Machine: bar(RearRigid, 0, 2, 0.5), Rule: CropFirst, SlackM: 0.05}
	if !g.Wants(1, 0.905) || g.Wants(1, 0.895) {
		t.Error("5 cm of slack are not a tenth of 50 cm")
	}
}

// A zone with a row bearing takes part along its rows, by the heading of the
// tool if it is trailed, and on no path tighter than the least work radius.
func TestZonesTakePart(t *testing.T) {
	f := newField(t, body(0.6, rectangle(-10, -10, 10, 10)),
		field.Zone{Name: "open", Kind: field.Body, RowBearingRad: math.NaN(), Polygons: rectangle(20, -10, 40, 10)})
	for _, tc := range []struct {
		mount               Mount
		heading, tool, v, w float64
		want                bool
	}{
		{RearRigid, 0.6, 2, 2, 0, true},
		{RearRigid, 0.6 + math.Pi, 2, 2, 0, true},
		{RearRigid, 0.6 + 0.34, 2, 2, 0, true},
		{RearRigid, 0.6 - 0.36, 2, 2, 0, false},
		{RearRigid, 2, 0.6, 2, 0, false},
		{Trailed, 2, 0.6, 2, 0, true},
		{Trailed, 0.6, 2, 2, 0, false},
		{RearRigid, 0.6, 0, 2, 0.099, true}, // 20.2 m
		{RearRigid, 0.6, 0, 2, -0.101, false},
		{RearRigid, 0.6, 0, -2, 0.101, false},
		{RearRigid, 0.6, 0, -2, -0.099, true},
		{RearRigid, 0.6, 0, 0, 0, true},
	} {
		m := bar(tc.mount, -2, 1, 1)
		m.DrawbarM = 3
		g := Gate{Field: f, Machine: m, Rule: Even, CosRowTolerance: math.Cos(20 * math.Pi / 180), MinWorkRadiusM: 20}
		p := motion.Pose{HeadingRad: tc.heading, ToolHeadingRad: tc.tool, SpeedMps: tc.v, YawRateRadPerS: tc.w}
		var way Follow
		g.Follow(&way, &p)
		zones := way.Zones
		if got := zones&^f.Unbound() != 0; got != tc.want {
			t.Errorf("%+v: takes part %v", tc, got)
		}
		if zones&f.Unbound() == 0 {
			t.Errorf("%+v: the zone without rows takes no part", tc)
		}
		frame := m.Frame(&p)
		if got := g.Wants(0, g.Share(0, &frame, zones)); got != tc.want {
			t.Errorf("%+v: in work %v", tc, got)
		}
	}
}

// The crossing that is found is where a walk in steps of 0.1 ms finds it.
func TestCrossingBesideAWalk(t *testing.T) {
	f := newField(t, body(math.NaN(), rectangle(-40, 0, 40, 40)))
	rng := rand.New(rand.NewPCG(51, 52))
	found := 0
	for range 60 {
		m := bar(RearRigid, -2, 2, 2)
		c := newController(t, m, f, nil)
		mo := motion.Motion{Pose: motion.Pose{TimeNs: startNs, NorthM: 3*rng.Float64() - 0.5, HeadingRad: rng.Float64() - 0.5, SpeedMps: 1 + 2*rng.Float64(), YawRateRadPerS: 0.2 * (rng.Float64() - 0.5)}}
		now, until := startNs+int64(100e6), startNs+int64(900e6)
		for i := range m.Sections {
			c.section[i].On = false
			if at := viewAt(c, &mo, until); !at.inWork(c, i) {
				continue
			}
			want := int64(0)
			for at := now; at <= until; at += 1e5 {
				if v := viewAt(c, &mo, at); v.inWork(c, i) {
					want = at
					break
				}
			}
			got, ok := c.change(&mo, i, now, until)
			if !ok || got < want-1e5-12_000 || got > want+12_000 {
				t.Errorf("section %d: crossing after %d ns, %v; want %d", i+1, got-startNs, ok, want-startNs)
			}
			if want > now {
				found++
			}
			// A crossing that a command was given for is not found again.
			c.section[i].CrossM = c.odometerM(&mo, until)
			if _, ok := c.change(&mo, i, now, until); ok {
				t.Errorf("section %d: a crossing at or before the last one", i+1)
			}
			last := until - int64(1e6)
			c.section[i].CrossM = c.odometerM(&mo, last)
			if at, ok := c.change(&mo, i, now, until); !ok || at < last || at > last+2*crossingPrecisionNs {
				t.Errorf("section %d: already inside at %d, but %v at %d", i+1, last-startNs, ok, at-startNs)
			}
		}
	}
	if found < 20 {
		t.Errorf("%d crossings: shows little", found)
	}
}
