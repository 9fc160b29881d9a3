// This file answers questions from the edge index. Far from any border one look at
// a cell is enough. Near one, the edges that the cell knows are compared with the line.

package field

import (
	"math"

	"liftbench/sections/exact"
)

// filter says which ground counts as inside: ground in some class of anyOf and in
// no class of noneOf.
type filter struct {
	anyOf, noneOf Mask
}

func (f filter) holds(m Mask) bool { return m&f.anyOf != 0 && m&f.noneOf == 0 }

// allOrNothing is the share of a line that lies in the classes m from end to end.
func (f filter) allOrNothing(m Mask) float64 {
	if f.holds(m) {
		return 1
	}
	return 0
}

// at returns the classes at a point.
func (g *grid) at(x, y float64) Mask {
	k, ok := g.cellOf(x, y)
	if !ok {
		return 0
	}
	c := &g.contents[g.cells[k].content]
	if !c.hasEdges {
		return c.classes
	}
	return g.fromCentre(k, x, y)
}

// cellOf returns the number of the cell that contains a point. ok is false outside
// the grid.
func (g *grid) cellOf(x, y float64) (k int, ok bool) {
	fx, fy := (x-g.x0)*g.perM, (y-g.y0)*g.perM
	// Written so that NaN is outside.
	if !(fx >= 0 && fy >= 0 && fx < float64(g.nx) && fy < float64(g.ny)) {
		return 0, false
	}
	return int(fy)*g.nx + int(fx), true
}

// fromCentre returns the classes at a point within reachM of cell k. It starts with
// those at the cell's centre and changes them at each edge between the two.
func (g *grid) fromCentre(k int, x, y float64) Mask {
	n := g.cells[k].content
	cx, cy := g.centreX(k%g.nx), g.centreY(k/g.nx)
	l := newLine(cx, cy, x, y)
	m := g.contents[n].classes
	for ; ; n++ {
		c := &g.contents[n]
		blocks := g.blocks[c.first:c.last]
		for i := range blocks {
			b := &blocks[i]
			if l.misses(b) {
				continue
			}
			for id := l.next(g, b, b.first); id < b.last; id = l.next(g, b, id+1) {
				e := &g.edges[id]
				if _, _, ok := l.through(e); ok {
					m ^= e.bits
				}
			}
		}
		if !c.more {
			return m
		}
	}
}

// clearance is at least 0 and at most the distance to the nearest edge.
func (g *grid) clearance(x, y float64) float64 {
	if k, ok := g.cellOf(x, y); ok {
		return float64(g.cells[k].clearM)
	}
	if len(g.edges) == 0 {
		return math.Inf(1)
	}
	d := exact.Hypot(max(g.x0-x, x-g.x1, 0), max(g.y0-y, y-g.y1, 0))
	if math.IsNaN(d) {
		return 0
	}
	return d
}

// share returns the part of the line from a to b that f lets count.
func (g *grid) share(ax, ay, bx, by float64, f filter) float64 {
	dx, dy := bx-ax, by-ay
	squared := float64(dx*dx) + float64(dy*dy)
	k, ok := g.cellOf(ax+float64(dx/2), ay+float64(dy/2))
	if !ok {
		return g.shareOutside(ax, ay, bx, by, f)
	}
	c := &g.cells[k]
	if free := float64(c.clearM); 4*free*free > squared {
		// No edge within half the line's length of its middle.
		return f.allOrNothing(g.contents[c.content].classes)
	}
	if squared > 4*reachM*reachM {
		return g.halves(ax, ay, bx, by, f)
	}
	l := newLine(ax, ay, bx, by)
	var t tally
	t.cell(g, &l, c.content)
	switch {
	case t.crossed == 1:
		a, b := f.allOrNothing(t.cut.atA), f.allOrNothing(t.cut.atB)
		return b + float64((a-b)*meeting(t.cut.pa, t.cut.pb))
	case t.crossed > 1:
		return g.shareMany(k, ax, ay, bx, by, f)
	}
	// The line crosses no edge. If just one border lies ahead of it or behind it, and
	// within reach, the line lies wholly on that border's near side.
	if u := t.next.pa/(t.next.pa-t.next.pb) - 0.5; t.ahead == 1 && u*u*squared < reachM*reachM {
		return f.allOrNothing(t.next.atA)
	}
	return f.allOrNothing(g.classesAt(k, ax, ay, bx, by))
}

// tally counts the borders around a line.
type tally struct {
	crossed int    // how many the line goes through
	cut     border // the last of those
	ahead   int    // how many more it would go through if it went on, either way
	next    border // the last of those
}

// several is what a tally counts for a block in which any number of borders may lie
// ahead.
const several = 2

// border is a piece of border as the line from a to b sees it: the classes at a and
// at b if the line goes through, and the products of a and b with the piece.
type border struct {
	atA, atB Mask
	pa, pb   float64
}

