// Levers: how late a wrong heading makes each section of a crossing.

package evidence

import "math"

// leastNearing is by how many metres a section comes nearer to a border, at least,
// for each metre of its path. Parallel to a border the lever would be infinite.
const leastNearing = 0.25

// SetLevers sets how many metres late each section of a crossing is for each radian
// that the believed heading is too far to the right.
//
// If the bar is turned by δ about the antenna, a section at y to the right and x ahead
// of the antenna is y·δ further back and x·δ further right. Across a border whose
// normal points ψ to the right of the heading, that is (y·cos ψ - x·sin ψ)·δ. The
// section moves at (v, x'·ω), x' being its distance ahead of the turning point, and so
// comes nearer to the border by cos ψ + (x'·ω/v)·sin ψ for each metre driven. The
// direction of the border follows from where the sections cross it; a section that
// crosses alone does not show it, and its lever is y.
func SetLevers(moves []Move, c *Crossing) {
	if len(c.Changes) == 1 {
		m := &moves[c.Changes[0]]
		m.LeverM = m.SideM * m.PerPlace
		return
	}
	n := float64(len(c.Changes))
	var east, north float64
	for _, i := range c.Changes {
		east += moves[i].EastM / n
		north += moves[i].NorthM / n
	}
	var ee, en, nn float64
	for _, i := range c.Changes {
		de, dn := moves[i].EastM-east, moves[i].NorthM-north
		ee, en, nn = ee+de*de, en+de*dn, nn+dn*dn
	}
	// The border runs along the longer axis of the places at which it was crossed.
	normalRad := math.Atan2(2*en, nn-ee)/2 + math.Pi/2
	for _, i := range c.Changes {
		m := &moves[i]
		sin, cos := math.Sincos(normalRad - m.HeadingRad)
		if cos < 0 {
			sin, cos = -sin, -cos
		}
		nearing := cos + m.AxleM*m.YawRateRadPerS/m.SpeedMps*sin
		m.LeverM = (m.SideM*cos - m.AntennaM*sin) / max(nearing, leastNearing) * m.PerPlace
	}
}
