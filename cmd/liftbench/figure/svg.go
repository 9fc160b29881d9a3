// From a drawing to one SVG element of a page.

package figure

import (
	"bytes"
	"html"
	"strconv"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// sheet is a drawing of widthPt by some height.
type sheet struct {
	svg *measuredText
	draw.Canvas
}

func newSheet(height vg.Length) *sheet {
	svg := &measuredText{Canvas: vgsvg.New(widthPt, height)}
	return &sheet{svg: svg, Canvas: draw.New(svg)}
}

// measuredText keeps the width of each text that is drawn, in the order in
// which the texts stand in the SVG.
type measuredText struct {
	*vgsvg.Canvas
	widths []vg.Length
}

// FillString draws a text. It makes measuredText a vg.Canvas.
func (m *measuredText) FillString(f font.Face, pt vg.Point, text string) {
	m.widths = append(m.widths, f.Width(text))
	m.Canvas.FillString(f, pt, text)
}

// withLengths gives each text element of an SVG its measured width, to which
// a browser sets it in whatever font it has: without, text in a wider font
// runs out of the drawing or into its neighbour.
func (m *measuredText) withLengths(svg string) string {
	const start = "<text "
	var b strings.Builder
	for _, width := range m.widths {
		before, after, _ := strings.Cut(svg, start)
		b.WriteString(before + start)
		if width > 0 {
			b.WriteString(`textLength="` + strconv.FormatFloat(width.Points(), 'f', 1, 64) + `" lengthAdjust="spacingAndGlyphs" `)
		}
		svg = after
	}
	return b.String() + svg
}

// forPage gives what vgsvg writes the page's text colour, and leaves the font to
// the svg element: letters of Liberation Sans, with which the text is measured,
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
	text = s.svg.withLengths(forPage.Replace(text[strings.Index(text, "<svg"):]))
	at := strings.Index(text, `viewBox="`)
	end := at + strings.Index(text[at:], ">")
	box := text[at : at+len(`viewBox="`)+strings.Index(text[at+len(`viewBox="`):], `"`)+1]
	return `<svg role="img" ` + box + ` xmlns="http://www.w3.org/2000/svg" fill="currentColor" font-family="Liberation Sans, Arial, Helvetica, sans-serif">` +
		"<title>" + html.EscapeString(title) + "</title>" + text[end+1:]
}
