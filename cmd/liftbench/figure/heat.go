// A result over two settings: a cell for each pair, darker for a greater value,
// with the number in it.

package figure

import (
	"image/color"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
)

// Heat is the data of a heat map: Z[row][column] over the values of Y and X.
// NaN leaves a cell empty.
type Heat struct {
	X, Y []float64
	Z    [][]float64
}

// heatColumns is the number of columns up to which there is room for the
// numbers.
const heatColumns = 12

// HeatMap draws a heat map; zLabel says what its numbers are.
func HeatMap(title, xLabel, yLabel, zLabel string, h *Heat) *Drawing {
	const left, below, above, cell = 58, 40, keyHeight + 4, 22
	s := newSheet(wordsIn(language.English), min(max(float64(len(h.Y)*cell+below+above), 160, textWidth(yLabel, textPt)+namePt), 420))
	s.write(small(zLabel, orb.Point{left, s.heightPt - keyHeight/2}, startsAt, centerAt))
	area := inset(s.bound(), left, rightPt, below, above)
	w := (area.Max[0] - area.Min[0]) / float64(len(h.X))
	ht := (area.Max[1] - area.Min[1]) / float64(len(h.Y))
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
			if math.IsNaN(z) {
				continue
			}
			share := 0.0
			if hi > lo {
				share = (z - lo) / (hi - lo)
			}
			corner := by(area.Min, float64(i)*w, float64(j)*ht)
			var p path
			p.ring(corner, by(corner, w, 0), by(corner, w, ht), by(corner, 0, ht))
			s.fill(faded(workColor, uint8(0x10+share*0xDF)), p)
			if len(h.X) <= heatColumns && ht >= smallTextPt {
				number := small(short(z), by(corner, w/2, ht/2), middleAt, centerAt)
				if share > 0.9 {
					number.color = color.NRGBA{0xFF, 0xFF, 0xFF, 0xFF}
				}
				s.write(number)
			}
		}
	}
	edges(s, area, w, ht, h, xLabel, yLabel)
	return &Drawing{title, s}
}

// edges writes along the cells as many values as there is room for, and their
// names.
func edges(s *sheet, area orb.Bound, w, ht float64, h *Heat, xLabel, yLabel string) {
	every := max(1, int(math.Ceil(float64(len(h.X))/heatColumns)))
	for i := 0; i < len(h.X); i += every {
		s.write(small(short(h.X[i]), by(area.Min, (float64(i)+0.5)*w, -4), middleAt, topAt))
	}
	every = max(1, int(math.Ceil(smallTextPt/ht)))
	for j := 0; j < len(h.Y); j += every {
		s.write(small(short(h.Y[j]), by(area.Min, -4, (float64(j)+0.5)*ht), endsAt, centerAt))
	}
	nameAxes(s, inset(s.bound(), edgePt, 0, 0, 0), area.Center(), xLabel, yLabel)
}

// short is a number in three digits.
func short(v float64) string {
	s := strconv.FormatFloat(v, 'g', 3, 64)
	if f, err := strconv.ParseFloat(s, 64); err == nil && math.Abs(f) >= 1e-4 && math.Abs(f) < 1e6 || v == 0 {
		s = strconv.FormatFloat(f, 'f', -1, 64)
	}
	return strings.Replace(s, "-", "−", 1)
}
