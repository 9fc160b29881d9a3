// The offset and the drift of a clock, from how late lifts and drops are alike.

package clock

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/regress"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

// list is one list of changes on its way to a Clock.
type list struct {
	events          []score.Event // as recorded
	moved           []score.Event // the same, their times less movedNs, paired anew
	movedNs         int64
	coarse          bool // a shift of many seconds was needed
	leadS           func([]score.Event) []float64
	grid            Grid
	polls           *Polls
	fit             fit
	ok              bool // fit is known
	firstNs, lastNs int64
}

// gridded finds the grid of the list's times.
func (l *list) gridded() {
	var times []int64
	for i := range l.events {
		if e := &l.events[i]; e.Kind == score.Paired || e.Kind == score.Spurious || e.Kind == score.Start {
			times = append(times, e.ActualNs)
		}
	}
	if len(times) > 0 {
		l.firstNs, l.lastNs = slices.Min(times), slices.Max(times)
	}
	l.grid = GridOf(times)
	if l.polls = l.polls.beside(&l.grid); l.polls != nil {
		// Where the intervals themselves are known, the grid tells nothing more.
		l.grid = Grid{}
		l.events = paired(l.events, func(e *score.Event) int64 { return l.polls.middleNs(e.Section, e.ActualNs) })
	}
}

// pairAnewS is the shift from which on changes are paired anew.
const pairAnewS = 0.5

// align finds the shift of the list: coarse first, then by regression.
func (l *list) align() {
	l.moved = l.events
	if len(l.events) == 0 {
		return
	}
	l.movedNs = coarseNs(l.events)
	l.coarse = l.movedNs != 0
	if l.coarse {
		l.moved = paired(l.events, l.back)
	}
	for range 3 {
		if l.fit, l.ok = fitRows(l.rows(), l.leadS == nil); !l.ok || math.Abs(l.fit.shiftS) < pairAnewS {
			return
		}
		l.movedNs += int64(math.Round(l.fit.shiftS * 1e9))
		l.moved = paired(l.events, l.back)
	}
	l.fit, l.ok = fitRows(l.rows(), l.leadS == nil)
}

func (l *list) back(e *score.Event) int64 { return e.ActualNs - l.movedNs }

// row is one crossing of the bar.
type row struct {
	on              bool
	lateS, speedMps float64
	ns              int64
}

// leastMps is the least speed at which a time is told from a place.
const leastMps = 0.3

// rows returns how late each crossing is: the median of its sections, so that a slow one
// does not count; on a grid and between polls, where a median lies on a step, the mean.
func (l *list) rows() []row {
	var leadS []float64
	if l.leadS != nil {
		leadS = l.leadS(l.moved)
	}
	var at []int
	for i := range l.moved {
		if e := &l.moved[i]; e.Kind == score.Paired && e.SpeedMps > leastMps {
			at = append(at, i)
		}
	}
	slices.SortStableFunc(at, func(a, b int) int {
		return int(max(-1, min(l.moved[a].IdealNs-l.moved[b].IdealNs, 1)))
	})
	changes := make([]sections.WorkChange, len(at))
	for k, i := range at {
		e := &l.moved[i]
		changes[k] = sections.WorkChange{TimeNs: e.IdealNs, Section: e.Section, On: e.On}
	}
	var out []row
	for _, c := range score.Crossings(changes) {
		r := row{on: c.On, ns: c.FromNs}
		late := make([]float64, len(c.Changes))
		for k, x := range c.Changes {
			e := &l.moved[at[x]]
			late[k] = e.TimeErrorS
			if leadS != nil {
				late[k] += leadS[at[x]]
			}
			r.speedMps += e.SpeedMps / float64(len(late))
		}
		if l.grid.StepNs == 0 && l.polls == nil {
			r.lateS = sample.Median(late)
		} else {
			r.lateS, _ = sample.MeanSD(late)
		}
		out = append(out, r)
	}
	return out
}

// own is how late lifts alone are, or drops alone.
type own struct {
	lateS, halfS float64 // and half of its 95 % interval
	told         bool    // by the speeds; otherwise a place of up to likelyM may be part of it
	// meanS is how late they are whatever is a place in it, and half of its 95 % interval.
	meanS, meanHalfS float64
}

// known reports whether the moves are certainly not on time.
func (o *own) known(byS float64) bool { return math.Abs(byS+o.lateS) > o.halfS }

// fit is what the rows of a list have in common.
type fit struct {
	ways          [2]own
	shiftS, halfS float64 // by how much all are late, and half of its 95 % interval
	plainS        float64 // mean lateness, whatever is a place in it
	speedMps      float64 // mean
	driftS        float64 // how much later the last are than the first
	crossings     int
}

