// The lines e = Δx + v·Δt of lifts and of drops, with the bands around them.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
)

// leastSpreadMps is the least difference between the slowest and the fastest crossing
// for which a line is drawn.
const leastSpreadMps = 0.2 / 3.6

// widestS and widestM are the half widths of an interval beyond which a number says
// nothing.
const widestS, widestM = 2.0, 4.0

// Band returns the place error in m at a speed in m/s, with its 95 % interval; ok is
// false if Δx or Δt is not known.
func (f *Fit) Band(speedMps float64) (placeM float64, ci Interval, ok bool) {
	if f.TimeErrorS == nil || f.PlaceErrorM == nil || f.df < 1 {
		return 0, Interval{}, false
	}
	// Var(Δx + v·Δt) = Var(Δx) + 2·v·Cov + v²·Var(Δt)
	placeM = *f.PlaceErrorM + speedMps**f.TimeErrorS
	variance := f.varPlace + 2*speedMps*f.cov + speedMps*speedMps*f.varTime
	return placeM, regress.Around(placeM, math.Sqrt(max(0, variance)), f.df), true
}

// fits returns the lines of lifts and of drops. Causes that are neither a time nor a
// place error and were found on one of the legs are fitted beside them.
func (a *analysis) fits(legs []*analysis) (lift, drop Fit) {
	if len(a.moves) == 0 {
		return lift, drop
	}
	out := [2]*Fit{&lift, &drop}
	for r, k := range a.rows {
		out[evidence.Way(a.crossings[k].On)].Count += int(a.members[r])
	}
	set, known, f, ok := a.lineFit(legs)
	if !ok {
		return lift, drop
	}
	for way := range set {
		if !known[way] {
			continue
		}
		time, place := set[way][0], set[way][1]
		if a.terms[time].Family() == "place" {
			time, place = place, time
		}
		o, i, j := out[way], f.At(time), f.At(place)
		t, x := Interval(f.Interval(i)), Interval(f.Interval(j))
		if t[1]-t[0] > 2*widestS || x[1]-x[0] > 2*widestM {
			continue
		}
		o.TimeErrorS, o.TimeErrorCI = &f.Beta[i], &t
		o.PlaceErrorM, o.PlaceErrorCI = &f.Beta[j], &x
		s := f.Sigma * f.Sigma
		o.varTime, o.varPlace, o.cov, o.df = s*f.Inv.At(i, i), s*f.Inv.At(j, j), s*f.Inv.At(i, j), f.DF
	}
	return lift, drop
}

// lineFit fits the lines of lifts and of drops, and beside them the chosen causes that are
// neither a time nor a place error and were chosen on one of the legs.
func (a *analysis) lineFit(legs []*analysis) (set [2][]int, known [2]bool, f regress.Fit, ok bool) {
	var beside []int
	for _, q := range a.chosen.Set {
		t := &a.terms[q]
		if f := t.Family(); f != "time" && f != "place" && slices.ContainsFunc(legs, func(p *analysis) bool { return p.hasChosen(t.Cause) }) {
			beside = append(beside, q)
		}
	}
	set, known, use := a.lineTerms()
	f, ok = a.gram().Fit(slices.Concat(use, beside)...)
	return set, known, f, ok
}

// lineTerms returns the terms of Δx and Δt of lifts and of drops, for which of the two
// the speeds differ enough to know both, and the terms to fit.
func (a *analysis) lineTerms() (set [2][]int, known [2]bool, use []int) {
	for q := range a.terms {
		t := &a.terms[q]
		switch t.Cause {
		case LiftGeometry, DropGeometry, LiftTiming, DropTiming, CommandTiming:
			set[t.Moves-evidence.Lifts] = append(set[t.Moves-evidence.Lifts], q)
		}
	}
	lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{}
	crossings := [2]int{}
	for _, k := range a.rows {
		way := evidence.Way(a.crossings[k].On)
		crossings[way]++
		for _, i := range a.crossings[k].Changes {
			v := a.moves[i].SpeedMps
			lo[way], hi[way] = min(lo[way], v), max(hi[way], v)
		}
	}
	for way := range set {
		if known[way] = crossings[way] >= 3 && hi[way]-lo[way] >= leastSpreadMps; known[way] {
			use = append(use, set[way]...)
		} else if crossings[way] > 0 {
			use = append(use, set[way][0]) // one term for their common error
		}
	}
	return set, known, use
}

// hasChosen reports whether a cause was chosen.
func (a *analysis) hasChosen(c Cause) bool {
	return slices.ContainsFunc(a.chosen.Set, func(q int) bool { return a.terms[q].Cause == c })
}

// hasFound reports whether a cause was found outside the regression.
func (a *analysis) hasFound(c Cause) bool {
	return slices.ContainsFunc(a.found, func(f found) bool { return f.Cause == c })
}

// unknown removes the numbers of a fit.
func (f *Fit) unknown() { *f = Fit{Count: f.Count} }
