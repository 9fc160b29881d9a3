package polygon

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"
)

func TestSnap(t *testing.T) {
	const tolM = 0.02
	for _, c := range []struct {
		name      string
		near, far orb.Ring // of two polygons; the second changes
		want      string   // the second; nothing = as it was
		wantFirst string   // the first; nothing = as it was
	}{
		{name: "far apart", near: square(0, 0, 1, 1), far: square(5, 0, 6, 1)},
		{name: "corners within reach", near: square(0, 0, 1, 1), far: square(1.015, 0.01, 2, 1.01),
			want: "[[1 0] [2 0.01] [2 1.01] [1 1] [1 0]]"},
		{name: "corners just out of reach", near: square(0, 0, 1, 1), far: square(1.021, 0, 2, 1)},
		{name: "the nearest corner", near: orb.Ring{{0, 0}, {1, 0}, {1, 0.015}, {0, 1}, {0, 0}}, far: square(1.005, 0.01, 2, 1),
			want: "[[1 0.015] [2 0.01] [2 1] [1.005 1] [1 0.015]]", wantFirst: "[[0 0] [1 0] [1 0.015] [0 1] [0 0]]"},
		{name: "corner on an edge of the first", near: square(0, 0, 1, 1), far: orb.Ring{{1.01, 0.5}, {2, 0}, {2, 1}, {1.01, 0.5}},
			wantFirst: "[[0 0] [1 0] [1.01 0.5] [1 1] [0 1] [0 0]]"},
		{name: "corners on edges of the second, in order", near: orb.Ring{{-1, 0.3}, {0.01, 0.2}, {0, 0.5}, {0.01, 0.8}, {-1, 0.7}, {-1, 0.3}}, far: square(0, 0, 1, 1),
			want: "[[0 0] [1 0] [1 1] [0 1] [0.01 0.8] [0 0.5] [0.01 0.2] [0 0]]"},
		{name: "corner beside an edge, out of reach", near: square(0, 0, 1, 1), far: orb.Ring{{1.021, 0.5}, {2, 0}, {2, 1}, {1.021, 0.5}}},
		{name: "corner beyond an edge's end", near: square(0, 0, 1, 1), far: orb.Ring{{1, 1.03}, {2, 2}, {0, 2}, {1, 1.03}}},
		{name: "below zero", near: square(-1, -1, -0.04, 1), far: square(-0.025, -1, 1, 1),
			want: "[[-0.04 -1] [1 -1] [1 1] [-0.04 1] [-0.04 -1]]"},
	} {
		t.Run(c.name, func(t *testing.T) {
			first, second := fmt.Sprint(c.near), fmt.Sprint(c.far)
			if c.wantFirst != "" {
				first = c.wantFirst
			}
			if c.want != "" {
				second = c.want
			}
			shapes := []orb.MultiPolygon{{{c.near.Clone()}}, {{c.far.Clone()}}}
			Snap(shapes, tolM)
			if got := fmt.Sprint(shapes[0][0][0]); got != first {
				t.Errorf("first  %s\nwant   %s", got, first)
			}
			if got := fmt.Sprint(shapes[1][0][0]); got != second {
				t.Errorf("second %s\nwant   %s", got, second)
			}
		})
	}
}

// A polygon's own corners stay apart, however near, and one polygon alone stays as
// it is. Polygons of one shape are joined like those of two.
func TestSnapOfOneShape(t *testing.T) {
	thin := orb.Ring{{0, 0}, {1, 0}, {1, 0.01}, {0, 0.01}, {0, 0}}
	alone := []orb.MultiPolygon{{{thin.Clone()}}}
	Snap(alone, 0.02)
	if got := fmt.Sprint(alone[0][0][0]); got != fmt.Sprint(thin) {
		t.Errorf("alone: %s, want %v", got, thin)
	}
	pair := []orb.MultiPolygon{{{thin.Clone()}, {square(1.015, -1, 3, 0.006)}}}
	Snap(pair, 0.02)
	if got := fmt.Sprint(pair[0][0][0]); got != fmt.Sprint(thin) {
		t.Errorf("first: %s, want %v", got, thin)
	}
	if got := fmt.Sprint(pair[0][1][0]); got != "[[1.015 -1] [3 -1] [3 0.006] [1 0.01] [1.015 -1]]" {
		t.Errorf("second: %s", got)
	}
}

// Three polygons whose corners lie on a lattice of 1 m, each up to 1 cm off: after
// Snap, corners of one lattice point are the same, and every edge that passes another
// polygon's corner has it.
func TestSnapOnLattice(t *testing.T) {
	const tolM = 0.03
	rng := rand.New(rand.NewPCG(3, 4))
	passed := 0
	for range 500 {
		var shapes []orb.MultiPolygon
		var rings [][][2]int // lattice points
		for range 3 {
			var ring [][2]int
			for len(ring) < 3+rng.IntN(3) {
				if p := [2]int{rng.IntN(7) - 3, rng.IntN(7) - 3}; !slices.Contains(ring, p) {
					ring = append(ring, p)
				}
			}
			var r orb.Ring
			for _, p := range ring {
				r = append(r, orb.Point{float64(p[0]) + 0.02*rng.Float64() - 0.01, float64(p[1]) + 0.02*rng.Float64() - 0.01})
			}
			rings = append(rings, append(ring, ring[0]))
			shapes = append(shapes, orb.MultiPolygon{{append(r, r[0])}})
		}
		Snap(shapes, tolM)
		at := map[[2]int]orb.Point{}
		for i := range shapes {
			var got [][2]int
			for _, p := range shapes[i][0][0] {
				node := [2]int{int(math.Round(p[0])), int(math.Round(p[1]))}
				if before, ok := at[node]; ok && before != p {
					t.Fatalf("lattice point %v is at %v and at %v", node, before, p)
				}
				at[node] = p
				got = append(got, node)
			}
			// Along each edge, the corners of other polygons.
			want := [][2]int{rings[i][0]}
			for k := 1; k < len(rings[i]); k++ {
				a, b := rings[i][k-1], rings[i][k]
				steps := gcd(b[0]-a[0], b[1]-a[1])
				for step := 1; step < steps; step++ {
					p := [2]int{a[0] + (b[0]-a[0])/steps*step, a[1] + (b[1]-a[1])/steps*step}
					for j := range rings {
						if j != i && slices.Contains(rings[j], p) {
							want = append(want, p)
							passed++
							break
						}
					}
				}
				want = append(want, b)
			}
			if !slices.Equal(got, want) {
				t.Fatalf("polygon %d of %v has the corners %v, want %v", i, rings, got, want)
			}
		}
	}
	if passed < 100 {
		t.Errorf("only %d corners lie on edges", passed)
	}
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return max(a, -a)
}
