// A drawing that can become a picture as well as an element of a page.

package figure

import (
	"image/color"
	"io"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// Drawing is a figure that is not yet SVG or PNG.
type Drawing struct {
	title  string
	height vg.Length
	draw   func(draw.Canvas)
}

// SVG returns the drawing as one svg element, which is a file too.
func (d *Drawing) SVG() string {
	s := newSheet(d.height)
	d.draw(s.Canvas)
	return s.element(d.title)
}

// pngDPI gives a PNG 1111 pixels of width.
const pngDPI = 200

// WritePNG writes the drawing as PNG on white ground.
func (d *Drawing) WritePNG(w io.Writer) error {
	c := vgimg.NewWith(vgimg.UseWH(widthPt, d.height), vgimg.UseDPI(pngDPI), vgimg.UseBackgroundColor(color.White))
	d.draw(draw.New(c))
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}
