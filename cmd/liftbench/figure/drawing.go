// A drawing that can become a picture as well as an element of a page.

package figure

import "io"

// Drawing is a figure that is not yet SVG or PNG.
type Drawing struct {
	title string
	sheet *sheet
}

// SVG returns the drawing as one svg element, which is a file too.
func (d *Drawing) SVG() string { return d.sheet.element(d.title) }

// WritePNG writes the drawing as PNG on white ground, 1111 pixels wide.
func (d *Drawing) WritePNG(w io.Writer) error { return d.sheet.writePNG(w) }
