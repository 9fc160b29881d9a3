// One leg of a day's transitions, from moves to causes.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/peers"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/suspect"
	"liftbench/replay/diagnose/terms"
)

// analysis is the regression over the crossings on one leg.
type analysis struct {
	leg       evidence.Leg
	moves     []evidence.Move
	sharing   *evidence.Sharing
	tried     *evidence.Tried
	pump      fed
	crossings []evidence.Crossing
	found     []found // causes found outside the regression: slow sections, heading, reception
	oneState  bool    // one state was recorded for the whole machine

	terms   []terms.Term
	rows    []int       // crossings that are used, by index
	columns [][]float64 // of each term, one value for each row, weighted
	y       []float64   // response, weighted
	weight  []float64
	members []float64   // moves of each row
	chosen  regress.Fit // the causes that were chosen
	sigmaM  float64     // scatter of a crossing around them
	lastS   float64     // from the day's first transition to its last
	// timeScatterS is what the grid of recorded times adds to a move's scatter, and roughM
	// the least spread of the rows that is believed when outliers are looked for.
	timeScatterS, roughM float64
	// sectionS is the smallest delay of one section that would be seen.
	sectionS float64
	// unsureFed is how many more or fewer sections the pump may feed, as what its estimate is
	// made beside is known no better; half a 95 % interval.
	unsureFed float64
}

// noiseFloorM is the least scatter of a crossing that is believed.
const noiseFloorM = 0.001

// Slow sections and a short pump are estimated again, each with the other known, until the
// delays have settled: a round leaves a fifth to seven tenths of the error (evidence.Round).
const (
	rounds   = 8 // at most
	settledS = 0.0002
	nearS    = 0.010 // delays that changed by less leave the pump nearly what it was
)

// analyse finds the causes on one leg. A slow section and a short pump disturb each
// other's estimate, because a section that begins late has the pump to itself. The same
// holds for a place error and a driver who brakes. So these are estimated again with
// the others known.
//
// A pump that feeds several is taken only if it explains the day better than one that feeds
// one section and makes each other one late by the same.
func analyse(day *evidence.Day, leg evidence.Leg, r *evidence.Reception) *analysis {
	a := analyseInRounds(day, leg, r, false)
	if a.hasChosen(FlowShortage) && a.pump.Fed > 1 {
		if one := analyseInRounds(day, leg, r, true); one.hasChosen(FlowShortage) && one.simplerThan(a) {
			return one
		}
	}
	return a
}

// analyseInRounds finds the causes on one leg; with oneFed, beside a pump that feeds one.
func analyseInRounds(day *evidence.Day, leg evidence.Leg, r *evidence.Reception, oneFed bool) *analysis {
	one := fed{Shortage: evidence.OneFed, fixed: oneFed}
	a := analyseKnowing(day, leg, r, known{pump: one})
	if flowS, short := a.flowS(); short && len(a.found) > 0 && !oneFed {
		// Sections that often begin last look slow while the pump is not known.
		a = analyseKnowing(day, leg, r, known{flowS: flowS, pump: a.pump})
	}
	// What drops show of a section's delay owes nothing to a pump that lifts alone share.
	slowS, slow := a.slowS(len(day.Machine.Sections))
	if slow && a.pump.Kind == evidence.Lifts {
		for i := range a.found {
			if f := &a.found[i]; f.Cause == SlowSection && f.Moves != evidence.Lifts {
				slowS[0][f.Section-1] = f.LateS[1]
			}
		}
	}
	var before evidence.Round
	for round := range rounds {
		if day.Stopped() != nil {
			break // Run returns the error
		}
		flowS, short := a.flowS()
		shared := slow && (short || day.Settings.LiftLead.FedAtOnce > 0)
		placeM, bent := a.placeErrorsM()
		if !shared && (!bent || round > 2) {
			break
		}
		know := known{slowS: slowS, flowS: flowS, pump: a.pump, placeM: placeM}
		know.pump.near = round > 0 && a.pump.found != nil && slowS.ApartS(before.Tried) < nearS
		if !shared {
			know = known{pump: one, placeM: placeM}
		}
		a = analyseKnowing(day, leg, r, know)
		was := slowS
		slowS, slow = a.slowS(len(day.Machine.Sections))
		if shared && round > 1 && was.ApartS(slowS) < settledS {
			break
		}
		this := evidence.Round{Tried: was, Gave: slowS}
		if shared && round > 0 {
			slowS = this.Beyond(before)
		}
		before = this
	}
	return a
}

