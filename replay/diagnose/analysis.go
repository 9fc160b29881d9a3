// One part of a day, from moves to causes.

package diagnose

import (
	"math"
	"slices"
)

// analysis is the regression over the crossings of one part.
type analysis struct {
	part    part
	moves   []move
	list    []crossing
	found   []found // of single sections and turns, reception
	oneWord bool    // one recorded state for the whole machine

	terms  []term
	rows   []int       // crossings that take part
	cols   [][]float64 // by term, then row; weighted
	y      []float64   // weighted
	weight []float64
	count  []float64 // moves of each row
	best   fitted    // the causes
	sigmaM float64   // scatter of a crossing beyond them
	placeM []float64 // of each move, that its speed was followed over
	lastS  float64   // of the day's last transition, from its first
	// sectionS is the smallest delay of one section that would be seen.
	sectionS float64
}

// noiseFloorM: no crossing is believed to be known better.
const noiseFloorM = 0.001

// rounds is how often slow sections and a short pump are looked for again beside
// each other: each time about a fifth of their error is left.
const rounds = 3

// analyse finds the causes in one part. Where sections are slow and share the
// pump, each disturbs the sight of the other: a late section finds the pump to
// itself. So both are looked for again, each with the other known.
func analyse(in *Input, p part, r *reception) *analysis {
	a := analyseBeside(in, p, r, nil, 0, nil)
	for range rounds {
		slowS, slow := a.slowS(len(in.Machine.Sections))
		flowS, short := a.flowS()
		shared := slow && (short || in.Settings.LiftLead.FedAtOnce > 0)
		placeM, bent := a.placesM()
		if !shared && !bent {
			break
		}
		if !shared {
			slowS, flowS = nil, 0
		}
		a = analyseBeside(in, p, r, slowS, flowS, placeM)
	}
	return a
}

// slowS returns how much later each section lifts than the others.
func (a *analysis) slowS(sections int) (by []float64, any bool) {
	by = make([]float64, sections)
	for i := range a.found {
		if f := &a.found[i]; f.cause == SlowSection && f.of != drops {
			by[f.section-1], any = f.wayS[0], true
		}
	}
	return by, any
}

// flowS returns what each further section adds.
func (a *analysis) flowS() (by float64, any bool) {
	for i, q := range a.best.set {
		if a.terms[q].cause == FlowShortage {
			return a.best.beta[i], true
		}
	}
	return 0, false
}

// analyseBeside finds the causes of moves that begin slowS later, by section, and
// slow sections beside a pump that is short by flowS. placeM is the place error
// of each move that the speed is followed over; nil = the usual one.
func analyseBeside(in *Input, p part, r *reception, slowS []float64, flowS float64, placeM []float64) *analysis {
	a := &analysis{part: p, moves: in.moves(p, slowS)}
	if len(a.moves) == 0 {
		return a
	}
	if placeM == nil {
		placeM = typicalPlaces(a.moves)
	}
	if p != machine {
		setPerPlace(a.moves, placeM)
	}
	a.placeM = placeM
	a.list = crossings(a.moves)
	for k := range a.list {
		levers(a.moves, &a.list[k])
	}
	a.oneWord = oneState(a.moves, a.list)
	a.lastS = a.moves[len(a.moves)-1].sinceS
	if !a.oneWord && p != command {
		a.found, a.sectionS = slowSections(a.moves, a.list, len(in.Machine.Sections), flowS)
	}
	others := 0.0
	if !a.oneWord {
		others = a.mostOthers()
	}
	base := dictionary(p, a.lastS, others)

	var total poor
	if p != machine {
		leadNs := max(in.Settings.LiftLead.AloneNs(), in.Settings.DropLead.AloneNs())
		total = r.mark(a.list, leadNs)
	}
	slow := slices.Clone(a.found)
	a.explain(base, &total)
	if a.oneWord || p == machine {
		return a
	}
	if f := a.headingError(); f != nil {
		a.found = append(slow, *f)
		a.explain(base, &total)
	}
	return a
}

