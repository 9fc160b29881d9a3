package lines_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/replay/zones/lines"
)

// arc is a quarter of a circle to the right from the origin, north first, a point about
// every metre.
func arc(radiusM float64) orb.LineString {
	var out orb.LineString
	n := int(radiusM * math.Pi / 2)
	for i := range n + 1 {
		s, c := math.Sincos(math.Pi / 2 * float64(i) / float64(n))
		out = append(out, orb.Point{radiusM * (1 - c), radiusM * s})
	}
	return out
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %.4f; want %.4f", what, got, want)
	}
}

// A straight line and a circle, whose fits are known in closed form.
func TestFitAndCurvature(t *testing.T) {
	l := orb.LineString{{0, 0}, {1, 2}, {2, 4}, {3, 6}}
	dir, aside := lines.Fit(l)
	near(t, "direction", dir, math.Atan2(1, 2), 1e-12)
	near(t, "aside", aside, 0, 1e-12)
	l.Reverse()
	dir, _ = lines.Fit(l)
	near(t, "direction back", math.Abs(lines.Turned(dir, math.Atan2(1, 2))), math.Pi, 1e-12)
	near(t, "curvature of a line", lines.Curvature(l), 0, 1e-12)
	// A short arc is nearly its parabola.
	near(t, "curvature", lines.Curvature(arc(100)[:30]), 1.0/100, 0.0001)
	left := arc(100)[:30]
	for i := range left {
		left[i][0] = -left[i][0]
	}
	near(t, "curvature to the left", lines.Curvature(left), -1.0/100, 0.0001)
}

// What is carried on stays on the circle, or on the line.
func TestCarriedOn(t *testing.T) {
	for _, p := range lines.CarriedOn(orb.LineString{{0, 0}, {0, 10}, {0, 20}, {0, 30}}) {
		near(t, "off the line", p[0], 0, 1e-9)
	}
	const radiusM = 150
	l := arc(radiusM)
	on := lines.CarriedOn(l[:len(l)/2])
	for _, p := range on {
		near(t, "radius", math.Hypot(p[0]-radiusM, p[1]), radiusM, 0.2)
	}
	if far := lines.Between(on[0], on[len(on)-1]); far < lines.CarriedM*0.9 {
		t.Errorf("carried on by %.1f m; want about %g", far, lines.CarriedM)
	}
}

// Two lines that stop short of their corner meet at it; so do two that run past it.
func TestMeet(t *testing.T) {
	for _, gap := range []float64{5, -5} {
		var a, b orb.LineString
		for i := range 60 {
			a = append(a, orb.Point{0, float64(i) - 60 - gap})
			b = append(b, orb.Point{float64(i) + gap + 1, 0})
		}
		x, ia, ib, ok := lines.Meet(a, b)
		if !ok {
			t.Fatalf("gap %g m: they do not meet", gap)
		}
		near(t, "east", x[0], 0, 1e-6)
		near(t, "north", x[1], 0, 1e-6)
		for _, p := range a[:ia] {
			if p[1] > 0 {
				t.Errorf("gap %g m: %v of the first line is kept, beyond the corner", gap, p)
			}
		}
		for _, p := range b[ib:] {
			if p[0] < 0 {
				t.Errorf("gap %g m: %v of the second line is kept, before the corner", gap, p)
			}
		}
	}
	if _, _, _, ok := lines.Meet(orb.LineString{{0, 0}, {0, 10}}, orb.LineString{{5, 0}, {5, 10}}); ok {
		t.Error("parallel lines meet")
	}
}

func TestBesideAndAside(t *testing.T) {
	l := orb.LineString{{0, 0}, {0, 10}, {10, 10}} // north, then east
	right := lines.Beside(l, 2)
	for i, want := range []orb.Point{{2, 0}, {2, 8}, {10, 8}} {
		near(t, "east", right[i][0], want[0], 1e-12)
		near(t, "north", right[i][1], want[1], 1e-12)
	}
	near(t, "right of it", lines.Aside(l, orb.Point{3, 5}), 3, 1e-12)
	near(t, "left of it", lines.Aside(l, orb.Point{-1, 5}), -1, 1e-12)
	near(t, "tilted", lines.Tilted(0.1, math.Pi+0.3), 0.2, 1e-12)
}
