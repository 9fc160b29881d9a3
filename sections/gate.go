// Whether a section ought to be in work where it is.

package sections

import "liftbench/sections/field"

// Gate is the question that both the controller (of predicted poses) and the
// score (of true ones) ask: ought this section to be in work at this pose?
type Gate struct {
	Field   *field.Field
	Machine *Machine
	Rule    EdgeRule
	// CosRowTolerance is the cosine of the largest angle between heading and
	// crop rows at which a zone with a row bearing takes part, that is, at which its
	// borders command sections.
	CosRowTolerance float64
	// MinWorkRadiusM is the tightest path, as a radius, that still counts as
	// work in a zone with a row bearing: see Follow.
	MinWorkRadiusM float64
	// SlackM is how much of a section's width may hang over a border with the
	// rule CropFirst, or reach in with WeedFirst, before it decides. Along a
	// border the bar strays by as much as the steering.
	SlackM float64
	// WorkedGround is what is done over rows worked before, for which RowSpacingM, from
	// one crop row to the next, must be known: see InWork.
	WorkedGround WorkedGround
	RowSpacingM  float64

	reachM float64 // Machine.ReachM, where it is known; or 0
}

// Of asks the same of another machine.
func (g Gate) Of(m *Machine) Gate {
	g.Machine, g.reachM = m, m.ReachM()
	return g
}

// Share returns the share of section i, with the bar at f, inside the zones of m.
func (g *Gate) Share(i int, f *Frame, m field.Mask) float64 {
	le, ln, re, rn := g.Machine.Line(i, f)
	return g.Field.Share(le, ln, re, rn, m)
}

// Wants reports whether section i ought to be in work with that share inside, as far as
// the zones say.
func (g *Gate) Wants(i int, share float64) bool {
	return g.Rule.InWork(share, g.SlackM/g.Machine.Sections[i].WidthM)
}

// Sure reports whether section i ought to be in work, or out of it, beyond doubt: it
// is grazeM past the deciding share. A change is accepted only once it is sure, and
// then counts from where the deciding share was passed. If the section turns back
// before that, it has grazed the border, and the change is ignored. So a section that runs along a border, or past the tip of
// a keep-out, is told the same by the controller's estimate and by the score's
// true track, as long as they lie nearer together than that.
func (g *Gate) Sure(i int, on bool, share float64) bool {
	w := g.Machine.Sections[i].WidthM
	return g.Rule.Sure(on, share, g.SlackM/w, grazeM/w)
}

// grazeM is twice and more what steering and position stray by: see the
// generated driver's and receiver's noise. Common practice, no source.
const grazeM = 0.05
