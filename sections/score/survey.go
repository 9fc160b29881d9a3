// This file finds where ground was worked and in which directions, so that the lines of
// the hatch can be laid across it.

package score

import (
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/motion"
)

// headings is the number of classes for headings in half a circle.
const headings = 60

// survey sums up the legs on which any section was in work.
type survey struct {
	lo, hi orb.Point         // opposite corners of a box that contains all worked ground
	wayM   [headings]float64 // metres driven by class of heading; opposite headings are one
}

// newSurvey looks at the whole track. If nothing was in work the box is the first pose.
func newSurvey(track motion.Track, b *bar, lanes []lane, moves []sections.WorkChange) (s survey) {
	count := 0
	for i := range lanes {
		if lanes[i].on {
			count++
		}
	}
	inf := math.Inf(1)
	s.lo, s.hi = orb.Point{inf, inf}, orb.Point{-inf, -inf}
	next := 0
	for k := 1; k < len(track); k++ {
		worked := count > 0
		for ; next < len(moves) && moves[next].TimeNs <= track[k].TimeNs; next++ {
			worked = true
			if moves[next].On {
				count++
			} else {
				count--
			}
		}
		if !worked {
			continue
		}
		p, q := &track[k-1], &track[k]
		s.lo = orb.Point{min(s.lo[0], p.EastM, q.EastM), min(s.lo[1], p.NorthM, q.NorthM)}
		s.hi = orb.Point{max(s.hi[0], p.EastM, q.EastM), max(s.hi[1], p.NorthM, q.NorthM)}
		if !Jumps(p, q) {
			s.drive(q.HeadingRad, exact.Hypot(q.EastM-p.EastM, q.NorthM-p.NorthM))
		}
	}
	if s.lo[0] > s.hi[0] {
		s.lo = orb.Point{track[0].EastM, track[0].NorthM}
		s.hi = s.lo
		return s
	}
	// The tool turns about the hitch, which is hitchM from the tractor's turning point.
	// Between two poses the way may lead out of the box around them, by less than 1 m.
	reach := b.reachM + b.hitchM + 1
	s.lo = orb.Point{s.lo[0] - reach, s.lo[1] - reach}
	s.hi = orb.Point{s.hi[0] + reach, s.hi[1] + reach}
	return s
}

// drive counts a straight way.
func (s *survey) drive(headingRad, lengthM float64) {
	class := int(math.Floor(headingRad*(headings/math.Pi))) % headings
	s.wayM[(class+headings)%headings] += lengthM
}

// bearing returns the bearing of the lines that the ways cross most squarely, and how far
// the ways lead across them in sum.
//
// A way at an angle φ to lines that are g apart crosses one every g/sin φ. The area that
// is not seen between two lines grows with the square of that.
func (s *survey) bearing() (rad, acrossM float64) {
	least := math.Inf(1)
	for b := range headings {
		cost, across := 0.0, 0.0
		for class, wayM := range s.wayM {
			// A bearing between two classes is never that of a way.
			sin := math.Abs(exact.Sin((float64(class-b) + 0.5) * (math.Pi / headings)))
			cost += wayM / (sin * sin)
			across += float64(wayM * sin)
		}
		if cost < least {
			least, rad, acrossM = cost, float64(b)*(math.Pi/headings), across
		}
	}
	return rad, acrossM
}
