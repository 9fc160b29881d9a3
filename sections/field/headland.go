// This file makes zones from a bare boundary: a headland of one width along
// it, in strips with rows along the border, and the body inside.
//
// The boundary's edges are grouped into sides of about one direction. A side's
// strip is what lies within the width of it; where strips overlap, at corners,
// the longest side has it, as the strip that is worked first and longest. What
// no strip takes is the body: the boundary offset inward by the width.

package field

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"
)

const (
	// sideRad is how far an edge may point from the mean of the side it joins.
	sideRad = 17.5 * radPerDeg
	// sideToleranceM is how far the boundary may wander from a line and still
	// have its direction: a boundary driven with a receiver is full of short
	// edges that point anywhere.
	sideToleranceM = 0.3
	// outwardM is how far a strip reaches beyond its side, so that the set
	// operations need not follow the boundary exactly.
	outwardM = 0.25
	// arcRad is the step of arcs around corners that point into the field; they
	// are short of the width by 1 - cos(arcRad/2), 0.03 %.
	arcRad = 3 * radPerDeg
	// endRad is how far beyond the next side's direction a strip reaches around
	// the end of its own.
	endRad = 20 * radPerDeg
	// maxHeadlandClasses leaves room for body and keep-out in a Mask; beyond it
	// bearings are rounded to roundRad, which leaves 36.
	maxHeadlandClasses = maxClasses - 8
	roundRad           = 5 * radPerDeg
	// sliverM is the width below which a piece of body is left over from
	// rounding.
	sliverM = 0.05
)

// side is a run of a boundary's points with the field on its left. points are
// as the boundary has them.
type side struct {
	points  orb.LineString
	after   orb.Point // the boundary's next point, where the next side heads
	lengthM float64
	dx, dy  float64 // from the first to the last point
}

// headland returns the body, and the strips of a headland of widthM around it
// in order along the boundary. boundary is clean.
func headland(boundary orb.MultiPolygon, widthM, bodyBearingRad float64) ([]Zone, error) {
	inside, err := merged(boundary.Clone())
	if err != nil {
		return nil, fmt.Errorf("the boundary's polygons overlap in a way that cannot be merged: %w", err)
	}
	if widthM == 0 {
		return []Zone{{Name: "body", Kind: Body, RowBearingRad: bodyBearingRad, Polygons: inside}}, nil
	}
	var sides []side
	for _, p := range inside {
		for _, r := range p {
			sides = append(sides, sidesOf(r)...)
		}
	}
	strips, rest, err := cut(inside, sides, widthM)
	if err != nil {
		return nil, fmt.Errorf("a headland of %g m cannot be cut from the boundary: %w", widthM, err)
	}
	rest = slices.DeleteFunc(rest, sliver)
	if len(rest) == 0 {
		return nil, fmt.Errorf("a headland of %g m leaves no body inside the boundary; make it narrower", widthM)
	}
	zones := []Zone{{Name: "body", Kind: Body, RowBearingRad: bodyBearingRad, Polygons: rest}}
	for i := range sides {
		if len(strips[i]) == 0 {
			continue
		}
		bearing := sides[i].bearingRad()
		if len(sides) > maxHeadlandClasses {
			bearing = math.Round(bearing/roundRad) * roundRad
		}
		zones = append(zones, Zone{
			Name: fmt.Sprintf("headland %d", len(zones)), Kind: Headland,
			RowBearingRad: bearing, Polygons: strips[i],
		})
	}
	return zones, nil
}

// cut takes each side's strip from the polygons, the longest side first, and
// returns the strips in the order of sides, and the rest.
func cut(inside orb.MultiPolygon, sides []side, widthM float64) (strips []orb.MultiPolygon, rest orb.MultiPolygon, err error) {
	order := make([]int, len(sides))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(sides[j].lengthM, sides[i].lengthM) })
	strips = make([]orb.MultiPolygon, len(sides))
	remaining := toGeom(inside)
	for _, i := range order {
		shape, err := sides[i].strip(widthM)
		if err != nil {
			return nil, nil, err
		}
		taken, err := geom.Intersection(remaining, shape)
		if err != nil {
			return nil, nil, err
		}
		if remaining, err = geom.Difference(remaining, shape); err != nil {
			return nil, nil, err
		}
		strips[i] = tidied(fromGeom(taken))
	}
	return strips, tidied(fromGeom(remaining)), nil
}