const (
	// leastCrossings of each kind tell an offset.
	leastCrossings = 4
	// unsureS is the standard error of a shift above which the speeds cannot tell it from
	// a place; then a place of up to likelyM is taken to be part of it.
	unsureS, likelyM = 0.15, 0.5
	// leastDriftS is the least drift that is called one, in all and over its standard error;
	// sureOwn is how many of its own lifts alone, and drops alone, must show.
	leastDriftS, sureDrift, sureOwn = 0.050, 5.0, 2.0
	// mostColdS is more than cold oil makes tools late (common practice, no source).
	mostColdS = 1.0
	// wander widens intervals: position errors of crossings soon after another are alike.
	wander = 1.3
	// leastScatterM is the least scatter of a crossing that is believed.
	leastScatterM = 0.001
	// leastHalfS: no offset is known better than a valve repeats (common practice, no
	// source).
	leastHalfS = 0.005
)

// Columns of the fit late·v = Δx + v·(shift + drift·t), t from -1/2 at the first row to 1/2
// at the last; of lifts and of drops there is one place and one time each.
const (
	liftPlace = iota
	dropPlace
	liftTime
	dropTime
	bothTime
	drift
	fitColumns
)

// fitRows fits what lifts and drops have, each alone and both together. tools are rows of
// work states: their lateness also fades as the oil warms, so only what grows, or fades by
// more, is a clock's.
func fitRows(rows []row, tools bool) (f fit, ok bool) {
	f.crossings = len(rows)
	var of [2][]row
	for _, r := range rows {
		of[wayOf(r.on)] = append(of[wayOf(r.on)], r)
	}
	if min(len(of[0]), len(of[1])) < leastCrossings {
		return f, false
	}
	first, last := rows[0].ns, rows[0].ns
	for _, r := range rows {
		first, last = min(first, r.ns), max(last, r.ns)
		f.plainS += r.lateS / float64(len(rows))
		f.speedMps += r.speedMps / float64(len(rows))
	}
	columns, y, start := fitted(rows, first, last)
	set := []int{liftTime, dropTime}
	drifts := true
	var ownDrift [2]regress.Fit
	for way := range of {
		f.ways[way].setMean(of[way])
		columns, y, start := fitted(of[way], first, last)
		if alone, ok := robust(columns, y, start, liftTime+way, liftPlace+way, drift); ok && alone.SE(0) <= unsureS {
			f.ways[way].told = true
			set = append(set, liftPlace+way)
			ownDrift[way] = alone
		} else if ownDrift[way], ok = robust(columns, y, start, liftTime+way, drift); !ok {
			drifts = false
		}
	}
	all, ok := robust(columns, y, start, append(set, drift)...)
	if ok && drifts {
		at := len(set)
		f.driftS = all.Beta[at]
		d := math.Abs(f.driftS)
		drifts = d >= leastDriftS && d >= sureDrift*all.SE(at) && !(tools && f.driftS < 0 && d < mostColdS)
		for way := range of { // lifts and drops alike
			o := &ownDrift[way]
			k := len(o.Beta) - 1
			drifts = drifts && o.Beta[k]*f.driftS > 0 && math.Abs(o.Beta[k]) >= sureOwn*o.SE(k)
		}
	}
	if !ok || !drifts {
		f.driftS = 0
		if all, ok = robust(columns, y, start, set...); !ok {
			return f, false
		}
	}
	for way := range f.ways {
		o := &f.ways[way]
		o.lateS, o.halfS = all.Beta[way], halfOf(&all, way)
		if !o.told {
			o.halfS += likelyM / f.speedMps
		}
	}
	return f, f.share(columns, y, start)
}

// setMean finds the mean of rows.
func (o *own) setMean(rows []row) {
	late := make([]float64, len(rows))
	for i := range rows {
		late[i] = rows[i].lateS
	}
	mean, sd := sample.MeanSD(late)
	o.meanS, o.meanHalfS = mean, max(leastHalfS, wander*regress.Around(0, sd/math.Sqrt(float64(len(rows))), len(rows)-1)[1])
}

// share finds the shift of lifts and drops together: by those that the speeds tell, if any.
func (f *fit) share(columns [][]float64, y, start []float64) bool {
	lift, drop := &f.ways[0], &f.ways[1]
	switch {
	case lift.told && drop.told:
		set := []int{bothTime, liftPlace, dropPlace}
		if f.driftS != 0 {
			set = append(set, drift)
		}
		both, ok := robust(columns, y, start, set...)
		if !ok {
			return false
		}
		f.shiftS, f.halfS = both.Beta[0], halfOf(&both, 0)
	case lift.told:
		f.shiftS, f.halfS = lift.lateS, lift.halfS
	case drop.told:
		f.shiftS, f.halfS = drop.lateS, drop.halfS
	default:
		f.shiftS, f.halfS = (lift.lateS+drop.lateS)/2, max(lift.halfS, drop.halfS)
	}
	return true
}

