// Package offset moves rings in and out with sharp corners, and takes ground from
// ground: what lies half a width beside a line that was driven.
package offset

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/paulmach/orb/simplify"
	"github.com/peterstace/simplefeatures/geom"

	"liftbench/sections/field/polygon"
)

const (
	straightM = 0.03 // a border's vertices that matter less than this are left out
	miterMost = 2.5  // a sharp corner reaches this many times the offset out
)

// RingOf closes a line, makes it counter-clockwise and leaves out what matters
// less than straightM.
func RingOf(l orb.LineString) orb.Ring {
	if len(l) < 3 {
		return nil
	}
	closed := append(l.Clone(), l[0])
	closed = simplify.DouglasPeucker(straightM).Simplify(closed).(orb.LineString)
	r := orb.Ring(closed)
	if len(r) < 4 {
		return nil
	}
	if r.Orientation() == orb.CW {
		r.Reverse()
	}
	return r
}

// Straightened leaves out of an open line what matters less than straightM.
func Straightened(l orb.LineString) orb.LineString {
	return simplify.DouglasPeucker(straightM).Simplify(l.Clone()).(orb.LineString)
}

func between(a, b orb.Point) float64 { return math.Hypot(b[0]-a[0], b[1]-a[1]) }

// bands returns the ground within offsetM of a ring's edges, on their right
// (outside a counter-clockwise ring) or on their left: rectangles, and wedges
// that make corners sharp.
func bands(r orb.Ring, offsetM float64, right bool) orb.MultiPolygon {
	side := 1.0
	if !right {
		side = -1
	}
	n := len(r) - 1
	normal := func(i int) (x, y float64) {
		p, q := r[(i+n)%n], r[(i+n)%n+1]
		d := between(p, q)
		return side * offsetM * (q[1] - p[1]) / d, -side * offsetM * (q[0] - p[0]) / d
	}
	var out orb.MultiPolygon
	add := func(ring orb.Ring) {
		if ring.Orientation() == orb.CW {
			ring.Reverse()
		}
		if math.Abs(planar.Area(ring)) > 1e-6 {
			out = append(out, orb.Polygon{ring})
		}
	}
	for i := range n {
		p, q := r[i], r[i+1]
		nx, ny := normal(i)
		add(orb.Ring{p, q, {q[0] + nx, q[1] + ny}, {p[0] + nx, p[1] + ny}, p})
		// The corner at p, where the ring turns away from this side.
		mx, my := normal(i - 1)
		if cross := mx*ny - my*nx; cross*side <= 1e-9 {
			continue
		}
		// The sharp tip lies along the sum of both normals.
		sx, sy := mx+nx, my+ny
		k := 2 * offsetM * offsetM / (sx*sx + sy*sy)
		if reach := k * math.Hypot(sx, sy); reach > miterMost*offsetM {
			k *= miterMost * offsetM / reach
		}
		add(orb.Ring{p, {p[0] + mx, p[1] + my}, {p[0] + k*sx, p[1] + k*sy}, {p[0] + nx, p[1] + ny}, p})
	}
	return out
}

// Outset returns the ground inside a ring and within offsetM outside it.
func Outset(r orb.Ring, offsetM float64) (orb.MultiPolygon, error) {
	if err := polygon.Able(); err != nil {
		return nil, err
	}
	all := append(bands(r, offsetM, true), orb.Polygon{r})
	u, err := geom.UnaryUnion(polygon.ToGeom(all))
	if err != nil {
		return nil, err
	}
	out := orb.MultiPolygon{}
	for _, p := range polygon.FromGeom(u) {
		out = append(out, p[:1]) // what is enclosed is inside
	}
	return Largest(out), nil
}

// Inset returns the ground inside a ring and at least offsetM from it.
func Inset(r orb.Ring, offsetM float64) (orb.MultiPolygon, error) {
	return Without(orb.MultiPolygon{{r}}, bands(r, offsetM, false))
}

// Without returns the ground of a that is not b's.
func Without(a, b orb.MultiPolygon) (orb.MultiPolygon, error) {
	if len(b) == 0 {
		return a, nil
	}
	if err := polygon.Able(); err != nil {
		return nil, err
	}
	u, err := geom.UnaryUnion(polygon.ToGeom(b))
	if err != nil {
		return nil, err
	}
	d, err := geom.Difference(polygon.ToGeom(a), u)
	if err != nil {
		return nil, err
	}
	return tidy(polygon.FromGeom(d)), nil
}

// Common returns the ground that is a's and b's.
func Common(a, b orb.MultiPolygon) (orb.MultiPolygon, error) {
	if err := polygon.Able(); err != nil {
		return nil, err
	}
	ua, err := geom.UnaryUnion(polygon.ToGeom(a))
	if err != nil {
		return nil, err
	}
	ub, err := geom.UnaryUnion(polygon.ToGeom(b))
	if err != nil {
		return nil, err
	}
	g, err := geom.Intersection(ua, ub)
	if err != nil {
		return nil, err
	}
	return tidy(polygon.FromGeom(g)), nil
}

// sliverM is the width below which a piece of ground is rounding.
const sliverM = 0.3

// tidy leaves out pieces and holes that are slivers, and vertices that do not
// matter.
func tidy(mp orb.MultiPolygon) orb.MultiPolygon {
	var out orb.MultiPolygon
	for _, p := range mp {
		var q orb.Polygon
		for i, r := range p {
			if thin(r) {
				if i == 0 {
					break
				}
				continue
			}
			s := simplify.DouglasPeucker(straightM / 2).Simplify(orb.LineString(r.Clone())).(orb.LineString)
			if len(s) < 4 {
				s = orb.LineString(r)
			}
			q = append(q, orb.Ring(s))
		}
		if len(q) > 0 {
			out = append(out, q)
		}
	}
	return out
}

// thin reports whether a ring is a sliver.
func thin(r orb.Ring) bool {
	length := planar.Length(orb.LineString(r))
	return length == 0 || 2*math.Abs(planar.Area(r))/length < sliverM
}

// Largest returns the largest polygon.
func Largest(mp orb.MultiPolygon) orb.MultiPolygon {
	var best orb.MultiPolygon
	most := 0.0
	for _, p := range mp {
		if a := planar.Area(p); a > most {
			best, most = orb.MultiPolygon{p}, a
		}
	}
	return best
}
