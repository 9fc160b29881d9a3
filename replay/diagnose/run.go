// One call from a day's transitions to its diagnosis.

package diagnose

import (
	"cmp"
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
)

// Run diagnoses a day. The same input, events in any order, gives the same
// answer. The error says why the day cannot be diagnosed.
func Run(in evidence.Day) (*Diagnosis, error) {
	if err := in.Check(); err != nil {
		return nil, err
	}
	seen := in.Actual
	if len(seen) == 0 {
		seen = in.Setpoint
	}
	if err := evidence.Enough(seen); err != nil {
		return nil, err
	}
	d := &Diagnosis{Causes: []Finding{}, CannotTell: []Doubt{}, Floors: []Floor{}}
	r := evidence.NewReception(in.Fixes)
	hand, kept := byHand(seen, &r)
	var parts []*analysis
	switch {
	case len(in.Actual) == 0:
		in.Setpoint = kept
		parts = []*analysis{analyse(&in, evidence.Command, &r)}
	case len(in.Setpoint) == 0:
		in.Actual = kept
		parts = []*analysis{analyse(&in, evidence.Whole, &r)}
	default:
		in.Actual = kept
		parts = []*analysis{analyse(&in, evidence.Command, &r), analyse(&in, evidence.Machine, &r)}
	}
	main := parts[0]
	if len(parts) == 2 {
		main = analyse(&in, evidence.Whole, &r)
	}
	d.Lift, d.Drop = main.fits(parts)

	w := wording{in: &in}
	var list []found
	if hand != nil {
		list = append(list, *hand)
	}
	for _, a := range parts {
		sure, doubts := a.judge(d)
		list = append(list, sure...)
		d.CannotTell = append(d.CannotTell, doubts...)
		d.Floors = append(d.Floors, a.floors()...)
	}
	slices.SortStableFunc(list, func(a, b found) int { return cmp.Compare(b.explained, a.explained) })
	for i := range list {
		d.Causes = append(d.Causes, w.finding(&list[i], parts))
	}
	if len(list) == 0 && len(d.CannotTell) == 0 && main.sigmaM > scatterM {
		d.CannotTell = append(d.CannotTell, main.scattered(&r))
	}
	return d, nil
}

// scatterM is a scatter of crossings that no RTK receiver and no valve explain.
const scatterM = 0.25

// sort parts what was found into causes and doubts, and takes numbers that a
// doubt leaves open out of the fits.
func (a *analysis) judge(d *Diagnosis) (sure []found, doubts []Doubt) {
	if len(a.moves) == 0 {
		return nil, nil
	}
	all := a.causes()
	g := a.gram()
	for i := range a.found {
		sure = append(sure, all[i])
	}
	for i := range a.chosen.Set {
		f := all[len(a.found)+i]
		var rivals []int
		if f.piece == nil {
			rivals = a.rivals(g, i)
		}
		open := f.ci[0]*f.ci[1] <= 0 // where choices alike are averaged it may be nothing
		switch {
		case f.piece != nil && open:
			continue
		case len(rivals) == 0 && !open:
			sure = append(sure, f)
			continue
		}
		doubts = append(doubts, a.doubt(&f, rivals))
		if a.leg != evidence.Machine && a.timeAgainstPlace(&f.term, rivals) {
			if f.moves != drops {
				d.Lift.unknown()
			}
			if f.moves != lifts {
				d.Drop.unknown()
			}
		}
	}
	sure, shared := a.ownSizes(sure)
	// Both off by one time and one of them by as much less is only the other off.
	sure = slices.DeleteFunc(sure, func(f found) bool {
		return math.Abs(f.size) < f.leastSize && f.piece == nil && (f.family() == "time" || f.family() == "place")
	})
	if shared != nil {
		doubts = append(doubts, *shared)
	}
	return sure, doubts
}

// crosses reports whether a time error has a place error among its rivals, or
// the other way round.
func (a *analysis) timeAgainstPlace(t *term, rivals []int) bool {
	for _, q := range rivals {
		o := a.terms[q].family()
		if t.family() == "time" && o == "place" || t.family() == "place" && o == "time" {
			return true
		}
	}
	return false
}

// split says what both alike and one of them more amount to: a lift and a drop
// error of their own. Where part of both may be a latency all the same, it
// returns the doubt.
func (a *analysis) ownSizes(list []found) ([]found, *Doubt) {
	var doubt *Doubt
	for _, family := range [...]string{"time", "place"} {
		var of []int
		shared := false
		for i := range list {
			if list[i].family() == family && list[i].piece == nil && list[i].section == 0 {
				of = append(of, i)
				shared = shared || list[i].moves == both
			}
		}
		if len(of) != 2 {
			continue
		}
		if shared {
			set := a.ofOneMove(family)
			for _, q := range a.chosen.Set {
				if t := &a.terms[q]; t.family() != family {
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
		if a.leg != evidence.Machine && family == "time" && one.size*two.size > 0 && min(math.Abs(one.size), math.Abs(two.size)) > 2*leastS {
			doubt = &Doubt{
				Between: []Cause{Latency, one.cause, two.cause},
				Why:     "Lifts and drops are both " + lateOrEarly(one.size) + ", by different times: part of it may be shared, as an old position is, or each may have its own.",
				Drive:   "Record setpoints as well as work states, or a log with arrival times: then the age of the position is measured.",
			}
			if one.cause == two.cause {
				doubt.Between = doubt.Between[:2]
			}
		}
	}
	return list, doubt
}

// alone returns the terms of lifts alone and of drops alone in a family.
func (a *analysis) ofOneMove(family string) []int {
	var out []int
	for q := range a.terms {
		if t := &a.terms[q]; t.family() == family && t.moves != both {
			out = append(out, q)
		}
	}
	return out
}
