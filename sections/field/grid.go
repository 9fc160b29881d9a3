// This file builds the edge index: a grid of square cells, each of which knows
// the classes in it, the edges in its neighbourhood, and how far away the
// nearest edge is at least.
//
// A question about a line no longer than 2 reachM is answered from the cell
// that holds its middle, so no edge is met twice and no cells are walked.

package field

import (
	"cmp"
	"math"
	"slices"
)

const (
	maxCells = 1 << 20 // 8 MiB of cells
	minCellM = 0.5
	// reachM is how far around itself a cell knows all edges: half of a 3 m
	// section, and a little.
	reachM = 1.6
	// blockM bounds the number of edges of a block times their length together,
	// and steadyM the length of one that turns by steadyTan at most. A question
	// looks at all blocks in reach, some 6 m of border, and at the points of about
	// one, which cost half as much each: with l metres an edge that is least work
	// for blocks of √(12/l) edges. Of a steady block it looks at a few points only.
	blockM    = 12.0
	steadyM   = 2.5
	steadyTan = 0.3
)

// cell is one square of the grid.
type cell struct {
	clearM float32 // no edge is nearer than this to any point of the cell
	place  int32
}

// place is what there is in a cell; cells alike share one. The blocks within
// reachM of the cell are blocks[first:last], and those of the places that
// follow while more is set.
type place struct {
	classes     Mask // in the whole cell, or at its centre where edges pass through it
	first, last int32
	mixed       bool // whether edges pass through the cell
	more        bool
}

// block is edges[first:last] in a row, and a band that holds them: all points
// within offM of the chord from p to q. Their points, one more than the edges,
// are chain[at:].
type block struct {
	px, py, qx, qy  float64
	offM            float64
	first, last, at int32
	bend            float32 // tangent of the most that an edge turns off the chord, or +Inf
	sides           int32   // number of its sides, as seen along it, or -1 if they vary
}

// sides is the classes left and right of a piece of border.
type sides struct{ left, right Mask }

// at returns the classes where a line starts, left of the border or right of
// it, and where it is once it has gone through.
func (s sides) at(left bool) (start, end Mask) {
	if left {
		return s.left, s.right
	}
	return s.right, s.left
}

// grid answers questions about points and lines. The zero value holds no edges.
type grid struct {
	x0, y0, x1, y1 float64 // box, wider than the edges by a cell and reachM
	cellM, perM    float64 // side of a cell, and its inverse
	nx, ny         int
	cells          []cell // row by row from the south-west
	places         []place
	blocks         []block
	sides          []sides
	chain          [][2]float64
	edges          []edge
}

func newGrid(edges []edge) grid {
	g := grid{edges: edges}
	if len(edges) == 0 {
		return g
	}
	g.layOut()
	g.group()
	mixed := g.mixed()
	start, runs := g.register()
	g.fill(start, runs, mixed, g.flips())
	g.measure(mixed)
	for i := range g.edges {
		g.lookBeside(int32(i))
	}
	g.lookBesideBlocks()
	return g
}

// layOut chooses the cell: as small as is useful, and never more than maxCells
// in all.
func (g *grid) layOut() {
	g.x0, g.y0 = math.Inf(1), math.Inf(1)
	g.x1, g.y1 = math.Inf(-1), math.Inf(-1)
	for i := range g.edges {
		e := &g.edges[i]
		g.x0, g.x1 = min(g.x0, e.px), max(g.x1, e.qx)
		g.y0, g.y1 = min(g.y0, e.py, e.qy), max(g.y1, e.py, e.qy)
	}
	g.x0, g.x1, g.y0, g.y1 = g.x0-reachM, g.x1+reachM, g.y0-reachM, g.y1+reachM
	c := minCellM
	for ((g.x1-g.x0)/c+4)*((g.y1-g.y0)/c+4) > maxCells {
		c *= 1.01
	}
	g.cellM, g.perM = c, 1/c
	g.x0, g.y0 = g.x0-c, g.y0-c
	g.nx, g.ny = int((g.x1-g.x0)/c)+2, int((g.y1-g.y0)/c)+2
	g.x1, g.y1 = g.x0+float64(g.nx)*c, g.y0+float64(g.ny)*c
	g.cells = make([]cell, g.nx*g.ny)
}

