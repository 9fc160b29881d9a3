// Whether a section ought to be in work where it is.

package sections

import (
	"math"

	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// Gate is the question that both the controller (of predicted poses) and the
// score (of true ones) ask: ought this section to be in work at this pose?
type Gate struct {
	Field   *field.Field
	Machine *Machine
	Rule    EdgeRule
	// CosRowTolerance is the cosine of the largest angle between heading and
	// crop rows at which a zone with a row bearing takes part.
	CosRowTolerance float64
	// MinWorkRadiusM is the tightest path, as a radius, that still counts as
	// work in a zone with a row bearing. A headland turn sweeps through the
	// bearing of the headland rows; without this limit the tools would drop
	// in the middle of it.
	MinWorkRadiusM float64
	// SlackM is how much of a section's width may hang over a border with the
	// rule CropFirst, or reach in with WeedFirst, before it decides. Along a
	// border the bar strays by as much as the steering.
	SlackM float64
}

// Zones returns the zones that take part at pose p.
func (g *Gate) Zones(p *motion.Pose) field.Mask {
	if math.Abs(p.YawRateRadPerS)*g.MinWorkRadiusM > math.Abs(p.SpeedMps) {
		return g.Field.Unbound()
	}
	heading := p.HeadingRad
	if g.Machine.Mount == Trailed {
		heading = p.ToolHeadingRad
	}
	s, c := math.Sincos(heading)
	return g.Field.Participating(s, c, g.CosRowTolerance)
}

// Share returns the share of section i, with the bar at f, inside the zones of m.
func (g *Gate) Share(i int, f *Frame, m field.Mask) float64 {
	le, ln, re, rn := g.Machine.Line(i, f)
	return g.Field.Share(le, ln, re, rn, m)
}

// InWork reports whether section i ought to be in work at pose p.
func (g *Gate) InWork(i int, p *motion.Pose) bool {
	f := g.Machine.Frame(p)
	return g.Wants(i, g.Share(i, &f, g.Zones(p)))
}

// Wants reports whether section i ought to be in work with that share inside.
func (g *Gate) Wants(i int, share float64) bool {
	return g.Rule.InWork(share, g.SlackM/g.Machine.Sections[i].WidthM)
}
