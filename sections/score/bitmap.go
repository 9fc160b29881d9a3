// One bit for each cell of the ground: worked already or not.

package score

import (
	"fmt"
	"math"
	"math/bits"

	"github.com/paulmach/orb"
)

const (
	finestCellM = 0.05
	mostCells   = 48e6 // 6 MB
	marginCells = 3
	mostM       = 1e6
)

// bitmap covers a box of the plane with square cells. A cell belongs to the
// polygon that holds its centre; a centre on a polygon's edge belongs to the
// one that lies to the east of it (to the north of a level edge).
type bitmap struct {
	cellM   float64
	eastM   float64 // of the centres of column 0
	northM  float64 // of the centres of row 0
	columns int
	rows    int
	words   []uint64 // row after row, the lowest bit first
	painted int64    // bits set
}

// newBitmap covers the box from lo to hi.
func newBitmap(lo, hi orb.Point) (*bitmap, error) {
	w, h := hi[0]-lo[0], hi[1]-lo[1]
	if !(w >= 0 && h >= 0 && w < mostM && h < mostM) {
		return nil, fmt.Errorf("the worked ground spans %g m by %g m; expected less than %g m each way", w, h, mostM)
	}
	cell := max(finestCellM, math.Sqrt(w*h/mostCells))
	for (w/cell+marginCells)*(h/cell+marginCells) > mostCells {
		cell *= 1.05
	}
	// The margin of a bit more than half a cell keeps centres off round coordinates.
	m := &bitmap{cellM: cell, eastM: lo[0] - 0.6180339887*cell, northM: lo[1] - 0.5772156649*cell}
	m.columns, m.rows = int(w/cell)+marginCells, int(h/cell)+marginCells
	m.words = make([]uint64, (m.columns*m.rows+63)/64)
	return m, nil
}

// cellsM2 returns the area of n cells.
func (m *bitmap) cellsM2(n int64) float64 { return float64(n) * m.cellM * m.cellM }

// edge is one side of a polygon in units of cells, from its lower end upwards.
type edge struct{ low, high, column, slope float64 }

// at returns the column, not rounded, where the edge passes row.
func (e *edge) at(row float64) float64 { return e.column + (row-e.low)*e.slope }

// edge turns the side from p to q into units of cells. It is the same, bit for
// bit, from q to p, so that polygons on both sides of it share no cell.
func (m *bitmap) edge(p, q orb.Point) edge {
	if p[1] > q[1] {
		p, q = q, p
	}
	x, y := (p[0]-m.eastM)/m.cellM, (p[1]-m.northM)/m.cellM
	return edge{low: y, high: (q[1] - m.northM) / m.cellM, column: x, slope: (q[0] - p[0]) / (q[1] - p[1])}
}

// fill sets the cells of a quadrilateral (that may cross itself: even-odd) and
// gives the cells that were set before to again.
func (m *bitmap) fill(quad *[4]orb.Point, again *repeats) {
	var edges [4]edge
	low, high := math.Inf(1), math.Inf(-1)
	for i := range edges {
		edges[i] = m.edge(quad[i], quad[(i+1)&3])
		low, high = min(low, edges[i].low), max(high, edges[i].high)
	}
	first, last := max(0, ceil(low)), min(m.rows, ceil(high))
	for row := first; row < last; row++ {
		y := float64(row)
		var xs [4]float64
		n := 0
		for i := range edges {
			if e := &edges[i]; e.low <= y && y < e.high {
				xs[n] = e.at(y)
				n++
			}
		}
		if n == 4 { // crosses itself: order the outer, then the inner pairs
			order(&xs[0], &xs[1])
			order(&xs[2], &xs[3])
			order(&xs[0], &xs[2])
			order(&xs[1], &xs[3])
			order(&xs[1], &xs[2])
			m.run(row, xs[2], xs[3], again)
		}
		order(&xs[0], &xs[1])
		m.run(row, xs[0], xs[1], again)
	}
}

func order(a, b *float64) {
	if *b < *a {
		*a, *b = *b, *a
	}
}

func ceil(v float64) int { return int(math.Ceil(v)) }

// run sets the cells of one row whose centres lie in [from, to).
func (m *bitmap) run(row int, from, to float64, again *repeats) {
	c0, c1 := max(0, ceil(from)), min(m.columns, ceil(to))
	if c0 >= c1 {
		return
	}
	m.painted += int64(c1 - c0)
	base := row * m.columns
	b0, b1 := base+c0, base+c1-1
	first, last := b0>>6, b1>>6
	for i := first; i <= last; i++ {
		mask := ^uint64(0)
		if i == first {
			mask <<= uint(b0 & 63)
		}
		if i == last {
			mask &= ^uint64(0) >> uint(63-b1&63)
		}
		if old := m.words[i] & mask; old != 0 {
			m.painted -= int64(bits.OnesCount64(old))
			again.add(m, row, i<<6-base, old)
		}
		m.words[i] |= mask
	}
}
