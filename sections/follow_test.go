// The way that Gate.Follow remembers, beside integrals over the whole of it; and which zones begin when.

package sections

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// wideGate is a bar of 6 m on a large body with rows to the north, a headland to the south of it and
// an open zone to the north.
func wideGate(t testing.TB) (g *Gate, bodyMask, headland, open field.Mask) {
	f := newField(t, body(0, rectangle(-500, 0, 500, 500)),
		field.Zone{Name: "headland", Kind: field.Headland, RowBearingRad: math.Pi / 2, Polygons: rectangle(-500, -100, 500, 0)},
		field.Zone{Name: "open", Kind: field.Body, RowBearingRad: math.NaN(), Polygons: rectangle(-500, 500, 500, 600)})
	g = &Gate{Field: f, Machine: bar(RearRigid, -2, 6, 1), Rule: Even, CosRowTolerance: math.Cos(20 * math.Pi / 180), MinWorkRadiusM: 20}
	return g, 1, 2, 4
}

// The way since the path was last too tight, the way since the first turn began and how much further the
// path has turned than 20 m of radius allow, beside the same integrals in steps of a
// centimetre, along a path whose curvature is linear between poses.
func TestFollowBesideIntegrals(t *testing.T) {
	g, bodyMask, _, open := wideGate(t)
	rapid.Check(t, func(t *rapid.T) {
		p := motion.Pose{EastM: 0, NorthM: 100, SpeedMps: 2}
		var w Follow
		g.Follow(&w, &p)
		if w.Zones != bodyMask|open || w.Last != bodyMask || w.Turning {
			t.Fatalf("at the start: %+v", w)
		}
		curve, straightM, turnedM, right, left := 0.0, 0.0, 0.0, 0.0, 0.0
		turned := false
		for range rapid.IntRange(1, 12).Draw(t, "poses") {
			next := rapid.Float64Range(-0.08, 0.08).Draw(t, "curvature")
			const wayM, n = 0.5, 5000
			heading := p.HeadingRad
			// As the crow flies: poses are near enough.
			p.HeadingRad += wayM * (curve + next) / 2
			p.EastM += wayM * math.Sin((heading+p.HeadingRad)/2)
			p.NorthM += wayM * math.Cos((heading+p.HeadingRad)/2)
			p.YawRateRadPerS = 2 * next
			for i := range n {
				// By the size of the curvature, which Follow knows at the poses.
				bend := math.Abs(curve) + (math.Abs(next)-math.Abs(curve))*(float64(i)+0.5)/n
				if tight := bend > 1.0/20; tight {
					straightM, turned = 0, true
				} else {
					straightM += wayM / n
				}
				if turned {
					turnedM += wayM / n
				}
			}
			if math.Abs(next) > 1.0/20 { // perhaps for less than a step
				straightM, turned = 0, true
			}
			turn := p.HeadingRad - heading
			right, left = max(0, right+turn-wayM/20), max(0, left-turn-wayM/20)
			curve = next
			g.Follow(&w, &p)
			tight := math.Abs(next) > 1.0/20
			if w.Turning != tight || !(math.Abs(w.RightRad-right) <= 1e-9) || !(math.Abs(w.LeftRad-left) <= 1e-9) {
				t.Fatalf("curvature %g: turning %v, %g rad right, %g left; want %v, %g, %g", next, w.Turning, w.RightRad, w.LeftRad, tight, right, left)
			}
			if !tight && !(math.Abs(w.StraightM-straightM) <= 1e-3) || tight && w.StraightM != 0 {
				t.Fatalf("curvature %g: straight for %g m; want %g", next, w.StraightM, straightM)
			}
			// Work on the pass, once the turn has closed, ends the way of the turn.
			if turned && !tight && w.Zones&bodyMask != 0 {
				turned, turnedM = false, 0
			}
			if !(math.Abs(w.TurnedM-turnedM) <= 1e-3) {
				t.Fatalf("curvature %g: turned for %g m; want %g", next, w.TurnedM, turnedM)
			}
			if max(right, left) > 3*math.Pi/180 && w.Zones&bodyMask != 0 && tight {
				t.Fatalf("turned by %g, %g rad too much, and the body takes part", right, left)
			}
			if w.Bend != math.Abs(next)*20 || w.EastM != p.EastM || w.HeadingRad != p.HeadingRad {
				t.Fatalf("newest pose: %+v", w)
			}
			// What begins anew is another test's.
			if w.Zones&bodyMask == 0 {
				return
			}
		}
	})
}

