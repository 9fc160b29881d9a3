// The machine from above: where its sections are, seen from the antenna.

package figure

import (
	"image/color"
	"math"
	"strconv"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
	"liftbench/sections"
)

// UnitsOf says of one section where its units end, in m right of the tractor's middle, its own edges left out.
type UnitsOf []float64

// Bar draws a machine from above, driving up the page, true to scale: its sections by their numbers, with their units;
// antenna, axle and hitch, and how far ahead of the axle or behind it each is. units may be nil. rowsM are the crop
// rows, in m right of the tractor's middle.
func Bar(l language.Language, title string, m *sections.Machine, units []UnitsOf, rowsM []float64) *Drawing {
	const (
		margin = 14.0
		deepM  = 0.36 // how deep a section is drawn
		trackM = 0.9  // from the tractor's middle to that of a wheel
		frontM = 2.6  // front axle, ahead of the rear one
		wheelM = 0.7  // half the length of a rear wheel
		textsM = 0.30 // room beside the outermost for what is measured
	)
	words := wordsIn(l)
	box := orb.Bound{Min: orb.Point{-trackM - 0.3, -wheelM}, Max: orb.Point{trackM + 0.3, frontM + 0.5}}
	include := func(right, forward float64) { box = box.Extend(orb.Point{right, forward}) }
	for _, s := range m.Sections {
		include(s.YM-s.WidthM/2, s.XM-deepM)
		include(s.YM+s.WidthM/2, s.XM+deepM)
	}
	include(m.AntennaYM, m.AntennaXM+0.3)
	include(m.AntennaYM, m.AntennaXM-0.3)
	axleM := -m.HitchBehindM - m.DrawbarM
	if m.Mount == sections.Trailed {
		include(0, axleM-wheelM)
	}
	box.Min[1] -= textsM
	wide, high := box.Max[0]-box.Min[0], box.Max[1]-box.Min[1]
	const below = 54
	perM := min((widthPt-2*margin)/wide, 330/high)
	s := newSheet(words, high*perM+margin+below)
	left := (widthPt - wide*perM) / 2
	at := func(right, forward float64) orb.Point {
		return orb.Point{left + (right-box.Min[0])*perM, below + (forward-box.Min[1])*perM}
	}
	rectangle := func(right, forward, halfWide, halfDeep float64) (p path) {
		p.ring(at(right-halfWide, forward-halfDeep), at(right+halfWide, forward-halfDeep), at(right+halfWide, forward+halfDeep), at(right-halfWide, forward+halfDeep))
		return p
	}

	// Crop rows run under the bar.
	var rows path
	for _, y := range rowsM {
		rows.line(at(y, box.Min[1]+textsM), at(y, box.Max[1]))
	}
	if len(rows) > 0 {
		s.stroke(pen{color: greyColor, widthPt: 0.6, dashes: []float64{1, 3}}, rows)
	}

	// The tractor: axles, wheels and the line between them.
	grey := pen{color: greyColor, widthPt: 1.2}
	var chassis path
	chassis.line(at(-trackM, 0), at(trackM, 0))
	chassis.line(at(0, 0), at(0, frontM))
	chassis.line(at(-trackM, frontM), at(trackM, frontM))
	for _, side := range []float64{-1, 1} {
		chassis = append(chassis, rectangle(side*trackM, 0, 0.22, wheelM)...)
		chassis = append(chassis, rectangle(side*trackM, frontM, 0.16, 0.5)...)
	}
	if m.Mount == sections.Trailed {
		chassis.line(at(0, -m.HitchBehindM), at(0, axleM))
		chassis.line(at(-trackM, axleM), at(trackM, axleM))
		chassis.line(at(0, 0), at(0, -m.HitchBehindM))
		chassis.circle(at(0, -m.HitchBehindM), 2.5)
		for _, side := range []float64{-1, 1} {
			chassis = append(chassis, rectangle(side*trackM, axleM, 0.16, 0.5)...)
		}
	} else if x := m.Sections[0].XM; x < 0 {
		chassis.line(at(0, 0), at(0, x+deepM/2))
	} else {
		chassis.line(at(0, frontM), at(0, x-deepM/2))
	}
	s.stroke(grey, chassis)

	thin := pen{color: lineColor, widthPt: 0.6}
	for i, x := range m.Sections {
		shape := rectangle(x.YM, x.XM, x.WidthM/2, deepM/2)
		tint := workColor
		tint.A = 0x30 + 0x28*uint8(i%2)
		s.fill(tint, shape)
		s.stroke(pen{color: lineColor, widthPt: 0.9}, shape)
		if i < len(units) {
			var edges path
			for _, y := range units[i] {
				edges.line(at(y, x.XM-deepM/2), at(y, x.XM+deepM/2))
			}
			s.stroke(thin, edges)
		}
		if number := strconv.Itoa(i + 1); textWidth(number, smallTextPt) < x.WidthM*perM {
			s.write(small(number, by(at(x.YM, x.XM+deepM/2), 0, 3), middleAt, bottomAt))
		}
	}

	// The antenna, and the axle that all is measured from.
	var ring path
	ring.circle(at(m.AntennaYM, m.AntennaXM), 4)
	s.stroke(pen{color: lateColor, widthPt: 1.6}, ring)
	s.fill(lateColor, path{{points: []orb.Point{at(m.AntennaYM, m.AntennaXM)}, radiusPt: 1.4}})
	length := func(v float64) string { return meters(words.Number(math.Abs(v), 2)) }
	s.write(text{words: words.Text("antenna"), at: by(at(m.AntennaYM, m.AntennaXM), 7, 0), sizePt: smallTextPt, color: lateColor, upward: centerAt})
	s.write(text{words: words.Text("rear axle"), at: by(at(trackM+0.22, 0), 4, 0), sizePt: smallTextPt, color: color.NRGBA{0x66, 0x66, 0x66, 0xFF}, upward: centerAt})

	// How wide, and how far from the axle.
	first, last := m.Sections[0], m.Sections[len(m.Sections)-1]
	from, to := at(first.YM-first.WidthM/2, box.Min[1]), at(last.YM+last.WidthM/2, box.Min[1])
	for _, end := range []orb.Point{from, to} {
		s.line(thin, by(end, 0, -3), by(end, 0, 3))
	}
	s.line(thin, from, to)
	s.write(small(length(last.YM+last.WidthM/2-first.YM+first.WidthM/2), orb.Point{(from[0] + to[0]) / 2, from[1] - 3}, middleAt, topAt))
	said := words.Text("bar ahead", "m", length(first.XM))
	if first.XM < 0 {
		said = words.Text("bar behind", "m", length(first.XM))
	}
	where := words.Text("antenna ahead", "m", length(m.AntennaXM))
	if m.AntennaXM < 0 {
		where = words.Text("antenna behind", "m", length(m.AntennaXM))
	}
	side := words.Text("antenna right", "m", length(m.AntennaYM))
	if m.AntennaYM < 0 {
		side = words.Text("antenna left", "m", length(m.AntennaYM))
	}
	s.write(small(said, orb.Point{margin, 19}, startsAt, bottomAt))
	s.write(small(where+", "+side, orb.Point{margin, 3}, startsAt, bottomAt))
	return &Drawing{title: title, sheet: s}
}
