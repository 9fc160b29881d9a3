// The letters of a picture.

package figure

import (
	"github.com/golang/freetype/truetype"
	"golang.org/x/image/font"
	"golang.org/x/image/math/fixed"
)

// text draws a text in Go Regular, set to its measured width as a browser sets it.
func (p *painter) text(t *text) error {
	em := fixed.Int26_6(p.letters.FUnitsPerEm())
	long := fixed.Int26_6(0)
	for _, r := range t.words {
		long += p.letters.HMetric(em, p.letters.Index(r)).AdvanceWidth
	}
	if long == 0 {
		return nil
	}
	// From the font's units to points, along the text and up from its baseline.
	along, up := t.width()/float64(long), t.sizePt/float64(em)
	from := t.baseline()
	x := -float64(t.across) * float64(long)
	for _, r := range t.words {
		index := p.letters.Index(r)
		if err := p.glyph.Load(p.letters, em, index, font.HintingNone); err != nil {
			return err
		}
		p.letter(func(q truetype.Point) fixed.Point26_6 {
			dx, dy := (x+float64(q.X))*along, float64(q.Y)*up
			if t.turned {
				dx, dy = -dy, dx
			}
			return p.pixel(by(from, dx, dy))
		})
		x += float64(p.glyph.AdvanceWidth)
	}
	p.paint(t.color)
	return nil
}

// letter adds the outline of the loaded letter. Of its points those off the
// curve are control points; between two of them the curve passes halfway
// (TrueType, as Apple's and Microsoft's specifications describe it; from memory).
func (p *painter) letter(at func(truetype.Point) fixed.Point26_6) {
	const onCurve = 1
	halfway := func(a, b fixed.Point26_6) fixed.Point26_6 {
		return fixed.Point26_6{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}
	}
	first := 0
	for _, end := range p.glyph.Ends {
		contour := p.glyph.Points[first:end]
		first = end
		n := len(contour)
		// It begins at a point on the curve or halfway between two that are not.
		begin := at(contour[0])
		if contour[0].Flags&onCurve == 0 {
			if last := contour[n-1]; last.Flags&onCurve != 0 {
				begin = at(last)
			} else {
				begin = halfway(begin, at(last))
			}
		}
		p.raster.Start(begin)
		for i := 0; i < n; i++ {
			q := contour[i]
			if q.Flags&onCurve != 0 {
				p.raster.Add1(at(q))
				continue
			}
			target := begin
			if i+1 < n {
				target = at(contour[i+1])
				if contour[i+1].Flags&onCurve == 0 {
					target = halfway(at(q), target)
				} else {
					i++
				}
			}
			p.raster.Add2(at(q), target)
		}
		p.raster.Add1(begin)
	}
}
