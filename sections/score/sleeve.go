// How far a way stays straight enough to be drawn as one line.

package score

import (
	"math"

	"github.com/paulmach/orb"
)

// straightM is how far a true path may stray from the line drawn for it.
const straightM = 0.01

// sleeve follows a way from its start and tells when a straight line to the
// newest point would leave a point in between more than straightM aside, or
// when the way turns back.
type sleeve struct {
	start   orb.Point
	axis    orb.Point // unit vector; zero until the way has left the start
	lo, hi  float64   // tangents, from the axis to the left, of the lines that still pass all points
	reached float64   // farthest point along the axis
}

// holds adds p and reports whether the line may still go on to it.
func (s *sleeve) holds(p orb.Point) bool {
	d := orb.Point{p[0] - s.start[0], p[1] - s.start[1]}
	if s.axis == (orb.Point{}) {
		if r := math.Hypot(d[0], d[1]); r > straightM {
			s.axis = orb.Point{d[0] / r, d[1] / r}
			s.lo, s.hi, s.reached = -straightM/r, straightM/r, r
		}
		return true
	}
	along := d[0]*s.axis[0] + d[1]*s.axis[1]
	tangent := (d[1]*s.axis[0] - d[0]*s.axis[1]) / along
	if along <= 0 || along < s.reached-straightM || tangent < s.lo || tangent > s.hi {
		return false
	}
	s.lo, s.hi = max(s.lo, tangent-straightM/along), min(s.hi, tangent+straightM/along)
	s.reached = max(s.reached, along)
	return true
}
