// One crossing in close-up: every section's tool over the seconds around it.

package figure

import (
	"fmt"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"liftbench/sections/score"
)

// Tool is one section at a crossing.
type Tool struct {
	Event     *score.Event
	CommandNs int64 // 0 = none
	// HeightM is the tool's height above working depth at an instant; nil where
	// work states were recorded.
	HeightM func(timeNs int64) float64
}

// Crossing draws the tools of one crossing, a band each, from the ground's
// depth workingM to raisedM above it: the ideal instant dashed, the command as
// a dot, the actual instant as a tick, and the error beside it. Below the
// dotted line a tool is deep enough to be in work.
func Crossing(title string, tools []Tool, fromNs, untilNs int64, workingM, effectiveM, raisedM float64) string {
	n := len(tools)
	p := newPlot("seconds", "section")
	seconds := func(ns int64) float64 { return float64(ns-fromNs) * 1e-9 }
	p.X.Min, p.X.Max = 0, seconds(untilNs)
	p.Y.Min, p.Y.Max = -float64(n), 0
	p.Y.Tick.Marker = plot.TickerFunc(func(_, _ float64) []plot.Tick {
		var out []plot.Tick
		for i, t := range tools {
			out = append(out, plot.Tick{Value: -float64(i) - 0.5, Label: strconv.Itoa(int(t.Event.Section) + 1)})
		}
		return out
	})
	p.Y.Tick.Length = 0
	p.Add(plotted(func(c draw.Canvas, p *plot.Plot) {
		tx, ty := p.Transforms(&c)
		thin := draw.LineStyle{Color: lineColor, Width: 0.5, Dashes: []vg.Length{1, 2}}
		for i, t := range tools {
			// The stroke takes four fifths of the band.
			at := func(heightM float64) vg.Length {
				return ty(-float64(i) - 0.9 + 0.8*heightM/(workingM+raisedM))
			}
			c.StrokeLine2(thin, c.Min.X, at(workingM-effectiveM), c.Max.X, at(workingM-effectiveM))
			if t.HeightM != nil {
				const steps = 200
				line := make([]vg.Point, 0, steps+1)
				for k := range steps + 1 {
					ns := fromNs + (untilNs-fromNs)*int64(k)/steps
					line = append(line, vg.Point{X: tx(seconds(ns)), Y: at(t.HeightM(ns))})
				}
				c.StrokeLines(draw.LineStyle{Color: workColor, Width: 1.6}, line)
			}
			bottom, top := ty(-float64(i)-0.95), ty(-float64(i)-0.05)
			if t.Event.IdealNs != 0 {
				x := tx(seconds(t.Event.IdealNs))
				c.StrokeLine2(referenceLine, x, bottom, x, top)
			}
			if t.CommandNs != 0 {
				c.DrawGlyph(draw.GlyphStyle{Color: lineColor, Radius: 2.2, Shape: draw.CircleGlyph{}}, vg.Point{X: tx(seconds(t.CommandNs)), Y: at((workingM + raisedM) / 2)})
			}
			text := "missed"
			if t.Event.ActualNs != 0 {
				x := tx(seconds(t.Event.ActualNs))
				color := lineColor
				if s, ok := shapeOf(t.Event); ok {
					color = shapeColors[s]
				}
				c.StrokeLine2(draw.LineStyle{Color: color, Width: 2}, x, bottom, x, top)
				text = "extra"
				if t.Event.Kind == score.Paired {
					text = fmt.Sprintf("%+.1f cm, %+.0f ms", t.Event.PlaceErrorM*100, t.Event.TimeErrorS*1e3)
				}
			}
			sty := textStyle(smallTextPt)
			sty.XAlign, sty.YAlign = draw.XRight, draw.YCenter
			c.FillText(sty, vg.Point{X: c.Max.X, Y: ty(-float64(i) - 0.5)}, text)
		}
	}))
	const band, frame = 34, 46
	s := newSheet(vg.Length(band*n + frame))
	p.Draw(s.Canvas)
	return s.element(title)
}
