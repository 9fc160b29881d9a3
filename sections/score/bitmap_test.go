// Ground on a bitmap: strips that abut share no cell.

package score

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
)

func newRepeats(n int, widthM float64) *repeats {
	m := rearBar(n, widthM, 0)
	return &repeats{sections: m.Sections, cells: make([]int64, n)}
}

func sum(list []int64) (total int64) {
	for _, v := range list {
		total += v
	}
	return total
}

// Strips side by side and one after another, at any bearing, never share a
// cell; together they hold as many as the ground they cover; a second coat is
// all repeat, each cell at the section that painted it.
func TestStripsAbut(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for range 40 {
		m, err := newBitmap(orb.Point{-30, -30}, orb.Point{30, 30})
		if err != nil {
			t.Fatal(err)
		}
		const n, width, length = 6, 0.5, 20.0
		again := newRepeats(n, width)
		sin, cos := math.Sincos(float64(r.IntN(24)) * 15 * deg)
		at := func(along, y float64) orb.Point {
			return orb.Point{along*sin + y*cos, along*cos - y*sin}
		}
		coat := func(i, j int) {
			left, right := (float64(i)-n/2)*width, (float64(j+1)-n/2)*width
			for along := -length / 2; along < length/2; along += 2.5 {
				quad := [4]orb.Point{at(along, left), at(along, right), at(along+2.5, right), at(along+2.5, left)}
				again.aim(i, j, &quad)
				m.fill(&quad, again)
			}
		}
		for i := range n {
			coat(i, i)
		}
		if got := sum(again.cells); got != 0 {
			t.Fatalf("%d cells painted twice by strips that only touch", got)
		}
		near(t, "area", m.cellsM2(m.painted), n*width*length, 0.005*n*width*length)
		first := m.painted
		coat(0, n-1)
		if sum(again.cells) != first || m.painted != first {
			t.Fatalf("second coat: %d of %d cells again, %d in all", sum(again.cells), first, m.painted)
		}
		for _, cells := range again.cells { // each side lies up to a cell off
			near(t, "of each section", m.cellsM2(cells), width*length, 1.5*m.cellM*length)
		}
		set := 0
		for _, w := range m.words {
			set += bits.OnesCount64(w)
		}
		if int64(set) != m.painted {
			t.Fatalf("%d bits set, %d counted", set, m.painted)
		}
	}
}

// A side is the same from both polygons that share it, bit for bit.
func TestEdgeHasNoDirection(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	m, err := newBitmap(orb.Point{0, 0}, orb.Point{3, 3})
	if err != nil {
		t.Fatal(err)
	}
	for range 1000 {
		p, q := orb.Point{r.Float64(), r.Float64()}, orb.Point{r.Float64(), r.Float64()}
		if m.edge(p, q) != m.edge(q, p) {
			t.Fatalf("%v to %v: %v, back %v", p, q, m.edge(p, q), m.edge(q, p))
		}
	}
}

// A quadrilateral holds the cells whose centres a search by angles puts inside.
func TestFillAgainstPointInPolygon(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	m, err := newBitmap(orb.Point{0, 0}, orb.Point{3, 3})
	if err != nil {
		t.Fatal(err)
	}
	for range 300 {
		clear(m.words)
		m.painted = 0
		var quad [4]orb.Point // may cross itself and leave the box
		for i := range quad {
			quad[i] = orb.Point{r.Float64()*4 - 0.5, r.Float64()*4 - 0.5}
		}
		again := newRepeats(1, 1)
		m.fill(&quad, again)
		for row := range m.rows {
			for col := range m.columns {
				x, y := m.eastM+float64(col)*m.cellM, m.northM+float64(row)*m.cellM
				inside := false
				for i := range quad {
					p, q := quad[i], quad[(i+1)%4]
					if (p[1] > y) != (q[1] > y) && x < p[0]+(y-p[1])/(q[1]-p[1])*(q[0]-p[0]) {
						inside = !inside
					}
				}
				if got := m.words[(row*m.columns+col)>>6]>>((row*m.columns+col)&63)&1 == 1; got != inside {
					t.Fatalf("cell (%d, %d) of %v: %v, want %v", row, col, quad, got, inside)
				}
			}
		}
	}
}

// The bitmap stays within 8 MB however large the ground, and is never finer than 5 cm.
func TestBitmapSize(t *testing.T) {
	for _, size := range [][2]float64{{0, 0}, {100, 40}, {900, 536}, {30e3, 20e3}, {9e5, 0}, {0, 9e5}} {
		m, err := newBitmap(orb.Point{5, 5}, orb.Point{5 + size[0], 5 + size[1]})
		if err != nil {
			t.Fatal(err)
		}
		if bytes := 8 * len(m.words); m.cellM < finestCellM || bytes > 8<<20 {
			t.Errorf("%v m: cells of %g m, %d bytes", size, m.cellM, bytes)
		}
	}
	if _, err := newBitmap(orb.Point{0, 0}, orb.Point{1e9, 1e9}); err == nil {
		t.Error("no error for ground of thousands of kilometres")
	}
}
