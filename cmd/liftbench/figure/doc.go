// Package figure draws scored drives: data in, one SVG element out, ready to
// stand in a page. Lines and text take the page's text colour, so that a figure
// reads on light and dark ground; what a mark means is told by its shape as
// well as by its colour. The same data give the same bytes.
package figure

import "image/color"

// The palette of Okabe and Ito, which colour-blind readers can tell apart.
var (
	lateColor  = color.NRGBA{0xD5, 0x5E, 0x00, 0xFF} // late, overrun
	earlyColor = color.NRGBA{0x56, 0xB4, 0xE9, 0xFF}
	missColor  = color.NRGBA{0xCC, 0x79, 0xA7, 0xFF}
	workColor  = color.NRGBA{0x00, 0x72, 0xB2, 0xFF}
	greyColor  = color.NRGBA{0xBB, 0xBB, 0xBB, 0xFF}
	lineColor  = color.NRGBA{0x00, 0x00, 0x00, 0xFF} // becomes the page's text colour
)

// faded returns a colour that lets what is below show through.
func faded(c color.NRGBA, alpha uint8) color.NRGBA {
	c.A = alpha
	return c
}

// widthPt is every figure's width in its own units: with the text sizes below
// it reads at 360 pixels as well as on half a sheet of A4.
const (
	widthPt     = 400.0
	textPt      = 13.0
	smallTextPt = 12.0
)
