// The plan of zones that were found, and the way that tells them.

package figure

import (
	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
	"liftbench/sections/field"
)

// Way draws the zones of a field, north up, over the way that was driven, and the
// rounds, dashed.
func Way(title string, f *field.Field, driven, rounds []orb.LineString) *Drawing {
	const margin, footer = 10, 26
	box := f.Bound()
	for _, l := range driven {
		box = box.Union(l.Bound())
	}
	wide, high := max(box.Max[0]-box.Min[0], 1), max(box.Max[1]-box.Min[1], 1)
	perM := min((widthPt-2*margin)/wide, 340/high)
	s := newSheet(wordsIn(language.English), high*perM+footer+margin)
	left := (widthPt - wide*perM) / 2
	at := func(p orb.Point) orb.Point {
		return orb.Point{left + (p[0]-box.Min[0])*perM, footer + (p[1]-box.Min[1])*perM}
	}
	for k, lines := range [][]orb.LineString{driven, rounds} {
		with := pen{color: greyColor, widthPt: 0.5}
		if k == 1 {
			with = pen{color: workColor, widthPt: 1, dashes: []float64{5, 2}}
		}
		var p path
		for _, l := range lines {
			var seen []orb.Point
			for _, q := range l {
				seen = append(seen, at(q))
			}
			if len(seen) > 1 {
				p.line(seen...)
			}
		}
		if len(p) > 0 {
			s.stroke(with, p)
		}
	}
	drawZones(s, f, at)
	legend := "; grey: driven"
	if len(rounds) > 0 {
		legend += "; blue: rounds"
	}
	drawScale(s, perM, func(length string) string { return meters(length) + legend + "; bold: body" })
	return &Drawing{title, s}
}
