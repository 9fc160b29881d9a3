// Axes, their ticks, and a scale that a few wild values do not squeeze.

package figure

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

func textStyle(size vg.Length) text.Style {
	return text.Style{
		Color:   lineColor,
		Font:    font.From(font.Font{Typeface: "Liberation", Variant: "Sans"}, size),
		Handler: plot.DefaultTextHandler,
	}
}

// newPlot returns empty axes in our style.
func newPlot(xLabel, yLabel string) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	p.X.Label.Text, p.Y.Label.Text = xLabel, yLabel
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		label := textStyle(textPt)
		label.XAlign, label.YAlign = a.Label.TextStyle.XAlign, a.Label.TextStyle.YAlign
		a.Label.TextStyle = label
		a.Label.Padding = 4
		tick := textStyle(smallTextPt)
		tick.XAlign, tick.YAlign = a.Tick.Label.XAlign, a.Tick.Label.YAlign
		a.Tick.Label = tick
		a.Tick.Length = 4
		a.Padding = 0
		a.Tick.Marker = plot.TickerFunc(ticks)
	}
	return p
}

// ticks marks multiples of 1, 2 or 5 times a power of ten, four to nine of them.
func ticks(lo, hi float64) []plot.Tick {
	step := math.Pow(10, math.Floor(math.Log10((hi-lo)/4)))
	for _, k := range []float64{5, 2} {
		if (hi-lo)/(step*k) >= 4 {
			step *= k
			break
		}
	}
	decimals := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	var out []plot.Tick
	// + 0 turns a negative zero into zero.
	for i := math.Ceil(lo/step-1e-9) + 0; i*step <= hi+1e-9*step; i++ {
		label := strings.Replace(strconv.FormatFloat(i*step, 'f', decimals, 64), "-", "−", 1)
		out = append(out, plot.Tick{Value: i * step, Label: label})
	}
	return out
}

// scale returns a range for values that holds 0, and at least least to both
// sides of it. A few values far from the others, at most one in fifty on
// either side, are left outside.
func scale(values []float64, least float64) (lo, hi float64) {
	lo, hi = -least, least
	if len(values) == 0 {
		return lo, hi
	}
	sorted := slices.Sorted(slices.Values(values))
	at := func(q float64) float64 { return sorted[int(q*float64(len(sorted)-1)+0.5)] }
	q1, q3 := at(0.25), at(0.75)
	// Twice Tukey's whiskers: what lies beyond is far out by any measure.
	fence := 3 * max(q3-q1, least)
	lo = min(lo, max(sorted[0], min(q1-fence, at(0.02))))
	hi = max(hi, min(sorted[len(sorted)-1], max(q3+fence, at(0.98))))
	margin := 0.06 * (hi - lo)
	return lo - margin, hi + margin
}

// beyond says at the top right of the data's area how many values are off the
// scale.
func beyond(c draw.Canvas, values []float64, lo, hi float64) {
	n := 0
	for _, v := range values {
		if v < lo || v > hi {
			n++
		}
	}
	if n == 0 {
		return
	}
	sty := textStyle(smallTextPt)
	sty.XAlign, sty.YAlign = draw.XRight, draw.YCenter
	c.FillText(sty, vg.Point{X: c.Max.X, Y: c.Max.Y - keyHeight/2}, strconv.Itoa(n)+" off the scale")
}

// nothing says in the middle of c that there is no transition to draw.
func nothing(c draw.Canvas) {
	sty := textStyle(textPt)
	sty.XAlign, sty.YAlign = draw.XCenter, draw.YCenter
	c.FillText(sty, c.Center(), "no transition to draw")
}

// Lines of a figure.
var (
	referenceLine = draw.LineStyle{Color: lineColor, Width: 0.8, Dashes: []vg.Length{3, 3}}
	fitLine       = draw.LineStyle{Color: lineColor, Width: 1.6}
)

// level draws a line across the data's area at y.
func level(y float64) plot.Plotter {
	return plotted(func(c draw.Canvas, p *plot.Plot) {
		_, ty := p.Transforms(&c)
		if h := ty(y); c.ContainsY(h) {
			c.StrokeLine2(referenceLine, c.Min.X, h, c.Max.X, h)
		}
	})
}

// plotted is a drawing on the data's area.
type plotted func(c draw.Canvas, p *plot.Plot)

func (f plotted) Plot(c draw.Canvas, p *plot.Plot) { f(c, p) }
