// Paths between any two places and headings.

package drive

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func drawPlace(t *rapid.T, name string) place {
	return place{
		rapid.Float64Range(-60, 60).Draw(t, name+".east"),
		rapid.Float64Range(-60, 60).Draw(t, name+".north"),
		rapid.Float64Range(-4, 4).Draw(t, name+".heading"),
	}
}

// checkPath asks that p runs from a to b without a gap, a kink, a jump of
// curvature while moving, or more curvature or sharpness than the wheel has.
func checkPath(t failer, w *wheel, p path, a, b place) {
	at, k := a, 0.0
	for i := range p {
		l := &p[i]
		if d, _ := toward(at, l.start); d > 1e-7 {
			t.Fatalf("leg %d starts %g m from the end of the one before", i, d)
		}
		if turned := math.Abs(math.Remainder(at.headingRad-l.start.headingRad, 2*math.Pi)); turned > 1e-9 {
			t.Fatalf("leg %d starts with a kink of %g rad", i, turned)
		}
		if math.Abs(k-l.k0) > 1e-12 {
			t.Fatalf("leg %d: curvature jumps from %g to %g", i, k, l.k0)
		}
		if math.Abs(l.k1) > w.k*(1+1e-9) || math.Abs(l.sharpness()) > w.k/w.rampM*(1+1e-9) {
			t.Fatalf("leg %d: curvature %g, sharpness %g; the wheel has %g, %g", i, l.k1, l.sharpness(), w.k, w.k/w.rampM)
		}
		at, k = l.end(), l.k1
	}
	if d, _ := toward(at, b); d > 1e-7 || k != 0 {
		t.Fatalf("path ends %g m from its goal with curvature %g", d, k)
	}
	if turned := math.Abs(math.Remainder(at.headingRad-b.headingRad, 2*math.Pi)); turned > 1e-8 {
		t.Fatalf("path ends %g rad from its goal's heading", turned)
	}
}

func TestPathsReachTheirGoal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		radius := rapid.Float64Range(3, 12).Draw(t, "radius")
		w := newWheel(radius, 1/radius/rapid.Float64Range(0.3, 2.5*radius).Draw(t, "ramp"))
		a, b := drawPlace(t, "a"), drawPlace(t, "b")
		for _, s1 := range []float64{toLeft, toRight} {
			for _, s2 := range []float64{toLeft, toRight} {
				if p, ok := w.turnStraightTurn(a, b, s1, s2, 1); ok {
					checkPath(t, &w, p, a, b)
				}
			}
			if p, ok := w.threeTurns(a, b, s1, 1); ok {
				checkPath(t, &w, p, a, b)
			}
			b.headingRad = a.headingRad + math.Pi
			if p, ok := w.turnBackTurn(a, b, s1, 1); ok {
				checkPath(t, &w, p, a, b)
			}
		}
	})
}
