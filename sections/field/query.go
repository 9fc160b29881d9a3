// This file answers questions from the edge index: one look-up where the
// border is far, a walk along the section's cells where it is near.

package field

import "math"

// rule says which classes a point must and must not lie in to count.
type rule struct {
	worked, never Mask
}

func (r rule) holds(m Mask) bool { return m&r.worked != 0 && m&r.never == 0 }

// at returns the classes at a point.
func (g *grid) at(x, y float64) Mask {
	k, ok := g.cellOf(x, y)
	if !ok {
		return 0
	}
	ref := g.cells[k].ref
	if ref >= 0 {
		return g.masks[ref]
	}
	return g.fromCentre(k, ^ref, x, y)
}

// cellOf returns the number of the cell that holds a point.
func (g *grid) cellOf(x, y float64) (k int, ok bool) {
	fx, fy := (x-g.x0)*g.perM, (y-g.y0)*g.perM
	// Written so that NaN is outside.
	if !(fx >= 0 && fy >= 0 && fx < float64(g.nx) && fy < float64(g.ny)) {
		return 0, false
	}
	return int(fy)*g.nx + int(fx), true
}

// fromCentre returns the classes at a point of busy cell b: those at the
// cell's centre, changed by each edge between the two.
func (g *grid) fromCentre(k int, b int32, x, y float64) Mask {
	c := &g.busy[b]
	cx, cy := g.centreX(k%g.nx), g.centreY(k/g.nx)
	l := newLine(cx, cy, x, y)
	m := c.centre
	for _, id := range g.ids[c.first:c.last] {
		e := &g.edges[id]
		if l.parts(e) && e.leftOf(cx, cy) != e.leftOf(x, y) {
			m ^= e.bits
		}
	}
	return m
}

// clearance is at least 0 and at most the distance to the nearest edge.
func (g *grid) clearance(x, y float64) float64 {
	if k, ok := g.cellOf(x, y); ok {
		return float64(g.cells[k].clearM)
	}
	if len(g.edges) == 0 {
		return math.Inf(1)
	}
	d := math.Hypot(max(g.x0-x, x-g.x1, 0), max(g.y0-y, y-g.y1, 0))
	if math.IsNaN(d) {
		return 0
	}
	return d
}

// share returns the part of the line from a to b where r holds.
func (g *grid) share(ax, ay, bx, by float64, r rule) float64 {
	// A line and its reverse are the same question, and so get the same answer.
	if bx < ax || bx == ax && by < ay {
		ax, ay, bx, by = bx, by, ax, ay
	}
	if len(g.cells) == 0 {
		return 0
	}
	dx, dy := bx-ax, by-ay
	squared := dx*dx + dy*dy
	if k, ok := g.cellOf(ax+dx/2, ay+dy/2); ok {
		// No edge within half the length of the middle: all or nothing.
		c := &g.cells[k]
		if free := float64(c.clearM); c.ref >= 0 && 4*free*free > squared {
			if r.holds(g.masks[c.ref]) {
				return 1
			}
			return 0
		}
	}
	if !(squared > 0) {
		if r.holds(g.at(ax, ay)) {
			return 1
		}
		return 0
	}
	if !(squared <= math.MaxFloat64) {
		return 0
	}
	return g.walked(ax, ay, bx, by, r, 0)
}

// maxCrossings is how many edges a line may cross before it is halved.
const maxCrossings = 12

// crossing is where a line goes through an edge.
type crossing struct {
	t    float64 // 0 at the line's start, 1 at its end
	bits Mask
	id   int32
}

// walked is share by walking the cells from a to b, a west of b.
func (g *grid) walked(ax, ay, bx, by float64, r rule, depth int) float64 {
	var list [maxCrossings]crossing
	n, m := g.crossings(ax, ay, bx, by, &list)
	if n < 0 {
		// More edges than fit: each half has fewer, until they all meet in one
		// point, where the rest no longer counts.
		if depth == 48 {
			return 0
		}
		mx, my := ax+(bx-ax)/2, ay+(by-ay)/2
		return g.walked(ax, ay, mx, my, r, depth+1)/2 + g.walked(mx, my, bx, by, r, depth+1)/2
	}
	var sum, since float64
	in := r.holds(m)
	for i := range list[:n] {
		m ^= list[i].bits
		if now := r.holds(m); now != in {
			if in {
				sum += list[i].t - since
			}
			in, since = now, list[i].t
		}
	}
	if in {
		sum += 1 - since
	}
	return sum
}

// crossings fills list with the edges that the line from a to b, a west of b,
// goes through, in order, and returns how many there are and the classes at a.
// It returns -1 when there are more than fit.
func (g *grid) crossings(ax, ay, bx, by float64, list *[maxCrossings]crossing) (n int, start Mask) {
	l := newLine(ax, ay, bx, by)
	w := newWalk(g, ax, ay, bx, by, 0)
	for iy := w.firstRow; iy <= w.lastRow; iy++ {
		ix, jx := w.row(g, iy)
		if ix > jx {
			continue
		}
		for _, c := range g.cells[iy*g.nx+ix : iy*g.nx+jx+1] {
			if c.ref >= 0 {
				continue
			}
			b := &g.busy[^c.ref]
			for _, id := range g.ids[b.first:b.last] {
				e := &g.edges[id]
				if !l.parts(e) || e.leftOf(ax, ay) == e.leftOf(bx, by) {
					continue
				}
				if !insert(list, &n, crossing{e.meets(ax, ay, bx, by), e.bits, id}) {
					return -1, 0
				}
			}
		}
	}
	return n, g.startOf(ax, ay, bx, by, list[:n])
}

