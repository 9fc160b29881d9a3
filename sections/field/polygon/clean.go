// Package polygon checks, tidies, joins and measures polygons on a plane, in metres.
//
// A clean polygon, as Clean returns it, has closed rings without repeated points, the
// outer ring counter-clockwise and the holes clockwise. No ring crosses or touches
// itself, and every hole lies inside the outer ring and outside the other holes.
package polygon

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/sections/exact"
)

// MaxExtentM is how far from the plane's origin a polygon may reach. At that distance
// the local plane makes lengths 3 cm too short.
const MaxExtentM = 20000

// Flaw is what makes a polygon unusable.
type Flaw struct {
	Text    string
	At      orb.Point
	Nowhere bool // there is no point to show; At is unset
}

// Clean returns a clean copy of the polygons, or the first flaw that it finds. Open
// rings are closed, rings of the wrong direction are reversed, and points less than
// NoiseM after the one before are dropped.
func Clean(mp orb.MultiPolygon) (orb.MultiPolygon, *Flaw) {
	if len(mp) == 0 {
		return nil, &Flaw{Text: "no polygon; expected at least one", Nowhere: true}
	}
	out := make(orb.MultiPolygon, len(mp))
	for i, p := range mp {
		if len(p) == 0 {
			return nil, &Flaw{Text: "polygon without rings; expected an outer ring", Nowhere: true}
		}
		for j, r := range p {
			c, bad := CleanRing(r, j == 0)
			if bad != nil {
				return nil, bad
			}
			out[i] = append(out[i], c)
		}
		if bad := Crossing(out[i]); bad != nil {
			return nil, bad
		}
		if bad := misplacedHole(out[i]); bad != nil {
			return nil, bad
		}
	}
	return out, nil
}

// CleanRing is Clean for one ring: an outer ring (shell) or a hole. It does not look
// for crossings.
func CleanRing(r orb.Ring, shell bool) (orb.Ring, *Flaw) {
	out := make(orb.Ring, 0, len(r)+1)
	for _, p := range r {
		// Written so that NaN is refused.
		if !(exact.Hypot(p[0], p[1]) <= MaxExtentM) {
			return nil, &Flaw{Text: fmt.Sprintf("point more than %d km from the plane's origin, or not a number", MaxExtentM/1000), At: p}
		}
		if len(out) == 0 || exact.Hypot(p[0]-out[len(out)-1][0], p[1]-out[len(out)-1][1]) > NoiseM {
			out = append(out, p)
		}
	}
	for len(out) > 1 && exact.Hypot(out[0][0]-out[len(out)-1][0], out[0][1]-out[len(out)-1][1]) <= NoiseM {
		out = out[:len(out)-1]
	}
	if len(out) < 3 {
		bad := &Flaw{Text: fmt.Sprintf("ring of %d distinct points; expected at least 3", len(out)), Nowhere: len(out) == 0}
		if len(out) > 0 {
			bad.At = out[0]
		}
		return nil, bad
	}
	out = append(out, out[0])
	if (ringAreaM2(out) > 0) != shell {
		slices.Reverse(out)
	}
	return out, nil
}

// segment is one edge of a polygon, from a to b: edge number pos of a ring.
type segment struct {
	a, b      orb.Point
	ring, pos int
}

// Crossing returns a place where a ring crosses or touches itself, or where two rings
// cross; nil if there is none. It sweeps along the axis on which the edges are shorter
// in sum, and compares each edge only with those that it overlaps on that axis.
func Crossing(p orb.Polygon) *Flaw {
	if bad := doubling(p); bad != nil {
		return bad
	}
	var list []segment
	var sum [2]float64
	for i, r := range p {
		for j := 1; j < len(r); j++ {
			list = append(list, segment{r[j-1], r[j], i, j - 1})
			sum[0] += math.Abs(r[j][0] - r[j-1][0])
			sum[1] += math.Abs(r[j][1] - r[j-1][1])
		}
	}
	// Relative to the polygon's extent: a long narrow field is swept along its length.
	b := p.Bound()
	u := 0
	if sum[1]*(b.Max[0]-b.Min[0]) < sum[0]*(b.Max[1]-b.Min[1]) {
		u = 1
	}
	v := 1 - u
	low := func(s *segment, k int) float64 { return min(s.a[k], s.b[k]) }
	high := func(s *segment, k int) float64 { return max(s.a[k], s.b[k]) }
	sort.Slice(list, func(i, j int) bool { return low(&list[i], u) < low(&list[j], u) })
	for i := range list {
		s := &list[i]
		end, vLow, vHigh := high(s, u), low(s, v), high(s, v)
		for j := i + 1; j < len(list) && low(&list[j], u) <= end; j++ {
			t := &list[j]
			if low(t, v) > vHigh || high(t, v) < vLow {
				continue
			}
			if bad := contact(p, s, t); bad != nil {
				return bad
			}
		}
	}
	return nil
}

