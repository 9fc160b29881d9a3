// This file finds the parts of the track that are straight enough to be drawn as one line.

package score

import (
	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/motion"
)

// straightM is how far a path may stray from the line drawn between two corners. If the
// line starts at a point between them it may stray twice as far.
const straightM = 0.005

// findCorners returns indices of poses, the first and the last of the track among them,
// between which both ends of the bar, and so all of it, move along straight lines. A jump
// lies between two corners that are neighbouring poses.
func findCorners(track motion.Track, m *sections.Machine) []int {
	list := []int{0}
	var left, right sleeve
	begin := func(l, r orb.Point) { left, right = sleeve{start: l}, sleeve{start: r} }
	lastL, lastR := ends(m, &track[0])
	begin(lastL, lastR)
	for k := 1; k < len(track); k++ {
		l, r := ends(m, &track[k])
		switch {
		case Jumps(&track[k-1], &track[k]):
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

// ends returns the places of both ends of the bar.
func ends(m *sections.Machine, p *motion.Pose) (left, right orb.Point) {
	f := m.Frame(p)
	left[0], left[1], _, _ = m.Line(0, &f)
	_, _, right[0], right[1] = m.Line(len(m.Sections)-1, &f)
	return left, right
}

// sleeve checks whether a way can be drawn as one straight line from its start: whether
// every point so far is within straightM of such a line, and the way does not turn back.
type sleeve struct {
	start    orb.Point
	axis     orb.Point // unit vector; zero until the way has left the start
	lo, hi   float64   // tangents, left of the axis, of the lines that pass all points so far
	reachedM float64   // of the farthest point along the axis
}

// holds reports whether a straight line may go on to p, and remembers p if so.
func (s *sleeve) holds(p orb.Point) bool {
	d := orb.Point{p[0] - s.start[0], p[1] - s.start[1]}
	if s.axis == (orb.Point{}) {
		if r := exact.Hypot(d[0], d[1]); r > straightM {
			s.axis = orb.Point{d[0] / r, d[1] / r}
			s.lo, s.hi, s.reachedM = -straightM/r, straightM/r, r
		}
		return true
	}
	along := float64(d[0]*s.axis[0]) + float64(d[1]*s.axis[1])
	tangent := (float64(d[1]*s.axis[0]) - float64(d[0]*s.axis[1])) / along
	if along <= 0 || along < s.reachedM-straightM || tangent < s.lo || tangent > s.hi {
		return false
	}
	s.lo, s.hi = max(s.lo, tangent-straightM/along), min(s.hi, tangent+straightM/along)
	s.reachedM = max(s.reachedM, along)
	return true
}
