// Which parts of the way are straight enough to be drawn as one line.

package score

import (
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/motion"
)

// straightM is how far a path may stray from the line drawn between two
// corners; from a line drawn from a point on it to a corner, twice as far.
const straightM = 0.005

// corners returns the indices of poses, first and last included, between which
// both ends of the bar, and so all of it, go straight on. A jump lies between
// two corners that are neighbours.
func corners(track motion.Track, m *sections.Machine) []int {
	list := []int{0}
	var left, right sleeve
	begin := func(l, r orb.Point) { left, right = sleeve{start: l}, sleeve{start: r} }
	lastL, lastR := ends(m, &track[0])
	begin(lastL, lastR)
	for k := 1; k < len(track); k++ {
		l, r := ends(m, &track[k])
		switch {
		case jumps(&track[k-1], &track[k]):
			if list[len(list)-1] != k-1 {
				list = append(list, k-1)
			}
			list = append(list, k)
			begin(l, r)
		case !left.holds(l) || !right.holds(r):
			list = append(list, k-1)
			begin(lastL, lastR)
			left.holds(l)
			right.holds(r)
		}
		lastL, lastR = l, r
	}
	if last := len(track) - 1; list[len(list)-1] != last {
		list = append(list, last)
	}
	return list
}

// ends returns both ends of the bar.
func ends(m *sections.Machine, p *motion.Pose) (left, right orb.Point) {
	f := m.Frame(p)
	left[0], left[1], _, _ = m.Line(0, &f)
	_, _, right[0], right[1] = m.Line(len(m.Sections)-1, &f)
	return left, right
}

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
