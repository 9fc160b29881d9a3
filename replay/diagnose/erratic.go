// Scatter that reception does not explain: one section that comes early and late at random,
// or all of them.

package diagnose

import (
	"fmt"
	"math"
	"slices"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/peers"
	"liftbench/replay/diagnose/regress"
	"liftbench/sections/score/sample"
)

const (
	// All are erratic if sections of one crossing scatter by leastWithinS and leastWithinM,
	// which no position explains, or crossings by more than the positions do.
	leastWithinS = 0.06
	leastWithinM = 0.12
	// With fewer crossings than leastScattered the whole machine is not called erratic.
	leastScattered = 12
)

// erraticSections returns the sections whose delays against the others, less what the
// chosen causes explain of them, scatter far more than those of the others do.
func (a *analysis) erraticSections(sections int) []found {
	if a.oneState {
		return nil
	}
	moves := slices.Clone(a.moves)
	for i := range moves {
		moves[i].LateM = a.unexplained(&a.chosen, &moves[i])
	}
	var list []found
	for _, x := range peers.FindErratic(moves, a.crossings, sections) {
		f := found{term: term{cause: Erratic}, section: x.Section + 1, size: x.ScatterS, ci: x.CI95, crossings: x.Crossings, explained: x.SumM2}
		ms, inMs := cause.Sized(f.size, f.ci, 1e-3, "ms")
		f.Evidence = fmt.Sprintf("Section %d comes early and late at random: against the others of its crossing it scatters by %s (standard deviation, %s, %d crossings), the usual section by %s.",
			f.section, ms, inMs, f.crossings, cause.MS(x.UsualS))
		f.Change = fmt.Sprintf("Section %d: no setting makes up for scatter. Look at the plug and cable of its valve and its sensor, for a valve that sticks, and for play where the section hangs. The other causes here are judged without it.", f.section)
		list = append(list, f)
	}
	return list
}

// erratic returns the scatter of all sections around the lines of lifts and drops and
// the other chosen causes; nil if the positions explain it. limitM is what they explain
// of a crossing.
//
// Sections that scatter each by themselves and crossings that scatter as a whole are one
// number: the standard deviation of a move. Its degrees of freedom follow from those of
// its two parts (Satterthwaite; from memory).
func (a *analysis) erratic(limitM float64) *found {
	if len(a.moves) == 0 {
		return nil
	}
	_, _, f, ok := a.lineFit([]*analysis{a})
	if !ok {
		return nil
	}
	var apart []float64    // sections from their crossing's mean, s
	var means [2][]float64 // of crossings in order of time, lifts and drops apart, s
	var n, moves, between, within, sumM2, speed float64
	for r, k := range a.rows {
		c := &a.crossings[k]
		if c.Poor {
			continue
		}
		late := make([]float64, len(c.Changes))
		size, mean := float64(len(c.Changes)), 0.0
		for j, i := range c.Changes {
			m := &a.moves[i]
			late[j] = (a.unexplained(&f, m) - a.pieceM(&f, m, r)) / m.SpeedMps
			mean += late[j] / size
			speed += m.SpeedMps
		}
		v := speedOf(a.moves, c)
		n, moves = n+1, moves+size
		way := evidence.Way(c.On)
		means[way] = append(means[way], mean)
		between += mean * mean
		sumM2 += mean * mean * v * v
		for _, x := range late {
			within += (x - mean) * (x - mean)
			if size > 1 {
				apart = append(apart, (x-mean)*math.Sqrt(size/(size-1)))
			}
		}
	}
	p := float64(len(f.Set))
	if n < leastScattered || n < 2*p {
		return nil
	}
	speed /= moves
	withinS := 0.0
	if len(apart) > 0 && !a.oneState {
		withinS = regress.Spread(apart, make([]float64, len(apart)), 0, 0)
		if a.timeScatterS > 0 { // the median of values on steps is one
			_, sd := sample.MeanSD(apart)
			withinS = a.beyondGrid(sd*speed) / speed
		}
	}
	crossingM := a.beyondGrid(math.Sqrt(sumM2 / (n - p)))
	if !(withinS > leastWithinS && withinS*speed > leastWithinM) && !(crossingM > limitM && regress.AtRandom(means[0], means[1])) {
		return nil
	}
	between, within = between/(n-p), within/moves
	df := (between + within) * (between + within) / (between*between/(n-p) + within*within/max(1, moves-n))
	out := &found{term: term{cause: Erratic}, crossings: int(n), size: a.beyondGrid(math.Sqrt(between+within)*speed) / speed}
	out.ci = regress.Deviation(out.size, df)
	out.explained = (between + within) * moves * speed * speed
	ms, inMs := cause.Sized(out.size, out.ci, 1e-3, "ms")
	out.Evidence = fmt.Sprintf("Lifts and drops come early and late at random, by %s (standard deviation, %s, %d crossings): %.0f cm at %.1f km/h, more than the positions explain.",
		ms, inMs, out.crossings, out.size*speed*100, speed*3.6)
	out.Change = "No setting makes up for scatter. Look at how often work states are recorded, at the link from the terminal to the valves, for air in the oil and valves that stick, and ask whether a hand lifted."
	return out
}

// speedOf is the mean speed of a crossing's moves, in m/s.
func speedOf(moves []evidence.Move, c *evidence.Crossing) float64 {
	sum := 0.0
	for _, i := range c.Changes {
		sum += moves[i].SpeedMps
	}
	return sum / float64(len(c.Changes))
}

// unexplained is what the causes of a fit leave of a move's lateness, in m, a wrong piece
// of border aside.
func (a *analysis) unexplained(f *regress.Fit, m *evidence.Move) float64 {
	left := m.LateM
	for j, q := range f.Set {
		if t := &a.terms[q]; t.piece == nil {
			left -= f.Beta[j] * t.perUnitM(m)
		}
	}
	return left
}

// pieceM is how late a wrong piece of border makes a move of row r, in m.
func (a *analysis) pieceM(f *regress.Fit, m *evidence.Move, r int) float64 {
	late := 0.0
	for j, q := range f.Set {
		if a.terms[q].piece != nil && a.columns[q][r] != 0 {
			late += f.Beta[j] * outward(m)
		}
	}
	return late
}