// slowS returns how much later each section moves than the others; any is false if none
// does.
func (a *analysis) slowS(sections int) (by evidence.SlowS, any bool) {
	for way := range by {
		by[way] = make([]float64, sections)
		for i := range a.found {
			if f := &a.found[i]; f.Cause == SlowSection && f.Moves.Applies(way == 1) != 0 {
				by[way][f.Section-1], any = f.LateS[way], true
			}
		}
	}
	return by, any
}

// flowS returns what each other rising section adds to a lift, if a flow shortage was
// chosen.
func (a *analysis) flowS() (by float64, any bool) {
	for i, q := range a.chosen.Set {
		if a.terms[q].Cause == FlowShortage {
			return a.chosen.Beta[i], true
		}
	}
	return 0, false
}

// known is what the causes on a leg are found beside.
type known struct {
	slowS  evidence.SlowS // sections begin to move so late
	flowS  float64        // each other rising section adds so much, with the pump
	pump   fed
	placeM []float64 // the place error of each move over which its change of speed is followed; nil = the median
}

// analyseKnowing finds the causes beside what is known.
func analyseKnowing(day *evidence.Day, leg evidence.Leg, r *evidence.Reception, know known) *analysis {
	slowS, placeM := know.slowS, know.placeM
	a := &analysis{leg: leg}
	if day.Stopped() == nil {
		a.moves = day.Moves(leg, slowS)
	}
	if len(a.moves) == 0 {
		return a
	}
	for i := range a.moves {
		a.timeScatterS += a.moves[i].GridS / float64(len(a.moves))
	}
	a.sharing = day.Sharing(leg, slowS, a.moves)
	a.setPump(know.pump)
	if placeM == nil {
		placeM = evidence.TypicalPlaces(a.moves)
	}
	evidence.SetPerPlace(a.moves, placeM)
	a.crossings = evidence.Crossings(a.moves)
	for k := range a.crossings {
		evidence.SetLevers(a.moves, &a.crossings[k])
	}
	a.oneState = evidence.OneState(a.moves, a.crossings)
	a.lastS = a.moves[len(a.moves)-1].SinceS
	if !a.oneState && leg != evidence.Command {
		a.found, a.sectionS = suspect.SlowSections(a.moves, a.crossings, len(day.Machine.Sections), peers.PumpedBy(a.moves, know.flowS, pumpKnown))
	}
	others := 0.0
	if !a.oneState {
		others = a.mostOthers()
	}
	base := terms.Dictionary(leg, a.lastS, others)
	a.setSoonest(day, base)

	var total evidence.Poor
	if leg != evidence.Machine {
		leadNs := max(day.Settings.LiftLead.AloneNs(), day.Settings.DropLead.AloneNs())
		total = r.Mark(a.crossings, leadNs)
	}
	slow := slices.Clone(a.found)
	a.explain(base, &total)
	if a.oneState || leg == evidence.Machine {
		return a
	}
	if f := a.headingError(); f != nil {
		a.found = append(slow, *f)
		a.explain(base, &total)
	}
	return a
}

// setSoonest says of each time, and of each place after the command, how early it can make
// transitions.
func (a *analysis) setSoonest(day *evidence.Day, list []terms.Term) {
	slowest := math.Inf(1)
	for i := range a.moves {
		slowest = min(slowest, a.moves[i].SpeedMps)
	}
	lead := [2]float64{float64(day.Settings.LiftLead.AloneNs()) * 1e-9, float64(day.Settings.DropLead.AloneNs()) * 1e-9}
	for q := range list {
		t, told := &list[q], a.leg == evidence.Machine
		switch {
		case t.Family() == "time" && a.leg != evidence.Command:
			t.Soonest = &terms.Soonest{LeadS: lead, PerUnit: 1, Told: told}
		case t.Family() == "place" && told:
			t.Soonest = &terms.Soonest{LeadS: lead, PerUnit: 1 / slowest, Told: told}
		}
	}
}

