// Package rowline is a crop row that bends, as a contour, a circle or a headland's
// round, and all the rows beside it: they are its parallels. It answers at any place
// how the rows run there, how far along them and how far beside the line the place
// lies. The answer takes about the same time however many points the line has, and
// allocates nothing.
package rowline

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/exact"
)

const (
	// ThinM is how far apart the points are at least that the row is laid through, so
	// that positions a centimetre or two off do not bend it.
	ThinM = 4.0
	// cosSharp is of the largest bend at one point: points of a circle of 4 m radius, 4 m
	// apart, turn by a little less.
	cosSharp = 0.5 // of 60°
	// LeastM is how long a line must be to say how rows run.
	LeastM = 10.0
	// sagittaM is how far a chord lies off the row at most, and longestM its length.
	sagittaM = 0.0005
	longestM = 4.0
	// mostVertices bounds what the index takes: 100 km of chords a metre long.
	mostVertices = 100_000
)

// Line is a row that bends. Its place and direction are known along it by stations:
// metres from its first point. An open line carries on straight beyond its ends. It
// does not change once made, and is safe for concurrent use.
type Line struct {
	vertices []vertex // of a closed line the last is the first again
	closed   bool
	index    index
}

// vertex is a point of the row, the direction of the row there and its station.
type vertex struct{ e, n, sin, cos, s float64 }

// Foot is a place as the rows see it.
type Foot struct {
	// StationM is how far along the line its nearest point lies; negative ahead of an
	// open line, more than its length beyond it.
	StationM float64
	// RightM is how far the place lies beside that point, positive to the right of the
	// line's direction.
	RightM float64
	// Sin and Cos are of the row's direction there, clockwise from north.
	Sin, Cos float64
	// CurvaturePerM is that of the row through the place, positive to the right; 0
	// beyond an end. At the centre of a bend it would be infinite: it is at most
	// tightestPerM.
	CurvaturePerM float64
}

const tightestPerM = 1.0

// New returns the row that runs smoothly through the points, metres east and north on
// the plane. Points less than ThinM after the one before are left out. If the ends lie
// no further apart than that, the line is closed. The direction at a point is that of
// the circle through it and its neighbours, so that points on a circle give a circle.
// The error says what is wrong with the line, and where.
func New(points orb.LineString) (*Line, error) {
	knots := thin(points)
	n := len(knots)
	if n < 2 {
		return nil, fmt.Errorf("a row line shorter than %g m; expected %g m or more", ThinM, LeastM)
	}
	length := 0.0
	for i := 1; i < n; i++ {
		length += apart(knots[i-1], knots[i])
	}
	if !(length >= LeastM) {
		return nil, fmt.Errorf("a row line of %.2f m; expected %g m or more", length, LeastM)
	}
	l := &Line{closed: n > 3 && apart(knots[0], knots[n-1]) <= ThinM}
	if l.closed {
		knots[n-1] = knots[0]
	}
	tangents, err := tangentsOf(knots, l.closed)
	if err != nil {
		return nil, err
	}
	l.vertices = append(l.vertices, vertex{knots[0][0], knots[0][1], tangents[0][0], tangents[0][1], 0})
	for i := 1; i < n; i++ {
		l.bend(knots[i-1], knots[i], tangents[i-1], tangents[i])
		if len(l.vertices) > mostVertices {
			return nil, fmt.Errorf("a row line of more than %d m of bends; expected the rows of one field", mostVertices)
		}
	}
	return l, nil
}

func apart(a, b orb.Point) float64 { return exact.Hypot(b[0]-a[0], b[1]-a[1]) }

// thin leaves out points that are less than ThinM after the one before, but for the last.
func thin(points orb.LineString) []orb.Point {
	var knots []orb.Point
	for i, p := range points {
		switch n := len(knots); {
		case n == 0 || apart(knots[n-1], p) >= ThinM:
			knots = append(knots, p)
		case i == len(points)-1 && n > 1:
			knots[n-1] = p
		}
	}
	return knots
}

