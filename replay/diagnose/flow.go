// A pump that feeds fewer sections than move at once.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/pump"
	"liftbench/replay/diagnose/regress"
)

// fed is what is known of the pump.
type fed struct {
	evidence.Shortage
	found *pump.Estimate // nil: not found; Others are those of a pump that feeds one
	fixed bool           // not to be found
}

// flowTerm is the index of the flow shortage among the terms; -1 if it cannot be seen.
func (a *analysis) flowTerm() int {
	return slices.IndexFunc(a.terms, func(t term) bool { return t.cause == FlowShortage })
}

// setPump takes a pump for the one that moves the sections.
func (a *analysis) setPump(f fed) {
	a.pump = f
	a.sharing.SetOthers(a.moves, f.Shortage)
	if q := a.flowTerm(); q >= 0 {
		t := &a.terms[q]
		t.moves, t.perUnitM = f.Kind, func(m *evidence.Move) float64 { return m.SpeedMps * m.Others }
		t.leastSize = evidence.LeastS / max(a.mostOthers(), 1e-9)
		a.columns[q] = a.column(t.perUnitM)
	}
}

// searchOf is the search for the pump beside the terms of a set.
// tried keeps the columns that were computed.
func (a *analysis) searchOf(k evidence.Kind, y []float64, set []int, tried map[evidence.Shortage][]float64) *pump.Search {
	s := &pump.Search{Y: y, MoveS: a.sharing.MoveS(), FloorM: noiseFloorM}
	for _, q := range set {
		if a.terms[q].cause != FlowShortage {
			s.Beside = append(s.Beside, a.columns[q])
		}
	}
	_, beside := a.sharing.LateS(len(a.moves), evidence.Shortage{Kind: k, Fed: 1})
	s.Most = min(slices.Max(beside)+1, a.sharing.Most(k))
	s.Late = func(fed, storeS float64) []float64 {
		col := make([]float64, len(a.rows))
		for _, way := range [...]evidence.Kind{evidence.Lifts, evidence.Drops} {
			if k != evidence.Both && k != way {
				continue
			}
			x := evidence.Shortage{Kind: way, Fed: fed, StoreS: storeS}
			one, ok := tried[x]
			if !ok {
				late, _ := a.sharing.LateS(len(a.moves), x)
				one = a.columnOf(func(i int32) float64 { return late[i] * a.moves[i].SpeedMps })
				tried[x] = one
			}
			for r := range col {
				col[r] += one[r]
			}
		}
		return col
	}
	return s
}

// otherKinds is what a pump must explain, in variances of a row, before it is believed to
// move drops too.
const otherKinds = 6.0

// findPump finds how many sections the pump feeds, beside a set of terms.
func (a *analysis) findPump(set []int) {
	if a.flowTerm() < 0 || a.pump.fixed {
		return
	}
	y, tried := a.y, map[evidence.Shortage][]float64{}
	best := fed{Shortage: evidence.OneFed}
	for range 2 {
		best = fed{Shortage: evidence.OneFed}
		for _, k := range [...]evidence.Kind{evidence.Lifts, evidence.Both, evidence.Drops} {
			e, ok := a.searchOf(k, y, set, tried).Find()
			if !ok {
				continue
			}
			if best.found != nil {
				noise := max(min(e.RSS, best.found.RSS)/float64(e.DF), noiseFloorM*noiseFloorM)
				if e.RSS+otherKinds*noise > best.found.RSS {
					continue
				}
			}
			best = fed{Shortage: evidence.Shortage{Kind: k, Fed: e.Fed, StoreS: e.StoreS}, found: &e}
		}
		a.setPump(best)
		f, ok := a.gram().Fit(a.with(set)...)
		if !ok {
			return
		}
		y = regress.Clipped(a.y, regress.Predict(&f, a.columns, len(a.y)), len(f.Set), noiseFloorM)
	}
}

// settlePump finds the pump anew beside the chosen causes, if a flow shortage is one.
func (a *analysis) settlePump() {
	if a.hasChosen(FlowShortage) {
		a.findPump(a.chosen.Set)
		a.chosen = a.chooseRobustly()
	}
}

// alike is the ratio of squared residuals up to which two pumps explain a day alike.
const alike = 1.02

// simplerThan reports whether a explains the day better than b, or as well with fewer causes.
func (a *analysis) simplerThan(b *analysis) bool {
	mine, theirs := a.misfitM2(), b.misfitM2()
	fewer := len(a.chosen.Set)+len(a.found) < len(b.chosen.Set)+len(b.found)
	return mine*alike < theirs || fewer && mine < theirs*alike
}

// farM bounds what one move counts of a misfit.
const farM = 0.5

// misfitM2 is what the causes leave of the lateness of all moves, squared, in m².
func (a *analysis) misfitM2() float64 {
	sum := 0.0
	for i := range a.moves {
		left := min(math.Abs(a.unexplained(&a.chosen, &a.moves[i])), farM)
		sum += left*left + noiseFloorM*noiseFloorM
	}
	return sum
}

// with is a set of terms and the flow shortage.
func (a *analysis) with(set []int) []int {
	q := a.flowTerm()
	out := slices.Clone(set)
	if !slices.Contains(out, q) {
		out = append(out, q)
	}
	return out
}

// lines are the terms of the lines of lifts and of drops.
func (a *analysis) lines() []int {
	var out []int
	for q := range a.terms {
		t := &a.terms[q]
		if (t.family() == "time" || t.family() == "place") && t.moves != evidence.Both {
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
	return e.Fed, a.searchOf(a.pump.Kind, a.y, a.chosen.Set, map[evidence.Shortage][]float64{}).Interval(e, by)
}
