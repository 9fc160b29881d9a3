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
	p := &g.places[g.cells[k].place]
	if !p.mixed {
		return p.classes
	}
	return g.fromCentre(k, x, y)
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

// fromCentre returns the classes at a point within reachM of cell k: those at
// the cell's centre, changed by each edge between the two.
func (g *grid) fromCentre(k int, x, y float64) Mask {
	n := g.cells[k].place
	cx, cy := g.centreX(k%g.nx), g.centreY(k/g.nx)
	l := newLine(cx, cy, x, y)
	m := g.places[n].classes
	for ; ; n++ {
		p := &g.places[n]
		blocks := g.blocks[p.first:p.last]
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
		if !p.more {
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
	k, ok := g.cellOf(ax+dx/2, ay+dy/2)
	if !ok {
		return g.shareOutside(ax, ay, bx, by, r)
	}
	c := &g.cells[k]
	if free := float64(c.clearM); 4*free*free > squared {
		// No edge within half the length of the middle: all or nothing.
		return r.whole(g.places[c.place].classes)
	}
	if squared > 4*reachM*reachM {
		return g.halves(ax, ay, bx, by, r)
	}
	l := newLine(ax, ay, bx, by)
	var t tally
	for i := c.place; ; i++ {
		p := &g.places[i]
		blocks := g.blocks[p.first:p.last]
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
				t.ahead += unsure
			case !plain || !t.steep(g, &l, b, p, q):
				t.edges(g, &l, b)
			}
		}
		if !p.more {
			break
		}
	}
	switch {
	case t.crossed == 1:
		sa, sb := r.whole(t.cut.atA), r.whole(t.cut.atB)
		return sb + (sa-sb)*meeting(t.cut.pa, t.cut.pb)
	case t.crossed > 1:
		return g.shareMany(k, ax, ay, bx, by, r)
	}
	// The line crosses nothing. If only one border lies ahead of it or behind,
	// within reach, the line is on its near side.
	if u := t.next.pa/(t.next.pa-t.next.pb) - 0.5; t.ahead == 1 && u*u*squared < reachM*reachM {
		return r.whole(t.next.atA)
	}
	return r.whole(g.classesAt(k, ax, ay, bx, by))
}

// tally counts the borders in reach of a line.
type tally struct {
	crossed int    // borders that the line goes through
	cut     border // the last of them
	ahead   int    // borders that it would go through if it were longer
	next    border // the last of them
}

// unsure is what a tally adds where a block may hold any number of borders.
const unsure = 2

// border is a piece of border as a line from a to b sees it: the classes at
// both ends of the line where it goes through, and the products of the ends
// with the piece.
type border struct {
	atA, atB Mask
	pa, pb   float64
}

// border returns the border of a block that has the same classes beside it all
// along, for a line whose ends have the products pa and pb.
func (g *grid) border(b *block, pa, pb float64) border {
	atA, atB := g.sides[b.sides].at(pa > 0)
	return border{atA, atB, pa, pb}
}

// steep counts a block that the line crosses more steeply than the block
// bends, so that it goes through one of its edges, or would if it were longer.
// p and q are the products of the block's ends with the line. It reports
// whether that is sure.
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
	t.ahead += unsure // edges just ahead or behind, if none is crossed
	points := g.chain[b.at:][:b.last-b.first+1]
	w := noiseM * l.span
	side, sure := 1.0, false // of the point before
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
					t.crossed += unsure
				}
			}
		}
		side, sure = math.Copysign(1, q), math.Abs(q) > w
	}
}

// meeting returns where, from 0 to 1, a line goes through an edge of which its
// ends have the products pa and pb, one on each side.
func meeting(pa, pb float64) float64 {
	if pa == pb {
		return 0.5
	}
	return pa / (pa - pb)
}

// whole is the share of a line that lies in the classes m from end to end.
func (r rule) whole(m Mask) float64 {
	if r.holds(m) {
		return 1
	}
	return 0
}

// longest is the line in metres beyond which products could overflow.
const longest = 1e12

// shareOutside is share of a line whose middle is outside the grid, which
// keeps more than reachM from every edge.
func (g *grid) shareOutside(ax, ay, bx, by float64, r rule) float64 {
	lengthM := math.Hypot(bx-ax, by-ay)
	if len(g.cells) == 0 || !(lengthM <= longest) || lengthM <= 2*reachM {
		return 0
	}
	if g.clearance(ax+(bx-ax)/2, ay+(by-ay)/2) > lengthM/2 {
		return 0
	}
	return g.halves(ax, ay, bx, by, r)
}

