// A result over a setting: a line for each value of another, with the band in
// which its mean lies.

package figure

import (
	"image/color"
	"math"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
)

// Series is one line: Y over X, within Lo to Hi. NaN is left out.
type Series struct {
	Name         string
	X, Y, Lo, Hi []float64
}

// seriesStyles tell lines apart by dashes and marks as well as by colour;
// further lines begin again.
var seriesStyles = []struct {
	color  color.NRGBA
	dashes []float64
	mark   func(p *path, at orb.Point)
	filled bool
}{
	{workColor, nil, roundMark, true},
	{lateColor, []float64{6, 3}, func(p *path, at orb.Point) { p.ring(by(at, 0, 3), by(at, -2.6, -1.5), by(at, 2.6, -1.5)) }, false},
	{color.NRGBA{0x00, 0x9E, 0x73, 0xFF}, []float64{2, 2}, func(p *path, at orb.Point) { p.ring(by(at, -2, -2), by(at, 2, -2), by(at, 2, 2), by(at, -2, 2)) }, false},
	{missColor, []float64{8, 3, 2, 3}, func(p *path, at orb.Point) {
		p.line(by(at, -3, 0), by(at, 3, 0))
		p.line(by(at, 0, -3), by(at, 0, 3))
	}, false},
	{color.NRGBA{0xE6, 0x9F, 0x00, 0xFF}, []float64{4, 2}, func(p *path, at orb.Point) {
		p.line(by(at, -2, -2), by(at, 2, 2))
		p.line(by(at, -2, 2), by(at, 2, -2))
	}, false},
	{earlyColor, []float64{1, 2}, roundMark, false},
}

func roundMark(p *path, at orb.Point) { p.circle(at, 2.6) }

// Lines draws series over one axis.
func Lines(title, xLabel, yLabel string, series []Series) *Drawing {
	p := newPlot(xLabel, yLabel)
	p.x.min, p.x.max = math.Inf(1), math.Inf(-1)
	p.y.min, p.y.max = math.Inf(1), math.Inf(-1)
	for i := range series {
		s := &series[i]
		for k, x := range s.X {
			for _, y := range []float64{s.Y[k], s.Lo[k], s.Hi[k]} {
				if !math.IsNaN(y) {
					p.x.min, p.x.max = min(p.x.min, x), max(p.x.max, x)
					p.y.min, p.y.max = min(p.y.min, y), max(p.y.max, y)
				}
			}
		}
	}
	empty := !(p.x.min <= p.x.max)
	if empty {
		p.x.min, p.x.max, p.y.min, p.y.max = 0, 1, 0, 1
	}
	p.x.widen(0.03)
	p.y.widen(0.06)
	p.add(func(s *sheet, in *dataArea) {
		for i := range series {
			series[i].band(s, in, seriesStyles[i%len(seriesStyles)].color)
		}
		for i := range series {
			series[i].line(s, in, i)
		}
	})
	s := newSheet(wordsIn(language.English), plotHeight)
	p.draw(s, inset(s.bound(), 0, rightPt, 0, keyLines(s, series)))
	if empty {
		nothing(s)
	}
	return &Drawing{title, s}
}

// widen makes an axis longer at both ends by a share of its length.
func (a *axis) widen(share float64) {
	d := (a.max - a.min) * share
	if d == 0 {
		d = max(math.Abs(a.min)*share, 1e-3)
	}
	a.min, a.max = a.min-d, a.max+d
}

// runs calls visit with each stretch of points that are all there.
func (s *Series) runs(there func(k int) bool, visit func(from, to int)) {
	from := -1
	for k := range len(s.X) + 1 {
		ok := k < len(s.X) && there(k)
		if ok && from < 0 {
			from = k
		}
		if !ok && from >= 0 {
			visit(from, k)
			from = -1
		}
	}
}

// band draws where the mean of a series lies.
func (s *Series) band(on *sheet, in *dataArea, c color.NRGBA) {
	s.runs(func(k int) bool { return !math.IsNaN(s.Lo[k]) && !math.IsNaN(s.Hi[k]) }, func(from, to int) {
		var around []orb.Point
		for k := from; k < to; k++ {
			around = append(around, in.at(s.X[k], s.Hi[k]))
		}
		for k := to - 1; k >= from; k-- {
			around = append(around, in.at(s.X[k], s.Lo[k]))
		}
		if to-from == 1 { // a single value: a bar
			on.line(pen{color: faded(c, 0x90), widthPt: 1}, around...)
			return
		}
		var p path
		p.ring(around...)
		on.fill(faded(c, 0x30), p)
	})
}

// line draws a series itself; number is which of its figure it is.
func (s *Series) line(on *sheet, in *dataArea, number int) {
	s.runs(func(k int) bool { return !math.IsNaN(s.Y[k]) }, func(from, to int) {
		var points []orb.Point
		for k := from; k < to; k++ {
			points = append(points, in.at(s.X[k], s.Y[k]))
		}
		drawSeries(on, number, points, points)
	})
}

// drawSeries draws a line and marks in the style of a figure's series of that
// number.
func drawSeries(s *sheet, number int, line, marks []orb.Point) {
	look := &seriesStyles[number%len(seriesStyles)]
	s.line(pen{color: look.color, widthPt: 1.4, dashes: look.dashes}, line...)
	var p path
	for _, at := range marks {
		look.mark(&p, at)
	}
	if look.filled {
		s.fill(look.color, p)
	} else {
		s.stroke(pen{color: look.color, widthPt: 1}, p)
	}
}

// keyLines names the series along the top of the sheet, where there is more than
// one, and returns how much of its height that takes.
func keyLines(s *sheet, series []Series) (takes float64) {
	if len(series) < 2 {
		return 4
	}
	const left = 8
	at := orb.Point{left, s.heightPt - keyHeight/2}
	for i := range series {
		name := small(series[i].Name, by(at, 22, 0), startsAt, centerAt)
		if name.at[0]+name.width() > widthPt-rightPt && at[0] > left {
			at = orb.Point{left, at[1] - keyHeight}
			name.at = by(at, 22, 0)
		}
		drawSeries(s, i, []orb.Point{at, by(at, 18, 0)}, []orb.Point{by(at, 9, 0)})
		s.write(name)
		at = by(name.at, name.width()+16, 0)
	}
	return s.heightPt - at[1] + keyHeight/2
}
