// Ground that has been worked already, and what the controller does over it.
//
// With LeaveWorked a section stays up over rows that an earlier pass has worked. Only
// whole rows count, a row belongs to the section that covers its middle, and a section
// is in work as long as one of its rows inside the zone has not been worked: better
// a row hoed twice than one left. So a section half over worked ground works, whatever
// the edge rule; it lifts where the last of its rows meets worked ground and drops where
// the first of them leaves it, each commanded ahead by the lead like at a border, and
// only if the stretch is worth it (foresee.go). The rows of a pass are those that the
// bar is nearest to, and from the first drop on they stay the same: so however the
// driver strays along worked ground, no section moves for it. What is worked counts
// from the end of the pass on (worked.Record.Follow).

package sections

import (
	"math"

	"liftbench/sections/field"
	"liftbench/sections/motion"
	"liftbench/sections/worked"
)

// WorkedGround is what a section does over rows that were worked on an earlier pass.
type WorkedGround = worked.Ground

const (
	WorkAgain   = worked.Again
	LeaveWorked = worked.Leave
)

// Record returns a record of worked rows for this gate, with nothing worked yet; nil
// with WorkAgain. The error says what the field lacks for it.
func (g *Gate) Record() (*worked.Record, error) {
	if g.WorkedGround == WorkAgain {
		return nil, nil
	}
	return worked.New(g.Field, g.RowSpacingM)
}

// InWork reports whether section i ought to be in work with the bar at f, where m are
// the zones that take part and share is its share inside them. r is what was worked so
// far; nil = nothing that matters.
func (g *Gate) InWork(r *worked.Record, i int, f *Frame, m field.Mask, share float64) bool {
	return g.Wants(i, share) && g.Left(r, i, f, m, share) > 0
}

// Left returns which share of the rows of section i is not worked yet.
func (g *Gate) Left(r *worked.Record, i int, f *Frame, m field.Mask, share float64) float64 {
	if r == nil || share <= 0 {
		return 1
	}
	l := g.line(i, f)
	if share < 1 {
		return r.Left(m, &l, g.Field)
	}
	return r.Left(m, &l, nil)
}

// SureAt is Sure where ground has been worked before.
func (g *Gate) SureAt(r *worked.Record, i int, on bool, f *Frame, m field.Mask, share float64) bool {
	return g.Sure(i, on, share) || !on && r != nil && g.Left(r, i, f, m, share) == 0
}

func (g *Gate) line(i int, f *Frame) (l worked.Line) {
	l.LeftE, l.LeftN, l.RightE, l.RightN = g.Machine.Line(i, f)
	return l
}

// OverWorked reports whether any section may be over worked rows with the bar at a, at
// b, or between them, within aheadM along the rows.
func (g *Gate) OverWorked(r *worked.Record, a, b *Frame, m field.Mask, aheadM float64) bool {
	if r == nil {
		return false
	}
	from, to := g.Whole(a), g.Whole(b)
	return r.Touches(m, &from, &to, aheadM+g.staggerM())
}

// Whole is the bar from the left end of its first section to the right end of its last.
func (g *Gate) Whole(f *Frame) worked.Line {
	l, r := g.line(0, f), g.line(len(g.Machine.Sections)-1, f)
	l.RightE, l.RightN = r.RightE, r.RightN
	return l
}

// staggerM is how far sections are in front of others.
func (g *Gate) staggerM() float64 {
	front, back := math.Inf(-1), math.Inf(1)
	for i := range g.Machine.Sections {
		x := g.Machine.Sections[i].XM
		front, back = max(front, x), min(back, x)
	}
	return front - back
}

// MarkWorked notes that section i was in work from one frame to another.
func (g *Gate) MarkWorked(r *worked.Record, i int, from, to *Frame, m field.Mask) {
	a, b := g.line(i, from), g.line(i, to)
	r.Mark(m, &a, &b)
}

// span is a time in which a tool is in work, or moves up, as expected from its commands.
type span struct{ FromNs, UntilNs int64 }

// tillLifted is the end of a span without a lift.
const tillLifted = math.MaxInt64

// works notes what the newest command of section s makes of its time in work.
func (c *Controller) works(s *sectionState) {
	at := c.effectNs(s)
	switch {
	case !s.On:
		s.Work.UntilNs = max(at, s.Work.FromNs)
	case at <= s.Work.UntilNs: // it has not left work
		s.Work.UntilNs = tillLifted
	default:
		s.WorkBefore, s.Work = s.Work, span{at, tillLifted}
	}
}

// effectNs is when the tool passes the effective depth after its last turn, or that
// turn where it is beyond by then.
func (c *Controller) effectNs(s *sectionState) int64 {
	l, toGo := &c.set.DropLead, 1.0
	if s.On {
		toGo = s.Turn.Share
	} else {
		l, toGo = &c.set.LiftLead, 1-s.Turn.Share
	}
	if l.TravelNs == 0 {
		return s.Turn.AtNs + int64(float64(l.MoveNs)*s.slower(l))
	}
	// It goes on to the end of its stroke, the part from the effective depth on last.
	rest := 1 - float64(l.MoveNs)/float64(l.TravelNs)
	return s.Turn.AtNs + int64(c.travelNs(s, s.On)*max(0, toGo-rest))
}

// slower is how many times as long as alone its last command takes.
func (s *sectionState) slower(l *Lead) float64 {
	if s.On {
		return 1
	}
	return s.stretch(l)
}

// mark notes the rows that sections have worked on the way from one fix to the next.
func (c *Controller) mark(before, after *motion.Pose) {
	if after.TimeNs-before.TimeNs > c.set.MaxAgeNs {
		return // there is no telling where it went meanwhile
	}
	a, b := c.gate.Machine.Frame(before), c.gate.Machine.Frame(after)
	for i := range c.section {
		s := &c.section[i]
		for _, w := range [2]span{s.WorkBefore, s.Work} {
			from, until := max(w.FromNs, before.TimeNs), min(w.UntilNs, after.TimeNs)
			if from >= until {
				continue
			}
			way := float64(after.TimeNs - before.TimeNs)
			x, y := c.gate.line(i, &a), c.gate.line(i, &b)
			u, v := part(&x, &y, float64(from-before.TimeNs)/way), part(&x, &y, float64(until-before.TimeNs)/way)
			c.worked.Mark(c.s.Follow.Zones, &u, &v)
		}
	}
}

// part is a line on the way from a to b, 0 at a and 1 at b.
func part(a, b *worked.Line, k float64) worked.Line {
	between := func(p, q float64) float64 { return p + float64(k*(q-p)) }
	return worked.Line{
		LeftE: between(a.LeftE, b.LeftE), LeftN: between(a.LeftN, b.LeftN),
		RightE: between(a.RightE, b.RightE), RightN: between(a.RightN, b.RightN),
	}
}