// border returns a block as the line from a to b sees it, for a block that has the
// same classes beside it from end to end. pa and pb are the products of a and b.
func (g *grid) border(b *block, pa, pb float64) border {
	atA, atB := g.sides[b.sides].at(pa > 0)
	return border{atA, atB, pa, pb}
}

// cell counts the borders in reach of a cell, whose content is at number i and after.
func (t *tally) cell(g *grid, l *line, i int32) {
	for ; ; i++ {
		c := &g.contents[i]
		blocks := g.blocks[c.first:c.last]
		for i := range blocks {
			b := &blocks[i]
			p, q := l.off(b.px, b.py), l.off(b.qx, b.qy)
			across, narrow := agree(p, q), 2*b.offM*l.span
			if across > narrow {
				continue // the block lies on one side of the line
			}
			pa, pb, size := l.ends(b.px, b.py, b.qx, b.qy)
			beside := agree(pa, pb) > 2*b.offM*size // the line lies on one side of the block
			plain := b.sides >= 0 && across < -narrow
			switch {
			case beside && plain:
				t.ahead++
				t.next = g.border(b, pa, pb)
			case beside:
				t.ahead += several
			case !plain || !t.steep(g, l, b, p, q):
				t.edges(g, l, b)
			}
		}
		if !c.more {
			return
		}
	}
}

// steep counts a block that the line meets more steeply than the block bends: then
// the line goes through exactly one edge of it, or would if it went on. p and q are
// the products of the block's ends with the line. steep returns false, and counts
// nothing, where that is not certain.
func (t *tally) steep(g *grid, l *line, b *block, p, q float64) bool {
	if !l.steeper(b, p, q) {
		return false
	}
	points := g.chain[b.at:][:b.last-b.first+1]
	i := 0
	if len(points) > 2 {
		var sure bool
		if i, sure = l.passes(points, p, q, noiseM*l.span); !sure {
			return false
		}
	}
	pa, pb, size := l.ends(points[i][0], points[i][1], points[i+1][0], points[i+1][1])
	along, wide := agree(pa, pb), 2*noiseM*size
	if len(points) == 2 {
		wide = 2 * b.offM * size
	}
	switch {
	case along < -wide:
		t.crossed++
		t.cut = g.border(b, pa, pb)
	case along > wide:
		t.ahead++
		t.next = g.border(b, pa, pb)
	default:
		return false
	}
	return true
}

// edges counts the edges of a block that the line goes through, one by one.
func (t *tally) edges(g *grid, l *line, b *block) {
	t.ahead += several // matters only if no edge is crossed
	points := g.chain[b.at:][:b.last-b.first+1]
	w := noiseM * l.span
	side, sure := 1.0, false // of the previous point
	for j := range points {
		q := l.off(points[j][0], points[j][1])
		if sure && side*q > w {
			continue // both ends of the edge lie on one side of the line
		}
		if j > 0 {
			e := &g.edges[int(b.first)+j-1]
			if pa, pb, ok := l.through(e); ok {
				atA, atB := e.sides().at(e.isLeft(pa))
				t.cut = border{atA, atB, pa, pb}
				t.crossed++
				if e.left == varies {
					t.crossed += several
				}
			}
		}
		side, sure = math.Copysign(1, q), math.Abs(q) > w
	}
}

// meeting returns where, from 0 at a to 1 at b, the line from a to b goes through an
// edge. pa and pb are the products of a and b with the edge, which have different
// signs.
func meeting(pa, pb float64) float64 {
	if pa == pb {
		return 0.5
	}
	return pa / (pa - pb)
}

// longestM is the length of line beyond which products could overflow.
const longestM = 1e12

// shareOutside is share for a line whose middle lies outside the grid, and so more
// than reachM from every edge.
func (g *grid) shareOutside(ax, ay, bx, by float64, f filter) float64 {
	lengthM := exact.Hypot(bx-ax, by-ay)
	if len(g.cells) == 0 || !(lengthM <= longestM) || lengthM <= 2*reachM {
		return 0
	}
	if g.clearance(ax+float64((bx-ax)/2), ay+float64((by-ay)/2)) > lengthM/2 {
		return 0
	}
	return g.halves(ax, ay, bx, by, f)
}

// halves is share for a line that one cell cannot answer for: the mean of the shares
// of its halves.
func (g *grid) halves(ax, ay, bx, by float64, f filter) float64 {
	mx, my := middle(ax, ay, bx, by)
	return float64(g.share(ax, ay, mx, my, f)/2) + float64(g.share(mx, my, bx, by, f)/2)
}

func middle(ax, ay, bx, by float64) (mx, my float64) {
	return lattice(ax + float64((bx-ax)/2)), lattice(ay + float64((by-ay)/2))
}