// halfOf is half of the 95 % interval of a coefficient.
func halfOf(f *regress.Fit, i int) float64 {
	return max(leastHalfS, wander*regress.Around(0, f.SE(i), f.DF)[1])
}

// fitted returns the columns of rows, what is fitted to them, and a first guess of it.
func fitted(rows []row, first, last int64) (columns [][]float64, y, start []float64) {
	columns = make([][]float64, fitColumns)
	for c := range columns {
		columns[c] = make([]float64, len(rows))
	}
	y, start = make([]float64, len(rows)), make([]float64, len(rows))
	middle := middleLate(rows)
	for i, r := range rows {
		way := wayOf(r.on)
		y[i], start[i] = r.lateS*r.speedMps, middle[way]*r.speedMps
		columns[liftPlace+way][i] = 1
		columns[liftTime+way][i] = r.speedMps
		columns[bothTime][i] = r.speedMps
		columns[drift][i] = (float64(r.ns-first)/float64(last-first) - 0.5) * r.speedMps
	}
	return columns, y, start
}

// robust fits a set of columns with outliers moved in to a limit, from a first guess.
func robust(columns [][]float64, y, guess []float64, set ...int) (f regress.Fit, ok bool) {
	fitted := guess
	for range 12 {
		clipped := regress.Clipped(y, fitted, len(set), leastScatterM)
		if f, ok = regress.NewGram(columns, clipped, leastScatterM).Fit(set...); !ok {
			return f, false
		}
		fitted = regress.Predict(&f, columns, len(y))
	}
	return f, true
}

// middleLate returns the median lateness of lifts and of drops, s.
func middleLate(rows []row) (s [2]float64) {
	var late [2][]float64
	for i := range rows {
		way := wayOf(rows[i].on)
		late[way] = append(late[way], rows[i].lateS)
	}
	return [2]float64{sample.Median(late[0]), sample.Median(late[1])}
}

// wayOf is 0 for lifts and 1 for drops.
func wayOf(on bool) int {
	if on {
		return 1
	}
	return 0
}

const (
	// alikeS is by how much lifts and drops may differ beside an offset and still be alike:
	// no controller and no valve repeats better (common practice, no source).
	alikeS = 0.1
	// mostLeadS is by how much one of the two leads may be wrong as well, and the rest, that
	// both have in common, still be called an offset.
	mostLeadS = 0.75
	// farM is the longest place error of lifts and drops alike, such as that of an antenna
	// on the other end of the machine. On a day of one speed a shift must be further.
	farM = 3.0
	// longestS is the longest lead that can be set: no lead explains a shift of more.
	longestS = sections.MaxLeadNs * 1e-9
	// unsureShare: an offset counts where even this share of its half interval less is none
	// of a latency's.
	unsureShare = 0.2
)

// alike reports whether lifts and drops are late by the same, as far as they tell.
func (f *fit) alike() bool {
	return math.Abs(f.ways[0].lateS-f.ways[1].lateS) <= math.Hypot(f.ways[0].halfS, f.ways[1].halfS)+alikeS
}

// commonS is what lifts and drops have in common, and how much more or less it is if the
// other of the two has the right lead.
func (l *list) commonS() (s, slackS float64) {
	movedS := float64(l.movedNs) * 1e-9
	if l.fit.alike() {
		return movedS + l.fit.shiftS, 0
	}
	lift, drop := movedS+l.fit.ways[0].lateS, movedS+l.fit.ways[1].lateS
	_, whyLift := nominalS(lift)
	_, whyDrop := nominalS(drop)
	switch {
	case l.coarse && whyLift != Unset && whyDrop != Unset:
		nominal, _ := nominalS(lift)
		if math.Abs(lift-nominal) > math.Abs(drop-nominal) {
			lift, drop = drop, lift
		}
	case l.coarse && whyLift != Unset:
	case l.coarse && whyDrop != Unset, math.Abs(drop) < math.Abs(lift):
		lift, drop = drop, lift
	}
	return lift, drop - lift
}

