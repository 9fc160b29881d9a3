// True times within the steps of a grid, as likely as the other changes make them.

package clock

import (
	"math"
	"slices"

	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

// A recorded time says only that a change lies within one step. But changes follow a rule:
// they are late by a time and a place, Δt + Δx/v, a slow section by a time of its own, and
// scatter by far less than a step. The steps through whose edges that line goes tell it much better than
// the middles of the steps do: to about √(q·σ/1.8) a change instead of q/√12, with q the
// step and σ the scatter; where σ is more than 0.15·q, not at all. The line of greatest
// likelihood is found by expectation and maximisation (Dempster, Laird, Rubin, J. R. Stat.
// Soc. B 39(1):1-38, 1977; from memory): each time is put where the line expects it within
// its step, and the line is fitted to those.
//
// So few steps of one section have the line go through their edges that its own level is
// known far worse than that mean says, and its likelihood is flat there. So a section has
// the level of all, unless its steps refuse it.

const (
	sharpenRounds = 200
	// settledS is the change of the line in one round that ends them.
	settledS = 20e-6
	// leastSigmaS is the least scatter of changes that is believed: RTK at 1 m/s (1.43 cm;
	// Carballido et al. 2014, Appl. Eng. Agric. 30(3):361-366).
	leastSigmaS = 0.015
	// fewOwn changes of a section in one direction have the level of all.
	fewOwn = 8
	// outside so many standard deviations of its step a change follows no rule.
	outside = 4.0
	// A section has a level of its own if twice the logarithm of the likelihood gains
	// ownGain by it; of those that do, the ones with a third of the most first, because the
	// others are compared with a level that is moved by them. One change alone cannot make a
	// level: one in a hundred lies anywhere within anyS.
	ownGain   = 13.0
	ownRounds = 4
	anyShare  = 0.01
	anyS      = 4.0
	// levelsPerSigma is how finely a section's own level is tried.
	levelsPerSigma = 2
)

// Sharpen moves the paired changes of events to their likely times within the steps, or
// the intervals between polls, of which their times are the middles. widthS is how wide each
// of these is, 0 for a time that is exact, and leadS how long before its ideal instant each change should be. It returns
// them, and what is left of the scatter of each time, s: none is known better than that.
func Sharpen(events []score.Event, widthS, leadS []float64) (out []score.Event, leftS []float64) {
	leftS = make([]float64, len(events))
	var ways [2][]int
	sections := 0
	for i := range events {
		if e := &events[i]; e.Kind == score.Paired && e.SpeedMps > leastMps && !math.IsNaN(e.TimeErrorS) {
			ways[wayOf(e.On)] = append(ways[wayOf(e.On)], i)
			sections = max(sections, int(e.Section)+1)
		}
	}
	out = slices.Clone(events)
	for i := range leftS {
		leftS[i] = widthS[i] / math.Sqrt(12)
	}
	for way, at := range ways {
		stepS, alike := meanWidth(widthS, at)
		if len(at) < leastTimes || stepS == 0 {
			continue
		}
		l := line{stepS: stepS, rows: make([][]int, sections), of: make([]lateRow, len(at)), byS: make([]float64, sections)}
		for k, i := range at {
			e := &events[i]
			late := e.TimeErrorS
			if leadS != nil {
				late += leadS[i]
			}
			l.of[k] = lateRow{int(e.Section), 1 / e.SpeedMps, late, widthS[i]}
			l.rows[e.Section] = append(l.rows[e.Section], k)
		}
		s := l.fit()
		if s >= stepS/math.Sqrt(12) {
			continue
		}
		for i := range events {
			switch {
			case wayOf(events[i].On) != way:
			case alike:
				leftS[i] = s
			default:
				leftS[i] = min(leftS[i], l.leftS(widthS[i]))
			}
		}
		for k, i := range at {
			out[i] = moved(events[i], l.likelyS(k)-l.of[k].lateS)
		}
	}
	return out, leftS
}

// moved is a paired event a little later.
func moved(e score.Event, laterS float64) score.Event {
	return MovedTo(e, e.ActualNs+int64(math.Round(laterS*1e9)))
}

// MovedTo is a paired event at another instant.
func MovedTo(e score.Event, ns int64) score.Event { return at(e, ns) }

// meanWidth is the mean of the widths of the rows at, and whether they are all the same.
func meanWidth(widthS []float64, at []int) (meanS float64, alike bool) {
	alike = true
	for _, i := range at {
		meanS += widthS[i] / float64(len(at))
		alike = alike && widthS[i] == widthS[at[0]]
	}
	if alike && len(at) > 0 {
		meanS = widthS[at[0]]
	}
	return meanS, alike
}

// lateRow is how late one change was recorded, the seconds that it takes for a metre, and
// how wide the step is within which it lies.
type lateRow struct {
	section             int
	perM, lateS, widthS float64
}

// line is lateness = byS[section] + placeM/v, with scatter sigmaS, of changes of which
// only the step is known.
type line struct {
	stepS  float64 // mean width of the steps
	of     []lateRow
	rows   [][]int // by section
	own    []bool  // sections with a level of their own
	byS    []float64
	placeM float64
	sigmaS float64
	left   map[int]float64 // see leftS
}

// at is how late the line puts row k, s.
func (l *line) at(k int) float64 { return l.byS[l.of[k].section] + l.placeM*l.of[k].perM }

// fit finds the line, and which sections have a level of their own, and returns the standard
// deviation with which each row tells it.
func (l *line) fit() (leftS float64) {
	l.own = make([]bool, len(l.rows))
	all := make([]float64, len(l.of))
	for k := range all {
		all[k] = l.of[k].lateS
	}
	l.placeM, l.sigmaS = 0, l.stepS
	for s := range l.byS {
		l.byS[s] = sample.Median(slices.Clone(all))
	}
	leftS = l.settle()
	for range ownRounds {
		levels, gains := make([]float64, len(l.rows)), make([]float64, len(l.rows))
		for s, rows := range l.rows {
			if !l.own[s] && len(rows) >= fewOwn {
				levels[s], gains[s] = l.ownLevel(s)
			}
		}
		most := slices.Max(gains)
		if most < ownGain {
			break
		}
		for s, gain := range gains {
			if gain >= max(ownGain, most/3) {
				l.own[s], l.byS[s] = true, levels[s]
			}
		}
		leftS = l.settle()
	}
	return leftS
}

// ownLevel is the level of a section's own that is the most likely, and by how much twice
// the logarithm of the likelihood is greater than with the one that it has.
func (l *line) ownLevel(s int) (levelS, gain float64) {
	was := l.byS[s]
	best, at := math.Inf(-1), was
	stepS := max(l.sigmaS/levelsPerSigma, l.stepS/100)
	for by := -l.stepS; by <= l.stepS; by += stepS {
		if p := l.likelihood(s, was+by); p > best {
			best, at = p, was+by
		}
	}
	return at, 2 * (best - l.likelihood(s, was))
}

// likelihood is the logarithm of that of a section's rows, if its level were levelS.
func (l *line) likelihood(s int, levelS float64) float64 {
	sum := 0.0
	for _, k := range l.rows[s] {
		r := &l.of[k]
		off := r.lateS - levelS - l.placeM*r.perM
		stepS := max(r.widthS, exactS)
		in := cumulative((off+stepS/2)/l.sigmaS) - cumulative((off-stepS/2)/l.sigmaS)
		sum += math.Log((1-anyShare)*in + anyShare*stepS/anyS)
	}
	return sum
}

// settle finds the line by expectation and maximisation, from the one that is known.
func (l *line) settle() (leftS float64) {
	likely, used := make([]float64, len(l.of)), make([]bool, len(l.of))
	for range sharpenRounds {
		squares, told, n := 0.0, 0.0, 0.0
		for k := range l.of {
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
		was := l.sigmaS
		l.sigmaS = max(leastSigmaS, math.Sqrt(squares/n))
		if by := l.maximise(likely, used); max(by, math.Abs(l.sigmaS-was)) < settledS {
			break
		}
	}
	return leftS
}

// likelyS is where row k lies within its step, s late.
func (l *line) likelyS(k int) float64 {
	s, _, _ := l.within(k)
	return s
}

// within returns the mean and the variance of row k by the line, within its step; ok is
// false if the line is far outside it: then nothing says where in it the change was.
func (l *line) within(k int) (meanS, variance float64, ok bool) {
	expected, late, stepS := l.at(k), l.of[k].lateS, l.of[k].widthS
	lo, hi := (late-stepS/2-expected)/l.sigmaS, (late+stepS/2-expected)/l.sigmaS
	if lo > outside || hi < -outside {
		return late, stepS * stepS / 12, false
	}
	if stepS < exactS {
		return late, 0, true
	}
	p := cumulative(hi) - cumulative(lo)
	m := (density(lo) - density(hi)) / p
	v := 1 + (lo*density(lo)-hi*density(hi))/p - m*m
	return expected + l.sigmaS*m, max(0, v) * l.sigmaS * l.sigmaS, true
}

// exactS is the width below which a time is taken as it stands.
const exactS = 1e-3

// leftS is what a step of a width leaves on average of the scatter of a time, wherever the
// line goes through it: sigmaS over the square root of the share of it that the step tells. The
// share is the mean of the square of how far off the line, in sigmaS, a change is expected,
//
//	σ/w · ∫ (φ(a) − φ(b))²/(Φ(b) − Φ(a)) da,  b = a + w/σ.
func (l *line) leftS(widthS float64) float64 {
	if widthS < exactS {
		return 0
	}
	const (
		parts = 64
		alike = 200 // widths of the same whole number of 1/200 of their logarithm have one answer
	)
	key := int(math.Round(alike * math.Log(widthS)))
	if s, ok := l.left[key]; ok {
		return s
	}
	w := math.Exp(float64(key)/alike) / l.sigmaS
	from, to := -outside-w, outside
	told, da := 0.0, (to-from)/parts
	for i := range parts {
		a := from + da*(float64(i)+0.5)
		if p := cumulative(a+w) - cumulative(a); p > 1e-12 {
			m := density(a) - density(a+w)
			told += m * m / p * da / w
		}
	}
	if l.left == nil {
		l.left = map[int]float64{}
	}
	l.left[key] = l.sigmaS / math.Sqrt(max(1e-3, min(told, 1)))
	return l.left[key]
}

func density(x float64) float64    { return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) }
func cumulative(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// maximise fits the line to the likely times by least squares: the level of all sections,
// those that have one of their own, and a common slope. It returns by how much that moved
// the line.
func (l *line) maximise(likely []float64, used []bool) (byS float64) {
	n := make([]float64, len(l.byS)+1)
	x, y := make([]float64, len(n)), make([]float64, len(n))
	group := func(s int) int {
		if l.own[s] {
			return s
		}
		return len(l.byS)
	}
	for k := range l.of {
		if used[k] {
			i := group(l.of[k].section)
			n[i]++
			x[i] += l.of[k].perM
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
	for k := range l.of {
		if used[k] {
			i := group(l.of[k].section)
			d := l.of[k].perM - x[i]
			xx += d * d
			xy += d * (likely[k] - y[i])
		}
	}
	placeM := 0.0
	if xx > 1e-9 {
		placeM = xy / xx
	}
	byS = math.Abs(placeM-l.placeM) * l.of[0].perM
	l.placeM = placeM
	for s := range l.byS {
		i := group(s)
		if n[i] == 0 {
			continue
		}
		level := y[i] - l.placeM*x[i]
		byS = max(byS, math.Abs(level-l.byS[s]))
		l.byS[s] = level
	}
	return byS
}
