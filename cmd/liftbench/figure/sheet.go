// What a drawing consists of: outlines and texts on a sheet, in the order in
// which they lie on each other.

package figure

import (
	"image/color"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
)

// sheet is a drawing of widthPt by heightPt. Places on it are in points from
// its lower left corner, x to the right and y up.
type sheet struct {
	heightPt float64
	shapes   []shape
	words    language.Texts // of what is written on it
}

// shape is an outline, filled, drawn along, or both; or a text.
type shape struct {
	outline path
	fill    color.NRGBA // alpha 0: not filled
	pen     pen
	text    text
}

// path is an outline of any number of pieces.
type path []piece

// piece is a line from point to point, or a circle.
type piece struct {
	points   []orb.Point
	closed   bool    // the last point is joined to the first
	radiusPt float64 // over 0: a circle around the only point
}

// pen is how a line is drawn.
type pen struct {
	color   color.NRGBA
	widthPt float64   // 0: not at all
	dashes  []float64 // lengths in points, drawn and left out in turn; nil: unbroken
}

// line adds a line from point to point.
func (p *path) line(points ...orb.Point) {
	*p = append(*p, piece{points: points})
}

// ring adds a line from point to point that ends where it began.
func (p *path) ring(points ...orb.Point) {
	*p = append(*p, piece{points: points, closed: true})
}

// circle adds a circle.
func (p *path) circle(center orb.Point, radiusPt float64) {
	*p = append(*p, piece{points: []orb.Point{center}, radiusPt: radiusPt})
}

// by returns the place that lies dx to the right of p and dy above it.
func by(p orb.Point, dx, dy float64) orb.Point {
	return orb.Point{p[0] + dx, p[1] + dy}
}

func newSheet(words language.Texts, heightPt float64) *sheet {
	return &sheet{heightPt: heightPt, words: words}
}

// bound is the whole sheet.
func (s *sheet) bound() orb.Bound {
	return orb.Bound{Max: orb.Point{widthPt, s.heightPt}}
}

// fill fills an outline.
func (s *sheet) fill(c color.NRGBA, p path) {
	s.shapes = append(s.shapes, shape{outline: p, fill: c})
}

// stroke draws along an outline.
func (s *sheet) stroke(with pen, p path) {
	s.shapes = append(s.shapes, shape{outline: p, pen: with})
}

// line draws a line from point to point.
func (s *sheet) line(with pen, points ...orb.Point) {
	var p path
	p.line(points...)
	s.stroke(with, p)
}

// write sets a text.
func (s *sheet) write(t text) {
	if t.words != "" {
		s.shapes = append(s.shapes, shape{text: t})
	}
}

// inset returns a bound with these widths cut off its sides.
func inset(b orb.Bound, left, right, below, above float64) orb.Bound {
	return orb.Bound{Min: by(b.Min, left, below), Max: by(b.Max, -right, -above)}
}
