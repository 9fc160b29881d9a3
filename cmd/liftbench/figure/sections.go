// Time errors by section: a box a section.

package figure

import (
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"liftbench/sections/score"
)

// BySection draws the time errors of the paired drops (on) or lifts of n
// sections: median, quartiles, whiskers to the last value within one and a half
// boxes, dots beyond (Tukey 1977, Exploratory Data Analysis).
func BySection(title string, events []score.Event, on bool, n int) string {
	p := newPlot("section, from the left", "time error, ms (late +)")
	of := make([]plotter.Values, n)
	var all []float64
	for i := range events {
		if e := &events[i]; e.Kind == score.Paired && e.On == on {
			ms := e.TimeErrorS * 1000
			all = append(all, ms)
			of[e.Section] = append(of[e.Section], ms)
		}
	}
	p.X.Min, p.X.Max = 0.4, float64(n)+0.6
	lo, hi := scale(all, 50)
	p.Add(level(0))
	width := vg.Length(min(22, 0.6*320/float64(n)))
	for i, values := range of {
		if len(values) == 0 {
			continue
		}
		// It fails on no values or on ones that are not finite, which a pair has not.
		b, err := plotter.NewBoxPlot(width, float64(i+1), values)
		if err != nil {
			continue
		}
		b.FillColor = faded(workColor, 0x60)
		b.BoxStyle.Color, b.WhiskerStyle.Color, b.MedianStyle.Color = lineColor, lineColor, lineColor
		b.BoxStyle.Width, b.WhiskerStyle.Width, b.MedianStyle.Width = 0.7, 0.7, 2
		b.WhiskerStyle.Dashes = nil
		b.CapWidth = width / 2
		b.GlyphStyle.Color, b.GlyphStyle.Radius = lineColor, 1.2
		p.Add(b)
		lo, hi = min(lo, b.AdjLow-0.03*(hi-lo)), max(hi, b.AdjHigh+0.03*(hi-lo))
	}
	p.Y.Min, p.Y.Max = lo, hi
	step := int(math.Ceil(float64(n) / 16))
	p.X.Tick.Marker = plot.TickerFunc(func(_, _ float64) []plot.Tick {
		var out []plot.Tick
		for i := 1; i <= n; i += step {
			out = append(out, plot.Tick{Value: float64(i), Label: strconv.Itoa(i)})
		}
		return out
	})
	return withKey(title, p, &marks{}, all)
}