// halves is share of a line too long to be answered from one cell.
func (g *grid) halves(ax, ay, bx, by float64, r rule) float64 {
	mx, my := middle(ax, ay, bx, by)
	return g.share(ax, ay, mx, my, r)/2 + g.share(mx, my, bx, by, r)/2
}

func middle(ax, ay, bx, by float64) (mx, my float64) {
	return lattice(ax + (bx-ax)/2), lattice(ay + (by-ay)/2)
}

// classesAt returns the classes at the middle of a line that crosses no edge;
// k is the cell that holds it.
func (g *grid) classesAt(k int, ax, ay, bx, by float64) Mask {
	if p := &g.places[g.cells[k].place]; !p.mixed {
		return p.classes
	}
	if j, ok := g.cellOf(ax, ay); ok {
		if p := &g.places[g.cells[j].place]; !p.mixed {
			return p.classes
		}
	}
	if j, ok := g.cellOf(bx, by); ok {
		if p := &g.places[g.cells[j].place]; !p.mixed {
			return p.classes
		}
	}
	return g.fromCentre(k, ax, ay)
}

// maxCrossings is how many edges a line may cross before it is halved, until
// it is shorter than shortestM: there they all meet in one point.
const (
	maxCrossings = 16
	shortestM    = 1e-9
)

// crossing is where a line goes through an edge.
type crossing struct {
	t  float64 // 0 at the line's start, 1 at its end
	id int32
}

// shareMany is share of a line that crosses several edges; k is the cell that
// holds its middle.
func (g *grid) shareMany(k int, ax, ay, bx, by float64, r rule) float64 {
	var list [maxCrossings]crossing
	n := g.crossings(k, ax, ay, bx, by, &list)
	m := g.fromCentre(k, ax, ay)
	if n < 0 {
		if math.Hypot(bx-ax, by-ay) > shortestM {
			return g.halves(ax, ay, bx, by, r)
		}
		return r.whole(m)
	}
	var sum, since float64
	in := r.holds(m)
	for _, c := range list[:n] {
		m ^= g.edges[c.id].bits
		if now := r.holds(m); now != in {
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

// pieces calls visit with the classes at the start of the line and the edges
// it crosses, in order; piece by piece where it is too long to be answered
// from one cell, or crosses too many. It is for building: it allocates.
func (g *grid) pieces(ax, ay, bx, by float64, visit func(ax, ay, bx, by float64, start Mask, list []crossing)) {
	mx, my := middle(ax, ay, bx, by)
	lengthM := math.Hypot(bx-ax, by-ay)
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

// crossings fills list with the edges that the line from a to b goes through,
// in order, and returns how many there are, or -1 when they do not fit. k is
// the cell that holds its middle.
func (g *grid) crossings(k int, ax, ay, bx, by float64, list *[maxCrossings]crossing) (n int) {
	l := newLine(ax, ay, bx, by)
	for i := g.cells[k].place; ; i++ {
		p := &g.places[i]
		blocks := g.blocks[p.first:p.last]
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
				c := crossing{meeting(pa, pb), id}
				j := n
				for ; j > 0 && list[j-1].t > c.t; j-- {
					list[j] = list[j-1]
				}
				list[j] = c
				n++
			}
		}
		if !p.more {
			return n
		}
	}
}

// areaM2 returns the area where r holds: by Green's theorem half the sum of
// p × q over the pieces p to q of its border, taken with the area to the left.
func (g *grid) areaM2(r rule) float64 {
	var sum float64
	for id := range g.edges {
		e := &g.edges[id]
		g.pieces(e.px, e.py, e.qx, e.qy, func(ax, ay, bx, by float64, m Mask, list []crossing) {
			// a × d, about the box's corner: (a + s d) × (a + t d) = (t - s) a × d
			cross := (ax-g.x0)*(by-ay) - (ay-g.y0)*(bx-ax)
			onLeft := e.leftOf(ax, ay) // which side of e the line runs on
			since := 0.0
			add := func(t float64) {
				left, right := r.whole(m), r.whole(m^e.bits)
				if !onLeft {
					left, right = right, left
				}
				sum += (left - right) * (t - since) * cross / 2
				since = t
			}
			for _, c := range list {
				add(c.t)
				m ^= g.edges[c.id].bits
				// A piece may leave its own edge's line by rounding.
				onLeft = onLeft != (int(c.id) == id)
			}
			add(1)
		})
	}
	return sum
}
