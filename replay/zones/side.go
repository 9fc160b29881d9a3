// Sides of a round: smoothed strokes, carried on beyond their ends until they
// meet, because a tractor rounds the corners that a border has.

package zones

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
)

const (
	smoothM  = 6.0  // half the stretch over which a side is smoothed
	endFitM  = 14.0 // the end of a side goes on as these last metres do
	bendFitM = 26.0 // and bends on as these do
	cornerM  = 40.0 // a side is carried on, or cut back, by so much at most
)

// smoothed returns a line through points of the way: at each metre a parabola,
// fitted to the points within smoothM by least squares.
func (w *way) smoothed(from, to int) orb.LineString {
	p := w.points[from:to]
	if len(p) < 2 {
		return w.line(from, to)
	}
	start, end := p[0].alongM, p[len(p)-1].alongM
	n := max(1, int(end-start))
	out := make(orb.LineString, 0, n+1)
	lo, hi := 0, 0
	for i := 0; i <= n; i++ {
		s := start + (end-start)*float64(i)/float64(n)
		for p[lo].alongM < s-smoothM {
			lo++
		}
		for hi < len(p) && p[hi].alongM <= s+smoothM {
			hi++
		}
		out = append(out, parabolaAt(p[lo:hi], s))
	}
	return out
}

// parabolaAt fits x and y as parabolas of the way driven and returns their
// values at alongM.
func parabolaAt(p []point, alongM float64) orb.Point {
	if len(p) < 5 {
		return lineAt(p, alongM)
	}
	var m [5]float64
	var x, y [3]float64
	x0, y0 := p[0].at[0], p[0].at[1]
	for i := range p {
		u := (p[i].alongM - alongM) / smoothM
		k := 1.0
		for d := range 5 {
			m[d] += k
			if d < 3 {
				x[d] += k * (p[i].at[0] - x0)
				y[d] += k * (p[i].at[1] - y0)
			}
			k *= u
		}
	}
	// The first row of the inverse of [m0 m1 m2; m1 m2 m3; m2 m3 m4].
	a, b, c := m[2]*m[4]-m[3]*m[3], m[2]*m[3]-m[1]*m[4], m[1]*m[3]-m[2]*m[2]
	det := m[0]*a + m[1]*b + m[2]*c
	if math.Abs(det) < 1e-9*m[0]*m[0]*m[0] {
		return lineAt(p, alongM)
	}
	return orb.Point{x0 + (a*x[0]+b*x[1]+c*x[2])/det, y0 + (a*y[0]+b*y[1]+c*y[2])/det}
}

// lineAt interpolates a few points.
func lineAt(p []point, alongM float64) orb.Point {
	for i := 1; i < len(p); i++ {
		a, b := &p[i-1], &p[i]
		if alongM <= b.alongM || i == len(p)-1 {
			u := 0.0
			if d := b.alongM - a.alongM; d > 0 {
				u = min(max((alongM-a.alongM)/d, 0), 1)
			}
			return orb.Point{a.at[0] + u*(b.at[0]-a.at[0]), a.at[1] + u*(b.at[1]-a.at[1])}
		}
	}
	return p[0].at
}

// carriedOn returns how a line goes on beyond its last point, for cornerM:
// straight on, or along an arc where it bends clearly.
func carriedOn(l orb.LineString) orb.LineString {
	n := len(l)
	end := l[n-1]
	tail := func(m float64) orb.LineString {
		i, length := n-1, 0.0
		for i > 0 && length < m {
			length += between(l[i], l[i-1])
			i--
		}
		return l[i:]
	}
	dir, aside := fitLine(tail(endFitM))
	s, c := math.Sincos(dir)
	from := orb.Point{end[0] + aside*c, end[1] - aside*s}
	if t := tail(bendFitM); len(t) >= 8 && between(t[0], end) > bendFitM*0.8 {
		if perM := curvature(t); math.Abs(perM)*bendFitM*bendFitM/8 > 0.15 && math.Abs(perM) < 1.0/15 {
			// The tangent at the end is the line's fit, turned on by half its length.
			at, d := end, dir+perM*endFitM/2
			var out orb.LineString
			for range int(cornerM) {
				d += perM / 2
				s, c := math.Sincos(d)
				at = orb.Point{at[0] + s, at[1] + c}
				d += perM / 2
				out = append(out, at)
			}
			return out
		}
	}
	return orb.LineString{from, {from[0] + cornerM*s, from[1] + cornerM*c}}
}

