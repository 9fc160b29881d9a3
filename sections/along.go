// Along which rows a place and a heading lie: where rows bend, both count.

package sections

import (
	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// heads is a place that moves along its heading.
type heads struct{ eastM, northM, sin, cos float64 }

// heads returns the turning point at p, or the axle of a trailed tool, backM before it came
// there, with the sine and cosine of the tool's heading. Where no rows bend the place is of
// no matter, and is not computed.
func (g *Gate) heads(p *motion.Pose, sin, cos, backM float64) heads {
	h := heads{sin: sin, cos: cos}
	if !g.Field.Bends() {
		return h
	}
	h.eastM, h.northM = p.EastM, p.NorthM
	if m := g.Machine; m.Mount == Trailed {
		s, c := exact.Sincos(p.HeadingRad)
		h.eastM -= float64(m.HitchBehindM*s) + float64(m.DrawbarM*sin)
		h.northM -= float64(m.HitchBehindM*c) + float64(m.DrawbarM*cos)
	}
	h.eastM -= float64(backM * sin)
	h.northM -= float64(backM * cos)
	return h
}

// along returns the zones whose rows run along the heading at the place, to within the
// angle of that cosine, and those without rows.
func (h *heads) along(g *Gate, cosTolerance float64) field.Mask {
	if !g.Field.Bends() {
		return g.Field.Participating(h.sin, h.cos, cosTolerance)
	}
	return g.Field.ParticipatingAt(h.eastM, h.northM, h.sin, h.cos, cosTolerance)
}

// rowCurvature is that of the rows along which the tractor goes at p, nearest to perM: see
// field.RowCurvature.
func (g *Gate) rowCurvature(p *motion.Pose, perM float64) float64 {
	sin, cos := exact.Sincos(p.HeadingRad)
	return g.Field.RowCurvature(p.EastM, p.NorthM, sin, cos, g.CosRowTolerance, perM)
}
