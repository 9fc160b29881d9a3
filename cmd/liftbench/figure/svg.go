// From a drawing to one SVG element of a page.

package figure

import (
	"bytes"
	"html"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// sheet is a drawing of widthPt by some height.
type sheet struct {
	svg *vgsvg.Canvas
	draw.Canvas
}

func newSheet(height vg.Length) *sheet {
	svg := vgsvg.New(widthPt, height)
	return &sheet{svg: svg, Canvas: draw.New(svg)}
}

// forPage gives what vgsvg writes the page's text colour and a font that every
// machine has; letters of Liberation Sans, with which the text is measured,
// are as wide as those of Arial and Helvetica.
var forPage = strings.NewReplacer(
	"font-family:Liberation Sans;font-variant:normal;font-weight:normal;font-style:normal;", "",
	"#000000", "currentColor",
	"\n\t", " ",
)

// element returns the drawing as an svg element that fills the width it is
// given. title is its name for those who do not see it.
func (s *sheet) element(title string) string {
	var b bytes.Buffer
	// Writing to memory does not fail.
	_, _ = s.svg.WriteTo(&b)
	text := b.String()
	text = forPage.Replace(text[strings.Index(text, "<svg"):])
	at := strings.Index(text, `viewBox="`)
	end := at + strings.Index(text[at:], ">")
	box := text[at : at+len(`viewBox="`)+strings.Index(text[at+len(`viewBox="`):], `"`)+1]
	return `<svg role="img" ` + box + ` xmlns="http://www.w3.org/2000/svg" fill="currentColor" font-family="Liberation Sans, Arial, Helvetica, sans-serif">` +
		"<title>" + html.EscapeString(title) + "</title>" + text[end+1:]
}
