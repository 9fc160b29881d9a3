package polygon

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"
)

func square(x0, y0, x1, y1 float64) orb.Ring {
	return orb.Ring{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}}
}

func TestCleanFlaws(t *testing.T) {
	outer := square(0, 0, 10, 10)
	for _, c := range []struct {
		name string
		mp   orb.MultiPolygon
		want string // nothing = no flaw
	}{
		{"no polygon", orb.MultiPolygon{}, "no polygon; expected at least one, nowhere"},
		{"no rings", orb.MultiPolygon{{}}, "polygon without rings; expected an outer ring, nowhere"},
		{"no points", orb.MultiPolygon{{{}}}, "ring of 0 distinct points; expected at least 3, nowhere"},
		{"one point", orb.MultiPolygon{{{{3, 4}}}}, "ring of 1 distinct points; expected at least 3, at [3 4]"},
		{"two points", orb.MultiPolygon{{{{3, 4}, {5, 4}, {3, 4}}}}, "ring of 2 distinct points; expected at least 3, at [3 4]"},
		{"three points", orb.MultiPolygon{{{{3, 4}, {5, 4}, {5, 6}}}}, ""},
		{"not a number", orb.MultiPolygon{{{{0, 0}, {1, math.NaN()}, {0, 1}}}}, "point more than 20 km from the plane's origin, or not a number, at [1 NaN]"},
		{"just near enough", orb.MultiPolygon{{{{0, 0}, {12000, 16000}, {0, 1}}}}, ""},
		{"too far", orb.MultiPolygon{{{{0, 0}, {12000, 16000.001}, {0, 1}}}}, "point more than 20 km from the plane's origin, or not a number, at [12000 16000.001]"},
		{"bow tie", orb.MultiPolygon{{{{0, 0}, {2, 2}, {2, 0}, {0, 2}}}}, "ring crosses itself, at [1 1]"},
		{"crossing off the middle", orb.MultiPolygon{{{{0, 0}, {8, 0}, {8, 6}, {2, 6}, {2, -2}, {1, -2}}}}, "ring crosses itself, at [2 0]"},
		{"second polygon", orb.MultiPolygon{{outer}, {{{0, 0}, {2, 2}, {2, 0}, {0, 2}}}}, "ring crosses itself, at [1 1]"},
		{"vertex on a later edge", orb.MultiPolygon{{{{0, 0}, {10, 0}, {5, 8}, {10, 10}, {5, 10}, {5, 8}}}}, "ring touches itself (holes belong in rings of their own), at [5 8]"},
		{"vertex on an edge", orb.MultiPolygon{{{{0, 0}, {10, 0}, {10, 10}, {5, 0}, {0, 10}}}}, "ring touches itself (holes belong in rings of their own), at [5 0]"},
		{"vertex in line with an edge", orb.MultiPolygon{{{{0, 0}, {4, 0}, {4, 4}, {8, 0}, {9, 9}, {0, 9}}}}, ""},
		{"doubles back", orb.MultiPolygon{{{{0, 0}, {4, 0}, {4, 4}, {4, 6}, {4, 5}, {0, 5}}}}, "ring doubles back on itself, at [4 6]"},
		{"doubles back at its first point", orb.MultiPolygon{{{{0, 0}, {2, 0}, {2, 2}, {4, 2}, {4, -1}, {1, -1}, {1, 0}}}}, "ring doubles back on itself, at [0 0]"},
		{"goes straight on", orb.MultiPolygon{{{{0, 0}, {2, 0}, {4, 0}, {4, 4}}}}, ""},
		{"hole", orb.MultiPolygon{{outer, square(2, 2, 4, 4)}}, ""},
		{"hole that touches", orb.MultiPolygon{{outer, {{0, 5}, {4, 4}, {4, 6}}}}, ""},
		{"holes that touch", orb.MultiPolygon{{outer, square(2, 2, 4, 4), square(4, 4, 6, 6)}}, ""},
		{"hole outside", orb.MultiPolygon{{outer, square(12, 2, 14, 4)}}, "hole outside its polygon's outer ring, at [12 2]"},
		{"hole around", orb.MultiPolygon{{outer, square(-1, -1, 11, 11)}}, "hole outside its polygon's outer ring, at [-1 -1]"},
		{"second hole outside", orb.MultiPolygon{{outer, square(2, 2, 4, 4), square(12, 2, 14, 4)}}, "hole outside its polygon's outer ring, at [12 2]"},
		{"hole across", orb.MultiPolygon{{outer, square(8, 2, 12, 4)}}, "two rings of one polygon cross, at [10 2]"},
		{"hole in a hole", orb.MultiPolygon{{outer, square(2, 2, 8, 8), square(4, 4, 5, 5)}}, "hole inside another hole, at [4 4]"},
		{"hole in a later hole", orb.MultiPolygon{{outer, square(4, 4, 5, 5), square(2, 2, 8, 8)}}, "hole inside another hole, at [4 4]"},
		{"hole in the box of another", orb.MultiPolygon{{outer, {{1, 1}, {9, 1}, {1, 9}}, square(6, 6, 8, 8)}}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, flaw := Clean(c.mp)
			got := ""
			if flaw != nil {
				got = flaw.Text
				if flaw.Nowhere {
					got += ", nowhere"
				} else {
					got += fmt.Sprintf(", at %v", [2]float64(flaw.At))
				}
			}
			if got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

// Rings come back closed, the outer one counter-clockwise and holes clockwise,
// without repeated points; what was given stays as it is.
func TestCleanRings(t *testing.T) {
	const little, more = 0.9e-6, 1.1e-6
	for _, c := range []struct {
		name  string
		ring  orb.Ring
		shell bool
		want  orb.Ring
	}{
		{"closed", orb.Ring{{0, 0}, {4, 0}, {4, 4}, {0, 0}}, true, orb.Ring{{0, 0}, {4, 0}, {4, 4}, {0, 0}}},
		{"open", orb.Ring{{0, 0}, {4, 0}, {4, 4}}, true, orb.Ring{{0, 0}, {4, 0}, {4, 4}, {0, 0}}},
		{"clockwise", orb.Ring{{0, 0}, {4, 4}, {4, 0}}, true, orb.Ring{{0, 0}, {4, 0}, {4, 4}, {0, 0}}},
		{"hole", orb.Ring{{0, 0}, {4, 0}, {4, 4}}, false, orb.Ring{{0, 0}, {4, 4}, {4, 0}, {0, 0}}},
		{"clockwise hole", orb.Ring{{0, 0}, {4, 4}, {4, 0}}, false, orb.Ring{{0, 0}, {4, 4}, {4, 0}, {0, 0}}},
		{"repeated points", orb.Ring{{0, 0}, {0, little}, {4, 0}, {4, 0}, {4 + little, 0}, {4, 4}, {little, 0}}, true, orb.Ring{{0, 0}, {4, 0}, {4, 4}, {0, 0}}},
		{"points hardly apart", orb.Ring{{0, 0}, {4, 0}, {4, more}, {4, 4}}, true, orb.Ring{{0, 0}, {4, 0}, {4, more}, {4, 4}, {0, 0}}},
		{"end hardly apart", orb.Ring{{0, 0}, {4, 0}, {4, 4}, {0, more}}, true, orb.Ring{{0, 0}, {4, 0}, {4, 4}, {0, more}, {0, 0}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := slices.Clone(c.ring)
			got, flaw := CleanRing(c.ring, c.shell)
			if flaw != nil {
				t.Fatal(flaw.Text)
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("got %v, want %v", got, c.want)
			}
			if !slices.Equal(c.ring, before) {
				t.Errorf("the ring that was given has become %v", c.ring)
			}
		})
	}
	hole, _ := Clean(orb.MultiPolygon{{square(0, 0, 10, 10), square(2, 2, 4, 4)}, {square(20, 0, 30, 10)}})
	if len(hole) != 2 || len(hole[0]) != 2 || ringAreaM2(hole[0][0]) != 100 || ringAreaM2(hole[0][1]) != -4 || ringAreaM2(hole[1][0]) != 100 {
		t.Errorf("square with a hole, and another: %v", hole)
	}
}

// Rings of random points on a small lattice, where all sorts of contact are
// common, have a flaw exactly where simplefeatures finds them not simple; stretched
// either way, so that they are swept along either axis.
func TestCrossingAgainstSimplefeatures(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	sound := 0
	for k := range 20000 {
		n := 3 + rng.IntN(6)
		stretch := [2]float64{1, 1}
		stretch[k%2] = 16
		ring := make(orb.Ring, 0, n+1)
		for range n {
			p := orb.Point{float64(rng.IntN(7)) * stretch[0], float64(rng.IntN(7)) * stretch[1]}
			if len(ring) == 0 || p != ring[len(ring)-1] && p != ring[0] {
				ring = append(ring, p)
			}
		}
		if len(ring) < 3 {
			continue
		}
		ring = append(ring, ring[0])
		var xy []float64
		for _, p := range ring {
			xy = append(xy, p[0], p[1])
		}
		simple := geom.NewLineString(geom.NewSequence(xy, geom.DimXY)).IsSimple()
		flaw := Crossing(orb.Polygon{ring})
		if simple != (flaw == nil) {
			t.Fatalf("ring %v: simple %t, flaw %+v", ring, simple, flaw)
		}
		if simple {
			sound++
		}
	}
	if sound < 1000 {
		t.Errorf("only %d rings are sound", sound)
	}
}

// A ring of 20000 points is checked in no time, and its only crossing found.
func TestLargeRingCrossing(t *testing.T) {
	const n = 20000
	r := make(orb.Ring, 0, n+1)
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / n)
		d := 200 + 20*math.Sin(7*2*math.Pi*float64(i)/n)
		r = append(r, orb.Point{d * c, d * s})
	}
	r = append(r, r[0])
	r[5000], r[5001] = r[5001], r[5000]
	_, flaw := CleanRing(r, true)
	if flaw != nil {
		t.Fatal(flaw.Text)
	}
	if flaw = Crossing(orb.Polygon{r}); flaw == nil || flaw.Text != "ring crosses itself" {
		t.Fatalf("found %v", flaw)
	}
	if d := math.Hypot(flaw.At[0]-r[5000][0], flaw.At[1]-r[5000][1]); d > 1 {
		t.Errorf("crossing found %g m away", d)
	}
}