// group puts the edges into blocks.
func (g *grid) group() {
	for i := 0; i < len(g.edges); {
		e := &g.edges[i]
		b := block{first: int32(i), at: int32(len(g.chain))}
		g.chain = append(g.chain, [2]float64{e.px, e.py}, [2]float64{e.qx, e.qy})
		lengthM := e.lengthM()
		for i++; i < len(g.edges); i++ {
			e := &g.edges[i]
			lengthM += e.lengthM()
			small, before := lengthM*float64(i+1-int(b.first)) <= blockM, len(g.chain)
			if !small && lengthM > steadyM || !g.extend(&b, e) {
				break
			}
			if !small && bend(g.chain[b.at:]) > steadyTan {
				g.chain = g.chain[:before]
				break
			}
		}
		b.last = int32(i)
		points := g.chain[b.at:]
		b.bend = math.Nextafter32(float32(bend(points)), float32(math.Inf(1)))
		b.px, b.py = points[0][0], points[0][1]
		b.qx, b.qy = points[len(points)-1][0], points[len(points)-1][1]
		chord := edge{px: b.px, py: b.py, qx: b.qx, qy: b.qy}
		for _, p := range points {
			b.offM = max(b.offM, math.Sqrt(chord.squaredM2(p[0], p[1])))
		}
		b.offM += noiseM // for rounding, of which only the edges know the outcome
		g.blocks = append(g.blocks, b)
	}
}

// extend puts e behind the block's points, if it goes on from the last, or
// from the first where there are only two.
func (g *grid) extend(b *block, e *edge) bool {
	p, q := [2]float64{e.px, e.py}, [2]float64{e.qx, e.qy}
	points := g.chain[b.at:]
	if n := len(points); n == 2 && (p == points[0] || q == points[0]) {
		points[0], points[1] = points[1], points[0]
	}
	switch points[len(points)-1] {
	case p:
		g.chain = append(g.chain, q)
	case q:
		g.chain = append(g.chain, p)
	default:
		return false
	}
	return true
}

// bend returns the tangent of the largest angle between the chord of a chain
// of points and one of its edges, +Inf from a right angle on.
func bend(points [][2]float64) float64 {
	p, q := points[0], points[len(points)-1]
	cx, cy := q[0]-p[0], q[1]-p[1]
	most := 0.0
	for i := 1; i < len(points); i++ {
		ex, ey := points[i][0]-points[i-1][0], points[i][1]-points[i-1][1]
		along := cx*ex + cy*ey
		if along <= 0 {
			return math.Inf(1)
		}
		most = max(most, math.Abs(cx*ey-cy*ex)/along)
	}
	return most
}

func (e *edge) lengthM() float64 { return math.Hypot(e.qx-e.px, e.qy-e.py) }

// near calls visit with the number of every cell that the line from p to q
// comes within slackM of, and of some that it does not.
func (g *grid) near(px, py, qx, qy, slackM float64, visit func(k int)) {
	west, east := g.column(min(px, qx)-slackM), g.column(max(px, qx)+slackM)
	south, north := g.row(min(py, qy)-slackM), g.row(max(py, qy)+slackM)
	// A line that rises by less than a thousandth has no useful slope.
	slanted := math.Abs(qy-py)*1000 > math.Abs(qx-px)
	slope := (qx - px) / (qy - py)
	for iy := south; iy <= north; iy++ {
		ix, jx := west, east
		if slanted {
			// Where the line enters and leaves the row, widened by the slack
			// in both directions.
			low := g.y0 + float64(iy)*g.cellM - slackM
			a := px + (low-py)*slope
			b := a + (g.cellM+2*slackM)*slope
			ix = max(ix, g.column(min(a, b)-slackM))
			jx = min(jx, g.column(max(a, b)+slackM))
		}
		for x := ix; x <= jx; x++ {
			visit(iy*g.nx + x)
		}
	}
}

// column and row return those of a coordinate, the outermost for what lies
// outside.
func (g *grid) column(x float64) int { return whole((x-g.x0)*g.perM, g.nx) }
func (g *grid) row(y float64) int    { return whole((y-g.y0)*g.perM, g.ny) }

// whole returns the whole part of v, held within 0 to n - 1.
func whole(v float64, n int) int {
	if !(v > 0) {
		return 0
	}
	return int(min(v, float64(n-1)))
}

// mixed returns which cells have edges in them. The slack puts an edge into
// every cell that rounding could see it in.
func (g *grid) mixed() []bool {
	mixed := make([]bool, len(g.cells))
	for i := range g.edges {
		e := &g.edges[i]
		g.near(e.px, e.py, e.qx, e.qy, noiseM, func(k int) { mixed[k] = true })
	}
	return mixed
}

// run is blocks[first:last].
type run struct{ first, last int32 }