// tidied brings the rings of a set operation's result into order and leaves
// out those of no size.
func tidied(mp orb.MultiPolygon) orb.MultiPolygon {
	var out orb.MultiPolygon
	for _, p := range mp {
		var q orb.Polygon
		for i, r := range p {
			c, bad := cleanedRing(r, i == 0)
			if bad != nil {
				if i == 0 {
					break
				}
				continue
			}
			q = append(q, c)
		}
		if q != nil {
			out = append(out, q)
		}
	}
	return out
}

// sliver reports whether a polygon is nowhere wider than about sliverM: a
// strip of width w and length l has area w l and perimeter 2 l.
func sliver(p orb.Polygon) bool {
	var perimeterM float64
	for _, r := range p {
		perimeterM += lengthM(orb.LineString(r))
	}
	return areaM2(orb.MultiPolygon{p}) < sliverM*perimeterM/2
}

func lengthM(ls orb.LineString) float64 {
	var sum float64
	for i := 1; i < len(ls); i++ {
		sum += math.Hypot(ls[i][0]-ls[i-1][0], ls[i][1]-ls[i-1][1])
	}
	return sum
}

// sidesOf groups the edges of a ring into sides, beginning at its sharpest
// corner.
func sidesOf(r orb.Ring) []side {
	ring := r[:len(r)-1]
	corners := simplifiedRing(ring, sideToleranceM)
	n := len(corners)
	at := func(k int) orb.Point { return ring[corners[k%n]] }
	edge := func(k int) (dx, dy float64) {
		a, b := at(k), at(k+1)
		return b[0] - a[0], b[1] - a[1]
	}
	sharpest, most := 0, -1.0
	for k := range n {
		ax, ay := edge(k + n - 1)
		bx, by := edge(k)
		if a := between(ax, ay, bx, by); a > most {
			sharpest, most = k, a
		}
	}
	var sides []side
	add := func(from, to int) { // corners, to may run past n
		i, j := corners[from%n], corners[to%n]
		if j <= i {
			j += len(ring)
		}
		var s side
		for k := i; k <= j; k++ {
			s.points = append(s.points, ring[k%len(ring)])
		}
		s.after = ring[(j+1)%len(ring)]
		s.lengthM = lengthM(s.points)
		a, b := s.points[0], s.points[len(s.points)-1]
		s.dx, s.dy = b[0]-a[0], b[1]-a[1]
		sides = append(sides, s)
	}
	from := sharpest
	sx, sy := edge(from)
	for k := sharpest + 1; k < sharpest+n; k++ {
		dx, dy := edge(k)
		if between(sx, sy, dx, dy) > sideRad {
			add(from, k)
			from, sx, sy = k, 0, 0
		}
		sx, sy = sx+dx, sy+dy
	}
	add(from, sharpest+n)
	return sides
}

// bearingRad is 0 to π: rows have no direction.
func (s *side) bearingRad() float64 {
	b := math.Atan2(s.dx, s.dy)
	if b < 0 {
		b += math.Pi
	}
	return b
}

// between is the angle between two directions, 0 to π.
func between(ax, ay, bx, by float64) float64 {
	return math.Abs(math.Atan2(ax*by-ay*bx, ax*bx+ay*by))
}

// strip returns what lies within widthM left of the side, square at both ends
// and rounded where the side turns right, and outwardM right of it.
func (s *side) strip(widthM float64) (geom.Geometry, error) {
	for _, toleranceM := range []float64{0.02, 0.05, 0.1} {
		o := outline(simplified(s.points, toleranceM), s.after, widthM)
		if crossingOf(o) == nil {
			return toGeom(orb.MultiPolygon{o}), nil
		}
	}
	// Where the side bends more tightly than the width, its outline crosses
	// itself: put it together from its edges.
	pts := simplified(s.points, 0.1)
	parts := make([]geom.Geometry, 0, len(pts))
	for i := 1; i < len(pts); i++ {
		after := s.after
		if i+1 < len(pts) {
			after = pts[i+1]
		}
		parts = append(parts, toGeom(orb.MultiPolygon{outline(pts[i-1:i+1], after, widthM)}))
	}
	return unionOf(parts)
}

