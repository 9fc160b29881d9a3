// Package headland cuts a headland of constant width from a field's boundary. It
// returns one strip for each side of the field, with rows along that side, and the body
// that remains inside.
//
// The boundary's edges are first grouped into sides, of which each runs in about one
// direction. A side's strip is the ground within the headland's width of it. At a
// corner two strips overlap: there the ground goes to the longer side, whose strip is
// driven through to the end. The ground in no strip is the body: all that is at least
// the width away from the boundary.
package headland

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/peterstace/simplefeatures/geom"

	"liftbench/sections/exact"
	"liftbench/sections/field/polygon"
)

const (
	radPerDeg = math.Pi / 180
	// sideRad is the largest angle between an edge and the mean direction of the side
	// that it is added to.
	sideRad = 17.5 * radPerDeg
	// sideToleranceM is how far the boundary may stray from a straight line and still
	// count as straight when sides are looked for. A boundary recorded by a receiver has
	// many short edges that point anywhere.
	sideToleranceM = 0.3
	// outwardM is how far a strip reaches out of the field. Its line is simplified, and
	// without that margin slivers of ground beside the boundary would be left over.
	outwardM = 0.25
	// arcRad is the step of the arcs around corners that point into the field. Between
	// two steps the arc is 1 - cos(arcRad/2), 0.03 %, short of the width.
	arcRad = 3 * radPerDeg
	// endRad is how far a strip that turns round a corner overlaps the next one, so that
	// no gap is left between the two.
	endRad = 1 * radPerDeg
	// sharpRad is the angle below which a corner is a spike.
	sharpRad = 10 * radPerDeg
	// sliverM is the width below which a piece of body is only rounding.
	sliverM = 0.05
)

// side is a part of the boundary that runs in about one direction, with the field on
// its left.
type side struct {
	points  orb.LineString // all of the boundary's points
	line    orb.LineString // those that matter: the strip is drawn along them
	bends   bool           // so tightly that the strip's outline is no polygon
	after   orb.Point      // second point of the next side's line
	lengthM float64
	dx, dy  float64 // from the first to the last point
}

// Strip is the headland along one side of the boundary.
type Strip struct {
	BearingRad float64 // of the side and of the strip's rows: clockwise from north, 0 to π
	Polygons   orb.MultiPolygon
}

// Cut returns the body and the strips of a headland of widthM, in order along the
// boundary. The boundary must be clean (polygon.Clean); it is not changed. A headland of
// 0 m has no strips. It is an error if no body is left. stop, which may be nil, is asked
// before each side, and before each piece of a side that bends is joined, whether to go
// on, as thousands take seconds: its error ends the cutting and is returned.
func Cut(boundary orb.MultiPolygon, widthM float64, stop func() error) (body orb.MultiPolygon, strips []Strip, err error) {
	if stop == nil {
		stop = func() error { return nil }
	}
	if err := polygon.Able(); err != nil && widthM > 0 {
		return nil, nil, err
	}
	inside, err := polygon.Union(boundary.Clone())
	if err != nil {
		return nil, nil, fmt.Errorf("the boundary's polygons overlap in a way that cannot be merged: %w", err)
	}
	if widthM == 0 {
		return inside, nil, nil
	}
	var sides []side
	for _, p := range inside {
		for _, r := range p {
			of := sidesOf(r)
			if err := linesOf(of, widthM, stop); err != nil {
				return nil, nil, err
			}
			sides = append(sides, of...)
		}
	}
	parts, body, err := cut(inside, sides, widthM, stop)
	if stopped := stop(); stopped != nil {
		return nil, nil, stopped
	}
	if err != nil {
		return nil, nil, fmt.Errorf("a headland of %g m cannot be cut from the boundary: %w", widthM, err)
	}
	body = slices.DeleteFunc(body, sliver)
	if len(body) == 0 {
		return nil, nil, fmt.Errorf("a headland of %g m leaves no body inside the boundary; make it narrower", widthM)
	}
	for i := range sides {
		if len(parts[i]) > 0 {
			strips = append(strips, Strip{BearingRad: sides[i].bearingRad(), Polygons: parts[i]})
		}
	}
	return body, strips, nil
}