// explain chooses the causes of the crossings. If those with poor reception are worse
// than the others, that is a cause and they are not used for the choice.
func (a *analysis) explain(base []terms.Term, total *evidence.Poor) {
	good := make([]int, 0, len(a.crossings))
	all := make([]int, 0, len(a.crossings))
	for k := range a.crossings {
		all = append(all, k)
		if !a.crossings[k].Poor {
			good = append(good, k)
		}
	}
	if len(good) < len(all) && len(good) >= regress.LeastUsual {
		a.chooseFrom(base, good)
		if f := a.reception(all); f != nil {
			f.Note = total.String()
			a.found = append(a.found, *f)
			return
		}
	}
	a.chooseFrom(base, all)
}

// mean returns the mean of x over the moves of crossing k. A median would be biased:
// sections that share a pump are skewed.
func (a *analysis) mean(k int, x func(m *evidence.Move) float64) float64 {
	sum := 0.0
	for _, i := range a.crossings[k].Changes {
		sum += x(&a.moves[i])
	}
	return sum / float64(len(a.crossings[k].Changes))
}

// build makes a row of each of the crossings in rows, with the columns of the terms.
func (a *analysis) build(terms []terms.Term, rows []int) {
	a.terms, a.rows, a.tried = slices.Clone(terms), slices.Clone(rows), evidence.NewTried()
	a.columns = make([][]float64, len(terms))
	a.y = make([]float64, len(rows))
	a.weight = make([]float64, len(rows))
	a.members = make([]float64, len(rows))
	speed := make([]float64, len(rows))
	for r, k := range rows {
		a.y[r] = a.mean(k, func(m *evidence.Move) float64 { return m.LateM })
		a.members[r] = float64(len(a.crossings[k].Changes))
		speed[r] = a.mean(k, func(m *evidence.Move) float64 { return m.SpeedMps })
	}
	grid, roughM := evidence.GridWeights(a.moves, a.crossings, rows)
	a.roughM = max(noiseFloorM, roughM)
	for r := range a.weight {
		a.weight[r] = 1
	}
	for t := range terms {
		a.columns[t] = a.column(terms[t].PerUnitM)
	}
	a.weigh(speed, grid)
}

// weigh decides whether crossings scatter by a length (position) or by a time (clocks,
// valves, hands). If by a time, each row is divided by its speed. The two are compared by
// the likelihood of normal residuals from the fit of Δx and Δt, separate for lifts and drops.
// Rows that a grid of times leaves less known weigh so much less: grid is 1 where it leaves
// nothing.
func (a *analysis) weigh(speed, grid []float64) {
	a.weight = regress.Inverse(speed)
	regress.Scale(a.weight, grid)
	if a.leg != evidence.Machine {
		var cols [][]float64
		for t := range a.terms {
			switch a.terms[t].Cause {
			case LiftTiming, DropTiming, CommandTiming, LiftGeometry, DropGeometry:
				cols = append(cols, a.columns[t])
			}
		}
		n := float64(len(a.y))
		if !(regress.LogScatter(cols, a.y, a.weight, noiseFloorM) < regress.LogScatter(cols, a.y, grid, noiseFloorM)-4/n) {
			copy(a.weight, grid)
		}
	}
	regress.Scale(a.y, a.weight)
	for _, c := range a.columns {
		regress.Scale(c, a.weight)
	}
}

// beyondGrid is what is left of a standard deviation in m without the grid's part of it.
func (a *analysis) beyondGrid(scatterM float64) float64 {
	grid := a.timeScatterS * a.speedMps()
	return math.Sqrt(max(0, scatterM*scatterM-grid*grid))
}

// speedMps is the mean speed of the moves.
func (a *analysis) speedMps() float64 {
	sum := 0.0
	for i := range a.moves {
		sum += a.moves[i].SpeedMps
	}
	return sum / math.Max(1, float64(len(a.moves)))
}