// explain chooses the causes of the crossings: of those with good reception, where
// the others are worse.
func (a *analysis) explain(base []term, total *poor) {
	good := make([]int, 0, len(a.list))
	all := make([]int, 0, len(a.list))
	for k := range a.list {
		all = append(all, k)
		if !a.list[k].poor {
			good = append(good, k)
		}
	}
	if len(good) < len(all) && len(good) >= leastGood {
		a.solve(base, good)
		if f := a.reception(all); f != nil {
			f.note = total.words()
			a.found = append(a.found, *f)
			return
		}
	}
	a.solve(base, all)
}

// row is the mean over a crossing's moves: of all of them, since sections that
// share a pump lie skewed about their middle.
func (a *analysis) row(k int, x func(m *move) float64) float64 {
	sum := 0.0
	for _, i := range a.list[k].of {
		sum += x(&a.moves[i])
	}
	return sum / float64(len(a.list[k].of))
}

// fill makes rows and columns of the crossings in rows.
func (a *analysis) fill(terms []term, rows []int) {
	a.terms, a.rows = slices.Clone(terms), slices.Clone(rows)
	a.cols = make([][]float64, len(terms))
	a.y = make([]float64, len(rows))
	a.weight = make([]float64, len(rows))
	a.count = make([]float64, len(rows))
	speed := make([]float64, len(rows))
	for r, k := range rows {
		a.y[r] = a.row(k, func(m *move) float64 { return m.lateM })
		a.count[r] = float64(len(a.list[k].of))
		speed[r] = a.row(k, func(m *move) float64 { return m.speedMps })
	}
	for r := range a.weight {
		a.weight[r] = 1
	}
	for t := range terms {
		a.cols[t] = a.column(terms[t].x)
	}
	a.weigh(speed)
}

// weigh decides whether crossings scatter by a length (position) or by a time
// (clocks, valves, hands), and if by a time divides each row by its speed.
//
// Both are compared by the likelihood of normal residuals from the fit of Δx
// and Δt, -n/2·ln(RSS/n) + Σ ln w, with w the weight of a row.
func (a *analysis) weigh(speed []float64) {
	n := float64(len(a.y))
	logMean := 0.0
	for _, v := range speed {
		logMean += math.Log(v) / n
	}
	// Scaled so that Σ ln w = 0.
	for i, v := range speed {
		a.weight[i] = math.Exp(logMean) / v
	}
	if a.part != machine && !(a.scatter(a.weight) < a.scatter(nil)-4/n) {
		for i := range a.weight {
			a.weight[i] = 1
		}
	}
	scale(a.y, a.weight)
	for _, c := range a.cols {
		scale(c, a.weight)
	}
}

// scatter is ln(RSS/n) of the fit of Δx and Δt, lifts and drops apart, with the
// rows weighted.
func (a *analysis) scatter(w []float64) float64 {
	var cols [][]float64
	for t := range a.terms {
		switch a.terms[t].cause {
		case LiftTiming, DropTiming, CommandTiming, LiftGeometry, DropGeometry:
			cols = append(cols, slices.Clone(a.cols[t]))
		}
	}
	y := slices.Clone(a.y)
	if w != nil {
		scale(y, w)
		for _, c := range cols {
			scale(c, w)
		}
	}
	g := newGram(cols, y, noiseFloorM)
	f, ok := g.fit(0, 1, 2, 3)
	if !ok {
		return 0
	}
	return math.Log(max(f.rss, 1e-12) / float64(len(y)))
}

func scale(x, w []float64) {
	for i := range x {
		x[i] *= w[i]
	}
}

// solve chooses the causes of the crossings in rows.
func (a *analysis) solve(base []term, rows []int) {
	a.fill(base, rows)
	a.best = a.settle()
	a.warm()
	if a.part != machine {
		// A piece of border, beside the causes found so far and instead of them.
		at, out := a.places()
		for _, from := range [2]fitted{a.best, {df: len(a.y)}} {
			r := slices.Clone(a.y)
			for i, p := range predict(&from, a.cols, len(a.y)) {
				r[i] -= p
			}
			if t, col, ok := scan(at, out, r, &from, a.cols, noiseFloorM); ok {
				a.terms = append(a.terms, *t)
				a.cols = append(a.cols, col)
			}
		}
		if len(a.terms) > len(base) {
			a.best = a.settle()
		}
	}
	a.trim()
}

