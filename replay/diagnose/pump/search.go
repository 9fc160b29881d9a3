// The search for how many sections a pump feeds: from the lateness of crossings beside
// other causes.

package pump

import (
	"cmp"
	"math"
	"sort"

	"liftbench/replay/diagnose/regress"
)

// Search is what is to be explained: one row for each crossing.
type Search struct {
	Y      []float64   // lateness, weighted
	Beside [][]float64 // columns of other causes, which may explain it too
	// Late is the column of a pump that feeds so many, with an accumulator; in the unit of Y.
	Late func(fed, storeS float64) []float64
	Most float64 // sections that move at once, at most
	// MoveS is how long a section moves until it counts; an accumulator is tried in parts
	// of the oil that it takes.
	MoveS  float64
	FloorM float64 // no row is believed to scatter less
	Part   *Search // the same of some of the rows, for the first look; nil = of all
}

// Estimate is how many sections a pump feeds.
type Estimate struct {
	Fed, StoreS float64
	// Free: lateness is not as long as the lead's own stroke says, but in proportion to it.
	Free bool
	// Rows' squared residuals: of this pump, and without one.
	RSS, Without float64
	DF           int
}

// What a model must gain over a simpler one, in variances of a row: an accumulator or
// lateness in proportion over the stroke that the lead states; any of these over nothing.
const (
	gainOfStore    = 10.0
	gainOfFree     = 13.0
	gainOfOneFed   = 2.0
	gainOverNone   = 8.0
	leastFed       = 1.0
	fedStep        = 1.2 // from one number that is tried first to the next
	leastStore     = 0.25
	storeStep      = 1.6
	storeSweep     = 0.1 // the least accumulator of an interval, in the oil of a section
	sweepStep      = 1.15
	storesRefined  = 3
	refinements    = 8
	leastLeftShare = 1e-8
)

// rest removes from x what the columns of an orthonormal basis explain of it.
func rest(x []float64, basis [][]float64) []float64 {
	out := append([]float64(nil), x...)
	for range 2 { // twice, for the digits
		for _, b := range basis {
			by := regress.Dot(out, b)
			for i := range out {
				out[i] -= by * b[i]
			}
		}
	}
	return out
}

// problem is a search with the other causes taken out.
type problem struct {
	*Search
	basis [][]float64
	y     []float64
	yy    float64
}

func (s *Search) without() problem {
	p := problem{Search: s}
	for _, x := range s.Beside {
		r := rest(x, p.basis)
		rr := regress.Dot(r, r)
		if !(rr > leastLeftShare*regress.Dot(x, x)) {
			continue
		}
		for i := range r {
			r[i] /= math.Sqrt(rr)
		}
		p.basis = append(p.basis, r)
	}
	p.y = rest(s.Y, p.basis)
	p.yy = regress.Dot(p.y, p.y)
	return p
}

// rss is the sum of squared residuals with a pump.
func (p *problem) rss(fed, storeS float64, free bool) float64 {
	full := p.Late(fed, storeS)
	x := rest(full, p.basis)
	xx, xy := regress.Dot(x, x), regress.Dot(x, p.y)
	if !free {
		return p.yy - 2*xy + xx
	}
	if !(xx > leastLeftShare*regress.Dot(full, full)) || xy < 0 {
		return p.yy
	}
	return p.yy - xy*xy/xx
}

// best returns how many are fed where the residuals are least.
func (p *problem) best(storeS float64, free bool) (fed, rss float64) {
	fed, rss = leastFed, p.rss(leastFed, storeS, free)
	for f := leastFed * fedStep; f < p.Most; f *= fedStep {
		if r := p.rss(f, storeS, free); r < rss {
			fed, rss = f, r
		}
	}
	return fed, rss
}

// refined improves how many are fed, and the accumulator if there is one, by Gauss and
// Newton's steps with numerical derivatives: least squares for the columns by which the
// lateness changes.
//
// withStore is false if the accumulator is to stay as it is.
func (p *problem) refined(e Estimate, withStore bool) Estimate {
	for range refinements {
		by, _, ok := p.step(&e, withStore)
		if !ok {
			return e
		}
		better := false
		for half := 1.0; half > 0.05 && !better; half /= 2 {
			n := e
			n.Fed = max(leastFed, min(e.Fed+half*by[0], p.Most))
			if withStore {
				n.StoreS = max(1e-4, e.StoreS+half*by[1])
			}
			if n.RSS = p.rss(n.Fed, n.StoreS, n.Free); n.RSS < e.RSS {
				better = e.RSS-n.RSS > 1e-7*e.RSS
				e = n
			}
		}
		if !better {
			return e
		}
	}
	return e
}

