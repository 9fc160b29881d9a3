// From a sheet to a picture of pixels.

package figure

import (
	"image"
	"image/color"
	"io"
	"math"

	"github.com/golang/freetype/raster"
	"github.com/golang/freetype/truetype"
	"github.com/paulmach/orb"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/math/fixed"

	"liftbench/cmd/liftbench/figure/pngfile"
)

// pixelsPerPt gives a PNG 1111 pixels of width, 200 to the inch.
const pixelsPerPt = 200.0 / 72

// writePNG writes the drawing as PNG on white ground.
func (s *sheet) writePNG(w io.Writer) error {
	letters, err := truetype.Parse(goregular.TTF)
	if err != nil {
		return err // not met: the font is part of the program
	}
	wide, high := subpixels(widthPt).Round(), subpixels(s.heightPt).Round()
	p := painter{raster: raster.NewRasterizer(wide, high), picture: image.NewRGBA(image.Rect(0, 0, wide, high)), heightPt: s.heightPt, letters: letters}
	p.raster.UseNonZeroWinding = true
	for i := range p.picture.Pix {
		p.picture.Pix[i] = 0xFF
	}
	for i := range s.shapes {
		shape := &s.shapes[i]
		if shape.text.words != "" {
			if err := p.text(&shape.text); err != nil {
				return err
			}
			continue
		}
		if shape.fill.A > 0 {
			p.fill(shape.outline)
			p.paint(shape.fill)
		}
		if shape.pen.widthPt > 0 {
			p.stroke(shape.pen, shape.outline)
			p.paint(shape.pen.color)
		}
	}
	return pngfile.Encode(w, p.picture)
}

// painter draws on a picture.
type painter struct {
	raster   *raster.Rasterizer
	picture  *image.RGBA
	heightPt float64
	letters  *truetype.Font
	glyph    truetype.GlyphBuf
}

// pixel is where a place on the sheet is in the picture, whose y counts from
// the top down.
func (p *painter) pixel(at orb.Point) fixed.Point26_6 {
	return fixed.Point26_6{X: subpixels(at[0]), Y: subpixels(p.heightPt - at[1])}
}

// subpixels is a length in 64ths of a pixel.
func subpixels(pt float64) fixed.Int26_6 {
	return fixed.Int26_6(math.Round(pt * pixelsPerPt * 64))
}

// paint colours what has been added to the raster.
func (p *painter) paint(c color.NRGBA) {
	to := raster.NewRGBAPainter(p.picture)
	to.SetColor(c)
	p.raster.Rasterize(to)
	p.raster.Clear()
}

// corners returns the corners of a piece; a circle has many.
func (p *piece) corners() []orb.Point {
	if p.radiusPt == 0 {
		return p.points
	}
	const n = 32
	out := make([]orb.Point, n)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		out[i] = by(p.points[0], p.radiusPt*cos, p.radiusPt*sin)
	}
	return out
}

// fill adds what is inside an outline.
func (p *painter) fill(outline path) {
	for i := range outline {
		corners := outline[i].corners()
		for k, at := range corners {
			if k == 0 {
				p.raster.Start(p.pixel(at))
			} else {
				p.raster.Add1(p.pixel(at))
			}
		}
		p.raster.Add1(p.pixel(corners[0]))
	}
}

// stroke adds what a pen covers.
func (p *painter) stroke(with pen, outline path) {
	for i := range outline {
		corners := outline[i].corners()
		if outline[i].closed || outline[i].radiusPt > 0 {
			corners = append(corners[:len(corners):len(corners)], corners[0])
		}
		for _, dash := range cut(corners, with.dashes) {
			var line raster.Path
			for k, at := range dash {
				if k == 0 {
					line.Start(p.pixel(at))
				} else {
					line.Add1(p.pixel(at))
				}
			}
			raster.Stroke(p.raster, line, subpixels(with.widthPt), raster.ButtCapper, raster.RoundJoiner)
		}
	}
}

// cut returns the stretches of a line that dashes leave of it.
func cut(line []orb.Point, dashes []float64) [][]orb.Point {
	if len(dashes) == 0 {
		return [][]orb.Point{line}
	}
	var out [][]orb.Point
	stretch := []orb.Point{line[0]}
	k, left := 0, dashes[0]
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		for length := math.Hypot(b[0]-a[0], b[1]-a[1]); length > left; length = math.Hypot(b[0]-a[0], b[1]-a[1]) {
			a = by(a, (b[0]-a[0])*left/length, (b[1]-a[1])*left/length)
			if k%2 == 0 {
				out = append(out, append(stretch, a))
			}
			k++
			left = dashes[k%len(dashes)]
			stretch = []orb.Point{a}
		}
		left -= math.Hypot(b[0]-a[0], b[1]-a[1])
		stretch = append(stretch, b)
	}
	if k%2 == 0 {
		out = append(out, stretch)
	}
	return out
}
