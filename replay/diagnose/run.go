// From a day's transitions to its diagnosis, in one call.

package diagnose

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/response"
	"liftbench/replay/diagnose/suspect"
	"liftbench/replay/diagnose/terms"
)

// Run diagnoses a day. The order of the events does not matter, and the same day gives
// the same diagnosis. The error says why the day cannot be diagnosed, or is that of
// day.Stop.
func Run(day evidence.Day) (*Diagnosis, error) {
	if err := day.Check(); err != nil {
		return nil, err
	}
	day = day.Timed()
	seen := day.Actual
	if len(seen) == 0 {
		seen = day.Setpoint
	}
	if err := evidence.Enough(seen); err != nil {
		return nil, err
	}
	d := &Diagnosis{Causes: []Finding{}, CannotTell: []Doubt{}, Floors: []Floor{}, Sampling: day.Clock.Sampling()}
	r := evidence.NewReception(day.Fixes)
	report, day := response.Examine(day, &r)
	list, doubts := responses(&report)
	d.CannotTell = append(d.CannotTell, doubts...)
	judged := &day.Actual
	if len(day.Actual) == 0 {
		judged = &day.Setpoint
	}
	all, missed := *judged, day.Missed()
	hand, kept := response.ByHand(all, &r)
	*judged = kept
	legs, whole := analyseLegs(&day, &r)
	if x, short := shortageOf(legs); short && hand != nil {
		// What a short pump makes late is not a hand's work.
		hand, *judged = response.ByHandBeside(all, &r, day.LateByPump(all, x))
		legs, whole = analyseLegs(&day, &r)
	}
	if hand != nil {
		list = append(list, suspect.OfHand(hand))
	}
	if _, short := shortageOf(legs); short && len(missed) > 0 {
		day, legs, whole = besideUnseen(day, missed, legs, whole, &r)
	}
	if err := day.Stopped(); err != nil {
		return nil, err
	}
	if odd := legs[len(legs)-1].erraticSections(len(day.Machine.Sections)); len(odd) > 0 {
		var out []int
		for _, f := range odd {
			out = append(out, f.Section-1)
			// What flickers also comes early and late, and is named already.
			if !slices.ContainsFunc(report.Sensors, func(s response.Sensor) bool { return s.Section == f.Section-1 }) {
				list = append(list, f)
			}
		}
		day = day.Without(out)
		legs, whole = analyseLegs(&day, &r)
	}
	if day.Stepped() {
		day = sharpenedBeside(day, legs)
		legs, whole = analyseLegs(&day, &r)
	}
	x := besideFileLead(day, explained{legs: legs, whole: whole}, &r)
	legs, whole, list = x.legs, x.whole, append(list, x.leads...)
	if err := day.Stopped(); err != nil {
		return nil, err
	}
	d.Lift, d.Drop = whole.fits(legs)
	for _, a := range legs {
		sure, doubts := a.judge(d)
		list = append(list, sure...)
		d.CannotTell = append(d.CannotTell, doubts...)
		for _, f := range a.floors() { // of two legs, what both would have shown
			d.Floors = keep(d.Floors, f, false)
		}
		if q := a.beforeTold(&day); q != nil {
			d.CannotTell = append(d.CannotTell, *q)
		}
	}
	if hand == nil && !whole.hasFound(PoorReception) {
		if f := whole.erratic(r.ScatterM()); f != nil {
			list = append(list, *f)
		}
	}
	list = suspect.FileLeads(list, day.Clock.KindUnsureS())
	d.CannotTell = append(d.CannotTell, orFileLead(list, legs, day.Clock.KindUnsureS())...)
	sort.SliceStable(list, func(i, j int) bool { return cmp.Less(list[j].SumM2, list[i].SumM2) })
	w := wording{day: &day}
	list = suspect.OneBorder(d.besideClock(list, day.Clock, whole.speedMps()))
	list = d.orClock(list, day.Clock, whole.speedMps())
	for i := range list {
		d.Causes = append(d.Causes, w.finding(&list[i], legs))
	}
	for _, o := range day.Clock.Offsets() {
		d.Causes = append(d.Causes, ofClock(&o))
	}
	if len(d.Causes)+len(d.CannotTell) > 0 {
		return d, nil
	}
	if q := missedDoubt(&report); q != nil {
		d.CannotTell = append(d.CannotTell, *q)
	}
	if whole.beyondGrid(whole.sigmaM) > scatterM {
		d.CannotTell = append(d.CannotTell, whole.scattered(&r))
	}
	return d, nil
}

// analyseLegs explains the legs that were recorded, and the whole way.
func analyseLegs(day *evidence.Day, r *evidence.Reception) (legs []*analysis, whole *analysis) {
	switch {
	case len(day.Actual) == 0:
		whole = analyse(day, evidence.Command, r)
	case len(day.Setpoint) == 0:
		whole = analyse(day, evidence.Whole, r)
	default:
		return []*analysis{analyse(day, evidence.Command, r), analyse(day, evidence.Machine, r)}, analyse(day, evidence.Whole, r)
	}
	return []*analysis{whole}, whole
}

