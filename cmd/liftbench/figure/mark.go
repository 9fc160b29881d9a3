// The mark of one transition, told apart by shape and by colour.

package figure

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"liftbench/sections/score"
)

// OnTimeM is the place error up to which a transition is drawn as on time: two
// standard deviations of RTK, 1.43 cm from row to row (Carballido et al. 2014,
// Appl. Eng. Agric. 30(3):361-366).
const OnTimeM = 0.03

// shape is what became of a transition.
type shape int

const (
	onTime shape = iota
	late
	early
	missed
	extra
	shapes
)

// shapeOf returns the shape of an event; ok is false where none is drawn.
func shapeOf(e *score.Event) (s shape, ok bool) {
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

var shapeNames = [shapes]string{"on time", "late", "early", "missed", "extra"}

var shapeColors = [shapes]color.NRGBA{lineColor, lateColor, earlyColor, missColor, lineColor}

// marks collects the marks of a drawing by shape, so that each shape is one
// path of the SVG.
type marks [shapes]vg.Path

// add puts a mark of radius r at (x, y).
func (m *marks) add(s shape, x, y, r vg.Length) {
	p := &m[s]
	to := func(dx, dy vg.Length) vg.Point { return vg.Point{X: x + dx, Y: y + dy} }
	switch s {
	case onTime: // diamond
		r *= 0.8
		p.Move(to(0, r))
		p.Line(to(r, 0))
		p.Line(to(0, -r))
		p.Line(to(-r, 0))
		p.Close()
	case late, early: // triangle, pointing up when late
		up := r
		if s == early {
			up = -r
		}
		const cos30, sin30 = 0.866, 0.5
		p.Move(to(0, up))
		p.Line(to(r*cos30, -up*sin30))
		p.Line(to(-r*cos30, -up*sin30))
		p.Close()
	case missed: // saltire
		d := r * vg.Length(math.Sqrt2/2)
		p.Move(to(-d, -d))
		p.Line(to(d, d))
		p.Move(to(-d, d))
		p.Line(to(d, -d))
	case extra: // cross
		p.Move(to(-r, 0))
		p.Line(to(r, 0))
		p.Move(to(0, -r))
		p.Line(to(0, r))
	}
}

// draw strokes and fills the marks, the worst on top.
func (m *marks) draw(c draw.Canvas) {
	for s, p := range m {
		if len(p) == 0 {
			continue
		}
		switch shape(s) {
		case late, early:
			c.SetColor(faded(shapeColors[s], 0xB0))
			c.Fill(p)
		default:
			width := vg.Points(1.3)
			if shape(s) == onTime {
				width = vg.Points(0.6)
			}
			c.SetLineStyle(draw.LineStyle{Color: shapeColors[s], Width: width})
			c.Stroke(p)
		}
	}
}

// keyHeight is what the key takes at the top of a figure.
const keyHeight = 18

// key draws what the shapes mean along the top of c, and returns what is left
// below. Only shapes that are there are named.
func (m *marks) key(c draw.Canvas) draw.Canvas {
	sty := textStyle(smallTextPt)
	sty.YAlign = draw.YCenter
	x, y := c.Min.X+8, c.Max.Y-keyHeight/2
	var shown marks
	for s, p := range m {
		if len(p) == 0 {
			continue
		}
		shown.add(shape(s), x, y, 4.5)
		x += 8
		c.FillText(sty, vg.Point{X: x, Y: y}, shapeNames[s])
		x += sty.Width(shapeNames[s]) + 14
	}
	shown.draw(c)
	return draw.Crop(c, 0, 0, 0, -keyHeight)
}
