// This file builds the edge index: a grid of square cells, each of which knows
// the classes at its centre, the edges that pass through it, and how far away
// the nearest other edge is at least.

package field

import (
	"cmp"
	"math"
	"slices"
)

const (
	maxCells = 2 << 20 // 16 MiB of cells
	minCellM = 0.5
	maxCellM = 2.0
	// edgesPerCell is how many edges a cell on the border aims to hold.
	edgesPerCell = 3
)

// cell is one square of the grid.
type cell struct {
	clearM float32 // no edge is nearer than this to any point of the cell
	ref    int32   // ≥ 0: masks[ref] holds in the whole cell; < 0: busy[^ref]
}

// busyCell is a cell with edges: those of runs[first:last].
type busyCell struct {
	centre      Mask // at the cell's centre
	first, last int32
}

// run is edges[first:last].
type run struct{ first, last int32 }

// grid answers questions about points and lines. The zero value holds no edges.
type grid struct {
	x0, y0, x1, y1 float64 // box, one cell wider than the edges on each side
	cellM, perM    float64 // side of a cell, and its inverse
	nx, ny         int
	cells          []cell // row by row from the south-west
	masks          []Mask
	busy           []busyCell
	runs           []run // of each busy cell
	edges          []edge
}

func newGrid(edges []edge) grid {
	g := grid{edges: edges}
	if len(edges) == 0 {
		return g
	}
	g.layOut()
	g.fill(g.register(), g.flips())
	g.measure()
	for i := range g.edges {
		g.lookBeside(&g.edges[i])
	}
	return g
}

// layOut chooses the cell: a few edges each where the border is dense, a metre
// or two where it is not, and never more than maxCells in all.
func (g *grid) layOut() {
	g.x0, g.y0 = math.Inf(1), math.Inf(1)
	g.x1, g.y1 = math.Inf(-1), math.Inf(-1)
	var length float64
	for i := range g.edges {
		e := &g.edges[i]
		g.x0, g.x1 = min(g.x0, e.px), max(g.x1, e.qx)
		g.y0, g.y1 = min(g.y0, e.py, e.qy), max(g.y1, e.py, e.qy)
		length += math.Hypot(e.qx-e.px, e.qy-e.py)
	}
	w, h := g.x1-g.x0, g.y1-g.y0
	c := min(max(edgesPerCell*length/float64(len(g.edges)), minCellM), maxCellM)
	c = max(c, math.Sqrt(w*h/maxCells), (w+h)/maxCells*4)
	for (w/c+4)*(h/c+4) > maxCells {
		c *= 1.01
	}
	g.cellM, g.perM = c, 1/c
	g.x0, g.y0 = g.x0-c, g.y0-c
	g.nx, g.ny = int((g.x1-g.x0)/c)+2, int((g.y1-g.y0)/c)+2
	g.x1, g.y1 = g.x0+float64(g.nx)*c, g.y0+float64(g.ny)*c
	g.cells = make([]cell, g.nx*g.ny)
}

// along calls visit with the number of every cell that the edge comes within
// noiseM of. The slack puts an edge into every cell that rounding could send a
// crossing to.
func (g *grid) along(e *edge, visit func(k int)) {
	w := g.walk(e.px, e.py, e.qx, e.qy, noiseM)
	for iy := w.south; iy <= w.north; iy++ {
		ix, jx := w.west, w.east
		if w.slanted {
			ix, jx = w.row(g, iy)
		}
		for x := ix; x <= jx; x++ {
			visit(iy*g.nx + x)
		}
	}
}

// register lists the edges of every cell, as runs of edges that follow each
// other, and returns where each cell's runs start; the next cell's start is
// the end.
func (g *grid) register() []int32 {
	start := make([]int32, len(g.cells)+1)
	last := make([]int32, len(g.cells)) // the last edge seen in the cell, plus 1
	for i := range g.edges {
		g.along(&g.edges[i], func(k int) {
			if last[k] == 0 || last[k] != int32(i) {
				start[k]++
			}
			last[k] = int32(i) + 1
		})
	}
	// From counts to each cell's end, then down to its start as it is filled
	// from behind.
	var sum int32
	for k := range start {
		sum += start[k]
		start[k] = sum
	}
	g.runs = make([]run, sum)
	clear(last)
	for i := len(g.edges) - 1; i >= 0; i-- {
		g.along(&g.edges[i], func(k int) {
			if last[k] == 0 || last[k] != int32(i)+2 {
				start[k]--
				g.runs[start[k]].last = int32(i) + 1
			}
			g.runs[start[k]].first = int32(i)
			last[k] = int32(i) + 1
		})
	}
	return start
}

// flip is a change of classes along the middle of a row: centres from column
// col on have bits the other way.
type flip struct {
	row, col int32
	bits     Mask
}

// flips returns, by row, where each edge crosses the middle of the rows.
func (g *grid) flips() []flip {
	var list []flip
	for i := range g.edges {
		e := &g.edges[i]
		lo, hi := min(e.py, e.qy), max(e.py, e.qy)
		first := max(int((lo-g.y0)*g.perM-0.5)-1, 0)
		last := min(int((hi-g.y0)*g.perM-0.5)+1, g.ny-1)
		for iy := first; iy <= last; iy++ {
			y := g.centreY(iy)
			if (e.py > y) == (e.qy > y) {
				continue
			}
			x := e.px + (y-e.py)/(e.qy-e.py)*(e.qx-e.px)
			ix := min(max(int((x-g.x0)*g.perM-0.5), 0), g.nx-1)
			// The column's centre decides by the same product as a query will.
			up := e.qy > e.py
			east := func(ix int) bool { return e.leftOf(g.centreX(ix), y) != up }
			for ix > 0 && east(ix-1) {
				ix--
			}
			for ix < g.nx && !east(ix) {
				ix++
			}
			list = append(list, flip{int32(iy), int32(ix), e.bits})
		}
	}
	slices.SortFunc(list, func(a, b flip) int {
		return cmp.Or(cmp.Compare(a.row, b.row), cmp.Compare(a.col, b.col))
	})
	return list
}