// classesAt returns the classes along a line that crosses no edge. k is the cell
// that contains its middle.
func (g *grid) classesAt(k int, ax, ay, bx, by float64) Mask {
	// The classes are known without computing where a cell has no edges.
	if c := &g.contents[g.cells[k].content]; !c.hasEdges {
		return c.classes
	}
	if j, ok := g.cellOf(ax, ay); ok {
		if c := &g.contents[g.cells[j].content]; !c.hasEdges {
			return c.classes
		}
	}
	if j, ok := g.cellOf(bx, by); ok {
		if c := &g.contents[g.cells[j].content]; !c.hasEdges {
			return c.classes
		}
	}
	return g.fromCentre(k, ax, ay)
}

const (
	// maxCrossings is how many edges a line may cross before it is halved.
	maxCrossings = 16
	// shortestM is the length below which a line is no longer halved: all the edges
	// that it crosses then meet in one point.
	shortestM = 1e-9
)

// crossing is where a line goes through an edge.
type crossing struct {
	t  float64 // 0 at the line's start, 1 at its end
	id int32   // of the edge
}

// shareMany is share for a line that crosses several edges. k is the cell that
// contains its middle.
func (g *grid) shareMany(k int, ax, ay, bx, by float64, f filter) float64 {
	var list [maxCrossings]crossing
	n := g.crossings(k, ax, ay, bx, by, &list)
	m := g.fromCentre(k, ax, ay)
	if n < 0 {
		if exact.Hypot(bx-ax, by-ay) > shortestM {
			return g.halves(ax, ay, bx, by, f)
		}
		return f.allOrNothing(m)
	}
	var sum, since float64
	in := f.holds(m)
	for _, c := range list[:n] {
		m ^= g.edges[c.id].bits
		if now := f.holds(m); now != in {
			if in {
				sum += c.t - since
			}
			in, since = now, c.t
		}
	}
	if in {
		sum += 1 - since
	}
	return sum
}

// pieces cuts a line into pieces short enough for one cell to answer for, which
// cross no more than maxCrossings edges, and calls visit for each in order: with the
// classes at its start and the edges that it crosses. It allocates, and is used only
// while the index is built.
func (g *grid) pieces(ax, ay, bx, by float64, visit func(ax, ay, bx, by float64, start Mask, list []crossing)) {
	mx, my := middle(ax, ay, bx, by)
	lengthM := exact.Hypot(bx-ax, by-ay)
	if k, ok := g.cellOf(mx, my); ok && lengthM <= 2*reachM {
		var list [maxCrossings]crossing
		if n := g.crossings(k, ax, ay, bx, by, &list); n >= 0 {
			visit(ax, ay, bx, by, g.fromCentre(k, ax, ay), list[:n])
			return
		}
	}
	if lengthM > shortestM {
		g.pieces(ax, ay, mx, my, visit)
		g.pieces(mx, my, bx, by, visit)
	}
}

// crossings fills list with the edges that the line from a to b goes through, in
// order, and returns their number, or -1 if there are more than list can take. k is
// the cell that contains the line's middle.
func (g *grid) crossings(k int, ax, ay, bx, by float64, list *[maxCrossings]crossing) (n int) {
	l := newLine(ax, ay, bx, by)
	for i := g.cells[k].content; ; i++ {
		c := &g.contents[i]
		blocks := g.blocks[c.first:c.last]
		for i := range blocks {
			b := &blocks[i]
			if l.misses(b) {
				continue
			}
			for id := l.next(g, b, b.first); id < b.last; id = l.next(g, b, id+1) {
				e := &g.edges[id]
				pa, pb, ok := l.through(e)
				if !ok {
					continue
				}
				if n == maxCrossings {
					return -1
				}
				x := crossing{meeting(pa, pb), id}
				j := n
				for ; j > 0 && list[j-1].t > x.t; j-- {
					list[j] = list[j-1]
				}
				list[j] = x
				n++
			}
		}
		if !c.more {
			return n
		}
	}
}

// areaM2 returns the area of the ground that f lets count. By Green's theorem it is
// half the sum of p × q over the pieces of that ground's border, where a piece runs
// from p to q with the ground on its left.
func (g *grid) areaM2(f filter) float64 {
	var sum float64
	for id := range g.edges {
		e := &g.edges[id]
		g.pieces(e.px, e.py, e.qx, e.qy, func(ax, ay, bx, by float64, m Mask, list []crossing) {
			// From the grid's corner: (a + s d) × (a + t d) = (t - s) a × d with d = b - a.
			cross := float64((ax-g.x0)*(by-ay)) - float64((ay-g.y0)*(bx-ax))
			onLeft := e.leftOf(ax, ay) // on which side of e the points of the piece count
			since := 0.0
			add := func(t float64) {
				left, right := f.allOrNothing(m), f.allOrNothing(m^e.bits)
				if !onLeft {
					left, right = right, left
				}
				sum += float64((left - right) * (t - since) * cross / 2)
				since = t
			}
			for _, c := range list {
				add(c.t)
				m ^= g.edges[c.id].bits
				// By rounding, a piece may cross the edge that it is part of.
				onLeft = onLeft != (int(c.id) == id)
			}
			add(1)
		})
	}
	return sum
}
