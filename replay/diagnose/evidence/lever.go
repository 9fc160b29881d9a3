// Levers: how a wrong heading turns into lateness.

package evidence

import "math"

// leastNearing is how much nearer to a border, at least, a section is taken to
// come by each metre of its path: along a border a lever has no end.
const leastNearing = 0.25

// levers sets by how much each section of a crossing is late for each radian that
// the heading is too far to the right.
//
// A bar turned by δ about the antenna is behind by y·δ and to the right by x·δ, x
// from the antenna forward. Across a border whose normal is at ψ to the right of
// the heading that is (y·cos ψ - x·sin ψ)·δ, of which a section that moves at
// (v, x'·ω), x' from the turning point, makes good cos ψ + (x'·ω/v)·sin ψ on each
// metre. A section that crosses alone says nothing of the border: its lever is y.
func SetLevers(moves []Move, c *Crossing) {
	if len(c.Of) == 1 {
		m := &moves[c.Of[0]]
		m.LeverM = m.SideM * m.PerPlace
		return
	}
	n, east, north := float64(len(c.Of)), 0.0, 0.0
	for _, i := range c.Of {
		east += moves[i].EastM / n
		north += moves[i].NorthM / n
	}
	ee, en, nn := 0.0, 0.0, 0.0
	for _, i := range c.Of {
		de, dn := moves[i].EastM-east, moves[i].NorthM-north
		ee, en, nn = ee+de*de, en+de*dn, nn+dn*dn
	}
	// The border runs along the longer axis of the places where it was crossed.
	normalRad := math.Atan2(2*en, nn-ee)/2 + math.Pi/2
	for _, i := range c.Of {
		m := &moves[i]
		sin, cos := math.Sincos(normalRad - m.HeadingRad)
		if cos < 0 {
			sin, cos = -sin, -cos
		}
		nearing := cos + m.AxleM*m.YawRateRadPerS/m.SpeedMps*sin
		m.LeverM = (m.SideM*cos - m.AntennaM*sin) / max(nearing, leastNearing) * m.PerPlace
	}
}
