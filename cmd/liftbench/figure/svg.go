// From a sheet to one SVG element of a page.

package figure

import (
	"fmt"
	"html"
	"image/color"
	"math"
	"strconv"

	"github.com/paulmach/orb"
)

// element returns the drawing as an svg element that fills the width it is
// given. title is its name for those who do not see it. Lines, areas and text
// of lineColor take the page's text colour.
func (s *sheet) element(title string) string {
	w := svgWriter{heightPt: s.heightPt}
	w.add(`<svg role="img" viewBox="0 0 `).number(widthPt).add(" ").number(s.heightPt).
		add(`" xmlns="http://www.w3.org/2000/svg" fill="currentColor" font-family="Liberation Sans, Arial, Helvetica, sans-serif">`).
		add("<title>").add(html.EscapeString(title)).add("</title>")
	for i := range s.shapes {
		if shape := &s.shapes[i]; shape.text.words != "" {
			w.text(&shape.text)
		} else {
			w.outline(shape)
		}
	}
	w.add("\n</svg>")
	return string(w.b)
}

// svgWriter collects an SVG element. SVG counts y from the top down.
type svgWriter struct {
	b        []byte
	heightPt float64
}

func (w *svgWriter) add(s string) *svgWriter {
	w.b = append(w.b, s...)
	return w
}

// number writes a number to a hundredth, without zeros that say nothing.
func (w *svgWriter) number(v float64) *svgWriter {
	n := int64(math.Round(v * 100))
	if n < 0 {
		w.b = append(w.b, '-')
		n = -n
	}
	w.b = strconv.AppendInt(w.b, n/100, 10)
	switch {
	case n%10 != 0:
		w.b = append(w.b, '.', byte('0'+n/10%10), byte('0'+n%10))
	case n%100 != 0:
		w.b = append(w.b, '.', byte('0'+n/10%10))
	}
	return w
}

func (w *svgWriter) place(p orb.Point) *svgWriter {
	return w.number(p[0]).add(" ").number(w.heightPt - p[1])
}

// paint writes the attribute name with a colour, and how much of it covers what
// is below.
func (w *svgWriter) paint(name string, c color.NRGBA) *svgWriter {
	w.add(" ").add(name).add(`="`)
	if opaque := faded(c, 0xFF); opaque == lineColor {
		w.add("currentColor")
	} else {
		w.b = fmt.Appendf(w.b, "#%02X%02X%02X", c.R, c.G, c.B)
	}
	if c.A != 0xFF {
		w.add(`" `).add(name).add(`-opacity="`).number(float64(c.A) / 0xFF)
	}
	return w.add(`"`)
}

// outline writes a path. Both its fill and its pen stand with it.
func (w *svgWriter) outline(s *shape) {
	w.add("\n<path d=\"")
	for i := range s.outline {
		w.piece(&s.outline[i])
	}
	w.add(`"`)
	switch {
	case s.fill.A == 0:
		w.add(` fill="none"`)
	case s.fill != lineColor: // that is what the element has
		w.paint("fill", s.fill)
	}
	if s.pen.widthPt > 0 {
		w.paint("stroke", s.pen.color).add(` stroke-width="`).number(s.pen.widthPt).add(`"`)
		for i, d := range s.pen.dashes {
			if i == 0 {
				w.add(` stroke-dasharray="`)
			} else {
				w.add(" ")
			}
			w.number(d)
		}
		if len(s.pen.dashes) > 0 {
			w.add(`"`)
		}
	}
	w.add("/>")
}

func (w *svgWriter) piece(p *piece) {
	if r := p.radiusPt; r > 0 { // two halves
		w.add("M").place(by(p.points[0], -r, 0))
		for _, d := range []float64{2 * r, -2 * r} {
			w.add("a").number(r).add(" ").number(r).add(" 0 1 0 ").number(d).add(" 0")
		}
		w.add("z")
		return
	}
	for i, at := range p.points {
		if i == 0 {
			w.add("M")
		} else {
			w.add("L")
		}
		w.place(at)
	}
	if p.closed {
		w.add("z")
	}
}

// text writes a text with its measured width, to which a browser sets it in
// whatever font it has: without, text in a wider font runs out of the drawing
// or into its neighbour.
func (w *svgWriter) text(t *text) {
	w.add("\n<text textLength=\"").number(t.width()).add(`" lengthAdjust="spacingAndGlyphs"`)
	at := t.baseline()
	w.add(` x="`).number(at[0]).add(`" y="`).number(w.heightPt - at[1]).add(`"`)
	switch t.across {
	case middleAt:
		w.add(` text-anchor="middle"`)
	case endsAt:
		w.add(` text-anchor="end"`)
	}
	w.add(` font-size="`).number(t.sizePt).add(`"`)
	if t.turned {
		w.add(` transform="rotate(-90 `).place(at).add(`)"`)
	}
	if t.color != lineColor {
		w.paint("fill", t.color)
	}
	w.add(">").add(html.EscapeString(t.words)).add("</text>")
}