// chooseFrom chooses the causes of the crossings in rows.
func (a *analysis) chooseFrom(base []terms.Term, rows []int) {
	a.build(base, rows)
	a.findPump(a.lines())
	a.chosen = a.chooseRobustly()
	a.warm()
	a.settlePump()
	if a.leg != evidence.Machine {
		// Look for a wrong piece of border beside the chosen causes, and without them.
		at, out := a.middles()
		for _, from := range [2]regress.Fit{a.chosen, {DF: len(a.y)}} {
			r := slices.Clone(a.y)
			for i, p := range regress.Predict(&from, a.columns, len(a.y)) {
				r[i] -= p
			}
			if p, col, ok := regress.Scan(at, out, r, &from, a.columns, noiseFloorM, evidence.LeastM); ok {
				a.terms = append(a.terms, terms.Term{Cause: WrongBorder, Tried: p.Tried, LeastSize: evidence.LeastM, Piece: p})
				a.columns = append(a.columns, col)
			}
		}
		if len(a.terms) > len(base) {
			a.chosen = a.chooseRobustly()
		}
	}
	a.dropOutliers()
}

// chooseRobustly chooses terms, moves outliers to the limit, and chooses again until
// neither the choice nor its sizes change.
func (a *analysis) chooseRobustly() regress.Fit {
	var f regress.Fit
	y := a.y
	for range 30 {
		next := terms.Choose(regress.NewGram(a.columns, y, a.roughM), a.terms)
		done := slices.Equal(next.Set, f.Set) && settled(&next, &f)
		f = next
		if done {
			break
		}
		y = regress.Clipped(a.y, regress.Predict(&f, a.columns, len(a.y)), len(f.Set), a.roughM)
	}
	return f
}

// settled reports whether the sizes changed by less than a tenth of their standard errors.
func settled(now, before *regress.Fit) bool {
	for i := range now.Beta {
		if math.Abs(now.Beta[i]-before.Beta[i]) > 0.1*now.SE(i) {
			return false
		}
	}
	return now.DF == before.DF
}

// dropOutliers leaves out crossings beyond regress.ClipAt robust standard deviations and
// fits the chosen terms to the others: reweighted least squares (Rousseeuw and Leroy,
// Robust Regression and Outlier Detection, 1987; from memory).
func (a *analysis) dropOutliers() {
	fit := regress.Predict(&a.chosen, a.columns, len(a.y))
	limit := regress.ClipAt(len(a.y), len(a.chosen.Set)) * regress.Spread(a.y, fit, len(a.chosen.Set), a.roughM)
	keep := a.y[:0]
	kept := 0
	for r := range fit {
		if math.Abs(a.y[r]-fit[r]) > limit {
			continue
		}
		keep = append(keep, a.y[r])
		for _, c := range a.columns {
			c[kept] = c[r]
		}
		a.weight[kept], a.members[kept], a.rows[kept] = a.weight[r], a.members[r], a.rows[r]
		kept++
	}
	a.y, a.weight, a.members, a.rows = keep, a.weight[:kept], a.members[:kept], a.rows[:kept]
	for t := range a.columns {
		a.columns[t] = a.columns[t][:kept]
	}
	if f, ok := a.gram().FitMost(a.chosen.Set); ok {
		a.chosen = f
	}
	a.sigmaM = a.chosen.Sigma
}

func (a *analysis) gram() *regress.Gram { return regress.NewGram(a.columns, a.y, a.roughM) }

// middles returns where the rows are, and their column of a border that is too far out.
func (a *analysis) middles() ([]regress.Point, []float64) {
	at, out := make([]regress.Point, len(a.rows)), make([]float64, len(a.rows))
	for r, k := range a.rows {
		n := float64(len(a.crossings[k].Changes))
		for _, i := range a.crossings[k].Changes {
			at[r].EastM += a.moves[i].EastM / n
			at[r].NorthM += a.moves[i].NorthM / n
		}
		out[r] = a.mean(k, terms.Outward) * a.weight[r]
	}
	return at, out
}

// bentPlace is how much Move.PerPlace may be off before the causes are estimated again.
const bentPlace = 0.005