// tangentsOf returns the direction at each point, as (sin, cos).
//
// Inversion at a point B takes the circle through A, B and C to a straight line
// that runs as the circle does at B: from (A-B)/|A-B|² to (C-B)/|C-B|². At an end the
// direction is that of the neighbour, mirrored at the chord.
func tangentsOf(knots []orb.Point, closed bool) ([]orb.Point, error) {
	n := len(knots)
	out := make([]orb.Point, n)
	unit := func(e, n float64) orb.Point { h := exact.Hypot(e, n); return orb.Point{e / h, n / h} }
	chord := func(a, b orb.Point) orb.Point { return unit(b[0]-a[0], b[1]-a[1]) }
	for i := range knots {
		before, after := i-1, i+1
		if closed && i == 0 {
			before = n - 2
		}
		if before < 0 || after == n {
			continue
		}
		a, b, c := knots[before], knots[i], knots[after]
		u, v := chord(a, b), chord(b, c)
		if dot := float64(u[0]*v[0]) + float64(u[1]*v[1]); !(dot >= cosSharp) {
			return nil, fmt.Errorf("a row line that turns by %.0f° at one point, (%.2f, %.2f) m on the plane; expected a line that bends, with more points where it does, or a zone for each direction",
				math.Abs(exact.Atan2(float64(u[0]*v[1])-float64(u[1]*v[0]), dot))*180/math.Pi, b[0], b[1])
		}
		p, q := apart(a, b), apart(b, c)
		out[i] = unit(float64(u[0]*q)+float64(v[0]*p), float64(u[1]*q)+float64(v[1]*p))
	}
	if closed {
		out[n-1] = out[0]
		return out, nil
	}
	mirrored := func(t, at orb.Point) orb.Point {
		dot := 2 * (float64(t[0]*at[0]) + float64(t[1]*at[1]))
		return orb.Point{float64(dot*at[0]) - t[0], float64(dot*at[1]) - t[1]}
	}
	if n == 2 {
		out[0] = chord(knots[0], knots[1])
		out[1] = out[0]
		return out, nil
	}
	out[0] = mirrored(out[1], chord(knots[0], knots[1]))
	out[n-1] = mirrored(out[n-2], chord(knots[n-2], knots[n-1]))
	return out, nil
}

// bend appends the chords of the row from a point to the next: a cubic whose ends run
// as told. For an arc that turns by δ its tangents are as long as those of the cubic
// nearest to that arc, the chord over cos²(δ/4).
func (l *Line) bend(a, b, ta, tb orb.Point) {
	chord := apart(a, b)
	turn := exact.Acos(max(-1, min(1, float64(ta[0]*tb[0])+float64(ta[1]*tb[1]))))
	quarter := exact.Cos(turn / 4)
	m := chord / float64(quarter*quarter)
	u := orb.Point{(b[0] - a[0]) / chord, (b[1] - a[1]) / chord}
	off := max(math.Abs(float64(u[0]*ta[1])-float64(u[1]*ta[0])), math.Abs(float64(u[0]*tb[1])-float64(u[1]*tb[0])))
	// A piece of a bend off by an angle at its ends has a sagitta of a quarter of that,
	// times its length; of n pieces a n²th.
	n := max(1, math.Ceil(chord/longestM), math.Ceil(math.Sqrt(off*chord/4/sagittaM)))
	for k := 1.0; k <= n; k++ {
		t := k / n
		p, d := cubic(a, b, ta, tb, m, t)
		h := exact.Hypot(d[0], d[1])
		v := vertex{e: p[0], n: p[1], sin: d[0] / h, cos: d[1] / h}
		if k == n {
			v.e, v.n, v.sin, v.cos = b[0], b[1], tb[0], tb[1]
		}
		last := &l.vertices[len(l.vertices)-1]
		v.s = last.s + arcM(last, &v)
		l.vertices = append(l.vertices, v)
	}
}

