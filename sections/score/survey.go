// Where the worked ground lies and which ways it was worked, before it is
// hatched.

package score

import (
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/motion"
)

// headings is the number of classes that headings of half a circle fall into.
const headings = 60

// survey is what the legs were like on which any section was in work.
type survey struct {
	lo, hi orb.Point         // corners of the ground that the bar can have reached
	wayM   [headings]float64 // driven, by heading; there and back is one
}

// newSurvey looks at the whole track. With nothing in work the ground is its first pose.
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
		if !jumps(p, q) {
			s.drive(q.HeadingRad, math.Hypot(q.EastM-p.EastM, q.NorthM-p.NorthM))
		}
	}
	if s.lo[0] > s.hi[0] {
		s.lo = orb.Point{track[0].EastM, track[0].NorthM}
		s.hi = s.lo
		return s
	}
	// The tool turns about the hitch, which lies c from the tractor's turning
	// point; between two poses the way may stray beyond both.
	reach := b.reachM + b.hitchM + 1
	s.lo = orb.Point{s.lo[0] - reach, s.lo[1] - reach}
	s.hi = orb.Point{s.hi[0] + reach, s.hi[1] + reach}
	return s
}

// drive counts a way.
func (s *survey) drive(headingRad, lengthM float64) {
	class := int(math.Floor(headingRad*(headings/math.Pi))) % headings
	s.wayM[(class+headings)%headings] += lengthM
}

// bearing returns the bearing of lines that the ways cross at the best angles,
// and how far across such lines the ways lead.
//
// A way at an angle φ to lines that are g apart crosses one every g/sin φ; what
// is missed between two grows with the square of that.
func (s *survey) bearing() (rad, acrossM float64) {
	least := math.Inf(1)
	for b := range headings {
		cost, across := 0.0, 0.0
		for class, wayM := range s.wayM {
			// A bearing between two classes is never that of a way.
			sin := math.Abs(math.Sin((float64(class-b) + 0.5) * (math.Pi / headings)))
			cost += wayM / (sin * sin)
			across += wayM * sin
		}
		if cost < least {
			least, rad, acrossM = cost, float64(b)*(math.Pi/headings), across
		}
	}
	return rad, acrossM
}