// fitLine fits a line to points by least squares across it. dir is its
// direction, radians clockwise from north, the way the points go; asideM is how
// far to the right of the last point it passes.
func fitLine(l orb.LineString) (dir, asideM float64) {
	var mx, my float64
	for _, p := range l {
		mx += p[0]
		my += p[1]
	}
	n := float64(len(l))
	mx, my = mx/n, my/n
	var xx, xy, yy float64
	for _, p := range l {
		dx, dy := p[0]-mx, p[1]-my
		xx += dx * dx
		xy += dx * dy
		yy += dy * dy
	}
	dir = math.Atan2(2*xy, yy-xx) / 2 // of the axis along which the points spread, from north
	first, last := l[0], l[len(l)-1]
	if math.Cos(dir)*(last[1]-first[1])+math.Sin(dir)*(last[0]-first[0]) < 0 {
		dir += math.Pi
	}
	s, c := math.Sincos(dir)
	return dir, (mx-last[0])*c - (my-last[1])*s
}

// curvature fits a parabola across the chord of a line: 1/m, positive where it
// bends to the right.
func curvature(l orb.LineString) float64 {
	dir := bearing(l[0], l[len(l)-1])
	s, c := math.Sincos(dir)
	length := between(l[0], l[len(l)-1])
	// Against the second Legendre polynomial, which is free of offset and slope
	// for points that are evenly spread.
	var num, den float64
	for _, p := range l {
		dx, dy := p[0]-l[0][0], p[1]-l[0][1]
		u := 2*(dx*s+dy*c)/length - 1
		q := (3*u*u - 1) / 2
		num += q * (dx*c - dy*s)
		den += q * q
	}
	if den == 0 {
		return 0
	}
	return num / den * 3 / (length * length / 4) // aside = k·q, and its second derivative over u is 3k
}

// meet joins two sides of a round: each is cut back or carried on to where they
// meet. ok is false where they do not.
func meet(a, b orb.LineString) (x orb.Point, ia, ib int, ok bool) {
	if len(a) < 2 || len(b) < 2 {
		return
	}
	back := func(l orb.LineString) int { // the first point of the last cornerM, or half
		i, length := len(l)-1, 0.0
		for i > len(l)/2 && length < cornerM {
			length += between(l[i], l[i-1])
			i--
		}
		return i
	}
	ka := back(a)
	rb := slices.Clone(b)
	rb.Reverse()
	kb := back(rb)
	ta := append(slices.Clone(a[ka:]), carriedOn(a)...)
	tb := append(slices.Clone(rb[kb:]), carriedOn(rb)...)
	best := math.Inf(1)
	endA, endB := len(a)-ka-1, len(rb)-kb-1 // of the driven part of ta and tb
	for i := 1; i < len(ta); i++ {
		for j := 1; j < len(tb); j++ {
			p, crossed := crossing(ta[i-1], ta[i], tb[j-1], tb[j])
			if !crossed {
				continue
			}
			if d := between(p, a[len(a)-1]) + between(p, b[0]); d < best {
				best, x, ok = d, p, true
				ia, ib = ka+min(i-1, endA)+1, len(b)-(kb+min(j-1, endB)+1)
			}
		}
	}
	return x, ia, ib, ok
}

// crossing returns where two pieces of line cross.
func crossing(a, b, c, d orb.Point) (orb.Point, bool) {
	rx, ry, sx, sy := b[0]-a[0], b[1]-a[1], d[0]-c[0], d[1]-c[1]
	det := rx*sy - ry*sx
	if det == 0 {
		return orb.Point{}, false
	}
	t := ((c[0]-a[0])*sy - (c[1]-a[1])*sx) / det
	u := ((c[0]-a[0])*ry - (c[1]-a[1])*rx) / det
	if t < 0 || t > 1 || u < 0 || u > 1 {
		return orb.Point{}, false
	}
	return orb.Point{a[0] + t*rx, a[1] + t*ry}, true
}