// register lists the blocks in reach of every cell, as runs of blocks that
// follow each other, and returns where each cell's runs start; the next cell's
// start is the end.
func (g *grid) register() (start []int32, runs []run) {
	each := func(i int, visit func(k int)) {
		b := &g.blocks[i]
		g.near(b.px, b.py, b.qx, b.qy, reachM+b.offM+noiseM, visit)
	}
	start = make([]int32, len(g.cells)+1)
	seen := make([]int32, len(g.cells)) // number of the block seen last, from 1; 0 = none
	for i := range g.blocks {
		each(i, func(k int) {
			if seen[k] == 0 || seen[k] != int32(i) {
				start[k]++
			}
			seen[k] = int32(i) + 1
		})
	}
	// From counts to each cell's end, then down to its start as it is filled
	// from behind.
	var sum int32
	for k := range start {
		sum += start[k]
		start[k] = sum
	}
	runs = make([]run, sum)
	clear(seen)
	for i := len(g.blocks) - 1; i >= 0; i-- {
		each(i, func(k int) {
			if seen[k] == 0 || seen[k] != int32(i)+2 {
				start[k]--
				runs[start[k]].last = int32(i) + 1
			}
			runs[start[k]].first = int32(i)
			seen[k] = int32(i) + 1
		})
	}
	return start, runs
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

func (g *grid) centreX(ix int) float64 { return lattice(g.x0 + (float64(ix)+0.5)*g.cellM) }
func (g *grid) centreY(iy int) float64 { return lattice(g.y0 + (float64(iy)+0.5)*g.cellM) }

// fill gives every cell its place, row by row from the west, where there are
// no classes.
func (g *grid) fill(start []int32, runs []run, mixed []bool, flips []flip) {
	alike := map[Mask]int32{} // places without blocks
	for iy := range g.ny {
		var m Mask
		for ix := range g.nx {
			for len(flips) > 0 && int(flips[0].row) == iy && int(flips[0].col) == ix {
				m ^= flips[0].bits
				flips = flips[1:]
			}
			k := iy*g.nx + ix
			next := int32(len(g.places))
			here := runs[start[k]:start[k+1]]
			if len(here) == 0 {
				n, ok := alike[m]
				if !ok {
					n = next
					alike[m] = n
					g.places = append(g.places, place{classes: m})
				}
				g.cells[k].place = n
				continue
			}
			g.cells[k].place = next
			for i, r := range here {
				g.places = append(g.places, place{m, r.first, r.last, mixed[k], i+1 < len(here)})
			}
		}
		for len(flips) > 0 && int(flips[0].row) == iy {
			flips = flips[1:]
		}
	}
}

// lookBeside finds the classes left of edge id, if they are the same all along
// it.
func (g *grid) lookBeside(id int32) {
	e := &g.edges[id]
	first, plain := true, true
	left := Mask(0)
	g.pieces(e.px, e.py, e.qx, e.qy, func(ax, ay, bx, by float64, m Mask, list []crossing) {
		for _, c := range list {
			// A piece may cross its own edge by rounding, and crosses the edges
			// that meet it in its ends, or does not.
			const end = 1e-9
			switch {
			case c.id == id:
			case c.t <= end:
				m ^= g.edges[c.id].bits
			case c.t < 1-end:
				plain = false
			}
		}
		// Points on e are taken to lie on one side of it; see side.go.
		if !e.leftOf(ax, ay) {
			m ^= e.bits
		}
		if first {
			left, first = m, false
		}
		plain = plain && left == m
	})
	e.left = varies
	if plain {
		e.left = left
	}
}

// lookBesideBlocks finds the classes beside each block, if they are the same
// all along it.
func (g *grid) lookBesideBlocks() {
	number := map[sides]int32{}
	for i := range g.blocks {
		b := &g.blocks[i]
		var all sides
		b.sides = 0
		for id := b.first; id < b.last; id++ {
			e := &g.edges[id]
			s := e.sides()
			if g.chain[b.at+id-b.first] != [2]float64{e.px, e.py} {
				s.left, s.right = s.right, s.left
			}
			if id == b.first {
				all = s
			}
			if e.left == varies || s != all {
				b.sides = -1
			}
		}
		if b.sides < 0 {
			continue
		}
		n, ok := number[all]
		if !ok {
			n = int32(len(g.sides))
			number[all] = n
			g.sides = append(g.sides, all)
		}
		b.sides = n
	}
}

// measure gives every cell its clearance. Between any two points of cells i
// columns and j rows apart lie at least max(i-1, 0) columns and max(j-1, 0)
// rows, which is the distance to the nearest cell of the mixed set grown by one
// all round: an exact distance transform of that set, columns first, then the
// lower envelope of parabolas along rows (Felzenszwalb and Huttenlocher 2012,
// Theory of Computing 8:415-428).
func (g *grid) measure(mixed []bool) {
	far := int32(g.nx + g.ny)
	rows := make([]int32, len(g.cells)) // distance in rows to the grown set
	for k := range rows {
		rows[k] = far
	}
	for k := range g.cells {
		if !mixed[k] {
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