// cut takes the strip of each side from the polygons, that of the longest side first.
// It returns the strips, in the order of sides, and what is left.
func cut(inside orb.MultiPolygon, sides []side, widthM float64, stop func() error) (strips []orb.MultiPolygon, rest orb.MultiPolygon, err error) {
	order := make([]int, len(sides))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(sides[j].lengthM, sides[i].lengthM) })
	strips = make([]orb.MultiPolygon, len(sides))
	remaining := polygon.ToGeom(inside)
	for _, i := range order {
		if err := stop(); err != nil {
			return nil, nil, err
		}
		shape, err := sides[i].strip(widthM, stop)
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
		strips[i] = tidied(polygon.FromGeom(taken))
	}
	return strips, tidied(polygon.FromGeom(remaining)), nil
}

// tidied returns the polygons of a set operation's result as clean rings, without those
// of no area.
func tidied(mp orb.MultiPolygon) orb.MultiPolygon {
	var out orb.MultiPolygon
	for _, p := range mp {
		var q orb.Polygon
		for i, r := range p {
			c, bad := polygon.CleanRing(r, i == 0)
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

// sliver reports whether a polygon's mean width is less than sliverM: a long strip of
// width w and length l has the area w l and the perimeter 2 l.
func sliver(p orb.Polygon) bool {
	var perimeterM float64
	for _, r := range p {
		perimeterM += lengthM(orb.LineString(r))
	}
	return polygon.AreaM2(orb.MultiPolygon{p}) < sliverM*perimeterM/2
}

// lengthM is the length of a line.
func lengthM(ls orb.LineString) float64 {
	var sum float64
	for i := 1; i < len(ls); i++ {
		sum += exact.Hypot(ls[i][0]-ls[i-1][0], ls[i][1]-ls[i-1][1])
	}
	return sum
}

// sidesOf groups the edges of a ring into sides. The first one begins at the ring's
// sharpest corner.
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
	add := func(from, to int) { // numbers of corners; to may run past n
		i, j := corners[from%n], corners[to%n]
		if j <= i {
			j += len(ring)
		}
		var s side
		for k := i; k <= j; k++ {
			s.points = append(s.points, ring[k%len(ring)])
		}
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

// bearingRad is the side's bearing, 0 to π: rows run both ways.
func (s *side) bearingRad() float64 {
	b := exact.Atan2(s.dx, s.dy)
	if b < 0 {
		b += math.Pi
	}
	return b
}

// between is the angle between two directions, 0 to π.
func between(ax, ay, bx, by float64) float64 {
	return math.Abs(exact.Atan2(float64(ax*by)-float64(ay*bx), float64(ax*bx)+float64(ay*by)))
}

// linesOf chooses the lines along which the strips of one ring's sides are drawn. Each
// is simplified as little as possible, but so far that the strip's outline becomes a
// sound polygon; if none does, the side is marked as one that bends.
func linesOf(sides []side, widthM float64, stop func() error) error {
	for i := range sides {
		if err := stop(); err != nil {
			return err
		}
		s := &sides[i]
		s.bends = true
		for _, toleranceM := range []float64{0.02, 0.05, 0.1} {
			s.line = simplified(s.points, toleranceM)
			if o, sound := outline(s.line, widthM); sound && polygon.Crossing(o) == nil {
				s.bends = false
				break
			}
		}
	}
	for i := range sides {
		sides[i].after = sides[(i+1)%len(sides)].line[1]
	}
	return nil
}

// strip returns the ground within widthM of the side on its left, and within outwardM on
// its right. Its ends are square; where the side turns right, and at its end if the
// boundary turns right there, it is rounded.
func (s *side) strip(widthM float64, stop func() error) (geom.Geometry, error) {
	if !s.bends {
		whole, _ := outline(s.line, widthM)
		return unionOf(append([]geom.Geometry{polygon.ToGeom(orb.MultiPolygon{whole})}, sector(s.line, s.after, endRad, widthM)...), stop)
	}
	// Join the strips of the line's edges.
	var parts []geom.Geometry
	for i := 1; i < len(s.line); i++ {
		after, beyondRad := s.after, endRad
		if i+1 < len(s.line) {
			after, beyondRad = s.line[i+1], 0
		}
		edge := s.line[i-1 : i+1]
		part, _ := outline(edge, widthM)
		parts = append(parts, polygon.ToGeom(orb.MultiPolygon{part}))
		parts = append(parts, sector(edge, after, beyondRad, widthM)...)
	}
	return unionOf(parts, stop)
}

// unionOf joins parts, neighbours first, so that borders inside disappear early. Of a
// side that bends they are thousands: stop is asked before each is joined.
func unionOf(parts []geom.Geometry, stop func() error) (geom.Geometry, error) {
	if len(parts) == 1 {
		return parts[0], nil
	}
	a, err := unionOf(parts[:len(parts)/2], stop)
	if err != nil {
		return a, err
	}
	b, err := unionOf(parts[len(parts)/2:], stop)
	if err != nil {
		return b, err
	}
	if err := stop(); err != nil {
		return geom.Geometry{}, err
	}
	return geom.Union(a, b)
}

// normal is the unit vector to the left of the way from a to b.
func normal(a, b orb.Point) orb.Point {
	d := exact.Hypot(b[0]-a[0], b[1]-a[1])
	return orb.Point{-(b[1] - a[1]) / d, (b[0] - a[0]) / d}
}

// off returns p moved by d along n.
func off(p, n orb.Point, d float64) orb.Point {
	return orb.Point{p[0] + float64(d*n[0]), p[1] + float64(d*n[1])}
}

// outline returns the border of the strip along pts, square at both ends: out along its
// right side, back along its left. sound is false if an edge between two bends is so
// short that the left side runs backwards there; then the border cuts into the strip.
func outline(pts orb.LineString, widthM float64) (p orb.Polygon, sound bool) {
	last := len(pts) - 1
	n := normal(pts[0], pts[1])
	right, left := orb.LineString{off(pts[0], n, -outwardM)}, orb.LineString{off(pts[0], n, widthM)}
	sound = true
	for i := 1; i < last; i++ {
		q, m, end := pts[i], normal(pts[i], pts[i+1]), len(left)
		// The offsets, by d, of two edges with normals n and m meet at
		// d (n + m) / (1 + n · m) from the edges' common point. At a very sharp corner
		// that is far away: 1 + n · m is taken as 0.4 at least.
		both, per := orb.Point{n[0] + m[0], n[1] + m[1]}, 1/max(1+float64(n[0]*m[0])+float64(n[1]*m[1]), 0.4)
		right = append(right, off(q, both, -outwardM*per))
		if float64(n[0]*m[1])-float64(n[1]*m[0]) < 0 {
			left = append(left, arc(q, n, between(n[0], n[1], m[0], m[1]), widthM)...)
		} else {
			left = append(left, off(q, both, widthM*per))
		}
		sound = sound && forward(n, left[end-1], left[end])
		n = m
	}
	right, left = append(right, off(pts[last], n, -outwardM)), append(left, off(pts[last], n, widthM))
	sound = sound && forward(n, left[len(left)-2], left[len(left)-1])
	slices.Reverse(left)
	r := orb.Ring(append(right, left...))
	return orb.Polygon{append(r, r[0])}, sound
}

// forward reports whether the way from a to b leads in the direction of an edge with
// normal n, and not back.
func forward(n, a, b orb.Point) bool { return float64(n[1]*(b[0]-a[0]))-float64(n[0]*(b[1]-a[1])) >= 0 }

// sector returns a sector of a circle with radius widthM around the last of pts. It
// reaches from the end of the strip along pts to the start of the strip along the way on
// to after, and beyondRad farther. It is none where the boundary turns left, because
// there the two strips overlap.
func sector(pts orb.LineString, after orb.Point, beyondRad, widthM float64) []geom.Geometry {
	p := pts[len(pts)-1]
	n, m := normal(pts[len(pts)-2], p), normal(p, after)
	rightRad := exact.Atan2(float64(n[1]*m[0])-float64(n[0]*m[1]), float64(n[0]*m[0])+float64(n[1]*m[1]))
	if rightRad < sharpRad-math.Pi {
		// At a spike a left turn of almost 180° may be a right turn of almost 180°: the
		// difference is within the tolerance of the lines.
		rightRad += 2 * math.Pi
	}
	if rightRad+beyondRad <= 0 {
		return nil
	}
	r := append(orb.Ring{p}, arc(p, n, rightRad+beyondRad, widthM)...)
	slices.Reverse(r) // counter-clockwise
	return []geom.Geometry{polygon.ToGeom(orb.MultiPolygon{{append(r, r[0])}})}
}

// arc returns the points of an arc with radius d around p, from direction n clockwise
// through turnRad, 0 to 2π.
func arc(p, n orb.Point, turnRad, d float64) orb.LineString {
	steps := max(int(math.Ceil(turnRad/arcRad)), 1)
	out := make(orb.LineString, 0, steps+1)
	for i := 0; i <= steps; i++ {
		s, c := exact.Sincos(-turnRad * float64(i) / float64(steps))
		out = append(out, off(p, orb.Point{float64(c*n[0]) - float64(s*n[1]), float64(s*n[0]) + float64(c*n[1])}, d))
	}
	return out
}
