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

func (l *list) back(ns int64) int64 { return ns - l.movedNs }

// row is one crossing of the bar.
type row struct {
	on              bool
	lateS, speedMps float64
	ns              int64
}

// leastMps is the least speed at which a time is told from a place.
const leastMps = 0.3

// rows returns how late each crossing is: the median of its sections, so that a slow one
// does not count; on a grid, where a median lies on a step, the mean.
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
		if l.grid.StepNs == 0 {
			r.lateS = sample.Median(late)
		} else {
			r.lateS, _ = sample.MeanSD(late)
		}
		out = append(out, r)
	}
	return out
}

// fit is what the rows of a list have in common.
type fit struct {
	shiftS, halfS float64 // by how much all are late, and half of its 95 % interval
	liftS, dropS  float64 // the same of lifts alone and of drops alone
	apartS        float64 // by how much those two may differ by chance
	driftS        float64 // how much later the last are than the first
	crossings     int
}

const (
	// leastCrossings of each kind tell an offset.
	leastCrossings = 4
	// unsureS is the standard error of a shift above which the speeds cannot tell it from
	// a place; then a place of up to likelyM is taken to be part of it.
	unsureS, likelyM = 0.15, 0.5
	// leastDriftS is the least drift that is called one, in all and over its standard error.
	leastDriftS, sureDrift = 0.050, 5.0
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

// fitRows fits late·v = Δx of lifts or of drops + v·(shift + drift·t), t from -1/2 at the
// first row to 1/2 at the last. tools are rows of work states: their lateness also fades as
// the oil warms, so only what grows, or fades by more, is a clock's.
func fitRows(rows []row, tools bool) (f fit, ok bool) {
	f.crossings = len(rows)
	n := [2]int{}
	for i := range rows {
		n[wayOf(rows[i].on)]++
	}
	if min(n[0], n[1]) < leastCrossings {
		return f, false
	}
	first, last := rows[0].ns, rows[0].ns
	for i := range rows {
		first, last = min(first, rows[i].ns), max(last, rows[i].ns)
	}
	columns := make([][]float64, 6)
	y := make([]float64, len(rows))
	for c := range columns {
		columns[c] = make([]float64, len(rows))
	}
	start := make([]float64, len(rows))
	middle := middleLate(rows)
	for i, r := range rows {
		way := wayOf(r.on)
		y[i] = r.lateS * r.speedMps
		start[i] = middle[way] * r.speedMps
		columns[way][i] = 1            // Δx
		columns[2][i] = r.speedMps     // shift
		columns[3+way][i] = r.speedMps // of lifts, of drops
		t := float64(r.ns-first)/float64(last-first) - 0.5
		columns[5][i] = t * r.speedMps // drift
	}
	both, ok := robust(columns, y, start, 0, 1, 2, 5)
	if !ok {
		return oneSpeed(f, rows)
	}
	f.driftS = both.Beta[3]
	if d := math.Abs(f.driftS); d < leastDriftS || d < sureDrift*both.SE(3) || tools && f.driftS < 0 && d < mostColdS {
		f.driftS = 0
		if both, ok = robust(columns, y, start, 0, 1, 2); !ok {
			return oneSpeed(f, rows)
		}
	}
	if both.SE(2) > unsureS {
		return oneSpeed(f, rows)
	}
	f.shiftS = both.Beta[2]
	f.halfS = max(leastHalfS, wander*(regress.Around(0, both.SE(2), both.DF)[1]))
	set := []int{0, 1, 3, 4}
	if f.driftS != 0 {
		set = append(set, 5)
	}
	own, ok := robust(columns, y, start, set...)
	if !ok {
		return oneSpeed(f, rows)
	}
	f.liftS, f.dropS = own.Beta[2], own.Beta[3]
	f.apartS = 4 * math.Hypot(own.SE(2), own.SE(3))
	return f, true
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

// oneSpeed is the shift of a day whose speeds cannot tell it from a place.
func oneSpeed(f fit, rows []row) (fit, bool) {
	middle := middleLate(rows)
	speed := 0.0
	for i := range rows {
		speed += rows[i].speedMps / float64(len(rows))
	}
	f.driftS = 0
	f.liftS, f.dropS = middle[0], middle[1]
	f.shiftS = (middle[0] + middle[1]) / 2
	f.halfS = likelyM / speed
	f.apartS = f.halfS
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

// alikeS is by how much a lead may be off beside an offset for that to be one of both.
const alikeS = 0.1

// clockS returns the offset and the drift of the list's clock; 0 if there are none, or if
// what there is may be an old position.
func (l *list) clockS() (offsetS, driftS float64) {
	if !l.ok {
		if l.coarse {
			return float64(l.movedNs) * 1e-9, 0
		}
		return 0, 0
	}
	movedS := float64(l.movedNs) * 1e-9
	lift, drop := movedS+l.fit.liftS, movedS+l.fit.dropS
	offsetS = movedS + l.fit.shiftS
	if math.Abs(lift-drop) > l.fit.apartS+alikeS {
		// One of the two leads is wrong as well: the rest is what both have in common.
		offsetS = lift
		if math.Abs(drop) < math.Abs(lift) {
			offsetS = drop
		}
		if lift*drop < 0 && !l.coarse {
			return 0, 0
		}
	}
	if l.grid.Kind == Sampled {
		offsetS -= l.grid.BiasS()
	}
	unsure := l.fit.halfS * unsureShare
	if l.grid.StepNs > 0 && l.grid.Kind == NoGrid && mayBeLatency(offsetS-l.grid.StepS()/2) {
		unsure += l.grid.StepS() / 2
	}
	if !l.coarse && l.fit.driftS == 0 && (mayBeLatency(offsetS) || mayBeLatency(offsetS-unsure) || mayBeLatency(offsetS+unsure)) {
		return 0, 0
	}
	return offsetS, l.fit.driftS
}

// unsureShare: an offset counts where even this share of its half interval less is none
// of a latency's.
const unsureShare = 0.2

// settleKind decides whether times on a grid were sampled or rounded, where the grid
// itself does not tell: by whether changes come half a step late or not at all. clockFound
// is true where they are shifted by more than that.
func (l *list) settleKind(clockFound bool) (biasS float64) {
	if l.grid.StepNs > 0 && l.grid.Kind == NoGrid {
		l.grid.Kind = Rounded
		s := float64(l.movedNs)*1e-9 + l.fit.shiftS
		nominal, why := nominalS(s)
		if clockFound && why != Unset {
			s -= nominal
		}
		if half := l.grid.StepS() / 2; l.ok && (!clockFound || why != Unset) && math.Abs(s-half) < math.Abs(s) {
			l.grid.Kind = Sampled
		}
	}
	return l.grid.BiasS()
}

// kindBeside decides the same for a list that is lateS behind the other one, less its
// leads.
func (l *list) kindBeside(other *list, lateS float64) Kind {
	g := &l.grid
	switch {
	case g.StepNs == 0 || g.Kind != NoGrid:
		return g.Kind
	case g.StepNs == other.grid.StepNs:
		return other.grid.Kind
	case math.Abs(lateS+other.grid.BiasS()-g.StepS()/2) < math.Abs(lateS+other.grid.BiasS()):
		return Sampled
	}
	return Rounded
}
