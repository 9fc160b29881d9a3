// This file builds the edge index: a grid of square cells. Each cell knows the
// classes inside it, all edges within reachM, and a distance within which there is
// no edge.
//
// A question about a line of at most 2 reachM is answered from a single cell, the
// one that contains the line's middle: that cell knows every edge that the line can
// cross.

package field

import (
	"cmp"
	"math"
	"sort"

	"liftbench/sections/exact"
	"liftbench/sections/field/celldist"
)

const (
	maxCells = 1 << 20 // 8 MiB of cells
	minCellM = 0.5
	// reachM is how far around itself a cell knows all edges: half the length of a
	// 3 m section, and a little more.
	reachM = 1.6
	// blockM limits a block: its number of edges times its length in metres. A
	// question looks at each block in reach, together some 6 m of border, and at
	// every point of about one of them; looking at a point takes half as long as
	// looking at a block. For edges of l metres, the least work is with √(12/l) edges
	// to a block.
	blockM = 12.0
	// A block whose edges turn off its chord by no more than steadyTan, a tangent,
	// may be up to steadyM long whatever the number of its edges, because a question
	// looks at only a few points of it.
	steadyM   = 2.5
	steadyTan = 0.3
)

// cell is one square of the grid.
type cell struct {
	clearM  float32 // no edge is nearer than this to any point of the cell
	content int32   // number of the cell's content
}

// content is what is in a cell and around it. Cells without edges in reach share one
// content for each set of classes. The blocks within reachM of the cell are
// blocks[first:last]; if more is set, those of the next content follow.
type content struct {
	classes     Mask // everywhere in the cell or, if it has edges, at its centre
	first, last int32
	hasEdges    bool // whether edges pass through the cell
	more        bool
}

// block is a chain of edges, edges[first:last], each of which begins where the one
// before it ends. Their points, one more than the edges, are chain[at:]. The block's
// chord runs from its first point p to its last point q; all its points are within
// offM of the chord.
type block struct {
	px, py, qx, qy  float64
	offM            float64
	first, last, at int32
	bend            float32 // tangent of the largest angle between an edge and the chord; +Inf from 90° on
	sides           int32   // index of the classes beside it, as seen from p to q; -1 if they vary along it
}

// sides is the classes left and right of a piece of border.
type sides struct{ left, right Mask }

// at returns the classes at the start of a line that goes through the border, and at
// its end. left says that the line starts on the left.
func (s sides) at(left bool) (start, end Mask) {
	if left {
		return s.left, s.right
	}
	return s.right, s.left
}

// grid is the edge index. It answers questions about points and lines. The zero value
// has no edges.
type grid struct {
	x0, y0, x1, y1 float64      // the box of all edges, wider by reachM and a cell
	cellM, perM    float64      // side of a cell, and its inverse
	nx, ny         int          // number of columns and of rows
	cells          []cell       // row by row, beginning in the south-west
	contents       []content    // see cell.content
	blocks         []block      // in the order of edges
	sides          []sides      // see block.sides
	chain          [][2]float64 // the points of all blocks
	edges          []edge
}

func newGrid(edges []edge) grid {
	g := grid{edges: edges}
	if len(edges) == 0 {
		return g
	}
	g.chooseCells()
	g.makeBlocks()
	hasEdges := g.cellsWithEdges()
	start, runs := g.blocksInReach()
	g.fill(start, runs, hasEdges, g.flips())
	g.measureClearance(hasEdges)
	for i := range g.edges {
		g.findSides(int32(i))
	}
	g.findBlockSides()
	return g
}

// chooseCells chooses the size of the cells: minCellM, or larger where there would be
// more than maxCells of them.
func (g *grid) chooseCells() {
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
	g.x1, g.y1 = g.x0+float64(float64(g.nx)*c), g.y0+float64(float64(g.ny)*c)
	g.cells = make([]cell, g.nx*g.ny)
}

// makeBlocks joins edges that follow each other into blocks.
func (g *grid) makeBlocks() {
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
		b.offM += noiseM // nearer than that, only the edges themselves can tell
		g.blocks = append(g.blocks, b)
	}
}

