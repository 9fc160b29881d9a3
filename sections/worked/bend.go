// This file places sections on rows that bend: along them by the stations of their line, across
// them by the distance from it.

package worked

import "math"

// tanAlongBend is tanAlong for a bar that is carried behind or ahead of the axle: there it is out
// of square by that distance over the radius.
const tanAlongBend = 0.1405 // of 8°

func (c *class) alongBend(bar *Line) bool {
	f := c.Line.Near((bar.LeftE+bar.RightE)/2, (bar.LeftN+bar.RightN)/2)
	e, n := bar.RightE-bar.LeftE, bar.RightN-bar.LeftN
	return math.Abs(float64(e*f.Sin)+float64(n*f.Cos)) <= tanAlongBend*math.Abs(float64(e*f.Cos)-float64(n*f.Sin))
}

func (c *class) spanBend(l *Line) span {
	left, right := c.Line.Near(l.LeftE, l.LeftN), c.Line.Near(l.RightE, l.RightN)
	s := span{v0: left.RightM, u0: left.StationM, v1: right.RightM, u1: right.StationM}
	if around := c.aroundM(); around > 0 {
		s.u1 -= float64(math.Round((s.u1-s.u0)/around) * around)
	}
	return s
}

// aroundM is the length of rows that close; 0 where they have ends.
func (c *class) aroundM() float64 {
	if c.Line != nil && c.Line.Closed() {
		return c.Line.LengthM()
	}
	return 0
}

// station is a place along a row that closes counted from its beginning.
func (c *class) station(u float64) float64 {
	if around := c.aroundM(); around > 0 {
		return wrapped(u, around)
	}
	return u
}

func wrapped(u, around float64) float64 { return u - float64(math.Floor(u/around)*around) }

// aheadBend is how far along the line of the rows a way reaches that is aheadM long on them: beside a
// line of curvature κ a row is 1 - v·κ times as long, and its own curvature is κ/(1 - v·κ).
func (c *class) aheadBend(from, to *Line, aheadM float64) float64 {
	longest := 1.0
	for _, l := range [2]*Line{from, to} {
		for _, at := range [2][2]float64{{l.LeftE, l.LeftN}, {l.RightE, l.RightN}} {
			f := c.Line.Near(at[0], at[1])
			longest = max(longest, 1+float64(f.RightM*f.CurvaturePerM))
		}
	}
	return aheadM * longest
}
