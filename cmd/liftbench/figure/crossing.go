// One crossing in close-up: every section's tool over the seconds around it.

package figure

import (
	"strconv"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
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
func Crossing(l language.Language, title string, tools []Tool, fromNs, untilNs int64, workingM, effectiveM, raisedM float64) string {
	n := len(tools)
	texts := wordsIn(l)
	p := newPlot(texts.Text("seconds"), texts.Text("section"))
	p.y.named = true
	seconds := func(ns int64) float64 { return float64(ns-fromNs) * 1e-9 }
	p.x.max = seconds(untilNs)
	p.y.min = -float64(n)
	for i, t := range tools {
		p.y.ticks = append(p.y.ticks, tick{-float64(i) - 0.5, strconv.Itoa(int(t.Event.Section) + 1)})
	}
	p.add(func(s *sheet, in *dataArea) {
		thin := pen{color: lineColor, widthPt: 0.5, dashes: []float64{1, 2}}
		for i, t := range tools {
			// The stroke takes four fifths of the band.
			at := func(seconds, heightM float64) orb.Point {
				return in.at(seconds, -float64(i)-0.9+0.8*heightM/(workingM+raisedM))
			}
			s.line(thin, at(p.x.min, workingM-effectiveM), at(p.x.max, workingM-effectiveM))
			if t.HeightM != nil {
				const steps = 200
				line := make([]orb.Point, 0, steps+1)
				for k := range steps + 1 {
					ns := fromNs + (untilNs-fromNs)*int64(k)/steps
					line = append(line, at(seconds(ns), t.HeightM(ns)))
				}
				s.line(pen{color: workColor, widthPt: 1.6}, line...)
			}
			across := func(with pen, ns int64) {
				s.line(with, in.at(seconds(ns), -float64(i)-0.95), in.at(seconds(ns), -float64(i)-0.05))
			}
			if t.Event.IdealNs != 0 {
				across(referenceLine, t.Event.IdealNs)
			}
			if t.CommandNs != 0 {
				var dot path
				dot.circle(at(seconds(t.CommandNs), (workingM+raisedM)/2), 2.2)
				s.fill(lineColor, dot)
			}
			words := texts.Text("missed")
			if t.Event.ActualNs != 0 {
				color := lineColor
				if o, ok := outcomeOf(t.Event); ok {
					color = outcomeColors[o]
				}
				across(pen{color: color, widthPt: 2}, t.Event.ActualNs)
				words = texts.Text("extra")
				if t.Event.Kind == score.Paired {
					words = texts.Signed(t.Event.PlaceErrorM*100, 1) + " cm, " + texts.Signed(t.Event.TimeErrorS*1e3, 0) + " ms"
				}
			}
			s.write(small(words, in.at(p.x.max, -float64(i)-0.5), endsAt, centerAt))
		}
	})
	const band, frame = 34, 46
	s := newSheet(texts, float64(band*n+frame))
	p.draw(s, s.bound())
	return s.element(title)
}
