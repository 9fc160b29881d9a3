// A lead on file that is not the one of machine and controller: the two agree, and only
// against the file do both look wrong, each by a cause of its own.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/suspect"
	"liftbench/replay/diagnose/terms"
	"liftbench/sections"
	"liftbench/sections/score/sample"
)

// explained is a day's legs as they are explained, and what was wrong with the leads on file.
type explained struct {
	legs  []*analysis
	whole *analysis
	leads []found
}

// causes counts the causes that were found on the legs, and the leads that were wrong.
func (x *explained) causes() int {
	n := len(x.leads)
	for _, a := range x.legs {
		n += len(a.chosen.Set) + len(a.found)
	}
	return n
}

// besideFileLead explains the legs with other leads on file, and takes one that leaves fewer
// causes: as long as lifts are told by, where a short pump hides it; one that counts the
// sections which share the pump; and as long as the machine takes.
func besideFileLead(day evidence.Day, x explained, r *evidence.Reception) explained {
	if len(x.legs) != 2 {
		return x
	}
	if own, ok := besideToldLead(day, &x, r); ok {
		return own
	}
	if own, fedAtOnce, ok := besideCountingLead(day, &x, r); ok {
		x, day.Settings.LiftLead.FedAtOnce = own, fedAtOnce
	}
	if own, ok := besideMeasuredLeads(day, &x, r); ok {
		return own
	}
	return x
}

// besideToldLead explains the legs with the lead that the commands are told by, if lifts are
// commanded early or late and a pump seems short: how long a short pump makes a lift take
// follows from the lead's stroke, so that a wrong one hides in what the pump does.
func besideToldLead(day evidence.Day, x *explained, r *evidence.Reception) (own explained, ok bool) {
	if !x.legs[1].hasChosen(FlowShortage) {
		return own, false
	}
	for _, f := range x.legs[0].causes() {
		if f.Cause != CommandTiming || f.Moves != evidence.Lifts {
			continue
		}
		ns := day.Settings.LiftLead.MoveNs - int64(math.Round(f.Size*1e9))
		if ns <= 0 {
			break
		}
		day.Settings.LiftLead.MoveNs = ns
		lead := f.AsLead()
		lead.Cause = FileLead
		own.legs, own.whole = analyseLegs(&day, r)
		own.leads = append(slices.Clone(x.leads), lead)
		machine := own.legs[1] // of a stroke known no better, a pump is known no better
		machine.unsureFed = machine.pump.Fed * lead.Half() / (float64(ns) * 1e-9)
		was, is := x.causes(), own.causes()
		if own.legs[0].hasChosen(CommandTiming) || is > was || is == was && own.legs[1].misfitM2()*alike > x.legs[1].misfitM2() {
			break
		}
		return own, true
	}
	return own, false
}

// besideCountingLead explains the legs with a lift lead that counts the sections which share
// the pump, if from setpoint to work state the pump seems short, and on the whole way it does
// not.
func besideCountingLead(day evidence.Day, x *explained, r *evidence.Reception) (own explained, fedAtOnce float64, ok bool) {
	told, machine := x.legs[0], x.legs[1]
	lead := &day.Settings.LiftLead
	if len(told.chosen.Set) == 0 || !machine.hasChosen(FlowShortage) || x.whole.hasChosen(FlowShortage) ||
		machine.pump.Kind != evidence.Lifts || machine.pump.StoreS > 0 || lead.FedAtOnce > 0 {
		return own, 0, false
	}
	all := machine.causes()
	short := all[slices.IndexFunc(all, func(f found) bool { return f.Cause == FlowShortage })]
	most := 1 + machine.most(func(m *evidence.Move) float64 { return m.Beside })
	moveS := day.LiftMoveS()
	lead.FedAtOnce, lead.TravelNs = short.Feeds, max(lead.TravelNs, lead.MoveNs)
	own.legs, own.whole = analyseLegs(&day, r)
	if own.legs[1].hasChosen(FlowShortage) {
		return own, 0, false
	}
	longer := func(feeds float64) float64 { return moveS * max(0, most/feeds-1) }
	f := found{
		Term: terms.Term{Cause: FileLead, Moves: evidence.Lifts, LeastSize: evidence.LeastS}, Crossings: short.Crossings, SumM2: short.SumM2,
		Size: longer(short.Feeds), CI95: Interval{longer(short.FeedsCI95[1]), longer(short.FeedsCI95[0])},
	}
	f.Evidence, f.Change = cause.Counting(f.Size, f.CI95, short.Feeds, short.FeedsCI95, most)
	own.leads = append(slices.Clone(x.leads), f)
	return own, short.Feeds, own.causes() < x.causes()
}