// arcM is the length of the arc between two vertices: that of its chord c, times
// (δ/2)/sin(δ/2), where it turns by δ.
func arcM(a, b *vertex) float64 {
	half := math.Abs(float64(a.cos*b.sin)-float64(a.sin*b.cos)) / 2
	return float64(exact.Hypot(b.e-a.e, b.n-a.n) * (1 + float64(half*half/6)))
}

// cubic is Hermite's: the place and its derivative at t from 0 to 1, for tangents of
// the length m.
func cubic(a, b, ta, tb orb.Point, m, t float64) (p, d orb.Point) {
	t2 := t * t
	h00, h10 := 1-float64(t2*(3-2*t)), t*(1-t)*(1-t)
	h01, h11 := t2*(3-2*t), -t2*(1-t)
	g := 6 * t * (1 - t)
	for i := range p {
		p[i] = float64(h00*a[i]) + float64(h01*b[i]) + float64(m*(float64(h10*ta[i])+float64(h11*tb[i])))
		d[i] = float64(g*(b[i]-a[i])) + float64(m*(float64((1-t)*(1-float64(3*t))*ta[i])+float64(t*(float64(3*t)-2)*tb[i])))
	}
	return p, d
}

// Closed reports whether the line comes back to where it began.
func (l *Line) Closed() bool { return l.closed }

// LengthM is the length of the line.
func (l *Line) LengthM() float64 { return l.vertices[len(l.vertices)-1].s }

// Path calls f with points of the line from its first to its last: metres east and
// north, and the station.
func (l *Line) Path(f func(eastM, northM, stationM float64)) {
	for i := range l.vertices {
		v := &l.vertices[i]
		f(v.e, v.n, v.s)
	}
}

// At returns the place rightM beside the line at a station, the direction of the row
// there as Foot has it, and the curvature of the line itself. Stations of a closed line
// go on around it.
func (l *Line) At(stationM, rightM float64) (eastM, northM, sin, cos, curvaturePerM float64) {
	n := len(l.vertices)
	if l.closed {
		whole := l.LengthM()
		stationM -= float64(math.Floor(stationM/whole) * whole)
	}
	lo, hi := 0, n-1
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; l.vertices[mid].s <= stationM {
			lo = mid
		} else {
			hi = mid
		}
	}
	a, b := &l.vertices[lo], &l.vertices[hi]
	var p, d orb.Point
	switch {
	case stationM < a.s || stationM > b.s:
		if stationM > b.s {
			a = b
		}
		beyond := stationM - a.s
		p, d = orb.Point{a.e + float64(beyond*a.sin), a.n + float64(beyond*a.cos)}, orb.Point{a.sin, a.cos}
	default:
		t := (stationM - a.s) / (b.s - a.s)
		p, d = cubic(orb.Point{a.e, a.n}, orb.Point{b.e, b.n}, orb.Point{a.sin, a.cos}, orb.Point{b.sin, b.cos}, b.s-a.s, t)
		h := exact.Hypot(d[0], d[1])
		d[0], d[1] = d[0]/h, d[1]/h
		curvaturePerM = l.curvature(lo, t)
	}
	return p[0] + float64(rightM*d[1]), p[1] - float64(rightM*d[0]), d[0], d[1], curvaturePerM
}

// curvature is that of the line at t from 0 to 1 along chord i: the turn from one
// vertex to the next over the way, from the middle of one chord to that of the next.
func (l *Line) curvature(i int, t float64) float64 {
	of := func(i int) (perM, lengthM float64) {
		if last := len(l.vertices) - 1; l.closed {
			i = (i + last) % last
		} else {
			i = max(0, min(i, last-1))
		}
		a, b := &l.vertices[i], &l.vertices[i+1]
		lengthM = b.s - a.s
		return (float64(b.sin*a.cos) - float64(b.cos*a.sin)) / lengthM, lengthM
	}
	here, length := of(i)
	side := 1
	if t < 0.5 {
		side = -1
	}
	beside, other := of(i + side)
	share := float64(math.Abs(t-0.5)*length) / float64((length+other)/2)
	return here + float64(share*(beside-here))
}
