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
	for _, run := range g.runs[c.first:c.last] {
		edges := g.edges[run.first:run.last]
		for j := range edges {
			e := &edges[j]
			if l.parts(e) && e.leftOf(cx, cy) != e.leftOf(x, y) {
				m ^= e.bits
			}
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
	dx, dy := bx-ax, by-ay
	squared := dx*dx + dy*dy
	if k, ok := g.cellOf(ax+dx/2, ay+dy/2); ok {
		// No edge within half the length of the middle: all or nothing.
		c := &g.cells[k]
		if free := float64(c.clearM); c.ref >= 0 && 4*free*free > squared {
			return r.whole(g.masks[c.ref])
		}
	} else if len(g.cells) == 0 || !(squared <= longest*longest) {
		return 0
	}
	if squared == 0 {
		return r.whole(g.at(ax, ay))
	}
	return g.walked(ax, ay, bx, by, r, 0)
}

// longest is the line in metres beyond which products could overflow.
const longest = 1e12

// whole is the share of a line that lies in the classes m from end to end.
func (r rule) whole(m Mask) float64 {
	if r.holds(m) {
		return 1
	}
	return 0
}

// maxCrossings is how many edges a line may cross before it is halved.
const maxCrossings = 8

// crossing is where a line goes through an edge.
type crossing struct {
	t      float64 // 0 at the line's start, 1 at its end
	id     int32
	onLeft bool // whether the line's start is on the edge's left
}

// walked is share by walking the cells from a to b.
func (g *grid) walked(ax, ay, bx, by float64, r rule, depth int) float64 {
	var list [maxCrossings]crossing
	n := g.crossings(ax, ay, bx, by, &list)
	if n < 0 {
		// More edges than fit: each half has fewer, until they all meet in one
		// point, where the rest no longer counts.
		if depth == maxDepth {
			return 0
		}
		mx, my := ax+(bx-ax)/2, ay+(by-ay)/2
		return g.walked(ax, ay, mx, my, r, depth+1)/2 + g.walked(mx, my, bx, by, r, depth+1)/2
	}
	m := g.startOf(ax, ay, bx, by, list[:n])
	var sum, since float64
	in := r.holds(m)
	for i := range list[:n] {
		m ^= g.edges[list[i].id].bits
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

// maxDepth of halving leaves a piece of 2⁻⁴⁸ of the line.
const maxDepth = 48

// crossings fills list with the edges that the line from a to b goes through,
// in order, and returns how many there are, or -1 when they do not fit.
func (g *grid) crossings(ax, ay, bx, by float64, list *[maxCrossings]crossing) (n int) {
	l := newLine(ax, ay, bx, by)
	w := g.walk(ax, ay, bx, by, 0)
	for iy := w.south; iy <= w.north; iy++ {
		ix, jx := w.west, w.east
		if w.slanted {
			ix, jx = w.row(g, iy)
		}
		cells := g.cells[iy*g.nx:][ix : jx+1]
		for i := range cells {
			ref := cells[i].ref
			if ref >= 0 {
				continue
			}
			b := &g.busy[^ref]
			for _, run := range g.runs[b.first:b.last] {
				edges := g.edges[run.first:run.last]
				for j := range edges {
					e := &edges[j]
					if !l.parts(e) {
						continue
					}
					// The ends' distances from the edge's line are in the ratio
					// t : 1 - t.
					pa, pb := e.product(ax, ay), e.product(bx, by)
					onLeft := e.isLeft(pa)
					if onLeft == e.isLeft(pb) {
						continue
					}
					t := 0.5
					if pa != pb {
						t = pa / (pa - pb)
					}
					if !insert(list, &n, crossing{t, run.first + int32(j), onLeft}) {
						return -1
					}
				}
			}
		}
	}
	return n
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

// startOf returns the classes at a, from whatever knows them at least cost.
func (g *grid) startOf(ax, ay, bx, by float64, list []crossing) Mask {
	// The only edge that is crossed knows what is on either side of it. (Of
	// several that are crossed at about the same place, rounding may have put
	// the wrong one first.)
	if len(list) == 1 {
		if e := &g.edges[list[0].id]; e.plain {
			if list[0].onLeft {
				return e.left
			}
			return e.left ^ e.bits
		}
	}
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
		m ^= g.edges[list[i].id].bits
	}
	return m
}

// walk is the cells that a line passes through: columns west to east of each
// row from south to north, cut down to those near the line where it is slanted.
type walk struct {
	west, east, south, north int
	slanted                  bool
	ax, ay, slope            float64 // slope = dx/dy
	slackM                   float64
}

// walk returns the cells within slackM of the line from a to b. What lies
// outside the grid is taken to the nearest cells in it.
func (g *grid) walk(ax, ay, bx, by, slackM float64) walk {
	w := walk{
		west: index((min(ax, bx)-slackM-g.x0)*g.perM, g.nx), east: index((max(ax, bx)+slackM-g.x0)*g.perM, g.nx),
		south: index((min(ay, by)-slackM-g.y0)*g.perM, g.ny), north: index((max(ay, by)+slackM-g.y0)*g.perM, g.ny),
	}
	// A line that rises by less than a thousandth is not worth it, nor would
	// its slope be exact.
	if w.east-w.west > 1 && w.north-w.south > 1 && math.Abs(by-ay)*1000 > math.Abs(bx-ax) {
		w.slanted = true
		w.ax, w.ay, w.slackM = ax, ay, slackM
		w.slope = (bx - ax) / (by - ay)
	}
	return w
}

// row returns the first and last column that the line passes through in row
// iy; the first is greater than the last when it passes through none.
func (w *walk) row(g *grid, iy int) (ix, jx int) {
	south := g.y0 + float64(iy)*g.cellM - w.slackM
	a := w.ax + (south-w.ay)*w.slope
	b := a + (g.cellM+2*w.slackM)*w.slope
	ix = max(index((min(a, b)-w.slackM-g.x0)*g.perM, g.nx), w.west)
	jx = min(index((max(a, b)+w.slackM-g.x0)*g.perM, g.nx), w.east)
	return ix, max(jx, ix-1)
}

// index returns the whole part of v, held within 0 to n - 1.
func index(v float64, n int) int {
	if !(v > 0) {
		return 0
	}
	return int(min(v, float64(n-1)))
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
	n := g.crossings(ax, ay, bx, by, &list)
	if n < 0 {
		if depth == maxDepth {
			return 0
		}
		mx, my := ax+(bx-ax)/2, ay+(by-ay)/2
		return g.borderM2(id, ax, ay, mx, my, r, depth+1) + g.borderM2(id, mx, my, bx, by, r, depth+1)
	}
	m := g.startOf(ax, ay, bx, by, list[:n])
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
			m ^= g.edges[list[i].id].bits
			since = t
			// Half an edge may leave its own line by rounding.
			onLeft = onLeft != (list[i].id == id)
		}
	}
	return sum
}
