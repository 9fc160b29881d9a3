// A result over two settings: a cell for each pair, dark where it is great,
// with the number in it.

package figure

import (
	"image/color"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Heat is the data of a heat map: Z[row][column] over the values of Y and X.
// NaN leaves a cell empty.
type Heat struct {
	X, Y []float64
	Z    [][]float64
}

// heatColumns is how many columns have room for their numbers.
const heatColumns = 12

// HeatMap draws a heat map of what zLabel says.
func HeatMap(title, xLabel, yLabel, zLabel string, h *Heat) *Drawing {
	const left, below, above, cell = 58, 40, keyHeight + 4, 22
	height := vg.Length(len(h.Y)*cell + below + above)
	height = min(max(height, 160), 420)
	return &Drawing{title: title, height: height, draw: func(c draw.Canvas) {
		head := textStyle(smallTextPt)
		head.YAlign = draw.YCenter
		c.FillText(head, vg.Point{X: c.Min.X + left, Y: c.Max.Y - keyHeight/2}, zLabel)
		area := draw.Crop(c, left, -6, below, -above)
		w := (area.Max.X - area.Min.X) / vg.Length(len(h.X))
		ht := (area.Max.Y - area.Min.Y) / vg.Length(len(h.Y))
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, row := range h.Z {
			for _, z := range row {
				if !math.IsNaN(z) {
					lo, hi = min(lo, z), max(hi, z)
				}
			}
		}
		for j, row := range h.Z {
			for i, z := range row {
				x0, y0 := area.Min.X+vg.Length(i)*w, area.Min.Y+vg.Length(j)*ht
				if math.IsNaN(z) {
					continue
				}
				share := 0.0
				if hi > lo {
					share = (z - lo) / (hi - lo)
				}
				c.FillPolygon(faded(workColor, uint8(0x10+share*0xDF)), []vg.Point{{X: x0, Y: y0}, {X: x0 + w, Y: y0}, {X: x0 + w, Y: y0 + ht}, {X: x0, Y: y0 + ht}})
				if len(h.X) <= heatColumns && ht >= smallTextPt {
					sty := textStyle(smallTextPt)
					sty.XAlign, sty.YAlign = draw.XCenter, draw.YCenter
					if share > 0.9 {
						sty.Color = color.White
					}
					c.FillText(sty, vg.Point{X: x0 + w/2, Y: y0 + ht/2}, short(z))
				}
			}
		}
		edges(c, area, w, ht, h, xLabel, yLabel)
	}}
}

// edges writes the values along the cells, as many as there is room for, and
// what they are.
func edges(c, area draw.Canvas, w, ht vg.Length, h *Heat, xLabel, yLabel string) {
	sty := textStyle(smallTextPt)
	sty.XAlign, sty.YAlign = draw.XCenter, draw.YTop
	every := max(1, int(math.Ceil(float64(len(h.X))/heatColumns)))
	for i := 0; i < len(h.X); i += every {
		c.FillText(sty, vg.Point{X: area.Min.X + (vg.Length(i)+0.5)*w, Y: area.Min.Y - 4}, short(h.X[i]))
	}
	sty.XAlign, sty.YAlign = draw.XRight, draw.YCenter
	every = max(1, int(math.Ceil(float64(smallTextPt/ht))))
	for j := 0; j < len(h.Y); j += every {
		c.FillText(sty, vg.Point{X: area.Min.X - 4, Y: area.Min.Y + (vg.Length(j)+0.5)*ht}, short(h.Y[j]))
	}
	label := textStyle(textPt)
	label.XAlign, label.YAlign = draw.XCenter, draw.YBottom
	c.FillText(label, vg.Point{X: area.Center().X, Y: c.Min.Y + 2}, xLabel)
	label.Rotation, label.YAlign = math.Pi/2, draw.YTop
	c.FillText(label, vg.Point{X: c.Min.X + 2, Y: area.Center().Y}, yLabel)
}

// short is a number in three digits.
func short(v float64) string {
	s := strconv.FormatFloat(v, 'g', 3, 64)
	if f, err := strconv.ParseFloat(s, 64); err == nil && math.Abs(f) >= 1e-4 && math.Abs(f) < 1e6 || v == 0 {
		s = strconv.FormatFloat(f, 'f', -1, 64)
	}
	return strings.Replace(s, "-", "−", 1)
}