// extend appends e to the block's points and returns true, if e goes on from the last
// of them. A block of one edge may be turned round for that.
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

// bend returns the tangent of the largest angle between an edge of a chain of points
// and the chord from its first point to its last; +Inf from 90° on.
func bend(points [][2]float64) float64 {
	p, q := points[0], points[len(points)-1]
	cx, cy := q[0]-p[0], q[1]-p[1]
	most := 0.0
	for i := 1; i < len(points); i++ {
		ex, ey := points[i][0]-points[i-1][0], points[i][1]-points[i-1][1]
		along := float64(cx*ex) + float64(cy*ey)
		if along <= 0 {
			return math.Inf(1)
		}
		most = max(most, math.Abs(float64(cx*ey)-float64(cy*ex))/along)
	}
	return most
}

func (e *edge) lengthM() float64 { return exact.Hypot(e.qx-e.px, e.qy-e.py) }

// cellsNear calls visit with the number of every cell within slackM of the line from
// p to q, and of some cells that are farther away.
func (g *grid) cellsNear(px, py, qx, qy, slackM float64, visit func(k int)) {
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
			low := g.y0 + float64(float64(iy)*g.cellM) - slackM
			a := px + float64((low-py)*slope)
			b := a + float64((g.cellM+float64(2*slackM))*slope)
			ix = max(ix, g.column(min(a, b)-slackM))
			jx = min(jx, g.column(max(a, b)+slackM))
		}
		for x := ix; x <= jx; x++ {
			visit(iy*g.nx + x)
		}
	}
}

// column and row return the column or row of a coordinate; for a coordinate outside
// the grid, the outermost one on its side.
func (g *grid) column(x float64) int { return indexWithin((x-g.x0)*g.perM, g.nx) }
func (g *grid) row(y float64) int    { return indexWithin((y-g.y0)*g.perM, g.ny) }

// indexWithin returns v without its fraction, but at least 0 and at most n - 1.
func indexWithin(v float64, n int) int {
	if !(v > 0) {
		return 0
	}
	return int(min(v, float64(n-1)))
}

// cellsWithEdges returns, for each cell, whether an edge passes through it. An edge
// that is a rounding error outside a cell counts as inside.
func (g *grid) cellsWithEdges() []bool {
	hasEdges := make([]bool, len(g.cells))
	for i := range g.edges {
		e := &g.edges[i]
		g.cellsNear(e.px, e.py, e.qx, e.qy, noiseM, func(k int) { hasEdges[k] = true })
	}
	return hasEdges
}

// run is blocks[first:last].
type run struct{ first, last int32 }