// besideMeasuredLeads explains the legs with leads as long as the machine takes, if on the
// whole way from border to work state nothing is wrong, and on both of its legs something is.
func besideMeasuredLeads(day evidence.Day, x *explained, r *evidence.Reception) (own explained, ok bool) {
	if len(x.whole.chosen.Set)+len(x.whole.found) > 0 || x.simple() {
		return own, false
	}
	machine := x.legs[1]
	var takes [2][]float64
	for i := range machine.moves {
		m := &machine.moves[i]
		takes[evidence.Way(m.On)] = append(takes[evidence.Way(m.On)], m.LateM/m.SpeedMps)
	}
	var byS [2]float64
	for way, lead := range [...]*sections.Lead{&day.Settings.LiftLead, &day.Settings.DropLead} {
		if len(takes[way]) == 0 {
			continue
		}
		byS[way] = sample.Median(takes[way])
		if lead.MoveNs += int64(math.Round(byS[way] * 1e9)); lead.MoveNs <= 0 {
			return own, false
		}
		lead.TravelNs = max(lead.TravelNs, lead.MoveNs)
	}
	own.legs, own.whole = analyseLegs(&day, r)
	own.leads = slices.Clone(x.leads)
	for way, of := range [...]evidence.Kind{evidence.Lifts, evidence.Drops} {
		f := own.legs[1].stillSlow(of)
		if f == nil {
			continue
		}
		f.Size, f.CI95 = f.Size+byS[way], Interval{f.CI95[0] + byS[way], f.CI95[1] + byS[way]}
		if math.Abs(f.Size) >= day.LeastLeadS() && f.CI95[0]*f.CI95[1] > 0 {
			own.leads = append(own.leads, *f)
		}
	}
	if counting, _, ok := besideCountingLead(day, &own, r); ok {
		own = counting
	}
	return own, own.causes() <= x.causes() && own.causes() == len(own.leads)
}

// simple reports whether what was found on the legs is nothing, or sure, and no more than an
// early command and a slow machine of one size.
func (x *explained) simple() bool {
	var all []found
	for _, a := range x.legs {
		if len(a.chosen.Set) == 0 {
			return true
		}
		sure, doubts := a.judge(&Diagnosis{})
		if len(doubts) > 0 {
			return false
		}
		all = append(all, sure...)
	}
	return !slices.ContainsFunc(suspect.FileLeads(all, 0), func(f found) bool { return f.Cause != FileLead })
}

// stillSlow is what is left from setpoint to work state of lifts or of drops as an error of
// the lead on file.
func (a *analysis) stillSlow(of evidence.Kind) *found {
	q := slices.IndexFunc(a.terms, func(t terms.Term) bool { return t.Cause == MachineSlow && t.Moves == of })
	if q < 0 {
		return nil
	}
	fit, ok := a.gram().Fit(q)
	if !ok {
		return nil
	}
	f := &found{Term: a.terms[q], Size: fit.Beta[0], CI95: fit.Interval(0)}
	f.Cause = FileLead
	for _, k := range a.rows {
		if of.Applies(a.crossings[k].On) != 0 {
			f.Crossings++
		}
	}
	for i := range a.moves {
		part := of.Applies(a.moves[i].On) * a.moves[i].SpeedMps * f.Size
		f.SumM2 += part * part
	}
	return f
}
