// Findings and doubts put into words.

package diagnose

import (
	"fmt"
	"math"
	"strings"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
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
		for i := range p.terms {
			if p.terms[i].cause == f.cause {
				a = p
			}
		}
	}
	if f.on != nil {
		a = f.on
	}
	out := Finding{
		Cause: f.cause, Section: f.section, Move: f.moveName(),
		Size: f.size, Unit: f.cause.Unit(), CI95: f.ci,
	}
	switch f.cause {
	case SlowSection:
		out.Move = f.moves.Name()
	case FlowShortage:
		out.Feeds, out.FeedsCI95 = &f.feeds, &f.feedsCI
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
	x := cause.Fact{Cause: f.cause, Moves: f.moves, Section: f.section, Size: f.size, CI95: f.ci, LateS: f.lateS, Crossings: f.crossings, Note: f.note, TauS: f.tauS, Piece: f.piece,
		Feeds: f.feeds, FeedsCI95: f.feedsCI, AfterCommand: a.leg == evidence.Machine, AtOnce: 1 + a.most(func(m *evidence.Move) float64 { return m.Beside }), DayS: a.lastS}
	if len(a.moves) > 0 {
		x.SlowestKmh, x.FastestKmh = a.speeds(f.moves)
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
	d := Doubt{Between: []Cause{f.cause}}
	time, place, together, oil := false, false, false, false
	note := func(t *term) {
		switch {
		case t.cause == FlowShortage:
			together = true
		case t.cause == ColdOil:
			oil = true
		case t.family() == "place":
			place = true
		default:
			time = true
		}
	}
	note(&f.term)
	for _, q := range rivals {
		t := &a.terms[q]
		note(t)
		known := false
		for _, c := range d.Between {
			known = known || c == t.cause
		}
		if !known {
			d.Between = append(d.Between, t.cause)
		}
	}
	lo, hi := a.speeds(f.moves)
	hasLift, hasDrop := false, false
	for i := range a.moves {
		hasLift, hasDrop = hasLift || !a.moves[i].On, hasDrop || a.moves[i].On
	}
	var why, drive []string
	if time && place || place && (together || oil) {
		why = append(why, fmt.Sprintf("the speeds lie between %.1f and %.1f km/h, too close for this scatter to tell a time from a place", lo, hi))
		drive = append(drive, fmt.Sprintf("drive again at two speeds, such as %.0f and %.0f km/h", math.Max(2, math.Round(lo*0.6)), math.Round(math.Max(hi, 1.2*lo+2))))
	}
	if together {
		why = append(why, "the number of sections that lift at once changes too little")
		drive = append(drive, "lift one section at a time, then all at once")
	}
	if oil {
		why = append(why, fmt.Sprintf("the day is %.0f minutes long, too short for this scatter to tell what fades from what stays", a.lastS/60))
		drive = append(drive, "drive once with cold oil and once after an hour's work")
	}
	if len(why) == 0 && (!hasLift || !hasDrop) {
		why = append(why, "there are only "+cause.KindName(f.moves))
		drive = append(drive, "drive with lifts and drops both")
	}
	if len(why) == 0 {
		why = append(why, fmt.Sprintf("the %d crossings scatter by %s, too much for a verdict: look on the map for a border or a pass where they are far off, and in the log for positions and states that are missing there", len(a.rows), cause.CM(a.sigmaM)))
		drive = append(drive, "drive more crossings, lifts and drops, at two speeds and in both directions")
	}
	d.Why = fmt.Sprintf("%s are off, but %s.", cause.Capital(cause.KindName(f.moves)), strings.Join(why, ", and "))
	d.Drive = cause.Capital(strings.Join(drive, "; ")) + "."
	return d
}

// scattered is the doubt of a day whose crossings scatter more than machine and receiver
// explain.
func (a *analysis) scattered(r *evidence.Reception) Doubt {
	rate := ""
	if r.IntervalNs > 0 {
		rate = fmt.Sprintf(", with a position every %.1f s", float64(r.IntervalNs)*1e-9)
	}
	return Doubt{
		Between: []Cause{PoorReception, ByHand, Erratic},
		Why:     fmt.Sprintf("Crossings scatter by %s around no cause%s: a hand, a field map that is off here and there, or old positions would look alike.", cause.CM(a.sigmaM), rate),
		Drive:   "Let the controller lift and drop, record its setpoints and each section's work state, with positions at 5 Hz or more.",
	}
}