// startOf returns the classes at a, from whichever end of the line costs less.
func (g *grid) startOf(ax, ay, bx, by float64, list []crossing) Mask {
	k, ok := g.cellOf(ax, ay)
	if !ok {
		return 0
	}
	ref := g.cells[k].ref
	if ref >= 0 {
		return g.masks[ref]
	}
	var m Mask
	if j, ok := g.cellOf(bx, by); ok {
		end := g.cells[j].ref
		if end < 0 {
			return g.fromCentre(k, ^ref, ax, ay)
		}
		m = g.masks[end]
	}
	for i := range list {
		m ^= list[i].bits
	}
	return m
}

// meets returns where the line from a to b, whose ends lie on two sides of e,
// goes through it: the ends' distances from e are in the ratio t : 1 - t.
func (e *edge) meets(ax, ay, bx, by float64) float64 {
	a, b := e.product(ax, ay), e.product(bx, by)
	if a == b {
		return 0.5
	}
	return a / (a - b)
}

// insert puts c in its place by t, unless the edge is there already: an edge
// is met once in each of its cells. It reports false when the list is full.
func insert(list *[maxCrossings]crossing, n *int, c crossing) bool {
	for i := range list[:*n] {
		if list[i].id == c.id {
			return true
		}
	}
	if *n == maxCrossings {
		return false
	}
	i := *n
	for ; i > 0 && list[i-1].t > c.t; i-- {
		list[i] = list[i-1]
	}
	list[i] = c
	*n++
	return true
}

// walk is the rows of cells that a line from west to east passes through.
type walk struct {
	firstRow, lastRow int
	ax, ay, bx        float64
	west, east        float64 // of the line, with slack
	slope             float64 // dx/dy; 0 when the line is too flat to go by rows
	slackM            float64
}

func newWalk(g *grid, ax, ay, bx, by, slackM float64) walk {
	lo, hi := ay, by
	if hi < lo {
		lo, hi = hi, lo
	}
	w := walk{
		firstRow: g.rowOf(lo - slackM), lastRow: g.rowOf(hi + slackM),
		ax: ax, ay: ay, bx: bx,
		west: ax - slackM, east: bx + slackM,
		slackM: slackM,
	}
	// A line that falls or rises by less than a thousandth is taken row by row
	// over its whole width.
	if dx, dy := bx-ax, by-ay; math.Abs(dy)*1000 > dx && w.firstRow != w.lastRow {
		w.slope = dx / dy
	}
	return w
}

// row returns the first and last column that the line passes through in row
// iy; the first is greater than the last when it passes through none.
func (w *walk) row(g *grid, iy int) (ix, jx int) {
	west, east := w.west, w.east
	if w.slope != 0 {
		south := g.y0 + float64(iy)*g.cellM - w.slackM
		a := w.ax + (south-w.ay)*w.slope
		b := w.ax + (south+g.cellM+2*w.slackM-w.ay)*w.slope
		if b < a {
			a, b = b, a
		}
		west, east = max(west, a-w.slackM), min(east, b+w.slackM)
	}
	if east < g.x0 || west > g.x1 {
		return 1, 0
	}
	return g.columnOf(west), g.columnOf(east)
}

// rowOf and columnOf return the row and column of a coordinate, the outermost
// ones for what lies outside.
func (g *grid) rowOf(y float64) int    { return index((y-g.y0)*g.perM, g.ny) }
func (g *grid) columnOf(x float64) int { return index((x-g.x0)*g.perM, g.nx) }

func index(v float64, n int) int {
	if !(v > 0) {
		return 0
	}
	if v >= float64(n) {
		return n - 1
	}
	return int(v)
}

// areaM2 returns the area where r holds: by Green's theorem half the sum of
// p × q over the pieces p to q of its border, taken with the area to the left.
func (g *grid) areaM2(r rule) float64 {
	var sum float64
	for i := range g.edges {
		e := &g.edges[i]
		sum += g.borderM2(int32(i), e.px, e.py, e.qx, e.qy, r, 0)
	}
	return sum
}

// borderM2 is what the part of edge id from a to b adds to areaM2.
func (g *grid) borderM2(id int32, ax, ay, bx, by float64, r rule, depth int) float64 {
	e := &g.edges[id]
	var list [maxCrossings]crossing
	n, m := g.crossings(ax, ay, bx, by, &list)
	if n < 0 {
		if depth == 48 {
			return 0
		}
		mx, my := ax+(bx-ax)/2, ay+(by-ay)/2
		return g.borderM2(id, ax, ay, mx, my, r, depth+1) + g.borderM2(id, mx, my, bx, by, r, depth+1)
	}
	// The walk runs on the side of e that (δ, δ²) points to: left of an edge
	// that goes down or due east, right of one that goes up.
	onLeft := e.leftOf(ax, ay)
	x0, y0 := g.x0-ax, g.y0-ay
	dx, dy := bx-ax, by-ay
	var sum, since float64
	for i := 0; i <= n; i++ {
		t := 1.0
		if i < n {
			t = list[i].t
		}
		left, right := r.holds(m), r.holds(m^e.bits)
		if !onLeft {
			left, right = right, left
		}
		if left != right {
			// (a + s d) × (a + t d) = (t - s) a × d, about the box's corner
			piece := (t - since) * (-x0*dy + y0*dx) / 2
			if right {
				piece = -piece
			}
			sum += piece
		}
		if i < n {
			m ^= list[i].bits
			since = t
			// Half an edge may leave its own line by rounding.
			onLeft = onLeft != (list[i].id == id)
		}
	}
	return sum
}
