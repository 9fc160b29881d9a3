// This file decides on which side of a line a point lies, so that every
// vertex, edge and end of a section that falls exactly on another is counted
// once and only once.
//
// Every point asked about is taken to lie off its coordinates by (δ, δ²), δ
// positive and smaller than any number (Edelsbrunner and Mücke 1990,
// Simulation of simplicity, ACM Trans. Graph. 9(1):66-104). Then no point lies
// on an edge, no line runs through a vertex, and a product that is exactly 0
// takes its sign from its term in δ. float64() keeps products from being fused
// into the sum, so that all architectures decide alike.

package field

import "math"

// leftOf reports whether the point (x, y) lies left of the edge from p to q.
func (e *edge) leftOf(x, y float64) bool { return e.isLeft(e.product(x, y)) }

// isLeft reports the same of a point whose product is s.
func (e *edge) isLeft(s float64) bool {
	if s == 0 {
		// (q - p) × (δ, δ²) = dx δ² - dy δ
		dx, dy := e.qx-e.px, e.qy-e.py
		return dy < 0 || dy == 0 && dx > 0
	}
	return s > 0
}

// product is (q - p) × (x - p): positive left of the edge, and in magnitude
// the distance from its line times its length.
func (e *edge) product(x, y float64) float64 {
	return float64((e.qx-e.px)*(y-e.py)) - float64((e.qy-e.py)*(x-e.px))
}

// line is the directed line from a to b = a + d.
type line struct {
	ax, ay, bx, by, dx, dy float64
	zeroIsLeft             bool // where a vertex counts that is exactly on the line
}

func newLine(ax, ay, bx, by float64) line {
	dx, dy := bx-ax, by-ay
	// d × (p - a - (δ, δ²)) = -dx δ² + dy δ for p on the line
	return line{ax, ay, bx, by, dx, dy, dy > 0 || dy == 0 && dx < 0}
}

// parts reports whether the ends of e lie on different sides of the line.
func (l *line) parts(e *edge) bool {
	p := float64(l.dx*(e.py-l.ay)) - float64(l.dy*(e.px-l.ax))
	q := float64(l.dx*(e.qy-l.ay)) - float64(l.dy*(e.qx-l.ax))
	if p*q > 0 {
		return false
	}
	return (p > 0 || p == 0 && l.zeroIsLeft) != (q > 0 || q == 0 && l.zeroIsLeft)
}

// misses reports whether the line surely crosses no edge of a block: when both
// ends of the chord lie on one side of the line and farther from it than the
// band is wide, or both ends of the line on one side of the band.
//
// Two numbers of one sign are both greater than w in magnitude if
// u v > w (|u| + |v|); w is the width times a bound of the other line's length.
func (l *line) misses(b *block) bool {
	p := l.dx*(b.py-l.ay) - l.dy*(b.px-l.ax)
	q := l.dx*(b.qy-l.ay) - l.dy*(b.qx-l.ax)
	ex, ey := b.qx-b.px, b.qy-b.py
	u := ex*(l.ay-b.py) - ey*(l.ax-b.px)
	v := ex*(l.by-b.py) - ey*(l.bx-b.px)
	aside := p*q - b.offM*(math.Abs(l.dx)+math.Abs(l.dy))*(math.Abs(p)+math.Abs(q))
	short := u*v - b.offM*(math.Abs(ex)+math.Abs(ey))*(math.Abs(u)+math.Abs(v))
	return aside > 0 || short > 0
}