// The first pose: a path of just 20 m of radius is no turn, a tighter one is; then zones without rows
// alone take part.
func TestFirstPose(t *testing.T) {
	g, bodyMask, _, open := wideGate(t)
	for _, tc := range []struct {
		v, w    float64
		turning bool
	}{{2, 0.1, false}, {2, 0.101, true}, {-2, 0.101, true}, {2, -0.101, true}, {0.01, 0.0024, false}, {0.01, 0.0026, true}} {
		var w Follow
		g.Follow(&w, &motion.Pose{NorthM: 100, SpeedMps: tc.v, YawRateRadPerS: tc.w})
		zones, last := bodyMask|open, bodyMask
		if tc.turning {
			zones, last = open, 0
		}
		if w.Turning != tc.turning || w.Zones != zones || w.Last != last || w.Under != bodyMask {
			t.Errorf("%g m/s, %g rad/s: %+v", tc.v, tc.w, w)
		}
	}
	// What it worked last are zones with rows.
	var w Follow
	if g.Follow(&w, &motion.Pose{NorthM: 550, SpeedMps: 2}); w.Last != 0 || w.Under != open {
		t.Errorf("in the open zone: %+v", w)
	}
}

// At rest, and at a crawl that is not forward, nothing changes; a crawl of a centimetre is a way.
func TestFollowAtRest(t *testing.T) {
	g, _, _, _ := wideGate(t)
	for _, tc := range []struct {
		name    string
		forward float64
		v, bend float64
		moves   bool
	}{{"a crawl", 0.011, 0.04, 0, true}, {"less than a crawl", 0.009, 0.04, 0, false}, {"backwards", -0.5, 0.04, 0, false}, {"in a turn", 0.5, 0.04, 1.1, false}, {"slow, but driving", 0.009, 0.05, 0, true}} {
		w := Follow{Started: true, Zones: 5, Last: 1, Under: 1, NorthM: 100, StraightM: 7, Bend: tc.bend}
		before := w
		g.Follow(&w, &motion.Pose{NorthM: 100 + tc.forward, EastM: 0, SpeedMps: tc.v})
		if (w != before) != tc.moves {
			t.Errorf("%s: %+v", tc.name, w)
		}
		if tc.moves && !(math.Abs(w.StraightM-7-tc.forward) <= 1e-9) {
			t.Errorf("%s: straight for %g m; want %g", tc.name, w.StraightM, 7+tc.forward)
		}
	}
}

