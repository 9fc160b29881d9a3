// True times within the steps of a grid, as likely as the other changes make them.

package clock

import (
	"math"
	"slices"

	"liftbench/sections/score"
)

// A recorded time says only that a change lies within one step. But changes follow a rule:
// each section is late by a time and a place of its own, Δt + Δx/v, and scatters by far
// less than a step. The steps through whose edges that line goes tell it much better than
// the middles of the steps do: to about √(q·σ/1.8) a change instead of q/√12, with q the
// step and σ the scatter. The line of greatest likelihood is found by expectation and
// maximisation (Dempster, Laird, Rubin, J. R. Stat. Soc. B 39(1):1-38, 1977; from memory):
// each time is put where the line expects it within its step, and the line is fitted to
// those.

const (
	sharpenRounds = 200
	// leastSigmaS is the least scatter of changes that is believed: RTK at 1 m/s (1.43 cm;
	// Carballido et al. 2014, Appl. Eng. Agric. 30(3):361-366).
	leastSigmaS = 0.015
	// fewOwn changes of a section in one direction are compared with all others only.
	fewOwn = 8
	// outside so many standard deviations of its step a change follows no rule.
	outside = 4.0
)

// Sharpen moves the paired changes of events to their likely times within the steps of a
// grid, of which their times are the middles. leadS is how long before its ideal instant
// each should be. It returns them, and what is left of the scatter of a time, s: no two
// of them are known better than that.
func Sharpen(events []score.Event, g Grid, leadS []float64) ([]score.Event, float64) {
	stepS := g.StepS()
	if stepS == 0 {
		return events, 0
	}
	var ways [2][]int
	sections := 0
	for i := range events {
		if e := &events[i]; e.Kind == score.Paired && e.SpeedMps > leastMps {
			ways[wayOf(e.On)] = append(ways[wayOf(e.On)], i)
			sections = max(sections, int(e.Section)+1)
		}
	}
	out := slices.Clone(events)
	told, changes := 0.0, 0.0 // what all changes together tell, 1/s²
	for _, at := range ways {
		if len(at) < leastTimes {
			continue
		}
		l := line{stepS: stepS, byS: make([]float64, sections)}
		for _, i := range at {
			e := &events[i]
			late := e.TimeErrorS
			if leadS != nil {
				late += leadS[i]
			}
			l.rows = append(l.rows, lateRow{int(e.Section), 1 / e.SpeedMps, late})
		}
		leftS := l.fit()
		told += float64(len(at)) / (leftS * leftS)
		changes += float64(len(at))
		for k, i := range at {
			out[i] = moved(events[i], l.likelyS(k)-l.rows[k].lateS)
		}
	}
	if told == 0 {
		return events, g.ScatterS()
	}
	return out, min(math.Sqrt(changes/told), g.ScatterS())
}

// moved is a paired event a little later.
func moved(e score.Event, laterS float64) score.Event {
	return at(e, e.ActualNs+int64(math.Round(laterS*1e9)))
}

// lateRow is how late one change was recorded, and the seconds that it takes for a metre.
type lateRow struct {
	section     int
	perM, lateS float64
}

// line is lateness = byS[section] + placeM/v, with scatter sigmaS, of changes of which
// only the step is known.
type line struct {
	stepS  float64
	rows   []lateRow
	byS    []float64
	placeM float64
	sigmaS float64
}

// at is how late the line puts row k, s.
func (l *line) at(k int) float64 { return l.byS[l.rows[k].section] + l.placeM*l.rows[k].perM }

// fit finds the line and returns the standard deviation with which each row tells it.
func (l *line) fit() (leftS float64) {
	likely := make([]float64, len(l.rows))
	for k := range l.rows {
		likely[k] = l.rows[k].lateS
	}
	l.sigmaS = l.stepS
	used := make([]bool, len(l.rows))
	for k := range used {
		used[k] = true
	}
	for range sharpenRounds {
		l.maximise(likely, used)
		squares, told, n := 0.0, 0.0, 0.0
		for k := range l.rows {
			var variance float64
			likely[k], variance, used[k] = l.within(k)
			if used[k] {
				off := likely[k] - l.at(k)
				squares += off*off + variance
				told += 1 - variance/(l.sigmaS*l.sigmaS)
				n++
			}
		}
		if n < leastTimes {
			return l.stepS / math.Sqrt(12)
		}
		leftS = l.sigmaS / math.Sqrt(max(1e-3, told/n))
		l.sigmaS = max(leastSigmaS, math.Sqrt(squares/n))
	}
	return leftS
}

// likelyS is where row k lies within its step, s late.
func (l *line) likelyS(k int) float64 {
	s, _, _ := l.within(k)
	return s
}

// within returns the mean and the variance of row k by the line, within its step; ok is
// false if the line is far outside it.
func (l *line) within(k int) (meanS, variance float64, ok bool) {
	expected, late := l.at(k), l.rows[k].lateS
	lo, hi := (late-l.stepS/2-expected)/l.sigmaS, (late+l.stepS/2-expected)/l.sigmaS
	switch {
	case lo > outside:
		return late - l.stepS/2, 0, false
	case hi < -outside:
		return late + l.stepS/2, 0, false
	}
	p := cumulative(hi) - cumulative(lo)
	m := (density(lo) - density(hi)) / p
	v := 1 + (lo*density(lo)-hi*density(hi))/p - m*m
	return expected + l.sigmaS*m, max(0, v) * l.sigmaS * l.sigmaS, true
}

func density(x float64) float64    { return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) }
func cumulative(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// maximise fits the line to the likely times by least squares: a level of each section
// that has enough changes, one of the others together, and a common slope.
func (l *line) maximise(likely []float64, used []bool) {
	n := make([]float64, len(l.byS)+1)
	x, y := make([]float64, len(n)), make([]float64, len(n))
	count := make([]int, len(l.byS))
	for k := range l.rows {
		count[l.rows[k].section]++
	}
	group := func(k int) int {
		if s := l.rows[k].section; count[s] >= fewOwn {
			return s
		}
		return len(l.byS)
	}
	for k := range l.rows {
		if used[k] {
			i := group(k)
			n[i]++
			x[i] += l.rows[k].perM
			y[i] += likely[k]
		}
	}
	for i := range n {
		if n[i] > 0 {
			x[i] /= n[i]
			y[i] /= n[i]
		}
	}
	var xx, xy float64
	for k := range l.rows {
		if used[k] {
			i := group(k)
			d := l.rows[k].perM - x[i]
			xx += d * d
			xy += d * (likely[k] - y[i])
		}
	}
	l.placeM = 0
	if xx > 1e-9 {
		l.placeM = xy / xx
	}
	for s := range l.byS {
		i := s
		if count[s] < fewOwn {
			i = len(l.byS)
		}
		l.byS[s] = y[i] - l.placeM*x[i]
	}
}
