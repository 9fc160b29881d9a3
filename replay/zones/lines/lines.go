// Package lines knows lines that were driven: how they run, how they go on beyond
// their ends, where they meet, and what lies beside them. Places are in metres east and
// north, directions in radians clockwise from north.
package lines

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

const (
	endFitM  = 14.0 // the end of a line goes on as these last metres do
	bendFitM = 26.0 // and bends on as these do

	CarriedM = 40.0   // a line is carried on, or cut back, by so much at most
	FarM     = 3000.0 // beyond any field
)

// Between is the distance of two places, m.
func Between(a, b orb.Point) float64 { return math.Hypot(b[0]-a[0], b[1]-a[1]) }

// Bearing is the direction from a to b, radians clockwise from north.
func Bearing(a, b orb.Point) float64 { return math.Atan2(b[0]-a[0], b[1]-a[1]) }

// Turned is the angle from direction a to direction b, -π to π, positive to the
// right.
func Turned(a, b float64) float64 { return math.Remainder(b-a, 2*math.Pi) }

// Tilted is the angle between two directions that may be driven both ways, -π/2
// to π/2.
func Tilted(a, b float64) float64 { return math.Remainder(b-a, math.Pi) }

// Fit fits a line to points by least squares across it. dir is its
// direction, radians clockwise from north, the way the points go; asideM is how
// far to the right of the last point it passes.
func Fit(l orb.LineString) (dir, asideM float64) {
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

// Curvature fits a parabola across the chord of a line: 1/m, positive where it
// bends to the right.
func Curvature(l orb.LineString) float64 {
	dir := Bearing(l[0], l[len(l)-1])
	s, c := math.Sincos(dir)
	// Least squares against u², made orthogonal to 1 and u on these very points.
	var mean, m2, m3 float64
	n := float64(len(l))
	for _, p := range l {
		mean += ((p[0]-l[0][0])*s + (p[1]-l[0][1])*c) / n
	}
	at := func(p orb.Point) (u, aside float64) {
		dx, dy := p[0]-l[0][0], p[1]-l[0][1]
		return dx*s + dy*c - mean, dx*c - dy*s
	}
	for _, p := range l {
		u, _ := at(p)
		m2 += u * u / n
		m3 += u * u * u / n
	}
	var num, den float64
	for _, p := range l {
		u, aside := at(p)
		q := u*u - m2 - m3/m2*u
		num += q * aside
		den += q * q
	}
	if !(den > 0) {
		return 0
	}
	return 2 * num / den
}

// CarriedOn returns how a line goes on beyond its last point, for CarriedM:
// straight on, or along an arc where it bends clearly.
func CarriedOn(l orb.LineString) orb.LineString {
	n := len(l)
	end := l[n-1]
	tail := func(m float64) orb.LineString {
		i, length := n-1, 0.0
		for i > 0 && length < m {
			length += Between(l[i], l[i-1])
			i--
		}
		return l[i:]
	}
	dir, aside := Fit(tail(endFitM))
	s, c := math.Sincos(dir)
	from := orb.Point{end[0] + aside*c, end[1] - aside*s}
	if t := tail(bendFitM); len(t) >= 8 && Between(t[0], end) > bendFitM*0.8 {
		if perM := Curvature(t); math.Abs(perM)*bendFitM*bendFitM/8 > 0.15 && math.Abs(perM) < 1.0/15 {
			// The tangent at the end is the line's fit, turned on by half its length.
			at, d := end, dir+perM*endFitM/2
			var out orb.LineString
			for range int(CarriedM) {
				d += perM / 2
				s, c := math.Sincos(d)
				at = orb.Point{at[0] + s, at[1] + c}
				d += perM / 2
				out = append(out, at)
			}
			return out
		}
	}
	return orb.LineString{from, {from[0] + CarriedM*s, from[1] + CarriedM*c}}
}

// Meet joins two lines, as sides of a round: each is cut back or carried on to where they
// meet. ok is false where they do not.
func Meet(a, b orb.LineString) (x orb.Point, ia, ib int, ok bool) {
	if len(a) < 2 || len(b) < 2 {
		return
	}
	back := func(l orb.LineString) int { // the first point of the last CarriedM, or half
		i, length := len(l)-1, 0.0
		for i > len(l)/2 && length < CarriedM {
			length += Between(l[i], l[i-1])
			i--
		}
		return i
	}
	ka := back(a)
	rb := slices.Clone(b)
	rb.Reverse()
	kb := back(rb)
	ta := append(slices.Clone(a[ka:]), CarriedOn(a)...)
	tb := append(slices.Clone(rb[kb:]), CarriedOn(rb)...)
	best := math.Inf(1)
	endA, endB := len(a)-ka-1, len(rb)-kb-1 // of the driven part of ta and tb
	for i := 1; i < len(ta); i++ {
		for j := 1; j < len(tb); j++ {
			p, crossed := Crossing(ta[i-1], ta[i], tb[j-1], tb[j])
			if !crossed {
				continue
			}
			if d := Between(p, a[len(a)-1]) + Between(p, b[0]); d < best {
				best, x, ok = d, p, true
				ia, ib = ka+min(i-1, endA)+1, len(b)-(kb+min(j-1, endB)+1)
			}
		}
	}
	return x, ia, ib, ok
}

// Crossing returns where two pieces of line cross.
func Crossing(a, b, c, d orb.Point) (orb.Point, bool) {
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

// DirAt is the direction of a line near one of its points.
func DirAt(l orb.LineString, i int) float64 {
	a, b := max(0, i-5), min(len(l)-1, i+5)
	return Bearing(l[a], l[b])
}

// Far is a point far beyond b, seen from a.
func Far(a, b orb.Point) orb.Point {
	d := Between(a, b)
	return orb.Point{b[0] + (b[0]-a[0])/d*FarM, b[1] + (b[1]-a[1])/d*FarM}
}

// Aside is how far a point lies to the right of the nearest piece of a line.
func Aside(l orb.LineString, p orb.Point) float64 {
	best, value := math.Inf(1), 0.0
	for i := 1; i < len(l); i++ {
		if d := planar.DistanceFromSegment(l[i-1], l[i], p); d < best {
			best = d
			dx, dy := l[i][0]-l[i-1][0], l[i][1]-l[i-1][1]
			value = math.Copysign(d, dy*(p[0]-l[i-1][0])-dx*(p[1]-l[i-1][1]))
		}
	}
	return value
}

// Beside moves a line to its right, corners kept sharp.
func Beside(l orb.LineString, rightM float64) orb.LineString {
	n := len(l)
	out := make(orb.LineString, n)
	normal := func(i int) (x, y float64) {
		d := Between(l[i], l[i+1])
		return (l[i+1][1] - l[i][1]) / d, -(l[i+1][0] - l[i][0]) / d
	}
	for i := range l {
		ax, ay := normal(max(0, i-1))
		bx, by := normal(min(n-2, i))
		sx, sy := ax+bx, ay+by
		k := 2 * rightM / (sx*sx + sy*sy)
		out[i] = orb.Point{l[i][0] + k*sx, l[i][1] + k*sy}
	}
	return out
}

// Distances are those from points all along ring b, 5 m or less apart, to ring a.
func Distances(a, b orb.Ring) []float64 {
	var all []float64
	for i := 1; i < len(b); i++ {
		n := int(Between(b[i-1], b[i])/5) + 1
		for k := range n {
			u := (float64(k) + 0.5) / float64(n)
			p := orb.Point{b[i-1][0] + u*(b[i][0]-b[i-1][0]), b[i-1][1] + u*(b[i][1]-b[i-1][1])}
			all = append(all, planar.DistanceFrom(orb.LineString(a), p))
		}
	}
	return all
}