func (g *grid) centreX(ix int) float64 { return g.x0 + (float64(ix)+0.5)*g.cellM }
func (g *grid) centreY(iy int) float64 { return g.y0 + (float64(iy)+0.5)*g.cellM }

// fill gives every cell its classes, row by row from the west, where there
// are none.
func (g *grid) fill(start []int32, flips []flip) {
	number := map[Mask]int32{}
	for iy := range g.ny {
		var m Mask
		ref := int32(-1)
		for ix := range g.nx {
			for len(flips) > 0 && int(flips[0].row) == iy && int(flips[0].col) == ix {
				m ^= flips[0].bits
				flips = flips[1:]
				ref = -1
			}
			k := iy*g.nx + ix
			if start[k] != start[k+1] {
				g.cells[k].ref = ^int32(len(g.busy))
				g.busy = append(g.busy, busyCell{m, start[k], start[k+1]})
				continue
			}
			if ref < 0 {
				var ok bool
				if ref, ok = number[m]; !ok {
					ref = int32(len(g.masks))
					number[m] = ref
					g.masks = append(g.masks, m)
				}
			}
			g.cells[k].ref = ref
		}
		for len(flips) > 0 && int(flips[0].row) == iy {
			flips = flips[1:]
		}
	}
}

// lookBeside finds the classes left of e, if they are the same all along it.
func (g *grid) lookBeside(e *edge) {
	var list [maxCrossings]crossing
	n := g.crossings(e.px, e.py, e.qx, e.qy, &list)
	if n < 0 {
		return
	}
	m := g.startOf(e.px, e.py, e.qx, e.qy, list[:n])
	for _, c := range list[:n] {
		// Edges that meet e in its ends are crossed there or not.
		const end = 1e-9
		if c.t > end && c.t < 1-end {
			return
		}
		if c.t <= end {
			m ^= g.edges[c.id].bits
		}
	}
	// Points on e are taken to lie on one side of it; see side.go.
	if !e.leftOf(e.px, e.py) {
		m ^= e.bits
	}
	e.left, e.plain = m, true
}

// measure gives every cell its clearance. Between any two points of cells i
// columns and j rows apart lie at least max(i-1, 0) columns and max(j-1, 0)
// rows, which is the distance to the nearest cell of the busy set grown by one
// all round: an exact distance transform of that set, columns first, then the
// lower envelope of parabolas along rows (Felzenszwalb and Huttenlocher 2012,
// Theory of Computing 8:415-428).
func (g *grid) measure() {
	far := int32(g.nx + g.ny)
	rows := make([]int32, len(g.cells)) // distance in rows to the grown set
	for k := range rows {
		rows[k] = far
	}
	for k := range g.cells {
		if g.cells[k].ref >= 0 {
			continue
		}
		ix, iy := k%g.nx, k/g.nx
		for y := max(iy-1, 0); y <= min(iy+1, g.ny-1); y++ {
			for x := max(ix-1, 0); x <= min(ix+1, g.nx-1); x++ {
				rows[y*g.nx+x] = 0
			}
		}
	}
	for k := g.nx; k < len(rows); k++ {
		rows[k] = min(rows[k], rows[k-g.nx]+1)
	}
	for k := len(rows) - g.nx - 1; k >= 0; k-- {
		rows[k] = min(rows[k], rows[k+g.nx]+1)
	}
	e := envelope{at: make([]int32, g.nx), from: make([]float64, g.nx+1)}
	for iy := range g.ny {
		e.transform(rows[iy*g.nx:][:g.nx], func(ix int, squared int64) {
			d := float32(math.Sqrt(float64(squared)) * g.cellM)
			// Down to the next float32 and by a slack for edges that were
			// registered through rounding alone.
			g.cells[iy*g.nx+ix].clearM = max(math.Nextafter32(d, 0)-2*noiseM, 0)
		})
	}
}

// envelope is the working memory of one row's distance transform.
type envelope struct {
	at   []int32   // columns whose parabolas make the envelope
	from []float64 // where each begins to be the lowest
}

// transform calls set with the smallest (x - i)² + rows[i]² over i, for every x.
func (e *envelope) transform(rows []int32, set func(x int, squared int64)) {
	height := func(i int32) float64 { return float64(i)*float64(i) + float64(rows[i])*float64(rows[i]) }
	n := 0
	for i := range int32(len(rows)) {
		from := math.Inf(-1)
		for n > 0 {
			// The parabolas at j and i meet where
			// x = ((i² + rows[i]²) - (j² + rows[j]²)) / 2(i - j).
			j := e.at[n-1]
			from = (height(i) - height(j)) / (2 * float64(i-j))
			if from > e.from[n-1] {
				break
			}
			n--
			from = math.Inf(-1)
		}
		e.at[n], e.from[n] = i, from
		n++
	}
	k := 0
	for x := range rows {
		for k+1 < n && e.from[k+1] < float64(x) {
			k++
		}
		i := e.at[k]
		d, r := int64(x)-int64(i), int64(rows[i])
		set(x, d*d+r*r)
	}
}