// contact returns a flaw if two edges of a polygon meet where they must not.
func contact(p orb.Polygon, s, t *segment) *Flaw {
	if s.ring == t.ring {
		if n := len(p[s.ring]) - 1; (s.pos+1)%n == t.pos || (t.pos+1)%n == s.pos {
			return nil // neighbours; see doubling
		}
	}
	sa, sb := turn(t.a, t.b, s.a), turn(t.a, t.b, s.b)
	ta, tb := turn(s.a, s.b, t.a), turn(s.a, s.b, t.b)
	if sa*sb < 0 && ta*tb < 0 {
		f := sa / (sa - sb)
		at := orb.Point{s.a[0] + float64(f*(s.b[0]-s.a[0])), s.a[1] + float64(f*(s.b[1]-s.a[1]))}
		if s.ring != t.ring {
			return &Flaw{Text: "two rings of one polygon cross", At: at}
		}
		return &Flaw{Text: "ring crosses itself", At: at}
	}
	if s.ring != t.ring {
		return nil // rings of a polygon may touch
	}
	for _, c := range []struct {
		side float64
		on   orb.Point
		of   *segment
	}{{sa, s.a, t}, {sb, s.b, t}, {ta, t.a, s}, {tb, t.b, s}} {
		if c.side == 0 && within(c.on, c.of) {
			return &Flaw{Text: "ring touches itself (holes belong in rings of their own)", At: c.on}
		}
	}
	return nil
}

// doubling returns a flaw if an edge runs back along the one before it.
func doubling(p orb.Polygon) *Flaw {
	for _, r := range p {
		for i := 1; i < len(r); i++ {
			a, b, c := r[i-1], r[i], r[1]
			if i+1 < len(r) {
				c = r[i+1]
			}
			back := float64((b[0]-a[0])*(c[0]-b[0]))+float64((b[1]-a[1])*(c[1]-b[1])) < 0
			if back && turn(a, b, c) == 0 {
				return &Flaw{Text: "ring doubles back on itself", At: b}
			}
		}
	}
	return nil
}

// turn is (b - a) × (c - a): positive if the way from a through b to c turns left.
func turn(a, b, c orb.Point) float64 {
	return float64((b[0]-a[0])*(c[1]-a[1])) - float64((b[1]-a[1])*(c[0]-a[0]))
}

// within reports whether p lies in the box around the edge s.
func within(p orb.Point, s *segment) bool {
	return p[0] >= min(s.a[0], s.b[0]) && p[0] <= max(s.a[0], s.b[0]) &&
		p[1] >= min(s.a[1], s.b[1]) && p[1] <= max(s.a[1], s.b[1])
}

// misplacedHole returns a flaw if a hole is not inside the outer ring, or is inside
// another hole. Rings that cross have been found before, so three points of a ring
// tell where all of it lies, even if one of them touches the other ring.
func misplacedHole(p orb.Polygon) *Flaw {
	for i := 1; i < len(p); i++ {
		for _, c := range threeOf(p[i]) {
			if !planar.RingContains(p[0], c) {
				return &Flaw{Text: "hole outside its polygon's outer ring", At: c}
			}
		}
		for j := 1; j < len(p); j++ {
			if i != j && holds(p[j], p[i]) {
				return &Flaw{Text: "hole inside another hole", At: p[i][0]}
			}
		}
	}
	return nil
}

// holds reports whether the ring inner lies inside the ring outer.
func holds(outer, inner orb.Ring) bool {
	if !outer.Bound().Intersects(inner.Bound()) {
		return false
	}
	for _, c := range threeOf(inner) {
		if !planar.RingContains(outer, c) {
			return false
		}
	}
	return true
}

func threeOf(r orb.Ring) [3]orb.Point {
	n := len(r) - 1
	return [3]orb.Point{r[0], r[n/3], r[2*n/3]}
}
