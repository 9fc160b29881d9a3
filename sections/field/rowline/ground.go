// This file says how the line lies in ground, and the ground beside the line.

package rowline

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/sections/exact"
)

// Within returns how many metres of the line lie in the polygons, to a chord.
func (l *Line) Within(mp orb.MultiPolygon) (m float64) {
	for i := 1; i < len(l.vertices); i++ {
		a, b := &l.vertices[i-1], &l.vertices[i]
		if planar.MultiPolygonContains(mp, orb.Point{(a.e + b.e) / 2, (a.n + b.n) / 2}) {
			m += b.s - a.s
		}
	}
	return m
}

// stepM is how densely ground is looked at.
const stepM = 2.0

// Across returns how far ground lies beside the line: from leftM to rightM to its right.
func (l *Line) Across(mp orb.MultiPolygon) (leftM, rightM float64) {
	leftM, rightM = math.Inf(1), math.Inf(-1)
	add := func(e, n float64) {
		v := l.Near(e, n).RightM
		leftM, rightM = min(leftM, v), max(rightM, v)
	}
	for _, p := range mp {
		for _, r := range p {
			for i := 1; i < len(r); i++ {
				a, b := r[i-1], r[i]
				n := math.Ceil(exact.Hypot(b[0]-a[0], b[1]-a[1]) / stepM)
				for k := 0.0; k < n; k++ {
					add(a[0]+float64((b[0]-a[0])*k/n), a[1]+float64((b[1]-a[1])*k/n))
				}
			}
		}
		// The centre of a round may be the furthest.
		box := p.Bound()
		step := max(stepM, (box.Max[0]-box.Min[0]+box.Max[1]-box.Min[1])/100)
		for e := box.Min[0]; e < box.Max[0]; e += step {
			for n := box.Min[1]; n < box.Max[1]; n += step {
				if planar.PolygonContains(p, orb.Point{e, n}) {
					add(e, n)
				}
			}
		}
	}
	return leftM, rightM
}

// Clockwise reports whether a closed line goes around what it encloses as a clock does.
func (l *Line) Clockwise() bool {
	twice := 0.0
	for i := 1; i < len(l.vertices); i++ {
		a, b := &l.vertices[i-1], &l.vertices[i]
		twice += float64(a.e*b.n) - float64(b.e*a.n)
	}
	return twice < 0
}

// TightestM is the smallest radius of the row rightM beside the line; 0 where it runs beyond the centre of
// a bend.
func (l *Line) TightestM(rightM float64) float64 {
	tightest := math.Inf(1)
	for i := 1; i < len(l.vertices); i++ {
		if perM := l.curvature(i-1, 0.5); perM != 0 {
			// The radius is 1/κ to the right, the row so much nearer to its centre.
			tightest = min(tightest, math.Abs(1/perM)-float64(math.Copysign(rightM, rightM*perM)))
		}
	}
	return max(tightest, 0)
}

// Gap is where along a line that closes nothing is to be worked, the longest such stretch, by
// stations; both are 0 where there is none, or nothing else.
type Gap struct{ FromM, ToM float64 }

// Gap looks around the line, rightM beside it, where places are worked.
func (l *Line) Gap(rightM float64, works func(eastM, northM float64) bool) (longest Gap) {
	n := int(math.Ceil(l.LengthM()))
	step := l.LengthM() / float64(n)
	since := -1
	for i := range 2 * n {
		e, m, _, _, _ := l.At(float64(i)*step, rightM)
		switch on := works(e, m); {
		case on && since >= 0:
			if since > 0 && float64(i-since)*step > longest.ToM-longest.FromM {
				longest = Gap{float64(since) * step, float64(i) * step}
			}
			since = -1
		case !on && since < 0:
			since = i
		}
	}
	return longest
}