// clockS returns the offset and the drift of the list's clock; 0 if there are none, or if
// what there is may be an old position. A clock moves lifts and drops alike: what only one
// of them shows is a lead, however late. slackS is how much further ahead the clock is if the
// other of the two leads is the one that is right.
func (l *list) clockS() (offsetS, driftS, slackS float64) {
	movedS := float64(l.movedNs) * 1e-9
	if !l.ok {
		if l.coarse {
			return movedS, 0, 0
		}
		return 0, 0, 0
	}
	f := &l.fit
	offsetS, slackS = l.commonS()
	if l.grid.Kind == Sampled {
		offsetS -= l.grid.BiasS()
	}
	if f.driftS != 0 || math.Abs(offsetS) > longestS {
		return offsetS, f.driftS, slackS
	}
	switch {
	case l.maybeOld(offsetS) || !f.ways[0].known(movedS) || !f.ways[1].known(movedS):
		return 0, 0, 0
	case !f.ways[0].told && !f.ways[1].told && math.Abs(offsetS)*f.speedMps < farM:
		return 0, 0, 0
	case offsetS*(offsetS+slackS) < 0 || math.Abs(slackS) > mostLeadS:
		return 0, 0, 0
	}
	return offsetS, 0, slackS
}

// maybeOld reports whether an offset may be an old position, within its interval.
func (l *list) maybeOld(offsetS float64) bool {
	unsure := l.fit.halfS * unsureShare
	if l.grid.StepNs > 0 && l.grid.Kind == NoGrid && mayBeLatency(offsetS-l.grid.StepS()/2) {
		unsure += l.grid.StepS() / 2
	}
	return mayBeLatency(offsetS) || mayBeLatency(offsetS-unsure) || mayBeLatency(offsetS+unsure)
}

// hiddenS is by how much lifts and drops are late alike where that may be a clock and is
// not called one; 0 if they are not.
func (l *list) hiddenS() float64 {
	movedS := float64(l.movedNs) * 1e-9
	if !l.ok || !l.fit.alike() || !l.fit.ways[0].known(movedS) || !l.fit.ways[1].known(movedS) {
		return 0
	}
	s, _ := l.commonS()
	return s
}

// oneWay is lifts or drops if the list has only these; "" if it has both or neither.
func (l *list) oneWay() string {
	n := [2]int{}
	for _, r := range l.rows() {
		n[wayOf(r.on)]++
	}
	switch {
	case n[0] > 0 && n[1] == 0:
		return "lifts"
	case n[1] > 0 && n[0] == 0:
		return "drops"
	}
	return ""
}

// settleKind decides whether times on a grid were sampled or rounded, where the grid
// itself does not tell: by whether changes come half a step late or not at all. clockFound
// is true where they are shifted by more than that.
func (l *list) settleKind(clockFound bool) (biasS float64) {
	if l.grid.StepNs == 0 || l.grid.Kind != NoGrid {
		return l.grid.BiasS()
	}
	l.grid.Kind, l.grid.Guessed = Rounded, true
	if !l.ok {
		return 0
	}
	s, _ := l.commonS()
	if l.fit.alike() && l.fit.halfS > l.grid.StepS()/4 { // no better known than by its mean
		s = float64(l.movedNs)*1e-9 + l.fit.plainS
	}
	nominalS, why := nominalS(s)
	switch {
	case !clockFound:
		nominalS = 0
	case why == Unset: // any kind goes with an offset that is any number
		return 0
	}
	half := l.grid.StepS() / 2
	if r, s := l.leavesNothing(nominalS), l.leavesNothing(nominalS+half); r != s {
		if s {
			l.grid.Kind = Sampled
		}
		return l.grid.BiasS()
	}
	rounded, sampled := l.offFrom(nominalS), l.offFrom(nominalS+half)
	if sampled < rounded || sampled == rounded && math.Abs(s-nominalS-half) < math.Abs(s-nominalS) {
		l.grid.Kind = Sampled
	}
	return l.grid.BiasS()
}

// leavesNothing reports whether lifts and drops are both late by s on average, so that
// nothing else needs to be wrong, neither a time nor a place.
func (l *list) leavesNothing(s float64) bool {
	for way := range l.fit.ways {
		o := &l.fit.ways[way]
		if math.Abs(float64(l.movedNs)*1e-9+o.meanS-s) > o.meanHalfS {
			return false
		}
	}
	return true
}

// offFrom counts which of lifts and drops are certainly not late by s.
func (l *list) offFrom(s float64) (n int) {
	for way := range l.fit.ways {
		if l.fit.ways[way].known(float64(l.movedNs)*1e-9 - s) {
			n++
		}
	}
	return n
}

// kindBeside decides the same for a list that is lateS behind the other one, less its
// leads.
func (l *list) kindBeside(other *list, lateS float64) Kind {
	g := &l.grid
	switch {
	case g.StepNs == 0 || g.Kind != NoGrid:
		return g.Kind
	case g.StepNs == other.grid.StepNs:
		g.Guessed = other.grid.Guessed
		return other.grid.Kind
	case math.Abs(lateS+other.grid.BiasS()-g.StepS()/2) < math.Abs(lateS+other.grid.BiasS()):
		return Sampled
	}
	return Rounded
}
