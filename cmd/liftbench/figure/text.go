// A text on a sheet and how much room it takes.

package figure

import (
	"image/color"

	"github.com/paulmach/orb"
)

// text is one line of text.
type text struct {
	words  string
	at     orb.Point
	sizePt float64
	color  color.NRGBA
	across across // where along the text its place is
	upward upward // where between its foot and its head
	turned bool   // a quarter to the left: it is read from below upwards
}

// across is a part of a text's width, from its start on.
type across float64

const (
	startsAt across = 0
	middleAt across = 0.5
	endsAt   across = 1
)

// How far letters reach from the line that they stand on, in Liberation Sans; 1
// is their size. Most fonts without serifs are much the same.
const (
	ascent  = 0.905 // up, accents among them
	capital = 0.72  // up, of capitals and digits
	descent = 0.212 // down
)

// upward is a height above the line that a text stands on; 1 is its size.
type upward float64

const (
	bottomAt upward = -descent
	centerAt upward = capital / 2
	topAt    upward = ascent
)

// small and large are texts in the page's text colour.
func small(words string, at orb.Point, a across, u upward) text {
	return text{words: words, at: at, sizePt: smallTextPt, color: lineColor, across: a, upward: u}
}

func large(words string, at orb.Point, a across, u upward) text {
	return text{words: words, at: at, sizePt: textPt, color: lineColor, across: a, upward: u}
}

// baseline is the text's place moved, across the text, to the line that it
// stands on.
func (t *text) baseline() orb.Point {
	d := float64(t.upward) * t.sizePt
	if t.turned {
		return by(t.at, d, 0)
	}
	return by(t.at, 0, -d)
}

// width is the length in points that the text is set to.
func (t *text) width() float64 { return textWidth(t.words, t.sizePt) }

// textWidth is how long words are in letters of that size.
func textWidth(words string, sizePt float64) float64 {
	units := 0
	for _, r := range words {
		units += letterUnits(r)
	}
	return float64(units) * sizePt / unitsPerEm
}