// placeErrorsM returns the place error of each move by the chosen causes; the median if
// none of them is a place error. bent is true if that changes Move.PerPlace.
func (a *analysis) placeErrorsM() (placeM []float64, bent bool) {
	if len(a.moves) == 0 {
		return nil, false
	}
	placeM = evidence.TypicalPlaces(a.moves)
	var chosen [2]bool
	sum := make([]float64, len(a.moves))
	for j, q := range a.chosen.Set {
		t := &a.terms[q]
		if t.Family() != "place" && t.Piece == nil {
			continue
		}
		for r, k := range a.rows {
			if t.Piece != nil && a.columns[q][r] == 0 {
				continue
			}
			for _, i := range a.crossings[k].Changes {
				m := &a.moves[i]
				x := terms.Outward
				if t.Piece == nil {
					x = t.PerUnitM
				}
				sum[i] += a.chosen.Beta[j] * x(m) / m.PerPlace
			}
		}
		if t.Piece == nil {
			for way := range chosen {
				chosen[way] = chosen[way] || t.Moves.Applies(way == 1) != 0
			}
		}
	}
	for i := range a.moves {
		m := &a.moves[i]
		if chosen[evidence.Way(m.On)] || sum[i] != 0 {
			placeM[i] = sum[i]
		}
		bent = bent || math.Abs(m.PerPlaceAt(placeM[i])-m.PerPlace) > bentPlace
	}
	return placeM, bent
}

// reception compares the crossings with poor reception, which were left out, with the
// others, by their residuals from the chosen causes.
func (a *analysis) reception(all []int) *found {
	var bad, good []float64
	explained := 0.0
	for _, k := range all {
		c := &a.crossings[k]
		sum, n := 0.0, float64(len(c.Changes))
		for _, i := range c.Changes {
			m := &a.moves[i]
			left := m.LateM
			for j, q := range a.chosen.Set {
				if t := &a.terms[q]; t.Piece == nil {
					left -= a.chosen.Beta[j] * t.PerUnitM(m)
				}
			}
			sum += left / m.SpeedMps / n
			if c.Poor {
				explained += left * left
			}
		}
		if c.Poor {
			bad = append(bad, math.Abs(sum))
		} else {
			good = append(good, math.Abs(sum))
		}
	}
	f := suspect.WorseReception(bad, good)
	if f != nil {
		f.SumM2 = explained
	}
	return f
}

// causes returns what was found outside the regression, then the chosen terms.
func (a *analysis) causes() []found {
	out := slices.Clone(a.found)
	share := 0.0
	if a.leg != evidence.Machine {
		share = regress.WanderingShare(a.left(), a.chosen.Sigma, a.alikeness)
	}
	g := a.gram()
	for i, q := range a.chosen.Set {
		f := found{Term: a.terms[q], Chosen: true, Leg: a.leg}
		list, by := a.alternatives(g, i), a.widening(i, share)
		f.Size = regress.Averaged(list, by, 0.5)
		f.CI95 = Interval{regress.Averaged(list, by, 0.025), regress.Averaged(list, by, 0.975)}
		if beside, wide := a.besideOpposite(g, i, by); wide {
			f.CI95 = Interval{min(beside[0], f.Size), max(beside[1], f.Size)}
		}
		if f.Cause == MachineSlow { // not before it is told to
			least := -f.Soonest.LeadS[evidence.Way(f.Moves == evidence.Drops)]
			f.Size, f.CI95[0] = max(f.Size, least), max(f.CI95[0], least)
		}
		if s := f.Piece; s != nil {
			f.CI95 = Interval{min(f.CI95[0], f.Size-s.BelowM), max(f.CI95[1], f.Size+s.AboveM)}
		}
		for r, x := range a.columns[q] {
			if x != 0 {
				f.Crossings++
				part := x / a.weight[r] * f.Size
				f.SumM2 += a.members[r] * part * part
			}
		}
		if f.Cause == FlowShortage {
			f.Feeds, f.FeedsCI95 = a.feeds(by)
		}
		out = append(out, f)
	}
	return out
}
