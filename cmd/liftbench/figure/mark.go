// The mark of one transition, told apart by shape and by colour.

package figure

import (
	"image/color"
	"math"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
	"liftbench/sections/score"
)

// OnTimeM is the place error up to which a transition is drawn as on time: two
// standard deviations of RTK, 1.43 cm from row to row (Carballido et al. 2014,
// Appl. Eng. Agric. 30(3):361-366).
const OnTimeM = 0.03

// outcome is what became of a transition.
type outcome int

const (
	onTime outcome = iota
	late
	early
	missed
	extra
	outcomes
)

// outcomeOf returns the outcome of an event; ok is false where none is drawn.
func outcomeOf(e *score.Event) (o outcome, ok bool) {
	switch {
	case e.Kind == score.Missed:
		return missed, true
	case e.Kind == score.Spurious:
		return extra, true
	case e.Kind != score.Paired:
		return 0, false
	case e.PlaceErrorM > OnTimeM:
		return late, true
	case e.PlaceErrorM < -OnTimeM:
		return early, true
	}
	return onTime, true
}

// name is what the mark of an outcome means.
func (o outcome) name(t language.Texts) string {
	return [outcomes]string{t.Text("on time"), t.Text("late"), t.Text("early"), t.Text("missed"), t.Text("extra")}[o]
}

var outcomeColors = [outcomes]color.NRGBA{lineColor, lateColor, earlyColor, missColor, lineColor}

// marks collects the marks of a drawing by outcome, so that all marks of an
// outcome are one path of the SVG.
type marks [outcomes]path

// add puts a mark of radius r in points at a place.
func (m *marks) add(o outcome, at orb.Point, r float64) {
	p := &m[o]
	to := func(dx, dy float64) orb.Point { return by(at, dx, dy) }
	switch o {
	case onTime: // diamond
		r *= 0.8
		p.ring(to(0, r), to(r, 0), to(0, -r), to(-r, 0))
	case late, early: // triangle, pointing up when late
		up := r
		if o == early {
			up = -r
		}
		const cos30, sin30 = 0.866, 0.5
		p.ring(to(0, up), to(r*cos30, -up*sin30), to(-r*cos30, -up*sin30))
	case missed: // saltire
		d := r * math.Sqrt2 / 2
		p.line(to(-d, -d), to(d, d))
		p.line(to(-d, d), to(d, -d))
	case extra: // cross
		p.line(to(-r, 0), to(r, 0))
		p.line(to(0, -r), to(0, r))
	}
}

// draw strokes and fills the marks, the worst on top.
func (m *marks) draw(s *sheet) {
	for o, p := range m {
		if len(p) == 0 {
			continue
		}
		switch outcome(o) {
		case late, early:
			s.fill(faded(outcomeColors[o], 0xB0), p)
		case onTime:
			s.stroke(pen{color: outcomeColors[o], widthPt: 0.6}, p)
		default:
			s.stroke(pen{color: outcomeColors[o], widthPt: 1.3}, p)
		}
	}
}

// keyHeight is what the key takes at the top of a figure.
const keyHeight = 18

// key draws what the marks mean along the top of the sheet. Only marks that are
// there are named.
func (m *marks) key(s *sheet) {
	at := orb.Point{8, s.heightPt - keyHeight/2}
	var shown marks
	for o, p := range m {
		if len(p) == 0 {
			continue
		}
		shown.add(outcome(o), at, 4.5)
		name := small(outcome(o).name(s.words), by(at, 8, 0), startsAt, centerAt)
		s.write(name)
		at = by(name.at, name.width()+14, 0)
	}
	shown.draw(s)
}