// blocksInReach lists the blocks within reachM of each cell. Blocks whose numbers
// follow each other make one run. The runs of cell k are runs[start[k]:start[k+1]].
func (g *grid) blocksInReach() (start []int32, runs []run) {
	each := func(i int, visit func(k int)) {
		b := &g.blocks[i]
		g.cellsNear(b.px, b.py, b.qx, b.qy, reachM+b.offM+noiseM, visit)
	}
	start = make([]int32, len(g.cells)+1)
	seen := make([]int32, len(g.cells)) // 1 + the block last seen near each cell; 0 = none yet
	for i := range g.blocks {
		each(i, func(k int) {
			if seen[k] == 0 || seen[k] != int32(i) {
				start[k]++
			}
			seen[k] = int32(i) + 1
		})
	}
	// start now holds counts. It is made to hold the end of each cell's runs, and
	// goes down to their start while they are filled in from the last to the first.
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

// flip is where an edge crosses the middle of a row of cells: from column col on, the
// cells' centres are on the other side of it.
type flip struct {
	row, col int32
	bits     Mask
}

// flips returns where each edge crosses the middles of rows, by row and then column.
func (g *grid) flips() []flip {
	var list []flip
	for i := range g.edges {
		e := &g.edges[i]
		lo, hi := min(e.py, e.qy), max(e.py, e.qy)
		first := max(int(float64((lo-g.y0)*g.perM)-0.5)-1, 0)
		last := min(int(float64((hi-g.y0)*g.perM)-0.5)+1, g.ny-1)
		for iy := first; iy <= last; iy++ {
			y := g.centreY(iy)
			if (e.py > y) == (e.qy > y) {
				continue
			}
			x := e.px + float64((y-e.py)/(e.qy-e.py)*(e.qx-e.px))
			ix := min(max(int(float64((x-g.x0)*g.perM)-0.5), 0), g.nx-1)
			// x may be off by rounding. leftOf decides, as it will for questions.
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
	sort.Slice(list, func(i, j int) bool {
		a, b := &list[i], &list[j]
		return cmp.Or(cmp.Compare(a.row, b.row), cmp.Compare(a.col, b.col)) < 0
	})
	return list
}

func (g *grid) centreX(ix int) float64 { return lattice(g.x0 + float64((float64(ix)+0.5)*g.cellM)) }
func (g *grid) centreY(iy int) float64 { return lattice(g.y0 + float64((float64(iy)+0.5)*g.cellM)) }

// fill gives each cell its content. It goes along each row from west to east: it
// begins outside all zones, and changes the classes at each flip.
func (g *grid) fill(start []int32, runs []run, hasEdges []bool, flips []flip) {
	empty := map[Mask]int32{}           // contents without blocks, by their classes
	known, emptyM := int32(-1), Mask(0) // the last of them that was asked for; most neighbours share it
	for iy := range g.ny {
		var m Mask
		for ix := range g.nx {
			for len(flips) > 0 && int(flips[0].row) == iy && int(flips[0].col) == ix {
				m ^= flips[0].bits
				flips = flips[1:]
			}
			k := iy*g.nx + ix
			next := int32(len(g.contents))
			here := runs[start[k]:start[k+1]]
			if len(here) == 0 {
				if known < 0 || m != emptyM {
					n, ok := empty[m]
					if !ok {
						n = next
						empty[m] = n
						g.contents = append(g.contents, content{classes: m})
					}
					known, emptyM = n, m
				}
				g.cells[k].content = known
				continue
			}
			g.cells[k].content = next
			for i, r := range here {
				g.contents = append(g.contents, content{m, r.first, r.last, hasEdges[k], i+1 < len(here)})
			}
		}
		for len(flips) > 0 && int(flips[0].row) == iy {
			flips = flips[1:]
		}
	}
}

// findSides finds the classes left of an edge, or notes that they vary along it.
func (g *grid) findSides(id int32) {
	e := &g.edges[id]
	first, constant := true, true
	left := Mask(0)
	g.pieces(e.px, e.py, e.qx, e.qy, func(ax, ay, bx, by float64, m Mask, list []crossing) {
		for _, c := range list {
			// By rounding, a piece may cross the edge that it is part of. Edges that
			// meet it at its ends may count as crossed or not.
			const end = 1e-9
			switch {
			case c.id == id:
			case c.t <= end:
				m ^= g.edges[c.id].bits
			case c.t < 1-end:
				constant = false
			}
		}
		// m is of the side on which points on e count; see side.go.
		if !e.leftOf(ax, ay) {
			m ^= e.bits
		}
		if first {
			left, first = m, false
		}
		constant = constant && left == m
	})
	e.left = varies
	if constant {
		e.left = left
	}
}

// findBlockSides finds the classes beside each block, or notes that they vary along it.
func (g *grid) findBlockSides() {
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

// measureClearance gives each cell its clearance. Two points in cells that are i
// columns and j rows apart are at least max(i-1, 0) columns and max(j-1, 0) rows from
// each other. So the clearance is the distance between this cell and the nearest of
// the cells with edges and their neighbours.
func (g *grid) measureClearance(hasEdges []bool) {
	celldist.Around(hasEdges, g.nx, g.ny, func(k int, squared int64) {
		d := float32(math.Sqrt(float64(squared)) * g.cellM)
		// Rounded down, with room for edges that are just outside their cells.
		g.cells[k].clearM = max(math.Nextafter32(d, 0)-2*noiseM, 0)
	})
}
