// Sides, the points that are kept of a ring, and outlines, by hand.

package headland

import (
	"math"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections/field/polygon"
)

// The corners of a ring are kept, wherever it begins, and points within the tolerance
// of the line between them are not.
func TestSimplifiedRing(t *testing.T) {
	ring := orb.Ring{{50, 0.05}, {100, 0}, {100, 30}, {100.2, 60}, {50, 60}, {0, 60}, {-0.05, 30}, {0, 0}}
	for _, c := range []struct {
		toleranceM float64
		want       []orb.Point
	}{
		{0.3, []orb.Point{{100, 0}, {100.2, 60}, {0, 60}, {0, 0}}},
		{0.07, []orb.Point{{100, 0}, {100, 30}, {100.2, 60}, {0, 60}, {0, 0}}},
		{0.01, []orb.Point{{50, 0.05}, {100, 0}, {100, 30}, {100.2, 60}, {0, 60}, {-0.05, 30}, {0, 0}}},
	} {
		for shift := range ring {
			turned := append(slices.Clone(ring[shift:]), ring[:shift]...)
			keep := simplifiedRing(turned, c.toleranceM)
			if !slices.IsSorted(keep) || len(keep) != len(c.want) {
				t.Errorf("beginning at point %d, within %g m: kept %v, want %d points in order", shift, c.toleranceM, keep, len(c.want))
				continue
			}
			for _, k := range keep {
				if !slices.Contains(c.want, turned[k]) {
					t.Errorf("beginning at point %d, within %g m: kept %v", shift, c.toleranceM, turned[k])
				}
			}
		}
	}
	thin := orb.Ring{{0, 0}, {10, 0.001}, {20, 0}}
	if keep := simplifiedRing(thin, 0.1); !slices.Equal(keep, []int{0, 1, 2}) {
		t.Errorf("of a thin ring %v are kept, want all", keep)
	}
}

// Sides begin at the sharpest corner, so that a side that bends a little is one.
func TestSidesOf(t *testing.T) {
	for name, corners := range map[string]orb.Ring{
		"triangle with a bent side": {{0, 0}, {100, -8}, {200, 0}, {141, 51}},
		"with a bent side first":    {{100, -8}, {200, 0}, {141, 51}, {0, 0}},
	} {
		sides := sidesOf(append(corners, corners[0]))
		if len(sides) != 3 {
			t.Errorf("%s: %d sides, want 3", name, len(sides))
			continue
		}
		if s := &sides[0]; s.points[0] != (orb.Point{0, 0}) || s.dx != 200 || s.dy != 0 || len(s.points) != 3 || math.Abs(s.lengthM-2*math.Hypot(100, 8)) > 1e-9 {
			t.Errorf("%s: the first side is %+v", name, *s)
		}
		for i := range sides {
			next := &sides[(i+1)%3]
			if last := sides[i].points[len(sides[i].points)-1]; last != next.points[0] {
				t.Errorf("%s: side %d ends at %v, the next begins at %v", name, i, last, next.points[0])
			}
		}
	}
}

// An outline is sound unless an edge between two bends is too short for the width.
func TestOutline(t *testing.T) {
	for _, c := range []struct {
		name   string
		line   orb.LineString
		widthM float64
		sound  bool
		m2     float64 // where it is sound
	}{
		{"east", orb.LineString{{0, 0}, {100, 0}}, 10, true, 100 * (10 + outwardM)},
		{"north", orb.LineString{{0, 0}, {0, 100}}, 10, true, 100 * (10 + outwardM)},
		{"south-west", orb.LineString{{0, 0}, {-60, -80}}, 10, true, 100 * (10 + outwardM)},
		{"left bend", orb.LineString{{0, 0}, {100, 0}, {200, 50}}, 10, true, math.NaN()},
		{"right bend", orb.LineString{{0, 0}, {100, 0}, {200, -50}}, 10, true, math.NaN()},
		{"jog", orb.LineString{{0, 0}, {100, 0}, {100.1, -0.1}, {200, -0.1}}, 10, false, 0},
		{"jog, turned", orb.LineString{{0, 0}, {0, 100}, {0.1, 100.1}, {0.1, 200}}, 10, false, 0},
		{"jog, narrow strip", orb.LineString{{0, 0}, {100, 0}, {110, -10}, {200, -10}}, 10, true, math.NaN()},
		{"two left bends close together", orb.LineString{{0, 0}, {100, 0}, {101, 1}, {101, 100}}, 10, false, 0},
		{"jog at the end", orb.LineString{{0, 0}, {100, 0}, {100.5, 0.5}}, 10, false, 0},
	} {
		p, sound := outline(c.line, c.widthM)
		if sound != c.sound {
			t.Errorf("%s: sound is %t", c.name, sound)
		}
		if got := polygon.AreaM2(orb.MultiPolygon{p}); sound && math.Abs(got-c.m2) > 1e-9 {
			t.Errorf("%s: %g m², want %g", c.name, got, c.m2)
		}
	}
}

// A body narrower than sliverM is none.
func TestSliver(t *testing.T) {
	for widthM, want := range map[float64]bool{20.03: false, 20.07: true} {
		boundary := orb.MultiPolygon{{{{0, 0}, {200, 0}, {200, widthM}, {0, widthM}, {0, 0}}}}
		if body, _, err := Cut(boundary, 10, nil); (err == nil) != want {
			t.Errorf("headland of 10 m in a field %g m wide: body %v, %v", widthM, body, err)
		}
	}
}
