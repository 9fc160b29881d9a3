// Time errors by section: a box a section.

package figure

import (
	"math"
	"slices"
	"strconv"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

// BySection draws the time errors of the paired drops (on) or lifts of n
// sections: median, quartiles, whiskers to the last value within one and a half
// boxes, dots beyond (Tukey 1977, Exploratory Data Analysis).
func BySection(l language.Language, title string, events []score.Event, on bool, n int) string {
	words := wordsIn(l)
	p := newPlot(words.Text("sections"), words.Text("time error"))
	of := make([][]float64, n)
	var all []float64
	for i := range events {
		if e := &events[i]; e.Kind == score.Paired && e.On == on {
			ms := e.TimeErrorS * 1000
			all = append(all, ms)
			of[e.Section] = append(of[e.Section], ms)
		}
	}
	p.x.min, p.x.max = 0.4, float64(n)+0.6
	lo, hi := scale(all, 50)
	p.add(level(0))
	width := min(22, 0.6*320/float64(n))
	for i, values := range of {
		if len(values) == 0 {
			continue
		}
		b := boxOf(values)
		lo, hi = min(lo, b.low-0.03*(hi-lo)), max(hi, b.high+0.03*(hi-lo))
		p.add(func(s *sheet, in *dataArea) { b.draw(s, in, float64(i+1), width) })
	}
	p.y.min, p.y.max = lo, hi
	step := int(math.Ceil(float64(n) / 16))
	for i := 1; i <= n; i += step {
		p.x.ticks = append(p.x.ticks, tick{float64(i), strconv.Itoa(i)})
	}
	return withKey(words, title, p, &marks{}, all)
}

// box is how values lie.
type box struct {
	lower, median, upper float64   // quartiles
	low, high            float64   // the outermost within one and a half boxes
	beyond               []float64 // those outside of that
}

// boxOf returns how values lie, of which there is at least one. A quartile is
// the median of a half, to which the median of an odd number belongs.
func boxOf(values []float64) box {
	sorted := slices.Sorted(slices.Values(values))
	half := (len(sorted) + 1) / 2
	b := box{lower: sample.Median(sorted[:half]), median: sample.Median(sorted), upper: sample.Median(sorted[len(sorted)-half:])}
	fence := 1.5 * (b.upper - b.lower)
	b.low, b.high = math.Inf(1), math.Inf(-1)
	for _, v := range sorted {
		if v < b.lower-fence || v > b.upper+fence {
			b.beyond = append(b.beyond, v)
		} else {
			b.low, b.high = min(b.low, v), max(b.high, v)
		}
	}
	return b
}

// draw draws the box at x with its width in points.
func (b *box) draw(s *sheet, in *dataArea, x, width float64) {
	thin := pen{color: lineColor, widthPt: 0.7}
	left := func(v float64) orb.Point { return by(in.at(x, v), -width/2, 0) }
	right := func(v float64) orb.Point { return by(in.at(x, v), width/2, 0) }
	var body, whiskers path
	body.ring(left(b.lower), right(b.lower), right(b.upper), left(b.upper))
	s.shapes = append(s.shapes, shape{outline: body, fill: faded(workColor, 0x60), pen: thin})
	for _, w := range [][2]float64{{b.lower, b.low}, {b.upper, b.high}} {
		end := in.at(x, w[1])
		whiskers.line(in.at(x, w[0]), end)
		whiskers.line(by(end, -width/4, 0), by(end, width/4, 0))
	}
	s.stroke(thin, whiskers)
	s.line(pen{color: lineColor, widthPt: 2}, left(b.median), right(b.median))
	var dots path
	for _, v := range b.beyond {
		if at := in.at(x, v); in.Contains(at) {
			dots.circle(at, 1.6)
		}
	}
	if len(dots) > 0 {
		s.fill(lineColor, dots)
	}
}
