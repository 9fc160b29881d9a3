// This file decides on which side of a line a point lies. The decision is exact, so
// that a section that ends on an edge, or runs through a vertex, is counted once and
// only once.
//
// All coordinates are multiples of 2⁻³¹ m, half a nanometre, and below 2²⁰ m. Their
// differences are then exact, and so is the sign of a cross product of two
// differences: where the product is nearly 0 it is computed again in twice the
// precision.
//
// A point that is asked about is treated as if it lay at (x + δ, y + δ²), where δ is
// positive and smaller than any number (Edelsbrunner and Mücke 1990, Simulation of
// simplicity, ACM Trans. Graph. 9(1):66-104). So no point lies on an edge, no line
// runs through a vertex, and a product that is exactly 0 gets the sign of its term
// in δ.

package field

import (
	"math"

	"liftbench/sections/field/polygon"
)

// noiseM is the distance below which two places are taken for the same.
const noiseM = polygon.NoiseM

// lattice returns the multiple of 2⁻³¹ that is nearest to v. A float64 around
// 1.5 × 2²¹ has just that precision, so adding and subtracting that number rounds v.
func lattice(v float64) float64 {
	const big = 3 << 20
	return (float64(v) + big) - big
}

// cross is the cross product u × v, with an exact sign.
func cross(ux, uy, vx, vy float64) float64 {
	p, q := float64(ux*vy), float64(uy*vx)
	s := p - q
	if math.Abs(s) > 0x1p-50*(math.Abs(p)+math.Abs(q)) {
		return s
	}
	// A product and its rounding error together are exact (Dekker 1971); p and
	// q are so close here that their difference is too.
	return s + (math.FMA(ux, vy, -p) - math.FMA(uy, vx, -q))
}

// product is (q - p) × (x - p) for the point x: positive left of the edge, and as
// large as the distance of the point from the edge's line times the edge's length.
func (e *edge) product(x, y float64) float64 {
	return cross(e.qx-e.px, e.qy-e.py, x-e.px, y-e.py)
}

// isLeft reports whether a point with the product s lies left of the edge.
func (e *edge) isLeft(s float64) bool {
	if s == 0 {
		// (q - p) × (δ, δ²) = dx δ² - dy δ
		dx, dy := e.qx-e.px, e.qy-e.py
		return dy < 0 || dy == 0 && dx > 0
	}
	return s > 0
}

// leftOf reports whether the point (x, y) lies left of the edge.
func (e *edge) leftOf(x, y float64) bool { return e.isLeft(e.product(x, y)) }

// line is the directed line from a to b = a + d.
type line struct {
	ax, ay, bx, by, dx, dy float64
	span                   float64 // |dx| + |dy|, at least the line's length
	zeroIsLeft             bool    // whether a vertex exactly on the line counts as left of it
}

func newLine(ax, ay, bx, by float64) line {
	dx, dy := bx-ax, by-ay
	// d × (p - a - (δ, δ²)) = -dx δ² + dy δ for p on the line
	return line{ax, ay, bx, by, dx, dy, math.Abs(dx) + math.Abs(dy), dy > 0 || dy == 0 && dx < 0}
}

// agree is twice the smaller of |u| and |v|: positive if u and v have the same sign,
// negative if not. If it is above 2 w, both are on the same side of 0 and farther
// from it than w; if it is below -2 w, they are on different sides, and both farther.
func agree(u, v float64) float64 { return math.Abs(u+v) - math.Abs(u-v) }

// off is the distance of a point from the line times the line's length, positive on
// the left, but for rounding.
func (l *line) off(x, y float64) float64 { return float64(l.dx*(y-l.ay)) - float64(l.dy*(x-l.ax)) }

// ends returns the products of the line's ends with an edge from p to q, but for
// rounding, and |x| + |y| of q - p, which is at least the edge's length.
func (l *line) ends(px, py, qx, qy float64) (pa, pb, size float64) {
	ex, ey := qx-px, qy-py
	pa, pb = float64(ex*(l.ay-py))-float64(ey*(l.ax-px)), float64(ex*(l.by-py))-float64(ey*(l.bx-px))
	return pa, pb, math.Abs(ex) + math.Abs(ey)
}