// unionOf joins neighbours first, so that what is inside is gone early.
func unionOf(parts []geom.Geometry) (geom.Geometry, error) {
	if len(parts) == 1 {
		return parts[0], nil
	}
	a, err := unionOf(parts[:len(parts)/2])
	if err != nil {
		return a, err
	}
	b, err := unionOf(parts[len(parts)/2:])
	if err != nil {
		return b, err
	}
	return geom.Union(a, b)
}

// outline is the strip's border: out along the right, back along the left.
// after is the point that follows the last.
func outline(pts orb.LineString, after orb.Point, widthM float64) orb.Polygon {
	last := len(pts) - 1
	normal := func(a, b orb.Point) orb.Point {
		d := math.Hypot(b[0]-a[0], b[1]-a[1])
		return orb.Point{-(b[1] - a[1]) / d, (b[0] - a[0]) / d}
	}
	off := func(p, n orb.Point, d float64) orb.Point { return orb.Point{p[0] + d*n[0], p[1] + d*n[1]} }
	// mitre is where the offsets of two edges with normals m and n meet:
	// d (m + n) / (1 + m · n) from their common point. Where they double back
	// it would be far off, and is held at five times the distance.
	mitre := func(p, m, n orb.Point, d float64) orb.Point {
		return off(p, orb.Point{m[0] + n[0], m[1] + n[1]}, d/max(1+m[0]*n[0]+m[1]*n[1], 0.4))
	}
	var right, left orb.LineString
	for i := 0; i < last; i++ {
		n := normal(pts[i], pts[i+1])
		if i == 0 {
			right = append(right, off(pts[0], n, -outwardM))
			left = append(left, off(pts[0], n, widthM))
		}
		next := after
		if i+1 < last {
			next = pts[i+2]
		}
		p, m := pts[i+1], normal(pts[i+1], next)
		turnsRight := n[0]*m[1]-n[1]*m[0] < 0
		if i+1 == last && n[0]*m[0]+n[1]*m[1] > math.Cos(endRad) || turnsRight && i+1 == last {
			// The next side may set off in another direction than the boundary's
			// next point, once simplified: reach a little farther around.
			s, c := math.Sincos(-endRad)
			m, turnsRight = orb.Point{c*m[0] - s*m[1], s*m[0] + c*m[1]}, true
		}
		switch {
		case turnsRight:
			left = append(left, arc(p, n, m, widthM)...)
		case i+1 < last:
			left = append(left, mitre(p, n, m, widthM))
		default:
			left = append(left, off(p, n, widthM))
		}
		if i+1 < last {
			right = append(right, mitre(p, n, m, -outwardM))
			continue
		}
		if turnsRight {
			right = append(right, off(p, n, -outwardM), p)
		} else {
			right = append(right, off(p, n, -outwardM))
		}
	}
	slices.Reverse(left)
	r := orb.Ring(append(right, left...))
	return orb.Polygon{append(r, r[0])}
}

// arc returns points at distance d around p from direction m clockwise to n.
func arc(p, m, n orb.Point, d float64) orb.LineString {
	total := math.Atan2(m[0]*n[1]-m[1]*n[0], m[0]*n[0]+m[1]*n[1]) // negative
	steps := max(int(math.Ceil(-total/arcRad)), 1)
	out := make(orb.LineString, 0, steps+1)
	for i := 0; i <= steps; i++ {
		s, c := math.Sincos(total * float64(i) / float64(steps))
		out = append(out, orb.Point{p[0] + d*(c*m[0]-s*m[1]), p[1] + d*(s*m[0]+c*m[1])})
	}
	return out
}