// settle chooses terms, brings in what is far from them, and chooses again
// until neither the choice nor its sizes move.
func (a *analysis) settle() fitted {
	var f fitted
	y := a.y
	for range 30 {
		next := choose(newGram(a.cols, y, noiseFloorM), a.terms)
		done := slices.Equal(next.set, f.set) && still(&next, &f)
		f = next
		if done {
			break
		}
		y = clipped(a.y, predict(&f, a.cols, len(a.y)), len(f.set), noiseFloorM)
	}
	return f
}

// still reports whether sizes moved by less than a tenth of their standard error.
func still(now, before *fitted) bool {
	for i := range now.beta {
		if math.Abs(now.beta[i]-before.beta[i]) > 0.1*now.se(i) {
			return false
		}
	}
	return now.df == before.df
}

// trim leaves out crossings beyond clipAt robust standard deviations and fits
// what was chosen to the others: reweighted least squares (Rousseeuw and Leroy,
// Robust Regression and Outlier Detection, 1987; from memory).
func (a *analysis) trim() {
	fit := predict(&a.best, a.cols, len(a.y))
	limit := clipAt(len(a.y), len(a.best.set)) * spreadOf(a.y, fit, len(a.best.set), noiseFloorM)
	keep := a.y[:0]
	kept := 0
	for r := range fit {
		if math.Abs(a.y[r]-fit[r]) > limit {
			continue
		}
		keep = append(keep, a.y[r])
		for _, c := range a.cols {
			c[kept] = c[r]
		}
		a.weight[kept], a.count[kept], a.rows[kept] = a.weight[r], a.count[r], a.rows[r]
		kept++
	}
	a.y, a.weight, a.count, a.rows = keep, a.weight[:kept], a.count[:kept], a.rows[:kept]
	for t := range a.cols {
		a.cols[t] = a.cols[t][:kept]
	}
	if f, ok := a.gram().fit(a.best.set...); ok {
		a.best = f
	}
	a.sigmaM = a.best.sigma
}

func (a *analysis) gram() *gram { return newGram(a.cols, a.y, noiseFloorM) }

// places returns where the rows are, and their column of a border too far out.
func (a *analysis) places() ([]place, []float64) {
	at, out := make([]place, len(a.rows)), make([]float64, len(a.rows))
	for r, k := range a.rows {
		n := float64(len(a.list[k].of))
		for _, i := range a.list[k].of {
			at[r].eastM += a.moves[i].eastM / n
			at[r].northM += a.moves[i].northM / n
		}
		out[r] = a.row(k, outward) * a.weight[r]
	}
	return at, out
}

// reception compares the crossings that were left out for their reception with
// those that took part, by what the causes found leave of them.
func (a *analysis) reception(all []int) *found {
	var bad, good []float64
	explained := 0.0
	for _, k := range all {
		c := &a.list[k]
		sum, n := 0.0, float64(len(c.of))
		for _, i := range c.of {
			m := &a.moves[i]
			left := m.lateM
			for j, q := range a.best.set {
				if t := &a.terms[q]; t.arc == nil {
					left -= a.best.beta[j] * t.x(m)
				}
			}
			sum += left / m.speedMps / n
			if c.poor {
				explained += left * left
			}
		}
		if c.poor {
			bad = append(bad, math.Abs(sum))
		} else {
			good = append(good, math.Abs(sum))
		}
	}
	f := worse(bad, good)
	if f != nil {
		f.explained = explained
	}
	return f
}

// causes returns what was found, the regression's terms among it.
func (a *analysis) causes() []found {
	out := slices.Clone(a.found)
	share := 0.0
	if a.part != machine {
		share = a.wander()
	}
	g := a.gram()
	for i, q := range a.best.set {
		f := found{term: a.terms[q]}
		list, by := a.guesses(g, i), a.widened(i, share)
		f.size = averaged(list, by, 0.5)
		f.ci = Interval{averaged(list, by, 0.025), averaged(list, by, 0.975)}
		if s := f.arc; s != nil {
			f.ci = Interval{min(f.ci[0], f.size-s.belowM), max(f.ci[1], f.size+s.aboveM)}
		}
		for r, x := range a.cols[q] {
			if x != 0 {
				f.n++
				part := x / a.weight[r] * f.size
				f.explained += a.count[r] * part * part
			}
		}
		out = append(out, f)
	}
	return out
}
