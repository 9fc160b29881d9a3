// Fields drawn at random, whose zones are known exactly. Nothing here comes from
// the bench's own drives.

package zones_test

import (
	"math"
	"math/rand/v2"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

const radPerDeg = math.Pi / 180

// truth is a field and how it is worked.
type truth struct {
	outline  orb.Ring // counter-clockwise, corners sharp
	widthM   float64
	rounds   int
	body     orb.Ring
	hole     orb.Ring // nil = none; counter-clockwise
	holeRuns int
	holeBody orb.Ring // where the body ends around the hole
	blocks   []trueBlock
	kind     string
}

// trueBlock is a part of the body with rows of one direction.
type trueBlock struct {
	ring    orb.Ring // its part of the body, without regard to the hole
	bearing float64
	// lines are where its passes lie, from one side to the other.
	lines  []orb.LineString
	curved bool
}

// drawField draws a field.
func drawField(rng *rand.Rand, kind string) *truth {
	for {
		if t := tryField(rng, kind); t != nil {
			return t
		}
	}
}

func tryField(rng *rand.Rand, kind string) *truth {
	t := &truth{kind: kind, widthM: []float64{3, 4.5, 6, 9}[rng.IntN(4)], rounds: 1 + rng.IntN(4)}
	for float64(t.rounds)*t.widthM > 28 {
		t.rounds--
	}
	long, wide := 150+250*rng.Float64(), 110+150*rng.Float64()
	jog := func() float64 { return (rng.Float64() - 0.5) * 30 }
	ring := orb.Ring{{0, 0}, {long, jog() / 3}, {long + jog(), wide + jog()}, {jog(), wide + jog()}}
	switch kind {
	case "concave":
		// A corner is cut out, or a side is pushed in.
		if rng.IntN(2) == 0 {
			x, y := long*(0.4+0.2*rng.Float64()), wide*(0.4+0.2*rng.Float64())
			ring = orb.Ring{{0, 0}, {long, jog() / 3}, {long + jog()/2, y}, {x, y + jog()/3}, {x + jog()/2, wide + jog()/2}, {jog(), wide + jog()}}
		} else {
			ring = orb.Ring{{0, 0}, {long, jog() / 3}, {long + jog(), wide + jog()}, {long * (0.4 + 0.2*rng.Float64()), wide * (0.65 + 0.15*rng.Float64())}, {jog(), wide + jog()}}
		}
	case "curved":
		// The long side bends, with a radius of 180 to 600 m.
		radius := 180 + 420*rng.Float64()
		half := math.Asin(min(0.9, long/2/radius))
		var arc orb.Ring
		sign := 1.0
		if rng.IntN(2) == 0 {
			sign = -1
		}
		const steps = 60
		for i := range steps + 1 {
			a := -half + 2*half*float64(i)/steps
			arc = append(arc, orb.Point{long/2 + radius*math.Sin(a)*long/2/(radius*math.Sin(half)), sign * radius * (math.Cos(half) - math.Cos(a))})
		}
		ring = append(arc, orb.Point{long + jog()/2, wide + 20 + jog()/2}, orb.Point{jog() / 2, wide + 20 + jog()/2})
	}
	turn := 2 * math.Pi * rng.Float64()
	rotate := func(l []orb.Point) {
		s, c := math.Sincos(turn)
		for i, p := range l {
			l[i] = orb.Point{c*p[0] - s*p[1], s*p[0] + c*p[1]}
		}
	}
	t.outline = append(ring, ring[0])
	n := len(ring)
	headM := float64(t.rounds) * t.widthM
	t.body = moved(t.outline, headM)
	if t.body == nil || planar.Area(t.body) < 60*60 {
		return nil
	}
	// The rows run along the first side.
	switch kind {
	case "curved":
		b := trueBlock{ring: t.body, curved: true}
		side := t.outline[:n-2]
		for i := 0; ; i++ {
			l := beside(orb.LineString(side), headM+(float64(i)+0.5)*t.widthM)
			if i > 200 || l == nil {
				break
			}
			b.lines = append(b.lines, l)
		}
		t.blocks = []trueBlock{b}
	case "two directions":
		x := long * (0.35 + 0.3*rng.Float64())
		tilt := (rng.Float64() - 0.5) * 0.4
		a, b := orb.Point{x - tilt*1000, -1000}, orb.Point{x + tilt*1000, 1000}
		left, right := cut(t.body, a, b)
		if left == nil || right == nil || planar.Area(left) < 60*60 || planar.Area(right) < 60*60 {
			return nil
		}
		t.blocks = []trueBlock{
			{ring: left, bearing: math.Pi / 2, lines: straight(orb.Point{0, headM}, math.Pi/2, t.widthM, false)},
			{ring: right, bearing: math.Atan2(b[0]-a[0], b[1]-a[1]), lines: straight(a, math.Atan2(b[0]-a[0], b[1]-a[1]), t.widthM, true)},
		}
	default:
		bearing := math.Pi / 2
		from := orb.Point{0, headM}
		if rng.IntN(3) == 0 { // at a slant to every side
			bearing += (rng.Float64() - 0.5) * 0.6
			from = orb.Point{0, -600}
		}
		t.blocks = []trueBlock{{ring: t.body, bearing: bearing, lines: straight(from, bearing, t.widthM, false)}}
	}
	if kind == "hole" {
		t.holeRuns = 1 + rng.IntN(2)
		c := orb.Point{long * (0.35 + 0.3*rng.Float64()), wide * (0.4 + 0.2*rng.Float64())}
		corners := 4 + rng.IntN(3)
		r := 9 + 14*rng.Float64()
		start := 2 * math.Pi * rng.Float64()
		for i := range corners {
			s, k := math.Sincos(start + 2*math.Pi*(float64(i)+0.25*rng.Float64())/float64(corners))
			t.hole = append(t.hole, orb.Point{c[0] + r*k, c[1] + r*s})
		}
		t.hole = append(t.hole, t.hole[0])
		t.holeBody = moved(t.hole, -float64(t.holeRuns)*t.widthM)
		if t.holeBody == nil {
			return nil
		}
		for _, p := range moved(t.hole, -float64(t.holeRuns)*t.widthM-12) {
			if !planar.RingContains(t.body, p) {
				return nil
			}
		}
	}
	rotate(t.outline)
	rotate(t.body)
	rotate(t.hole)
	rotate(t.holeBody)
	for i := range t.blocks {
		b := &t.blocks[i]
		if i > 0 || kind == "two directions" {
			rotate(b.ring)
		} else {
			b.ring = t.body
		}
		b.bearing -= turn
		for _, l := range b.lines {
			rotate(l)
		}
	}
	return t
}

// moved moves every edge of a counter-clockwise ring inwards and sharpens the
// corners; nil if an edge would vanish.
func moved(r orb.Ring, m float64) orb.Ring {
	n := len(r) - 1
	var out orb.Ring
	for i := range n {
		out = append(out, corner(r[(i+n-1)%n], r[i], r[(i+1)%n], m))
	}
	out = append(out, out[0])
	for i := range n {
		if (out[i+1][0]-out[i][0])*(r[i+1][0]-r[i][0])+(out[i+1][1]-out[i][1])*(r[i+1][1]-r[i][1]) <= 0 {
			return nil
		}
	}
	return out
}

// corner is b moved to m left of both a-b and b-c.
func corner(a, b, c orb.Point, m float64) orb.Point {
	n1, n2 := left(a, b), left(b, c)
	sx, sy := n1[0]+n2[0], n1[1]+n2[1]
	k := 2 * m / (sx*sx + sy*sy)
	return orb.Point{b[0] + k*sx, b[1] + k*sy}
}

func left(a, b orb.Point) orb.Point {
	d := math.Hypot(b[0]-a[0], b[1]-a[1])
	return orb.Point{-(b[1] - a[1]) / d, (b[0] - a[0]) / d}
}

// beside moves an open line to its left, and lengthens it straight at both ends;
// nil if it bends too much for that.
func beside(l orb.LineString, m float64) orb.LineString {
	var out orb.LineString
	for i := range l {
		switch i {
		case 0:
			n := left(l[0], l[1])
			out = append(out, orb.Point{l[0][0] + m*n[0], l[0][1] + m*n[1]})
		case len(l) - 1:
			n := left(l[i-1], l[i])
			out = append(out, orb.Point{l[i][0] + m*n[0], l[i][1] + m*n[1]})
		default:
			out = append(out, corner(l[i-1], l[i], l[i+1], m))
		}
	}
	for i := 1; i < len(l); i++ {
		if (out[i][0]-out[i-1][0])*(l[i][0]-l[i-1][0])+(out[i][1]-out[i-1][1])*(l[i][1]-l[i-1][1]) <= 0 {
			return nil
		}
	}
	longer := func(a, b orb.Point) orb.Point {
		d := math.Hypot(b[0]-a[0], b[1]-a[1])
		return orb.Point{b[0] + (b[0]-a[0])/d*100, b[1] + (b[1]-a[1])/d*100}
	}
	n := len(out)
	first, last := longer(out[1], out[0]), longer(out[n-2], out[n-1])
	return append(slices.Insert(out, 0, first), last)
}

// straight returns parallel lines: the first half a width left (or right) of the
// line through from.
func straight(from orb.Point, bearing, widthM float64, right bool) []orb.LineString {
	s, c := math.Sincos(bearing)
	side := -1.0
	if right {
		side = 1
	}
	var out []orb.LineString
	for i := range int(1300 / widthM) {
		m := side * (float64(i) + 0.5) * widthM
		x, y := from[0]+m*c, from[1]-m*s
		out = append(out, orb.LineString{{x - 2000*s, y - 2000*c}, {x + 2000*s, y + 2000*c}})
	}
	return out
}

// cut divides a ring by a line that crosses it twice: what is left and right of
// a-b.
func cut(r orb.Ring, a, b orb.Point) (l, rt orb.Ring) {
	side := func(p orb.Point) float64 { return (b[0]-a[0])*(p[1]-a[1]) - (b[1]-a[1])*(p[0]-a[0]) }
	crossings := 0
	for i := 1; i < len(r); i++ {
		p, q := r[i-1], r[i]
		sp, sq := side(p), side(q)
		if sp >= 0 {
			l = append(l, p)
		} else {
			rt = append(rt, p)
		}
		if (sp >= 0) != (sq >= 0) {
			crossings++
			u := sp / (sp - sq)
			x := orb.Point{p[0] + u*(q[0]-p[0]), p[1] + u*(q[1]-p[1])}
			l, rt = append(l, x), append(rt, x)
		}
	}
	if crossings != 2 {
		return nil, nil
	}
	return append(l, l[0]), append(rt, rt[0])
}