// step is the next step of Gauss and Newton for the numbers of a pump, and what a row of
// unit scatter makes their standard errors.
func (p *problem) step(e *Estimate, withStore bool) (by, se [2]float64, ok bool) {
	const part = 1e-3
	at := p.Late(e.Fed, e.StoreS)
	slope := func(fed, storeS, over float64) []float64 {
		x := p.Late(fed, storeS)
		out := make([]float64, len(x))
		for i := range x {
			out[i] = (x[i] - at[i]) / over
		}
		return rest(out, p.basis)
	}
	dir := part * e.Fed
	if e.Fed+dir > p.Most {
		dir = -dir
	}
	cols := [][]float64{slope(e.Fed+dir, e.StoreS, dir)}
	set := []int{0}
	if withStore {
		cols, set = append(cols, slope(e.Fed, e.StoreS*(1+part), part*e.StoreS)), append(set, len(set))
	}
	left := rest(at, p.basis)
	if e.Free {
		cols, set = append(cols, left), append(set, len(set))
	}
	y := make([]float64, len(left))
	for i := range y {
		y[i] = p.y[i]
		if !e.Free {
			y[i] -= left[i]
		}
	}
	f, ok := regress.NewGram(cols, y, 0).Fit(set...)
	if !ok {
		return by, se, false
	}
	scale := 1.0
	if e.Free {
		if scale = f.Beta[len(set)-1]; !(scale > 0) {
			return by, se, false
		}
	}
	for i := range cols {
		if i < len(by) {
			by[i], se[i] = f.Beta[i]/scale, math.Sqrt(f.Inv.At(i, i))/scale
		}
	}
	return by, se, true
}

// Find returns the pump that explains the rows best; ok is false if none does better than
// chance.
func (s *Search) Find() (e Estimate, ok bool) {
	p := s.without()
	df := len(s.Y) - len(p.basis) - 1
	if df < 3 || !(s.Most > leastFed) {
		return e, false
	}
	type model struct {
		Estimate
		handicap float64
	}
	var list []model
	add := func(fed, storeS float64, free bool, rss, handicap float64) {
		list = append(list, model{Estimate{Fed: fed, StoreS: storeS, Free: free, RSS: rss, Without: p.yy, DF: df}, handicap})
	}
	noise := func() float64 {
		least := math.Inf(1)
		for i := range list {
			least = min(least, list[i].RSS)
		}
		return max(least/float64(df), s.FloorM*s.FloorM)
	}
	first := p
	if s.Part != nil {
		first = s.Part.without()
	}
	fed, _ := first.best(0, false)
	add(fed, 0, false, p.rss(fed, 0, false), 0)
	add(leastFed, 0, true, p.rss(leastFed, 0, true), gainOfOneFed)
	fed, _ = first.best(0, true)
	rss := p.rss(fed, 0, true)
	add(fed, 0, true, rss, gainOfFree)
	if n := noise(); p.yy-list[0].RSS < gainOverNone*n && p.yy-rss < gainOverNone*n {
		return e, false
	}
	list[0].Estimate, list[2].Estimate = p.refined(list[0].Estimate, false), p.refined(list[2].Estimate, false)
	if best := p.stored(&first); best.RSS < list[0].RSS {
		add(best.Fed, best.StoreS, false, best.RSS, gainOfStore)
	}
	n := noise()
	best := &list[0]
	for i := range list {
		if list[i].RSS/n+list[i].handicap < best.RSS/n+best.handicap {
			best = &list[i]
		}
	}
	return best.Estimate, p.yy-best.RSS > n*(gainOverNone+best.handicap)
}

// Near is Find for rows that hardly differ from those that e explained: the kind of pump stays,
// and its numbers are refined from there. ok is false if it does no better than chance now.
func (s *Search) Near(e Estimate) (near Estimate, ok bool) {
	p := s.without()
	df := len(s.Y) - len(p.basis) - 1
	if df < 3 || !(s.Most > leastFed) {
		return e, false
	}
	handicap := 0.0
	switch {
	case e.Free && e.Fed == leastFed:
		handicap = gainOfOneFed
	case e.Free:
		handicap = gainOfFree
	case e.StoreS > 0:
		handicap = gainOfStore
	}
	e.Fed = min(e.Fed, s.Most)
	e.RSS, e.Without, e.DF = p.rss(e.Fed, e.StoreS, e.Free), p.yy, df
	if handicap != gainOfOneFed {
		e = p.refined(e, e.StoreS > 0)
	}
	noise := max(e.RSS/float64(df), s.FloorM*s.FloorM)
	return e, p.yy-e.RSS > noise*(gainOverNone+handicap)
}