// scatterM is the scatter of crossings above which no RTK receiver and no valve explains
// it.
const scatterM = 0.25

// judge divides what was found into causes and doubts, and removes the numbers of the
// fits that a doubt leaves open.
func (a *analysis) judge(d *Diagnosis) (sure []found, doubts []Doubt) {
	if len(a.moves) == 0 {
		return nil, nil
	}
	all := a.causes()
	g := a.gram()
	for i := range a.found {
		if f := &all[i]; f.Cause != SlowSection || f.Moves != evidence.Lifts || math.Abs(f.Size) >= pumpKnown*a.pumpS() {
			sure = append(sure, *f)
		}
	}
	for i := range a.chosen.Set {
		f := all[len(a.found)+i]
		var rivals []int
		if f.Piece == nil {
			rivals = a.rivals(g, i)
		}
		if f.Family() == "time" && f.Moves == evidence.Lifts && math.Abs(f.Size) < pumpKnown*a.pumpS() {
			q := Doubt{Between: []Cause{f.Cause, FlowShortage}}
			q.Why, q.Drive = cause.BesidePump(f.Size, a.pumpS())
			doubts = append(doubts, q)
			continue
		}
		open := f.CI95[0]*f.CI95[1] <= 0 // averaged over the alternatives, the size may be 0
		switch {
		case f.Piece != nil && open:
			continue
		case len(rivals) == 0 && !open && a.leg != evidence.Machine && f.Family() == "place" && f.Cause != WrongBorder && evidence.OneWay(a.moves):
			doubts = append(doubts, a.mapDoubt(&f))
			continue
		case len(rivals) == 0 && !open:
			sure = append(sure, f)
			continue
		case len(rivals) == 0:
			rivals = a.opposite(a.chosen.Set[i], a.chosen.Set)
		}
		doubts = append(doubts, a.doubt(&f, rivals))
		if a.leg != evidence.Machine && a.timeAgainstPlace(&f.Term, rivals) {
			if f.Moves != evidence.Drops {
				d.Lift.unknown()
			}
			if f.Moves != evidence.Lifts {
				d.Drop.unknown()
			}
		}
	}
	sure, shared := a.ownSizes(sure)
	// If both are late by one time and one of them is early by the same, only the other is
	// late.
	sure = slices.DeleteFunc(sure, func(f found) bool {
		return math.Abs(f.Size) < f.LeastSize && f.Piece == nil && (f.Family() == "time" || f.Family() == "place")
	})
	sure, opposite := a.withoutCancelling(sure)
	for _, q := range [...]*Doubt{shared, opposite} {
		if q != nil {
			doubts = append(doubts, *q)
		}
	}
	return sure, doubts
}

// timeAgainstPlace reports whether a time error has a place error among its rivals, or a
// place error a time error.
func (a *analysis) timeAgainstPlace(t *terms.Term, rivals []int) bool {
	for _, q := range rivals {
		o := a.terms[q].Family()
		if t.Family() == "time" && o == "place" || t.Family() == "place" && o == "time" {
			return true
		}
	}
	return false
}

// ownSizes replaces an error of both lifts and drops beside an error of one of them by
// one error of lifts and one of drops. If part of both may still be a latency, it
// returns that doubt.
func (a *analysis) ownSizes(list []found) ([]found, *Doubt) {
	var doubt *Doubt
	for _, family := range [...]string{"time", "place"} {
		var of []int
		shared := false
		for i := range list {
			if list[i].Family() == family && list[i].Piece == nil && list[i].Section == 0 {
				of = append(of, i)
				shared = shared || list[i].Moves == evidence.Both
			}
		}
		if len(of) != 2 {
			continue
		}
		if shared {
			set := a.ofOneMove(family)
			for _, q := range a.chosen.Set {
				if t := &a.terms[q]; t.Family() != family {
					set = append(set, q)
				}
			}
			f, ok := a.gram().Fit(set...)
			if !ok {
				continue
			}
			was := a.chosen
			a.chosen = f
			again := a.causes()[len(a.found):]
			a.chosen = was
			list[of[0]], list[of[1]] = again[0], again[1]
		}
		one, two := &list[of[0]], &list[of[1]]
		if a.leg != evidence.Machine && family == "time" && min(math.Abs(one.Size), math.Abs(two.Size)) > 2*evidence.LeastS {
			doubt = &Doubt{Between: []Cause{Latency, one.Cause, two.Cause}}
			doubt.Why, doubt.Drive = cause.OwnOrShared(one.Moves, one.Size, two.Moves, two.Size)
			if one.Cause == two.Cause {
				doubt.Between = doubt.Between[:2]
			}
		}
	}
	return list, doubt
}

// ofOneMove returns the terms of a family that are of lifts alone or of drops alone.
func (a *analysis) ofOneMove(family string) []int {
	var out []int
	for q := range a.terms {
		if t := &a.terms[q]; t.Family() == family && t.Moves != evidence.Both {
			out = append(out, q)
		}
	}
	return out
}
