// How the edge index is laid out: cells, blocks, and how a block bends.

package field

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections/geodesy"
)

// Cells are as small as is useful, and never more than a million, on a field of any
// shape and size.
func TestCells(t *testing.T) {
	for _, c := range []struct{ widthM, heightM float64 }{
		{1, 1}, {400, 300}, {700, 350}, {1000, 400}, {3000, 3000}, {19900, 3}, {3, 19900}, {19900, 20}, {20, 19900}, {14000, 14000},
	} {
		f, err := New(geodesy.Plane{}, nil, []Zone{{Kind: Body, RowBearingRad: math.NaN(), Polygons: orb.MultiPolygon{square(0, 0, c.widthM, c.heightM)}}})
		if err != nil {
			t.Fatal(err)
		}
		g := &f.grid
		if n := len(g.cells); n != g.nx*g.ny || n > maxCells || g.cellM < minCellM || g.cellM > minCellM && n < maxCells*9/10 {
			t.Errorf("%g m by %g m: %d by %d cells of %.2f m, %d in all", c.widthM, c.heightM, g.nx, g.ny, g.cellM, n)
		}
		margin := reachM + g.cellM
		if g.x0 > -margin || g.y0 > -margin || g.x1 < c.widthM+margin || g.y1 < c.heightM+margin {
			t.Errorf("%g m by %g m: the grid reaches from (%g, %g) to (%g, %g)", c.widthM, c.heightM, g.x0, g.y0, g.x1, g.y1)
		}
	}
}

func TestBend(t *testing.T) {
	for _, c := range []struct {
		name   string
		points [][2]float64
		want   float64
	}{
		{"one edge", [][2]float64{{1, 2}, {4, 6}}, 0},
		{"straight", [][2]float64{{0, 0}, {1, 2}, {3, 6}}, 0},
		{"to the left and back", [][2]float64{{0, 0}, {2, 1}, {4, 0}}, 0.5},
		{"to the right and back", [][2]float64{{0, 0}, {2, -1}, {4, 0}}, 0.5},
		{"the steeper of both", [][2]float64{{0, 0}, {1, 3}, {4, 0}}, 3},
		{"along north", [][2]float64{{5, 5}, {6, 7}, {5, 9}}, 0.5},
		{"slanting", [][2]float64{{0, 0}, {3, 1}, {4, 4}}, 0.5},
		{"at right angles", [][2]float64{{0, 0}, {0, 1}, {4, 1}, {4, 0}}, math.Inf(1)},
		{"backwards", [][2]float64{{0, 0}, {3, 1}, {2, 2}, {4, 0}}, math.Inf(1)},
	} {
		if got := bend(c.points); math.Abs(got-c.want) > 1e-15 && got != c.want {
			t.Errorf("%s: %g, want %g", c.name, got, c.want)
		}
	}
}

// Blocks of a dense border that turns little are about steadyM long, of a coarse one
// they have few edges; all points of a block lie within offM of its chord.
func TestBlocks(t *testing.T) {
	for _, c := range []struct {
		vertices     int
		shortM, farM float64 // most blocks are about as long as that
	}{{20000, 2.3, 2.5}, {2000, 1.1, 4}, {200, 5, 40}} {
		f := wavyField(t, c.vertices, 180)
		g := &f.grid
		var lengthM float64
		next := int32(0)
		for i := range g.blocks {
			b := &g.blocks[i]
			if b.first != next || b.last <= b.first {
				t.Fatalf("block %d is of edges %d to %d, after %d", i, b.first, b.last, next)
			}
			next = b.last
			chord := edge{px: b.px, py: b.py, qx: b.qx, qy: b.qy}
			for k := b.first; k < b.last; k++ {
				e := &g.edges[k]
				lengthM += e.lengthM()
				if d := max(chord.squaredM2(e.px, e.py), chord.squaredM2(e.qx, e.qy)); d > b.offM*b.offM {
					t.Fatalf("%d vertices: edge %d is %g m off the chord of its block, which has %g m", c.vertices, k, math.Sqrt(d), b.offM)
				}
			}
		}
		if int(next) != len(g.edges) {
			t.Fatalf("blocks hold %d edges of %d", next, len(g.edges))
		}
		if mean := lengthM / float64(len(g.blocks)); mean < c.shortM || mean > c.farM {
			t.Errorf("%d vertices: blocks are %.2f m long on average, want %g to %g", c.vertices, mean, c.shortM, c.farM)
		}
	}
}
