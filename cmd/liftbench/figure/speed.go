// Place error over speed: the line's slope is time, its height at standstill is
// geometry.

package figure

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"

	"liftbench/cmd/liftbench/language"
	"liftbench/sections/score"
)

// Line is e = PlaceErrorM + v·TimeErrorS, the place error at speed v.
type Line struct {
	PlaceErrorM, TimeErrorS float64
	// HalfWidthM is half the width of the confidence band at a speed in m/s.
	HalfWidthM func(speedMps float64) float64
}

// A figure with axes: its height, and what is left free to the right of it.
const (
	plotHeight = 270
	rightPt    = 6
)

// ErrorOverSpeed draws the place errors of the paired drops (on) or lifts over
// speed. fit is nil where the data give none.
func ErrorOverSpeed(l language.Language, title string, events []score.Event, on bool, fit *Line) string {
	words := wordsIn(l)
	p := newPlot(words.Text("speed"), words.Text("place error"))
	var m marks
	var errors []float64
	top := 1.0
	for i := range events {
		if e := &events[i]; e.Kind == score.Paired && e.On == on {
			errors = append(errors, e.PlaceErrorM*100)
			top = max(top, math.Abs(e.SpeedMps)*3.6)
		}
	}
	p.x.max = math.Ceil(top * 1.05)
	p.y.min, p.y.max = scale(errors, 5)
	p.add(level(0))
	if fit != nil {
		p.add(fit.band)
	}
	p.add(func(s *sheet, in *dataArea) {
		for i := range events {
			e := &events[i]
			if e.Kind != score.Paired || e.On != on {
				continue
			}
			o, _ := outcomeOf(e)
			if at := in.at(math.Abs(e.SpeedMps)*3.6, e.PlaceErrorM*100); in.Contains(at) {
				m.add(o, at, 3)
			}
		}
		m.draw(s)
	})
	if fit != nil {
		p.add(fit.line)
	}
	return withKey(words, title, p, &m, errors)
}

// withKey draws the plot below the key of its marks.
func withKey(words language.Texts, title string, p *plot, m *marks, values []float64) string {
	s := newSheet(words, plotHeight)
	p.draw(s, inset(s.bound(), 0, rightPt, 0, keyHeight))
	m.key(s)
	if len(values) == 0 {
		nothing(s)
	}
	beyond(s, values, p.y.min, p.y.max)
	return s.element(title)
}

// speedSteps is into how many straight pieces the band's edges are cut.
const speedSteps = 24

// band shades where the line lies with 95 % confidence.
func (l *Line) band(s *sheet, in *dataArea) {
	if l.HalfWidthM == nil {
		return
	}
	var upper, lower orb.Ring
	for i := range speedSteps + 1 {
		kmh := in.x.min + (in.x.max-in.x.min)*float64(i)/speedSteps
		v := kmh / 3.6
		e, h := l.PlaceErrorM+v*l.TimeErrorS, l.HalfWidthM(v)
		upper = append(upper, in.at(kmh, 100*(e+h)))
		lower = append(lower, in.at(kmh, 100*(e-h)))
	}
	slices.Reverse(lower)
	if around := clip.Ring(in.Bound, append(upper, lower...)); len(around) > 2 {
		var p path
		p.ring(around...)
		s.fill(faded(greyColor, 0x70), p)
	}
}

// line draws the line itself.
func (l *Line) line(s *sheet, in *dataArea) {
	at := func(kmh float64) orb.Point {
		return in.at(kmh, 100*(l.PlaceErrorM+kmh/3.6*l.TimeErrorS))
	}
	s.stroke(fitLine, in.clipped([]orb.Point{at(in.x.min), at(in.x.max)}))
}