// Which zones begin, by the way since the turn closed: none within 3 m; within three widths, 18 m, none that the
// bar was in then, and no headland after a first turn of less than 18 m and 25 m off a body; but
// those worked last begin at once, and before the first pass all do.
func TestZonesBegin(t *testing.T) {
	g, bodyMask, headland, _ := wideGate(t)
	for _, tc := range []struct {
		name               string
		last, inside       field.Mask
		straightM, turnedM float64
		aligned, want      field.Mask
		trailed            bool
	}{
		{"before the first pass", 0, 3, 0, 0, 3, 3, false},
		{"2.9 m after the turn", bodyMask, 0, 2.9, 0, 3, 0, false},
		{"3.1 m after the turn", bodyMask, 0, 3.1, 0, 3, 3, false},
		{"inside since the turn", headland, bodyMask, 17.9, 0, bodyMask, 0, false},
		{"inside for three widths", headland, bodyMask, 18.1, 0, bodyMask, bodyMask, false},
		{"inside, and worked last", bodyMask, bodyMask, 5, 0, bodyMask, bodyMask, false},
		{"a headland after the first turn", bodyMask, 0, 5, 42, headland, 0, false},
		{"a headland after a long turn", bodyMask, 0, 5, 43.1, headland, headland, false},
		{"a headland without a turn", bodyMask, 0, 5, 0, headland, headland, false},
		{"a headland after a headland", headland, 0, 5, 42, headland, headland, false},
		{"a headland after both", headland | bodyMask, 0, 5, 42, headland, headland, false},
		{"the body after the first turn", headland, 0, 5, 42, bodyMask, bodyMask, false},
		{"a trailed tool at 8.9 m", bodyMask, 0, 8.9, 0, 3, 0, true},
		{"a trailed tool at 9.1 m", bodyMask, 0, 9.1, 0, 3, 3, true},
	} {
		m := *g.Machine
		if tc.trailed {
			m.Mount, m.DrawbarM = Trailed, 3
		}
		gate := *g
		gate.Machine = &m
		w := Follow{Last: tc.last, Inside: tc.inside, StraightM: tc.straightM, TurnedM: tc.turnedM, RightRad: 1, LeftRad: 2}
		if w.begin(&gate, tc.aligned, 0); w.Zones != tc.want || (w.RightRad == 0) != (tc.want != 0) || (w.LeftRad == 0) != (tc.want != 0) {
			t.Errorf("%s: %b begin; want %b; %+v", tc.name, w.Zones, tc.want, w)
		}
	}
}

// Work is on the zones under the bar that take part; after a turn that has closed it ends the turn's way.
func TestWork(t *testing.T) {
	g, _, _, _ := wideGate(t)
	for _, tc := range []struct {
		zones, under field.Mask
		turning      bool
		last         field.Mask
		turnedM      float64
	}{{3, 1, false, 1, 0}, {2, 1, false, 4, 9}, {3, 3, false, 3, 0}, {3, 1, true, 1, 9}} {
		w := Follow{Zones: tc.zones, Last: 4, TurnedM: 9, Turning: tc.turning}
		if w.work(g, tc.under); w.Last != tc.last || w.TurnedM != tc.turnedM {
			t.Errorf("%b of %b: %+v", tc.under, tc.zones, w)
		}
	}
}

// A step's part that is too tight, by a bend that is linear in the way.
func TestPartsOfAStep(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		was, is := rapid.Float64Range(0, 3).Draw(t, "was"), rapid.Float64Range(0, 3).Draw(t, "is")
		tight := 0
		const n = 10000
		for i := range n {
			if was+(is-was)*(float64(i)+0.5)/n > 1 {
				tight++
			}
		}
		share := float64(tight) / n
		if is <= 1 {
			if got := closedFrom(was, is); !(math.Abs(got-share) <= 2.0/n) {
				t.Fatalf("from %g to %g: closes after %g; want %g", was, is, got, share)
			}
		} else if got := tightFrom(was, is); !(math.Abs(1-got-share) <= 2.0/n) {
			t.Fatalf("from %g to %g: tight from %g on; want %g", was, is, got, 1-share)
		}
	})
	g, _, _, _ := wideGate(t)
	if got := math.Acos(g.cosLeave()) * 180 / math.Pi; !(math.Abs(got-22) <= 1e-9) {
		t.Errorf("a zone is left at %g°; want 22", got)
	}
}

// The zones under a bar are those that any end of its sections is in, wherever it stands.
func TestUnderBesideAllEnds(t *testing.T) {
	g, _, _, _ := wideGate(t)
	m := &Machine{AntennaXM: 1}
	for i := range 4 {
		m.Sections = append(m.Sections, Section{XM: -2 - float64(i%2), YM: 3 * (float64(i) - 1.5), WidthM: 2})
	}
	gate := *g
	gate.Machine = m
	rapid.Check(t, func(t *rapid.T) {
		p := motion.Pose{EastM: rapid.Float64Range(-510, 510).Draw(t, "east"), NorthM: rapid.SampledFrom([]float64{-100, 0, 500, 600, 250}).Draw(t, "border") + rapid.Float64Range(-12, 12).Draw(t, "north"), HeadingRad: rapid.Float64Range(-4, 4).Draw(t, "heading")}
		f := m.Frame(&p)
		want := field.Mask(0)
		for i := range m.Sections {
			le, ln, re, rn := m.Line(i, &f)
			for _, at := range []orb.Point{{le, ln}, {re, rn}} {
				want |= g.Field.At(at[0], at[1])
			}
		}
		if got := gate.Under(&f); got != want {
			t.Fatalf("at %+v: %b; want %b", p, got, want)
		}
	})
}