// stored is the best pump with an accumulator, from the sizes on that explain the rows of the
// first look best.
func (p *problem) stored(first *problem) Estimate {
	var list []Estimate
	for storeS := p.MoveS * leastStore; storeS < p.MoveS*p.Most; storeS *= storeStep {
		fed, rss := first.best(storeS, false)
		list = append(list, Estimate{Fed: fed, StoreS: storeS, RSS: rss})
	}
	sort.SliceStable(list, func(i, j int) bool { return cmp.Less(list[i].RSS, list[j].RSS) })
	best := Estimate{RSS: math.Inf(1)}
	for _, e := range list[:min(len(list), storesRefined)] {
		if e = first.refined(e, true); e.RSS < best.RSS {
			best = e
		}
	}
	if p.Part != nil {
		best.RSS = p.rss(best.Fed, best.StoreS, false)
		best = p.refined(best, true)
	}
	return best
}

// Interval is the 95 % interval of how many are fed, by the likelihood of the rows, with
// standard errors that are by times as wide. Unless lateness is free, an accumulator of any
// size may have taken part: with one, fewer are fed.
func (s *Search) Interval(e *Estimate, by float64) [2]float64 {
	p := s.without()
	df := max(1, len(s.Y)-len(p.basis)-1)
	t := regress.Quantile(0.05, df) * by
	if e.StoreS > 0 {
		// The pump and its accumulator were chosen together, among several optima: the limit is
		// that of two numbers, twice the quantile of F with 2 and df degrees of freedom.
		t = by * math.Sqrt(float64(df)*(math.Pow(0.05, -2/float64(df))-1))
	}
	limitOf := func(rss float64) float64 {
		return rss + t*t*max(rss/float64(df), s.FloorM*s.FloorM)
	}
	bare := Estimate{Fed: e.Fed, Free: e.Free}
	bare.RSS = p.rss(e.Fed, 0, e.Free)
	if e.StoreS > 0 {
		bare = p.refined(bare, false)
	}
	list := []Estimate{bare}
	least := min(bare.RSS, p.rss(e.Fed, e.StoreS, e.Free))
	for storeS := storeSweep * s.MoveS; !e.Free && storeS < s.MoveS*s.Most; storeS *= sweepStep {
		x := list[len(list)-1]
		x.StoreS, x.RSS = storeS, p.rss(x.Fed, storeS, false)
		x = p.refined(x, false)
		list = append(list, x)
		least = min(least, x.RSS)
	}
	// Each accumulator at which a crossing begins to run out of oil bends the residuals, so
	// there may be several that explain the rows, with worse ones between them. Where the rows
	// are known well all that were tried may lie beside them.
	var own []Estimate
	for i := 1; i < len(list); i++ {
		if list[i].RSS <= list[i-1].RSS && (i+1 == len(list) || list[i].RSS <= list[i+1].RSS) {
			x := p.refined(list[i], true)
			own = append(own, x)
			least = min(least, x.RSS)
		}
	}
	limit := limitOf(least)
	lo, hi := e.Fed, e.Fed
	if e.StoreS == 0 {
		lo, hi = p.ends(&bare, max(limit, limitOf(bare.RSS)))
	} else if _, se, ok := p.step(e, true); ok {
		h := se[0] * t * math.Sqrt(max(e.RSS/float64(df), s.FloorM*s.FloorM))
		lo, hi = lo-h, hi+h
	}
	for i := range list {
		x := &list[i]
		if x.RSS > limit || i == 0 && e.StoreS == 0 {
			continue
		}
		if _, se, ok := p.step(x, false); ok {
			h := se[0] * math.Sqrt(limit-x.RSS)
			lo, hi = min(lo, x.Fed-h), max(hi, x.Fed+h)
		}
	}
	for i := range own {
		x := &own[i]
		if x.RSS > limit {
			continue
		}
		if _, se, ok := p.step(x, true); ok {
			h := se[0] * math.Sqrt(limit-x.RSS)
			lo, hi = min(lo, x.Fed-h), max(hi, x.Fed+h)
		}
	}
	return [2]float64{max(leastFed, lo), min(hi, s.Most)}
}

// ends returns between which numbers fed the residuals are within a limit, without an
// accumulator.
func (p *problem) ends(e *Estimate, limit float64) (lo, hi float64) {
	out := func(fed float64) bool { return p.rss(fed, 0, e.Free) > limit }
	end := func(to float64) float64 {
		in, step := e.Fed, 1+1e-3
		beyond := in
		for beyond != to {
			if to > e.Fed {
				beyond = min(to, in*step)
			} else {
				beyond = max(to, in/step)
			}
			if out(beyond) {
				break
			}
			in, step = beyond, 1+2*(step-1)
		}
		if !out(beyond) {
			return to
		}
		for range 12 {
			if mid := (in + beyond) / 2; out(mid) {
				beyond = mid
			} else {
				in = mid
			}
		}
		return (in + beyond) / 2
	}
	return end(leastFed), end(p.Most)
}
