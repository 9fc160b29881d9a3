// Package outline makes polygons of lines and points: the ring that a line goes round, and what lies
// within a distance of a path.
package outline

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geo"
	"github.com/paulmach/orb/planar"

	"liftbench/sections/exact"
)

// gapShare is how far apart the ends of a driven ring may be, as a share of its length.
const gapShare = 0.1

// Rings makes polygons of lines in longitude and latitude: each is a ring where all come back to
// where they began, else all of them are one, one line after the other. A line comes back where its
// ends lie apart by no more than a tenth of its length. What was driven past its
// beginning is left out. nil where that is no ring either, with the
// distance between its ends in metres.
func Rings(lines orb.MultiLineString) (orb.MultiPolygon, float64) {
	closes := func(l orb.LineString) (bool, float64) {
		if len(l) < 3 {
			return false, geo.Length(l)
		}
		gap := geo.DistanceHaversine(l[0], l[len(l)-1])
		return gap <= float64(gapShare*(geo.Length(l)+gap)), gap
	}
	var mp orb.MultiPolygon
	var joined orb.LineString
	for _, l := range lines {
		joined = append(joined, l...)
		if ok, _ := closes(l); ok {
			mp = append(mp, orb.Polygon{trimmed(l)})
		}
	}
	if len(mp) == len(lines) && mp != nil {
		return mp, 0
	}
	if ok, gap := closes(joined); !ok {
		return nil, gap
	}
	return orb.MultiPolygon{{trimmed(joined)}}, 0
}

// mostCompared bounds the pairs of edges that trimmed looks at.
const mostCompared = 4_000_000

// trimmed is the ring that a line goes round, without the part before and behind the place where its
// last tenth first crosses its first, or behind the place where it comes nearest to its beginning: who
// drives around a field goes on for a while past where he began.
func trimmed(l orb.LineString) orb.Ring {
	ends := float64(gapShare * geo.Length(l))
	head, tail := 1, len(l)-1 // edges up to head, and from tail on, are compared
	for along := 0.0; head < len(l)-1 && along < ends; head++ {
		along += geo.DistanceHaversine(l[head-1], l[head])
	}
	for along := 0.0; tail > head && along < ends; tail-- {
		along += geo.DistanceHaversine(l[tail-1], l[tail])
	}
	if l[0] == l[len(l)-1] || head*(len(l)-tail) > mostCompared {
		return orb.Ring(l)
	}
	for j := max(tail, head+2); j < len(l); j++ {
		for i := 1; i <= head; i++ {
			if c, ok := crossing(l[i-1], l[i], l[j-1], l[j]); ok {
				ring := append(orb.Ring{c}, l[i:j]...)
				return append(ring, c)
			}
		}
	}
	// Beside the first track all along: it ends where it comes nearest to where it began.
	nearest := len(l) - 1
	for j := tail; j < len(l); j++ {
		if geo.DistanceHaversine(l[0], l[j]) < geo.DistanceHaversine(l[0], l[nearest]) {
			nearest = j
		}
	}
	return orb.Ring(l[:nearest+1])
}

// crossing returns where the edges from a to b and from c to d cross.
func crossing(a, b, c, d orb.Point) (orb.Point, bool) {
	turn := func(p, q, r orb.Point) float64 {
		return float64((q[0]-p[0])*(r[1]-p[1])) - float64((q[1]-p[1])*(r[0]-p[0]))
	}
	u, v := turn(a, b, c), turn(a, b, d)
	if !(float64(u*v) < 0) || !(float64(turn(c, d, a)*turn(c, d, b)) < 0) {
		return a, false
	}
	s := u / (u - v)
	return orb.Point{c[0] + float64(s*(d[0]-c[0])), c[1] + float64(s*(d[1]-c[1]))}, true
}

// Buffer returns polygons on a plane that cover all within radiusM of a path, and 0.12 % of it beyond at
// most: one for each of the path's edges, or one around its only point. They overlap.
func Buffer(path []orb.Point, radiusM float64) orb.MultiPolygon {
	var mp orb.MultiPolygon
	for i := range path {
		if i > 0 || len(path) == 1 {
			mp = append(mp, orb.Polygon{around(path[max(i-1, 0)], path[i], radiusM)})
		}
	}
	return mp
}

// halfCircle is the number of edges of half a circle. They lie outside of the circle and touch it;
// the corners lie farther out by 1/cos(π/2/halfCircle) − 1, which is 0.12 %.
const halfCircle = 32

// around returns the ring around all that lies within radiusM of the straight line from a to
// b, which may be one point, counter-clockwise.
func around(a, b orb.Point, radiusM float64) orb.Ring {
	along := exact.Atan2(b[1]-a[1], b[0]-a[0])
	cornerM := radiusM / exact.Cos(math.Pi/2/halfCircle)
	ring := make(orb.Ring, 0, 2*halfCircle+1)
	for i := range 2 * halfCircle {
		end := b
		if i >= halfCircle {
			end = a
		}
		sin, cos := exact.Sincos(along - math.Pi/2 + float64((float64(i)+0.5)*(math.Pi/halfCircle)))
		ring = append(ring, orb.Point{end[0] + float64(cornerM*cos), end[1] + float64(cornerM*sin)})
	}
	return append(ring, ring[0])
}

// Inside reports whether a polygon on a plane lies inside another, farther than nearM from its outer
// ring. It looks at 64 of the inner one's corners: rings that cross are found elsewhere.
func Inside(outer, inner orb.Polygon, nearM float64) bool {
	ob, ib := outer.Bound(), inner.Bound()
	if !ob.Contains(ib.Min) || !ob.Contains(ib.Max) {
		return false
	}
	r := inner[0]
	looks := min(64, len(r))
	for i := range looks {
		c := r[i*len(r)/looks]
		if !planar.PolygonContains(outer, c) || planar.DistanceFrom(orb.LineString(outer[0]), c) <= nearM {
			return false
		}
	}
	return true
}
