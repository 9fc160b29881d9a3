// Place error over speed: the line's slope is time, its height at standstill is
// geometry.

package figure

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"liftbench/sections/score"
)

// Line is e = PlaceErrorM + v·TimeErrorS, the place error at speed v.
type Line struct {
	PlaceErrorM, TimeErrorS float64
	// HalfWidthM is half the width of the confidence band at a speed in m/s.
	HalfWidthM func(speedMps float64) float64
}

const plotHeight = 270

// ErrorOverSpeed draws the place errors of the paired drops (on) or lifts over
// speed. fit is nil where the data give none.
func ErrorOverSpeed(title string, events []score.Event, on bool, fit *Line) string {
	p := newPlot("speed, km/h", "place error, cm (late +)")
	var m marks
	var errors []float64
	top := 1.0
	for i := range events {
		if e := &events[i]; e.Kind == score.Paired && e.On == on {
			errors = append(errors, e.PlaceErrorM*100)
			top = max(top, math.Abs(e.SpeedMps)*3.6)
		}
	}
	p.X.Min, p.X.Max = 0, math.Ceil(top*1.05)
	p.Y.Min, p.Y.Max = scale(errors, 5)
	p.Add(level(0))
	if fit != nil {
		p.Add(plotted(fit.band))
	}
	p.Add(plotted(func(c draw.Canvas, p *plot.Plot) {
		tx, ty := p.Transforms(&c)
		for i := range events {
			e := &events[i]
			if e.Kind != score.Paired || e.On != on {
				continue
			}
			s, _ := shapeOf(e)
			at := vg.Point{X: tx(math.Abs(e.SpeedMps) * 3.6), Y: ty(e.PlaceErrorM * 100)}
			if c.Contains(at) {
				m.add(s, at.X, at.Y, 3)
			}
		}
		m.draw(c)
	}))
	if fit != nil {
		p.Add(plotted(fit.line))
	}
	return withKey(title, p, &m, errors)
}

// withKey draws the plot below the key of its marks.
func withKey(title string, p *plot.Plot, m *marks, values []float64) string {
	s := newSheet(plotHeight)
	p.Draw(draw.Crop(s.Canvas, 0, -6, 0, -keyHeight))
	m.key(s.Canvas)
	if len(values) == 0 {
		nothing(s.Canvas)
	}
	beyond(s.Canvas, values, p.Y.Min, p.Y.Max)
	return s.element(title)
}

// speedSteps is into how many straight pieces the band's edges are cut.
const speedSteps = 24

// band shades where the line lies with 95 % confidence.
func (l *Line) band(c draw.Canvas, p *plot.Plot) {
	if l.HalfWidthM == nil {
		return
	}
	tx, ty := p.Transforms(&c)
	var upper, lower []vg.Point
	for i := range speedSteps + 1 {
		kmh := p.X.Min + (p.X.Max-p.X.Min)*float64(i)/speedSteps
		v := kmh / 3.6
		e, h := l.PlaceErrorM+v*l.TimeErrorS, l.HalfWidthM(v)
		upper = append(upper, vg.Point{X: tx(kmh), Y: ty(100 * (e + h))})
		lower = append(lower, vg.Point{X: tx(kmh), Y: ty(100 * (e - h))})
	}
	for i := len(lower) - 1; i >= 0; i-- {
		upper = append(upper, lower[i])
	}
	if in := c.ClipPolygonXY(upper); len(in) > 2 {
		c.FillPolygon(faded(greyColor, 0x70), in)
	}
}

// line draws the line itself.
func (l *Line) line(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	at := func(kmh float64) vg.Point {
		return vg.Point{X: tx(kmh), Y: ty(100 * (l.PlaceErrorM + kmh/3.6*l.TimeErrorS))}
	}
	c.StrokeLines(fitLine, c.ClipLinesXY([]vg.Point{at(p.X.Min), at(p.X.Max)})...)
}
