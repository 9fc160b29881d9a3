// The plan: where on the field the transitions were late.

package figure

import (
	"math"
	"strconv"

	"github.com/paulmach/orb"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

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
func OnPlan(title string, f *field.Field, events []score.Event, runs []Run) string {
	const margin, footer = 10, 26
	box := f.Bound()
	for i := range events {
		if _, ok := shapeOf(&events[i]); ok {
			box = box.Extend(orb.Point{events[i].EastM, events[i].NorthM})
		}
	}
	wide, high := max(box.Max[0]-box.Min[0], 1), max(box.Max[1]-box.Min[1], 1)
	// A long field in the north-south direction keeps the figure on its page.
	perM := min((widthPt-2*margin)/wide, 340/high)
	height := high*perM + keyHeight + footer + margin
	s := newSheet(vg.Length(height))
	left := (widthPt - wide*perM) / 2
	at := func(east, north float64) vg.Point {
		return vg.Point{X: vg.Length(left + (east-box.Min[0])*perM), Y: vg.Length(footer + (north-box.Min[1])*perM)}
	}
	drawZones(s.Canvas, f, at)
	for _, r := range runs {
		drawRun(s.Canvas, at(r.From[0], r.From[1]), at(r.To[0], r.To[1]), r.Short)
	}
	var m marks
	for i := range events {
		e := &events[i]
		shape, ok := shapeOf(e)
		if !ok {
			continue
		}
		const leastPt, mostPt, mostM = 2.2, 6, 0.5
		r := 4.0
		if e.Kind == score.Paired {
			r = leastPt + (mostPt-leastPt)*min(math.Abs(e.PlaceErrorM)/mostM, 1)
		}
		p := at(e.EastM, e.NorthM)
		m.add(shape, p.X, p.Y, vg.Length(r))
	}
	m.draw(s.Canvas)
	m.key(s.Canvas)
	drawScale(s.Canvas, perM, "; larger mark = farther off")
	return s.element(title)
}

// drawRun draws a straight run.
func drawRun(c draw.Canvas, from, to vg.Point, short bool) {
	sty := draw.LineStyle{Color: greyColor, Width: 0.8}
	if short {
		sty = draw.LineStyle{Color: lateColor, Width: 1.6, Dashes: []vg.Length{3, 1.5}}
	}
	c.StrokeLine2(sty, from.X, from.Y, to.X, to.Y)
	way := to.Sub(from)
	length := vg.Length(math.Hypot(float64(way.X), float64(way.Y)))
	if length == 0 {
		return
	}
	const halfPt = 2.5
	sty.Dashes = nil
	across := vg.Point{X: -way.Y / length * halfPt, Y: way.X / length * halfPt}
	a, b := from.Add(across), from.Sub(across)
	c.StrokeLine2(sty, a.X, a.Y, b.X, b.Y)
}

// drawZones draws every zone's outline; a keep-out zone is shaded and named.
func drawZones(c draw.Canvas, f *field.Field, at func(east, north float64) vg.Point) {
	outline := func(mp orb.MultiPolygon, sty draw.LineStyle) {
		var path vg.Path
		for _, poly := range mp {
			for _, ring := range poly {
				for i, q := range ring {
					if p := at(q[0], q[1]); i == 0 {
						path.Move(p)
					} else {
						path.Line(p)
					}
				}
				path.Close()
			}
		}
		c.SetLineStyle(sty)
		c.Stroke(path)
	}
	outline(f.Boundary, draw.LineStyle{Color: lineColor, Width: 0.6, Dashes: []vg.Length{4, 2}})
	for i := range f.Zones {
		z := &f.Zones[i]
		width := vg.Length(0.6)
		if z.Kind == field.Body {
			width = 1.2
		}
		if z.Kind == field.KeepOut {
			for _, poly := range z.Polygons {
				var pts []vg.Point
				for _, q := range poly[0] {
					pts = append(pts, at(q[0], q[1]))
				}
				c.FillPolygon(faded(greyColor, 0x90), pts)
				// Below it, where no mark lies on the name.
				sty := textStyle(smallTextPt)
				sty.XAlign, sty.YAlign = draw.XCenter, draw.YTop
				b := poly.Bound()
				below := at(b.Center()[0], b.Min[1])
				below.Y -= 8
				c.FillText(sty, below, z.Kind.String())
			}
		}
		outline(z.Polygons, draw.LineStyle{Color: lineColor, Width: width})
	}
}

// drawScale draws a bar of a round length with a note, and which way is north.
func drawScale(c draw.Canvas, perM float64, note string) {
	length := math.Pow(10, math.Floor(math.Log10(100/perM)))
	for _, k := range []float64{5, 2} {
		if length*k*perM <= 100 {
			length *= k
			break
		}
	}
	sty := textStyle(smallTextPt)
	sty.YAlign = draw.YCenter
	const y = 9
	x := c.Min.X + 10
	end := x + vg.Length(length*perM)
	line := draw.LineStyle{Color: lineColor, Width: 1.2}
	c.StrokeLines(line, []vg.Point{{X: x, Y: y + 3}, {X: x, Y: y}, {X: end, Y: y}, {X: end, Y: y + 3}})
	label := strconv.FormatFloat(length, 'f', -1, 64) + " m" + note
	c.FillText(sty, vg.Point{X: end + 6, Y: y}, label)

	north := c.Max.X - 12
	c.StrokeLines(line, []vg.Point{{X: north, Y: y - 5}, {X: north, Y: y + 11}}, []vg.Point{{X: north - 3, Y: y + 6}, {X: north, Y: y + 11}, {X: north + 3, Y: y + 6}})
	sty.XAlign = draw.XRight
	c.FillText(sty, vg.Point{X: north - 6, Y: y}, "north")
}