// through reports whether the line goes through e: whether the ends of each lie on
// different sides of the other. pa and pb are the products of the line's ends with e,
// but for rounding.
func (l *line) through(e *edge) (pa, pb float64, ok bool) {
	pa, pb, size := l.ends(e.px, e.py, e.qx, e.qy)
	if agree(l.off(e.px, e.py), l.off(e.qx, e.qy)) < -2*noiseM*l.span && agree(pa, pb) < -2*noiseM*size {
		return pa, pb, true
	}
	p := cross(l.dx, l.dy, e.px-l.ax, e.py-l.ay)
	q := cross(l.dx, l.dy, e.qx-l.ax, e.qy-l.ay)
	if (p > 0 || p == 0 && l.zeroIsLeft) == (q > 0 || q == 0 && l.zeroIsLeft) {
		return 0, 0, false
	}
	pa, pb = e.product(l.ax, l.ay), e.product(l.bx, l.by)
	return pa, pb, e.isLeft(pa) != e.isLeft(pb)
}

// misses reports whether the line certainly crosses no edge of a block. That is so if
// both ends of the block's chord lie on one side of the line and farther from it than
// offM, or if both ends of the line lie so beside the chord.
func (l *line) misses(b *block) bool {
	if agree(l.off(b.px, b.py), l.off(b.qx, b.qy)) > 2*b.offM*l.span {
		return true
	}
	u, v, size := l.ends(b.px, b.py, b.qx, b.qy)
	return agree(u, v) > 2*b.offM*size
}

// manyPoints is the number of points beyond which it is less work to look for the
// crossed edge of a block than to try all edges.
const manyPoints = 5

// next returns the first edge of a block, from number id on, that the line may cross:
// whose ends are not certainly on the same side of the line. It returns b.last if
// there is none.
func (l *line) next(g *grid, b *block, id int32) int32 {
	points := g.chain[b.at+id-b.first : b.at+b.last-b.first+1]
	if len(points) > manyPoints {
		u, v := l.off(b.px, b.py), l.off(b.qx, b.qy)
		if agree(u, v) < -2*b.offM*l.span && l.steeper(b, u, v) {
			if i, sure := l.passes(g.chain[b.at:][:b.last-b.first+1], u, v, noiseM*l.span); sure {
				if id > b.first+int32(i) {
					return b.last
				}
				return b.first + int32(i)
			}
		}
	}
	u := l.off(points[0][0], points[0][1])
	for _, p := range points[1:] {
		v := l.off(p[0], p[1])
		if agree(u, v) <= 2*noiseM*l.span {
			return id
		}
		u = v
		id++
	}
	return b.last
}

// steeper reports whether the line meets a block's chord at a steeper angle than any
// edge of the block does. From point to point of the block the products with the line
// then only rise or only fall, from u at the first to v at the last, and the line goes
// through one edge at most.
func (l *line) steeper(b *block, u, v float64) bool {
	// d × (q - p) = v - u
	return math.Abs(v-u) > float64(b.bend)*math.Abs(float64(l.dx*(b.qx-b.px))+float64(l.dy*(b.qy-b.py)))
}

// passes returns which edge of a chain the line passes through. From point to point of
// the chain the products with the line must only rise or only fall, from u at the
// first to v at the last, which have different signs. sure is false if the product of
// one of the edge's ends is not beyond w.
func (l *line) passes(points [][2]float64, u, v, w float64) (n int, sure bool) {
	// If the points are evenly spaced, the edge is where the line cuts the chord.
	last := len(points) - 2
	i := min(max(int(u/(u-v)*float64(last+1)), 0), last)
	sign := math.Copysign(1, u)
	near := sign * l.off(points[i][0], points[i][1])
	for near <= 0 && i > 0 {
		i--
		near = sign * l.off(points[i][0], points[i][1])
	}
	far := sign * l.off(points[i+1][0], points[i+1][1])
	for far > 0 && i < last {
		i++
		near, far = far, sign*l.off(points[i+1][0], points[i+1][1])
	}
	return i, near > w && far < -w
}
