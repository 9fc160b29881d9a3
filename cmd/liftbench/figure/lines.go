// A result over a setting: a line for each value of another, with the band in
// which its mean lies.

package figure

import (
	"image/color"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
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
	dashes []vg.Length
	mark   draw.GlyphDrawer
}{
	{workColor, nil, draw.CircleGlyph{}},
	{lateColor, []vg.Length{6, 3}, draw.TriangleGlyph{}},
	{color.NRGBA{0x00, 0x9E, 0x73, 0xFF}, []vg.Length{2, 2}, draw.SquareGlyph{}},
	{missColor, []vg.Length{8, 3, 2, 3}, draw.PlusGlyph{}},
	{color.NRGBA{0xE6, 0x9F, 0x00, 0xFF}, []vg.Length{4, 2}, draw.CrossGlyph{}},
	{earlyColor, []vg.Length{1, 2}, draw.RingGlyph{}},
}

// Lines draws series over one axis.
func Lines(title, xLabel, yLabel string, series []Series) *Drawing {
	p := newPlot(xLabel, yLabel)
	p.X.Min, p.X.Max = math.Inf(1), math.Inf(-1)
	p.Y.Min, p.Y.Max = math.Inf(1), math.Inf(-1)
	for i := range series {
		s := &series[i]
		for k, x := range s.X {
			for _, y := range []float64{s.Y[k], s.Lo[k], s.Hi[k]} {
				if !math.IsNaN(y) {
					p.X.Min, p.X.Max = min(p.X.Min, x), max(p.X.Max, x)
					p.Y.Min, p.Y.Max = min(p.Y.Min, y), max(p.Y.Max, y)
				}
			}
		}
	}
	empty := !(p.X.Min <= p.X.Max)
	if empty {
		p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, 1, 0, 1
	}
	widen(&p.X, 0.03)
	widen(&p.Y, 0.06)
	p.Add(plotted(func(c draw.Canvas, p *plot.Plot) {
		tx, ty := p.Transforms(&c)
		for i := range series {
			series[i].band(c, tx, ty, seriesStyles[i%len(seriesStyles)].color)
		}
		for i := range series {
			series[i].line(c, tx, ty, i)
		}
	}))
	return &Drawing{title: title, height: plotHeight, draw: func(c draw.Canvas) {
		bottom := keyLines(c, series)
		p.Draw(draw.Crop(c, 0, -6, 0, bottom-c.Max.Y))
		if empty {
			nothing(c)
		}
	}}
}

// widen makes an axis longer at both ends by a share of its length.
func widen(a *plot.Axis, share float64) {
	if a.Min == a.Max {
		d := max(math.Abs(a.Min)*share, 1e-3)
		a.Min, a.Max = a.Min-d, a.Max+d
		return
	}
	d := (a.Max - a.Min) * share
	a.Min, a.Max = a.Min-d, a.Max+d
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

func (s *Series) band(c draw.Canvas, tx, ty func(float64) vg.Length, col color.NRGBA) {
	s.runs(func(k int) bool { return !math.IsNaN(s.Lo[k]) && !math.IsNaN(s.Hi[k]) }, func(from, to int) {
		var around []vg.Point
		for k := from; k < to; k++ {
			around = append(around, vg.Point{X: tx(s.X[k]), Y: ty(s.Hi[k])})
		}
		for k := to - 1; k >= from; k-- {
			around = append(around, vg.Point{X: tx(s.X[k]), Y: ty(s.Lo[k])})
		}
		if to-from == 1 { // a single value: a bar
			c.StrokeLine2(draw.LineStyle{Color: faded(col, 0x90), Width: 1}, around[0].X, around[0].Y, around[1].X, around[1].Y)
			return
		}
		c.FillPolygon(faded(col, 0x30), around)
	})
}

func (s *Series) line(c draw.Canvas, tx, ty func(float64) vg.Length, number int) {
	sty := seriesStyles[number%len(seriesStyles)]
	s.runs(func(k int) bool { return !math.IsNaN(s.Y[k]) }, func(from, to int) {
		var points []vg.Point
		for k := from; k < to; k++ {
			points = append(points, vg.Point{X: tx(s.X[k]), Y: ty(s.Y[k])})
		}
		c.StrokeLines(draw.LineStyle{Color: sty.color, Width: 1.4, Dashes: sty.dashes}, points)
		for _, p := range points {
			c.DrawGlyph(draw.GlyphStyle{Color: sty.color, Radius: 2.6, Shape: sty.mark}, p)
		}
	})
}

// keyLines names the series along the top of c, where there is more than one,
// and returns where the drawing's own room begins.
func keyLines(c draw.Canvas, series []Series) (bottom vg.Length) {
	bottom = c.Max.Y - 4
	if len(series) < 2 {
		return bottom
	}
	sty := textStyle(smallTextPt)
	sty.YAlign = draw.YCenter
	x, y := c.Min.X+8, c.Max.Y-keyHeight/2
	for i := range series {
		w := sty.Width(series[i].Name) + 32
		if x+w > c.Max.X && x > c.Min.X+8 {
			x, y = c.Min.X+8, y-keyHeight
		}
		look := seriesStyles[i%len(seriesStyles)]
		c.StrokeLine2(draw.LineStyle{Color: look.color, Width: 1.4, Dashes: look.dashes}, x, y, x+18, y)
		c.DrawGlyph(draw.GlyphStyle{Color: look.color, Radius: 2.6, Shape: look.mark}, vg.Point{X: x + 9, Y: y})
		c.FillText(sty, vg.Point{X: x + 22, Y: y}, series[i].Name)
		x += w + 6
	}
	return y - keyHeight/2
}