// The width and the reach of a bar, by all ends of its sections.
func TestWidthAndReach(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := &Machine{}
		right, reach, width := rapid.Float64Range(-9, 9).Draw(t, "left end"), 0.0, 0.0
		first := right
		for range rapid.IntRange(1, 6).Draw(t, "sections") {
			x, wide := rapid.Float64Range(-5, 5).Draw(t, "x"), rapid.Float64Range(0.5, 4).Draw(t, "width")
			m.Sections = append(m.Sections, Section{XM: x, YM: right + wide/2, WidthM: wide})
			reach = max(reach, math.Hypot(x, right), math.Hypot(x, right+wide))
			right += wide + rapid.Float64Range(0, 1).Draw(t, "gap")
			width = m.Sections[len(m.Sections)-1].YM + wide/2 - first
		}
		if !(math.Abs(m.WidthM()-width) <= 1e-9) || !(math.Abs(m.ReachM()-reach) <= 1e-9) {
			t.Fatalf("%g m wide, reaches %g m; want %g, %g", m.WidthM(), m.ReachM(), width, reach)
		}
	})
}

// While the machine turns over the middle of a zone that it works, sections in work look at that
// zone and those that are up at none with rows.
func TestViewInATurn(t *testing.T) {
	for _, north := range []float64{250, 550} { // the body, the open zone
		f := newField(t, body(0, rectangle(-500, 0, 500, 500)),
			field.Zone{Name: "open", Kind: field.Body, RowBearingRad: math.NaN(), Polygons: rectangle(-500, 500, 500, 600)})
		c := newController(t, bar(RearRigid, -2, 2, 1), f, nil)
		c.s.Follow = Follow{Started: true, Zones: 3, Turning: true, Under: 1, NorthM: north, Bend: 1.2}
		p := motion.Pose{NorthM: north, SpeedMps: 2, YawRateRadPerS: 0.12}
		v := viewOf(c, &p)
		open := north > 500
		if !v.alike || !v.inside || v.insideDrop != open || v.zones != 3 || v.drop != 2 {
			t.Errorf("at %g m: %+v", north, v)
		}
		for _, on := range []bool{false, true} {
			c.section[0].On = on
			if got := v.inWork(c, 0); got != (on || open) {
				t.Errorf("at %g m, in work %v: ought to be %v", north, on, got)
			}
		}
	}
}

// Whoever has backed is straight again from the first metre forward on; a step back of less than backM
// only takes that step off.
func TestStraightAfterBacking(t *testing.T) {
	g, _, _, _ := wideGate(t)
	p := motion.Pose{NorthM: 100, SpeedMps: 2}
	var w Follow
	g.Follow(&w, &p)
	drive := func(stepM float64, steps int) {
		for range steps {
			p.NorthM += stepM
			p.SpeedMps = 20 * stepM
			g.Follow(&w, &p)
		}
	}
	for _, tc := range []struct{ backM, forwardM, straightM float64 }{{0, 5, 5}, {0.2, 5, 9.8}, {10, 5, 5}, {0.2, 1, 5.8}} {
		drive(-0.1, int(math.Round(tc.backM*10)))
		drive(0.1, int(math.Round(tc.forwardM*10)))
		if !(math.Abs(w.StraightM-tc.straightM) <= 1e-9) {
			t.Errorf("%g m back and %g m forward: straight for %.12g m; want %g", tc.backM, tc.forwardM, w.StraightM, tc.straightM)
		}
	}
}
