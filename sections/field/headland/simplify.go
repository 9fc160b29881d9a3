// This file drops the points of a line that lie within a tolerance of the line through
// the other points (Douglas and Peucker 1973, The Canadian Cartographer 10(2):112-122).

package headland

import (
	"slices"

	"github.com/paulmach/orb"

	"liftbench/sections/exact"
)

// simplified returns the points of ls that are kept. Both ends always are.
func simplified(ls orb.LineString, toleranceM float64) orb.LineString {
	keep := remaining(ls, toleranceM)
	out := make(orb.LineString, len(keep))
	for i, k := range keep {
		out[i] = ls[k]
	}
	return out
}

// simplifiedRing returns the indices of the points of a ring that are kept: at least
// three. The ring is given without its closing point.
func simplifiedRing(ring []orb.Point, toleranceM float64) []int {
	// Two points that certainly are corners: the one farthest from the first point, and
	// the one farthest from that.
	far := func(from int) int {
		best, most := from, -1.0
		for i, p := range ring {
			if d := exact.Hypot(p[0]-ring[from][0], p[1]-ring[from][1]); d > most {
				best, most = i, d
			}
		}
		return best
	}
	a := far(0)
	b := far(a)
	turned := make(orb.LineString, 0, len(ring)+1)
	for i := range len(ring) + 1 {
		turned = append(turned, ring[(a+i)%len(ring)])
	}
	split := (b - a + len(ring)) % len(ring)
	keep := remaining(turned[:split+1], toleranceM)
	for _, k := range remaining(turned[split:], toleranceM)[1:] {
		keep = append(keep, split+k)
	}
	keep = keep[:len(keep)-1] // the last is the first again
	if len(keep) < 3 {
		// The ring is thinner than the tolerance.
		keep = keep[:0]
		for i := range ring {
			keep = append(keep, i)
		}
	}
	for i := range keep {
		keep[i] = (keep[i] + a) % len(ring)
	}
	slices.Sort(keep)
	return keep
}

// awayM is the distance of p from the segment from a to b: from its point
// a + t·(b - a), t = (p - a)·(b - a) / |b - a|² kept to 0…1.
func awayM(a, b, p orb.Point) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	rx, ry := p[0]-a[0], p[1]-a[1]
	if dot := float64(rx*dx) + float64(ry*dy); dot > 0 {
		t := min(dot/(float64(dx*dx)+float64(dy*dy)), 1)
		rx, ry = rx-float64(t*dx), ry-float64(t*dy)
	}
	return exact.Hypot(rx, ry)
}

// remaining returns the indices of the points of ls that are kept.
func remaining(ls orb.LineString, toleranceM float64) []int {
	keep := make([]bool, len(ls))
	keep[0], keep[len(ls)-1] = true, true
	type span struct{ from, to int }
	stack := []span{{0, len(ls) - 1}}
	for len(stack) > 0 {
		s := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		worst, most := -1, toleranceM
		for i := s.from + 1; i < s.to; i++ {
			d := awayM(ls[s.from], ls[s.to], ls[i])
			if d > most {
				worst, most = i, d
			}
		}
		if worst >= 0 {
			keep[worst] = true
			stack = append(stack, span{s.from, worst}, span{worst, s.to})
		}
	}
	var out []int
	for i, k := range keep {
		if k {
			out = append(out, i)
		}
	}
	return out
}
