// A pump that feeds fewer sections than move at once.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/pump"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/terms"
	"liftbench/sections/score"
)

// fed is what is known of the pump.
type fed struct {
	evidence.Shortage
	found *pump.Estimate // nil: not found; Others are those of a pump that feeds one
	fixed bool           // not to be found
	near  bool           // found with nearly the same delays: to be looked for around that first
}

// flowTerm is the index of the flow shortage among the terms; -1 if it cannot be seen.
func (a *analysis) flowTerm() int {
	return slices.IndexFunc(a.terms, func(t terms.Term) bool { return t.Cause == FlowShortage })
}

// setPump takes a pump for the one that moves the sections.
func (a *analysis) setPump(f fed) {
	a.pump = f
	a.sharing.SetOthers(a.moves, f.Shortage)
	if q := a.flowTerm(); q >= 0 {
		t := &a.terms[q]
		t.Moves, t.PerUnitM = f.Kind, func(m *evidence.Move) float64 { return m.SpeedMps * m.Others }
		t.LeastSize = evidence.LeastS / max(a.mostOthers(), 1e-9)
		a.columns[q] = a.column(t.PerUnitM)
	}
}

// besideFlow is what the pump is to explain beside a set of terms.
func (a *analysis) besideFlow(y []float64, set []int) *evidence.Rows {
	rows := &evidence.Rows{Y: y, Weight: a.weight, FloorM: a.roughM, Tried: a.tried}
	for _, k := range a.rows {
		rows.Moves = append(rows.Moves, a.crossings[k].Changes)
	}
	for _, q := range set {
		if a.terms[q].Cause != FlowShortage {
			rows.Beside = append(rows.Beside, a.columns[q])
		}
	}
	return rows
}

// findPump finds how many sections the pump feeds, beside a set of terms.
func (a *analysis) findPump(set []int) {
	q := a.flowTerm()
	if q < 0 || a.pump.fixed {
		return
	}
	set = append(slices.DeleteFunc(slices.Clone(set), func(p int) bool { return p == q }), q)
	y := a.y
	for range 2 { // then without outliers
		var best fed
		best.Shortage, best.found, best.near = a.sharing.FindFrom(a.pump.Shortage, a.pump.found, a.pump.near, a.moves, a.besideFlow(y, set))
		a.setPump(best)
		f, ok := a.gram().Fit(set...)
		if !ok {
			return
		}
		y = regress.Clipped(a.y, regress.Predict(&f, a.columns, len(a.y)), len(f.Set), a.roughM)
	}
}

// settlePump finds the pump anew beside the chosen causes, if a flow shortage is one. Lifts
// that are all early or late beside a short pump may be an accumulator: if one explains them
// as well, that is one cause less.
func (a *analysis) settlePump() {
	if !a.hasChosen(FlowShortage) {
		return
	}
	a.findPump(a.chosen.Set)
	a.chosen = a.chooseRobustly()
	time := slices.IndexFunc(a.chosen.Set, func(q int) bool {
		return a.terms[q].Family() == "time" && a.terms[q].Moves == evidence.Lifts
	})
	if a.pump.fixed || a.pump.near || time < 0 || !a.hasChosen(FlowShortage) {
		return
	}
	y := regress.Clipped(a.y, regress.Predict(&a.chosen, a.columns, len(a.y)), len(a.chosen.Set), a.roughM)
	rss := func(set []int) float64 {
		f, ok := regress.NewGram(a.columns, y, a.roughM).Fit(set...)
		if !ok {
			return math.Inf(1)
		}
		return f.RSS
	}
	pump, chosen, with := a.pump, a.chosen, rss(a.chosen.Set)
	set := slices.Delete(slices.Clone(chosen.Set), time, time+1)
	a.findPump(set)
	if a.pump.StoreS > 0 && rss(set) < with*(1+asWell/float64(len(y))) {
		a.chosen = a.chooseRobustly()
		return
	}
	a.setPump(pump)
	a.chosen = chosen
}

const (
	asWell = 4.0  // gain, in variances of a row, up to which two explanations are as good
	alike  = 1.02 // ratio of squared residuals up to which two pumps explain a day alike
	farM   = 0.5  // the most that one move counts of a misfit
)

// simplerThan reports whether a explains the day better with no more causes, or as well with fewer.
func (a *analysis) simplerThan(b *analysis) bool {
	mine, theirs := a.misfitM2(), b.misfitM2()
	more := len(a.chosen.Set) + len(a.found) - len(b.chosen.Set) - len(b.found)
	return more <= 0 && mine*alike < theirs || more < 0 && mine < theirs*alike
}

// misfitM2 is what the causes leave of the lateness of all moves, squared, in m².
func (a *analysis) misfitM2() float64 {
	sum := 0.0
	for i := range a.moves {
		left := min(math.Abs(a.unexplained(&a.chosen, &a.moves[i])), farM)
		sum += left*left + noiseFloorM*noiseFloorM
	}
	return sum
}

// shortageOf returns the pump of the leg on which a flow shortage was chosen.
func shortageOf(legs []*analysis) (x evidence.Shortage, short bool) {
	for _, a := range legs {
		if a.hasChosen(FlowShortage) {
			x, short = a.pump.Shortage, true
		}
	}
	return x, short
}

// besideUnseen explains the legs anew if sections took oil from a short pump where their change
// is missing, and returns what explains the day better.
func besideUnseen(day evidence.Day, missed []score.Event, legs []*analysis, whole *analysis, r *evidence.Reception) (evidence.Day, []*analysis, *analysis) {
	unseen := day.Unseen(missed)
	own, ownWhole := analyseLegs(&unseen, r)
	if own[len(own)-1].misfitM2()*alike < legs[len(legs)-1].misfitM2() {
		return unseen, own, ownWhole
	}
	return day, legs, whole
}

// pumpS is the most that a short pump makes a move late, in s; 0 if none is.
func (a *analysis) pumpS() float64 {
	flowS, _ := a.flowS()
	return flowS * a.mostOthers()
}

// lines are the terms of the lines of lifts and of drops.
func (a *analysis) lines() []int {
	var out []int
	for q := range a.terms {
		t := &a.terms[q]
		if (t.Family() == "time" || t.Family() == "place") && t.Moves != evidence.Both {
			out = append(out, q)
		}
	}
	return out
}

// feeds is how many sections the pump feeds, with its interval; standard errors are by times
// as wide as those of the rows.
func (a *analysis) feeds(by float64) (float64, Interval) {
	e := a.pump.found
	if e == nil {
		e = &pump.Estimate{Fed: a.pump.Fed, Free: true}
	}
	ci := a.sharing.FedInterval(a.pump.Shortage, e, a.moves, a.besideFlow(a.y, a.chosen.Set), by)
	return e.Fed, Interval{
		max(1, e.Fed-math.Hypot(e.Fed-ci[0], a.unsureFed)),
		min(e.Fed+math.Hypot(ci[1]-e.Fed, a.unsureFed), max(ci[1], 1+a.most(func(m *evidence.Move) float64 { return m.Beside }))),
	}
}
