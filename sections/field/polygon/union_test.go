package polygon

import (
	"math"
	"reflect"
	"testing"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"
)

func TestUnion(t *testing.T) {
	ring := orb.Polygon{square(0, 0, 10, 10), {{3, 3}, {3, 7}, {7, 7}, {7, 3}, {3, 3}}}
	for _, c := range []struct {
		name     string
		mp       orb.MultiPolygon
		polygons int
		m2       float64
	}{
		{"apart", orb.MultiPolygon{{square(0, 0, 10, 10)}, {square(20, 0, 30, 10)}}, 2, 200},
		{"overlapping", orb.MultiPolygon{{square(0, 0, 10, 10)}, {square(5, 5, 15, 15)}}, 1, 175},
		{"first and last overlap", orb.MultiPolygon{{square(0, 0, 10, 10)}, {square(20, 0, 30, 10)}, {square(5, 5, 15, 15)}}, 2, 275},
		{"side by side", orb.MultiPolygon{{square(0, 0, 10, 10)}, {square(10, 0, 20, 10)}}, 1, 200},
		{"one inside the other", orb.MultiPolygon{{square(0, 0, 10, 10)}, {square(2, 2, 4, 4)}}, 1, 100},
		{"in a hole", orb.MultiPolygon{ring, {square(4, 4, 5, 5)}}, 2, 85},
		{"over a hole", orb.MultiPolygon{ring, {square(3, 3, 7, 7)}}, 1, 100},
	} {
		t.Run(c.name, func(t *testing.T) {
			u, err := Union(c.mp)
			if err != nil {
				t.Fatal(err)
			}
			if m2 := AreaM2(u); len(u) != c.polygons || math.Abs(m2-c.m2) > 1e-9 {
				t.Errorf("%d polygons, %g m²; want %d, %g", len(u), m2, c.polygons, c.m2)
			}
		})
	}
}

// What the library gets comes back as it was, and points and lines are left out.
func TestGeom(t *testing.T) {
	mp := orb.MultiPolygon{{square(0, 0, 10, 10), {{2, 2}, {2, 4}, {4, 4}, {4, 2}, {2, 2}}}, {square(20, 0, 30, 10)}}
	if got := FromGeom(ToGeom(mp)); !reflect.DeepEqual(got, mp) {
		t.Errorf("%v came back as %v", mp, got)
	}
	for name, other := range map[string]orb.Ring{"an edge": square(10, 0, 20, 10), "a corner": square(10, 10, 20, 20)} {
		touch, err := geom.Intersection(ToGeom(orb.MultiPolygon{{square(0, 0, 10, 10)}}), ToGeom(orb.MultiPolygon{{other}}))
		if err != nil {
			t.Fatal(err)
		}
		if got := FromGeom(touch); len(got) != 0 {
			t.Errorf("touching in %s gives %v", name, got)
		}
	}
}

func TestAreaM2(t *testing.T) {
	clockwise := orb.Ring{{0, 0}, {0, 3}, {4, 0}, {0, 0}}
	for _, c := range []struct {
		name string
		mp   orb.MultiPolygon
		want float64
	}{
		{"nothing", nil, 0},
		{"clockwise triangle", orb.MultiPolygon{{clockwise}}, 6},
		{"square", orb.MultiPolygon{{square(1, 2, 4, 7)}}, 15},
		{"hole of either direction", orb.MultiPolygon{{square(0, 0, 10, 10), square(1, 1, 3, 3)}, {square(20, 0, 30, 10), {{21, 1}, {21, 3}, {23, 3}, {23, 1}, {21, 1}}}}, 192},
		{"far away", orb.MultiPolygon{{square(19000, 5000, 19000.5, 5000.25)}}, 0.125},
	} {
		if got := AreaM2(c.mp); got != c.want {
			t.Errorf("%s: %g m², want %g", c.name, got, c.want)
		}
	}
	if a, b := ringAreaM2(square(0, 0, 2, 3)), ringAreaM2(clockwise); a != 6 || b != -6 {
		t.Errorf("signed areas %g and %g, want 6 and -6", a, b)
	}
}
