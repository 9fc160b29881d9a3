// The plan: where on the field the transitions were late.

package figure

import (
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
	"liftbench/sections/field"
	"liftbench/sections/score"
)

// Run is the straight run before a border.
type Run struct {
	From, To orb.Point
	Short    bool // the tractor was on its line later than at From
}

// OnPlan draws the zones of a field, north up, and each transition where it
// ought to have been; the farther off, the larger its mark. A straight run is a
// line with a bar across at its beginning, dashed and bold where it is too short.
func OnPlan(l language.Language, title string, f *field.Field, events []score.Event, runs []Run) string {
	const margin, footer = 10, 26
	box := f.Bound()
	for i := range events {
		if _, ok := outcomeOf(&events[i]); ok {
			box = box.Extend(orb.Point{events[i].EastM, events[i].NorthM})
		}
	}
	wide, high := max(box.Max[0]-box.Min[0], 1), max(box.Max[1]-box.Min[1], 1)
	// A long field in the north-south direction keeps the figure on its page.
	perM := min((widthPt-2*margin)/wide, 340/high)
	height := high*perM + keyHeight + footer + margin
	s := newSheet(wordsIn(l), height)
	left := (widthPt - wide*perM) / 2
	at := func(p orb.Point) orb.Point {
		return orb.Point{left + (p[0]-box.Min[0])*perM, footer + (p[1]-box.Min[1])*perM}
	}
	drawZones(s, f, at)
	for _, r := range runs {
		drawRun(s, at(r.From), at(r.To), r.Short)
	}
	var m marks
	for i := range events {
		e := &events[i]
		o, ok := outcomeOf(e)
		if !ok {
			continue
		}
		const leastPt, mostPt, mostM = 2.2, 6, 0.5
		r := 4.0
		if e.Kind == score.Paired {
			r = leastPt + (mostPt-leastPt)*min(math.Abs(e.PlaceErrorM)/mostM, 1)
		}
		m.add(o, at(orb.Point{e.EastM, e.NorthM}), r)
	}
	m.draw(s)
	m.key(s)
	drawScale(s, perM, func(length string) string { return s.words.Text("farther", "length", length) })
	return s.element(title)
}

// drawRun draws a straight run.
func drawRun(s *sheet, from, to orb.Point, short bool) {
	with := pen{color: greyColor, widthPt: 0.8}
	if short {
		with = pen{color: lateColor, widthPt: 1.6, dashes: []float64{3, 1.5}}
	}
	s.line(with, from, to)
	dx, dy := to[0]-from[0], to[1]-from[1]
	length := math.Hypot(dx, dy)
	if length == 0 {
		return
	}
	const halfPt = 2.5
	dx, dy = dx*halfPt/length, dy*halfPt/length
	with.dashes = nil
	s.line(with, by(from, -dy, dx), by(from, dy, -dx))
}

// drawZones draws every zone's outline; a keep-out zone is shaded and named.
func drawZones(s *sheet, f *field.Field, at func(orb.Point) orb.Point) {
	outline := func(with pen, mp orb.MultiPolygon) {
		var p path
		for _, poly := range mp {
			for _, ring := range poly {
				addRing(&p, ring, at)
			}
		}
		if len(p) > 0 {
			s.stroke(with, p)
		}
	}
	outline(pen{color: lineColor, widthPt: 0.6, dashes: []float64{4, 2}}, f.Boundary)
	for i := range f.Zones {
		z := &f.Zones[i]
		width := 0.6
		if z.Kind == field.Body {
			width = 1.2
		}
		if z.Kind == field.KeepOut {
			for _, poly := range z.Polygons {
				var p path
				addRing(&p, poly[0], at)
				s.fill(faded(greyColor, 0x90), p)
				// Below it, where no mark lies on the name.
				b := poly.Bound()
				s.write(small(s.words.Text("keep-out"), by(at(orb.Point{b.Center()[0], b.Min[1]}), 0, -8), middleAt, topAt))
			}
		}
		outline(pen{color: lineColor, widthPt: width}, z.Polygons)
	}
}

// drawScale draws a bar of a round length with its text, and which way is north.
func drawScale(s *sheet, perM float64, text func(length string) string) {
	length := math.Pow(10, math.Floor(math.Log10(100/perM)))
	for _, k := range []float64{5, 2} {
		if length*k*perM <= 100 {
			length *= k
			break
		}
	}
	thick := pen{color: lineColor, widthPt: 1.2}
	from := orb.Point{10, 9}
	to := by(from, length*perM, 0)
	s.line(thick, by(from, 0, 3), from, to, by(to, 0, 3))
	s.write(small(text(strings.Replace(strconv.FormatFloat(length, 'f', -1, 64), ".", s.words.DecimalMark(), 1)), by(to, 6, 0), startsAt, centerAt))

	north := orb.Point{widthPt - 12, from[1]}
	var arrow path
	arrow.line(by(north, 0, -5), by(north, 0, 11))
	arrow.line(by(north, -3, 6), by(north, 0, 11), by(north, 3, 6))
	s.stroke(thick, arrow)
	s.write(small(s.words.Text("north"), by(north, -6, 0), endsAt, centerAt))
}
