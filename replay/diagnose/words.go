// Findings and doubts put into words.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/terms"
)

// wording puts what was found into sentences.
type wording struct{ day *evidence.Day }

// speeds returns the speeds of the slowest and the fastest transition of a kind, in km/h.
func (a *analysis) speeds(of evidence.Kind) (lo, hi float64) {
	lo = math.Inf(1)
	for i := range a.moves {
		if m := &a.moves[i]; of.Applies(m.On) != 0 {
			lo, hi = min(lo, m.SpeedMps*3.6), max(hi, m.SpeedMps*3.6)
		}
	}
	return lo, hi
}

// finding puts one cause into words. legs are those on which it may have been found.
func (w *wording) finding(f *found, legs []*analysis) Finding {
	a := legs[0]
	for _, p := range legs {
		has := slices.ContainsFunc(p.terms, func(t terms.Term) bool { return t.Cause == f.Cause })
		if f.Chosen && p.leg == f.Leg || !f.Chosen && has {
			a = p
		}
	}
	out := Finding{
		Cause: f.Cause, Section: f.Section, Move: f.MoveName(),
		Size: f.Size, Unit: f.Cause.Unit(), CI95: f.CI95,
	}
	switch f.Cause {
	case SlowSection:
		out.Move = f.Moves.Name()
	case FlowShortage:
		out.Feeds, out.FeedsCI95 = &f.Feeds, &f.FeedsCI95
	}
	out.Evidence, out.Change = f.Evidence, f.Change
	if out.Evidence == "" {
		x := w.fact(f, a)
		out.Evidence, out.Change = x.Evidence(), x.Change(w.day)
	}
	return out
}

// fact is what the sentences about a cause need, with the leg on which it was found.
func (w *wording) fact(f *found, a *analysis) *cause.Fact {
	x := cause.Fact{Cause: f.Cause, Moves: f.Moves, Section: f.Section, Size: f.Size, CI95: f.CI95, LateS: f.LateS, Crossings: f.Crossings, Note: f.Note, TauS: f.TauS, Piece: f.Piece,
		Feeds: f.Feeds, FeedsCI95: f.FeedsCI95, AfterCommand: a.leg == evidence.Machine, AtOnce: 1 + a.most(func(m *evidence.Move) float64 { return m.Beside }), DayS: a.lastS}
	if len(a.moves) > 0 {
		x.SlowestKmh, x.FastestKmh = a.speeds(f.Moves)
	}
	return &x
}

// most is the largest of a number of the moves; 0 without moves.
func (a *analysis) most(of func(m *evidence.Move) float64) float64 {
	most := 0.0
	for i := range a.moves {
		most = max(most, of(&a.moves[i]))
	}
	return most
}

// mostOthers is the lateness in s that a flow shortage of 1 s a section makes, at most.
func (a *analysis) mostOthers() float64 {
	return a.most(func(m *evidence.Move) float64 { return m.Others })
}

// doubt puts into words that f and its rivals explain the day equally well.
func (a *analysis) doubt(f *found, rivals []int) Doubt {
	d := Doubt{Between: []Cause{f.Cause}}
	x := cause.Unsure{Moves: f.Moves, DayS: a.lastS, Crossings: len(a.rows), ScatterM: a.sigmaM}
	x.Add(f.Cause, f.Family())
	for _, q := range rivals {
		t := &a.terms[q]
		x.Add(t.Cause, t.Family())
		if !slices.Contains(d.Between, t.Cause) {
			d.Between = append(d.Between, t.Cause)
		}
	}
	x.SlowestKmh, x.FastestKmh = a.speeds(f.Moves)
	for i := range a.moves {
		x.Lifts, x.Drops = x.Lifts || !a.moves[i].On, x.Drops || a.moves[i].On
	}
	d.Why, d.Drive = x.Why()
	return d
}

// scattered is the doubt of a day whose crossings scatter more than machine and receiver
// explain.
func (a *analysis) scattered(r *evidence.Reception) Doubt {
	q := Doubt{Between: []Cause{PoorReception, ByHand, Erratic}}
	q.Why, q.Drive = cause.Scattered(a.sigmaM, r.IntervalNs)
	return q
}
