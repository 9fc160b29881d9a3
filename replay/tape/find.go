// The answer: the line through the readings of each move, and what to set.

package tape

import (
	"math"
	"sort"

	"liftbench/replay/diagnose/regress"
	"liftbench/sections/score/sample"
)

const (
	// FloorM is the least scatter that is believed of readings that are taken to the centimetre.
	FloorM = 0.003
	// oneSpeedMps is within how much speeds count as one: 1 km/h, about what a driver holds and a
	// stopwatch over 50 m tells (common practice, no source).
	oneSpeedMps = 1 / 3.6
	// slipAt is the probability with which chance alone may put one reading so far beside the others
	// that it no longer counts: once in a hundred sheets.
	slipAt = 0.01
	// freeRows is how many rows must remain beyond the coefficients for a further term.
	freeRows = 3
	// mostNext is how many further passes are asked for at most.
	mostNext = 60
)

// Wish is what the user wants to know, and what they can drive.
type Wish struct {
	WantS            float64 // half of the lead's 95 % interval
	SlowMps, FastMps float64 // the machine's speed window, for the next passes
	AtMps            float64 // the speed that the tolerance is told for
	SigmaM           float64 // standard deviation of a reading where the readings do not tell it
}

// DefaultWish: ±40 ms are 9 cm at 8 km/h. Speeds and scatter are common practice, no source.
func DefaultWish() Wish {
	return Wish{WantS: 0.04, SlowMps: 4 / 3.6, FastMps: 10 / 3.6, AtMps: 8 / 3.6, SigmaM: 0.05}
}

// Answer is what readings tell.
type Answer struct {
	Lift       *Timing  `json:"lift"` // nil = no reading
	Drop       *Timing  `json:"drop"`
	CannotTell []Doubt  `json:"cannot_tell"`
	Next       []Passes `json:"next"`

	Distance Distance `json:"-"`
}

// Timing is what the readings of one move tell.
type Timing struct {
	TimeErrorS     float64     `json:"time_error_s"` // with the lead that was set; positive = late
	TimeErrorCI95  [2]float64  `json:"time_error_ci95"`
	PlaceErrorM    *float64    `json:"place_error_m"` // nil = not parted from the time
	PlaceErrorCI95 *[2]float64 `json:"place_error_ci95"`
	LeadSetMs      *float64    `json:"lead_set_ms"` // nil = nobody wrote it down
	LeadMs         *float64    `json:"lead_ms"`
	LeadCI95Ms     *[2]float64 `json:"lead_ci95_ms"`
	Count          int         `json:"count"` // readings that count
	LeftOut        []LeftOut   `json:"left_out"`

	Parted   bool      `json:"-"` // time and place are parted
	OneSpeed bool      `json:"-"` // all passes were at one
	SigmaM   float64   `json:"-"` // scatter of a reading
	Assumed  bool      `json:"-"` // SigmaM is assumed, as there are too few readings
	Passes   int       `json:"-"` // on which the readings that count were made
	MeanMps  float64   `json:"-"` // mean speed
	Effects  []Effect  `json:"-"` // of sections, directions, oil
	Used     []Reading `json:"-"` // those that count
	fit      fitted
}

// LeftOut is a reading that does not count, and why: how far beside the line of the others it is, or
// its whole pass, and how rarely chance puts one reading or pass of a sheet so far off.
type LeftOut struct {
	Row    int
	OffM   float64
	Chance float64
	Whole  bool // all readings of its pass are left out
}

// Passes are passes at one speed.
type Passes struct {
	SpeedKmh float64 `json:"speed_kmh"`
	Passes   int     `json:"passes"`
}

// Effect is by how much one section, direction or oil differs.
type Effect struct {
	Term    Term
	Section int       // of Sections
	Ways    [2]string // of Direction: one beside the other
	KelvinC bool      // of ColdOil: for each 10 K colder; else cold beside warm
	TimeS   float64   // later than the mean; 0 where it is a place
	PlaceM  float64   // further on than the mean; 0 where it is a time
	Half    float64   // of the 95 % interval, s or m
}

// Beyond reports whether the effect is more than chance, count effects having been looked at.
func (e *Effect) Beyond(count int) bool {
	return math.Abs(e.TimeS)+math.Abs(e.PlaceM) > e.Half*math.Sqrt(1+math.Log(float64(max(1, count))))
}

// Distance is what lift and drop together tell of the distance from antenna to tool.
type Distance struct {
	Known  bool       // the place is parted from the time
	ErrorM float64    // how far behind its place the tool is believed to be ahead: Δx
	CI95   [2]float64 // of ErrorM
	Change bool       // the interval excludes 0
	Differ bool       // lift and drop are off by different places: no distance explains that
	SetM   *float64
	NewM   float64 // where SetM is known
}

// fitted is a line with its terms. Its rows are passes: the mean of the readings of each.
type fitted struct {
	line   regress.Fit
	cols   [][]float64
	y      []float64
	place  int // column of Δx; -1 = none
	time   int // column of Δt
	terms  []term
	passes [][]int // the readings of each row
	beside *within // what readings tell beside their pass; nil = each pass has one
	inside *term   // the sections, where their times are told by readings beside their pass
}

// term is something beside place and time that readings may hang on.
type term struct {
	what Term
	cols [][]float64 // one for each coefficient
	is   []Effect    // what each coefficient is of; one more for sections: the last
}

// Find tells what to set.
func Find(list []Reading, w Wish) *Answer {
	a := &Answer{CannotTell: []Doubt{}, Next: []Passes{}}
	antenna := lastAntenna(list)
	for _, m := range []Move{Lift, Drop} {
		var own []Reading
		for _, r := range list {
			if r.Move == m {
				own = append(own, r)
			}
		}
		if len(own) == 0 {
			continue
		}
		t := a.timing(m, own, antenna, w)
		if m == Lift {
			a.Lift = t
		} else {
			a.Drop = t
		}
	}
	a.distance(antenna)
	a.next(w)
	return a
}

// Of returns the timing of a move; nil = no reading.
func (a *Answer) Of(m Move) *Timing {
	if m == Lift {
		return a.Lift
	}
	return a.Drop
}

// lastAntenna is the distance set at last.
func lastAntenna(list []Reading) *float64 {
	for i := len(list) - 1; i >= 0; i-- {
		if list[i].AntennaM != nil {
			return list[i].AntennaM
		}
	}
	return nil
}

// timing fits the readings of one move.
func (a *Answer) timing(m Move, own []Reading, antenna *float64, w Wish) *Timing {
	t := &Timing{LeftOut: []LeftOut{}}
	leadS := 0.0
	for i := len(own) - 1; i >= 0; i-- {
		if own[i].LeadS != nil {
			ms := *own[i].LeadS * 1000
			leadS, t.LeadSetMs = *own[i].LeadS, &ms
			break
		}
	}
	used := own
	readings, passes := max(1, len(own)/5), max(1, len(PassesOf(own))/5) // left out at most
	for {
		var doubts []Doubt
		t.fit, doubts = fit(used, leadS, antenna, w)
		slip, which := t.fit.slipped(m, used)
		switch {
		case slip.rows == nil:
		case slip.whole:
			passes--
		default:
			readings--
		}
		if slip.rows == nil || passes < 0 || readings < 0 {
			a.CannotTell = append(a.CannotTell, append(doubts, which...)...)
			break
		}
		used = t.leaveOut(&slip, used)
	}
	t.Parted = t.fit.place >= 0
	t.Used, t.Count = used, len(used)
	slow, fast := math.Inf(1), 0.0
	for _, r := range used {
		t.MeanMps += r.SpeedMps / float64(len(used))
		slow, fast = min(slow, r.SpeedMps), max(fast, r.SpeedMps)
	}
	t.OneSpeed = !differ(slow, fast)
	f := &t.fit
	t.Passes = len(f.passes)
	t.SigmaM = f.line.Sigma
	half := w.SigmaM / math.Sqrt(regress.Dot(f.cols[0], f.cols[0])) * sample.Z95
	if f.line.DF < 1 {
		t.Assumed = true
		a.CannotTell = append(a.CannotTell, Doubt{About: Scatter, Move: m, Count: t.Passes, First: w.SigmaM})
	} else {
		half = regress.Quantile(0.05, f.line.DF) * f.line.SE(f.time)
		if f.beside != nil {
			t.SigmaM = f.beside.readingM(f.passes, f.line.Sigma)
		}
	}
	t.TimeErrorS = f.line.Beta[f.time]
	t.TimeErrorCI95 = [2]float64{t.TimeErrorS - half, t.TimeErrorS + half}
	switch {
	case t.Parted:
		place, ci := f.line.Beta[f.place], f.line.Interval(f.place)
		t.PlaceErrorM, t.PlaceErrorCI95 = &place, &ci
	case !t.OneSpeed:
		a.CannotTell = append(a.CannotTell, Doubt{About: PlaceFew, Move: m, Count: t.Passes})
	default:
		a.CannotTell = append(a.CannotTell, Doubt{About: OneSpeed, Move: m, First: t.MeanMps})
	}
	if t.LeadSetMs != nil {
		ms := *t.LeadSetMs + 1000*t.TimeErrorS
		t.LeadMs, t.LeadCI95Ms = &ms, &[2]float64{ms - 1000*half, ms + 1000*half}
	}
	t.Effects = f.effects()
	return t
}

// slip is readings that do not belong to the others.
type slip struct {
	rows   []int // by their index; nil = none
	offM   float64
	chance float64
	whole  bool // they are all of a pass
}

// leaveOut notes what slipped and returns the readings that are left.
func (t *Timing) leaveOut(s *slip, used []Reading) []Reading {
	left := make([]bool, len(used))
	for _, i := range s.rows {
		left[i] = true
		t.LeftOut = append(t.LeftOut, LeftOut{used[i].Row, s.offM, s.chance, s.whole})
	}
	var rest []Reading
	for i := range used {
		if !left[i] {
			rest = append(rest, used[i])
		}
	}
	return rest
}

// slipped finds a reading that does not belong to the others of its pass, or else a pass that does not
// belong to the other passes; which is where it is beyond chance that one slipped, and not which.
func (f *fitted) slipped(m Move, used []Reading) (s slip, which []Doubt) {
	unsure := func(rows []int) {
		d := Doubt{About: WhichSlipped, Move: m}
		for _, i := range rows {
			d.Rows = append(d.Rows, used[i].Row)
		}
		sort.Ints(d.Rows)
		which = append(which, d)
	}
	if b := f.beside; b != nil {
		row, p, alike := b.line.Slipped(b.cols, b.y, FloorM, b.shares)
		if p < slipAt && alike == nil {
			left := b.y[row] - regress.Predict(&b.line, b.cols, len(b.y))[row]
			return slip{rows: []int{row}, offM: left / (1 - b.shares[row] - leverage(&b.line, b.cols, row)), chance: p}, nil
		}
		if p < slipAt {
			unsure(append([]int{row}, alike...))
		}
	}
	row, p, alike := f.line.Slipped(f.cols, f.y, FloorM, nil)
	if p < slipAt && alike == nil {
		left := f.y[row] - regress.Predict(&f.line, f.cols, len(f.y))[row]
		return slip{f.passes[row], left / (1 - leverage(&f.line, f.cols, row)), p, len(f.passes[row]) > 1}, nil
	}
	if p < slipAt {
		rows := append([]int{}, f.passes[row]...)
		for _, r := range alike {
			rows = append(rows, f.passes[r]...)
		}
		unsure(rows)
	}
	return slip{}, which
}

// leverage is how much the fit at a row follows the row: beside the line of the others it is off by its
// residual over the rest of 1.
func leverage(f *regress.Fit, cols [][]float64, row int) float64 {
	x := make([]float64, len(f.Set))
	for j, q := range f.Set {
		x[j] = cols[q][row]
	}
	return regress.Quadratic(f.Inv, x)
}

// fit draws the line through readings of one move. Where leads or distances changed between passes,
// each reading is brought to what was set at last: a lead longer by L makes a tool earlier by v·L, a
// distance longer by D later by D. Where several readings were made on a pass, its mean is a row of the
// line, and the times of sections are told by what readings have beside their pass. doubts are
// terms that the readings carry and that cannot be told.
func fit(list []Reading, leadS float64, antenna *float64, w Wish) (f fitted, doubts []Doubt) {
	m := list[0].Move
	v, y := make([]float64, len(list)), make([]float64, len(list))
	slow, fast := math.Inf(1), 0.0
	for i, r := range list {
		v[i], y[i] = r.SpeedMps, r.LateM
		if r.LeadS != nil {
			y[i] += r.SpeedMps * (*r.LeadS - leadS)
		}
		if r.AntennaM != nil {
			y[i] -= *r.AntennaM - *antenna
		}
		slow, fast = min(slow, v[i]), max(fast, v[i])
	}
	f = fitted{place: -1, passes: PassesOf(list)}
	n := len(f.passes)
	sections, some := sectionTerm(list, v)
	if some && unnamed(list) {
		doubts = append(doubts, Doubt{About: PassUnnamed, Move: m})
	}
	cannot := func(about About, t Term, count int) {
		doubts = append(doubts, Doubt{About: about, Move: m, Term: t, Count: count})
	}
	if n < len(list) {
		if b, ok := besidePass(f.passes, nil, y); ok {
			f.beside = &b
		}
		switch {
		case !some:
		case len(list)-n-len(sections.cols) < freeRows:
			cannot(TermFew, Sections, len(list))
		default:
			b, ok := besidePass(f.passes, sections.cols, y)
			if !ok {
				cannot(TermTogether, Sections, len(list))
				break
			}
			f.beside, f.inside = &b, &sections
			for k, beta := range b.line.Beta {
				for i, x := range sections.cols[k] {
					y[i] -= beta * x
				}
			}
		}
	}
	ones, speeds := make([]float64, n), make([]float64, n)
	f.y = make([]float64, n)
	heads := make([]Reading, n)
	for p, of := range f.passes {
		ones[p], speeds[p], f.y[p], heads[p] = 1, list[of[0]].SpeedMps, meanOf(of, y), list[of[0]]
	}
	f.cols = [][]float64{speeds}
	if n >= 3 && differ(slow, fast) {
		f.cols, f.place, f.time = [][]float64{ones, speeds}, 0, 1
	}
	for _, term := range passTerms(heads, speeds) {
		doubts = append(doubts, f.add(m, &term)...)
	}
	if some && n == len(list) {
		doubts = append(doubts, f.add(m, &sections)...)
	}
	line, ok := regress.NewGram(f.cols, f.y, FloorM).Fit(upTo(len(f.cols))...)
	if ok {
		line.Refine(f.cols, f.y, FloorM)
	} else {
		// One pass, or two: the time that explains them alone.
		beta := regress.Dot(speeds, f.y) / regress.Dot(speeds, speeds)
		f.cols, f.place, f.time, f.terms = [][]float64{speeds}, -1, 0, nil
		line = regress.Fit{Set: []int{0}, Beta: []float64{beta}, DF: 0, Sigma: w.SigmaM}
	}
	f.line = line
	return f, doubts
}

// add takes a term into the line, if there are rows enough and it can be told.
func (f *fitted) add(m Move, t *term) (doubts []Doubt) {
	n := len(f.y)
	with := append(append([][]float64{}, f.cols...), t.cols...)
	if n-len(with) < freeRows {
		return []Doubt{{About: TermFew, Move: m, Term: t.what, Count: n}}
	}
	if _, ok := regress.NewGram(with, f.y, FloorM).Fit(upTo(len(with))...); !ok {
		return []Doubt{{About: TermTogether, Move: m, Term: t.what, Count: n}}
	}
	f.cols, f.terms = with, append(f.terms, *t)
	return nil
}

// unnamed reports whether a reading has no pass.
func unnamed(list []Reading) bool {
	for i := range list {
		if list[i].Pass == "" {
			return true
		}
	}
	return false
}

// differ reports whether two speeds are two.
func differ(slow, fast float64) bool { return fast-slow >= oneSpeedMps-1e-9 }

func upTo(n int) []int {
	set := make([]int, n)
	for i := range set {
		set[i] = i
	}
	return set
}

// passTerms are those that passes carry: each of their values at least twice.
func passTerms(list []Reading, v []float64) []term {
	var out []term
	if t, ok := directionTerm(list); ok {
		out = append(out, t)
	}
	if t, ok := oilTerm(list, v); ok {
		out = append(out, t)
	}
	return out
}

// directionTerm is half a place more one way, and half less the other: the flag line or the field's
// map is off along the way.
func directionTerm(list []Reading) (term, bool) {
	count := map[string]int{}
	for _, r := range list {
		count[r.Direction]++
	}
	names := make([]string, 0, len(count))
	for name, n := range count {
		if name == "" || n < 2 {
			return term{}, false
		}
		names = append(names, name)
	}
	if len(names) != 2 {
		return term{}, false
	}
	sort.Strings(names)
	col := make([]float64, len(list))
	for i, r := range list {
		col[i] = 0.5
		if r.Direction == names[1] {
			col[i] = -0.5
		}
	}
	return term{Direction, [][]float64{col}, []Effect{{Term: Direction, Ways: [2]string(names)}}}, true
}

// oilTerm is a time more for cold oil.
func oilTerm(list []Reading, v []float64) (term, bool) {
	col := make([]float64, len(list))
	cold, warm, mean, lo, hi := 0, 0, 0.0, math.Inf(1), math.Inf(-1)
	for i, r := range list {
		switch {
		case r.OilC != nil:
			mean += *r.OilC / float64(len(list))
			lo, hi = min(lo, *r.OilC), max(hi, *r.OilC)
		case r.Oil == OilCold:
			cold++
			col[i] = 0.5 * v[i]
		case r.Oil == OilWarm:
			warm++
			col[i] = -0.5 * v[i]
		default:
			return term{}, false
		}
	}
	if cold >= 2 && warm >= 2 && cold+warm == len(list) {
		return term{ColdOil, [][]float64{col}, []Effect{{Term: ColdOil}}}, true
	}
	if cold+warm > 0 || !(hi-lo >= 10) {
		return term{}, false
	}
	for i, r := range list {
		col[i] = v[i] * (mean - *r.OilC) / 10
	}
	return term{ColdOil, [][]float64{col}, []Effect{{Term: ColdOil, KelvinC: true}}}, true
}

// sectionTerm is a time more or less for each section beside their mean. Readings of all sections
// together count for the mean.
func sectionTerm(list []Reading, v []float64) (term, bool) {
	count := map[int]int{}
	for _, r := range list {
		if r.Section > 0 {
			count[r.Section]++
		}
	}
	numbers := make([]int, 0, len(count))
	for number, n := range count {
		if n < 2 {
			return term{}, false
		}
		numbers = append(numbers, number)
	}
	if len(numbers) < 2 {
		return term{}, false
	}
	sort.Ints(numbers)
	t := term{what: Sections}
	last := numbers[len(numbers)-1]
	for _, number := range numbers {
		t.is = append(t.is, Effect{Term: Sections, Section: number})
		if number == last {
			break
		}
		col := make([]float64, len(list))
		for i, r := range list {
			switch r.Section {
			case number:
				col[i] = v[i]
			case last:
				col[i] = -v[i]
			}
		}
		t.cols = append(t.cols, col)
	}
	return t, true
}

// effects are the terms with their sizes.
func (f *fitted) effects() []Effect {
	if f.line.DF < 1 {
		return nil
	}
	var out []Effect
	at := len(f.cols)
	for i := range f.terms {
		at -= len(f.terms[i].cols)
	}
	for i := range f.terms {
		t := &f.terms[i]
		out = append(out, t.effects(&f.line, at)...)
		at += len(t.cols)
	}
	if f.inside != nil {
		out = append(out, f.inside.effects(&f.beside.line, 0)...)
	}
	return out
}

// effects are those of a term whose coefficients begin at one of a fit.
func (t *term) effects(line *regress.Fit, at int) []Effect {
	var out []Effect
	q := regress.Quantile(0.05, line.DF)
	z := make([]float64, len(line.Beta))
	sum := 0.0
	for k, e := range t.is {
		size := 0.0
		if k < len(t.cols) {
			size = line.Beta[at+k]
			e.Half = q * line.SE(at+k)
			sum += size
			z[at+k] = 1
		} else { // the last section: what is missing from a mean of 0
			size = -sum
			e.Half = q * line.Sigma * math.Sqrt(regress.Quadratic(line.Inv, z))
		}
		if t.what == Direction {
			e.PlaceM = size
		} else {
			e.TimeS = size
		}
		out = append(out, e)
	}
	return out
}

// distance takes the places of lift and drop together: a wrong distance from antenna to tool shows in
// both alike.
func (a *Answer) distance(antenna *float64) {
	d := &a.Distance
	d.SetM = antenna
	l, r := a.Lift, a.Drop
	switch {
	case l != nil && l.Parted && r != nil && r.Parted:
		cols, y := joined(&l.fit, &r.fit)
		g := regress.NewGram(cols, y, FloorM)
		last := len(cols) - 1
		if both, ok := g.Fit(upTo(last + 1)...); ok {
			both.Refine(cols, y, FloorM)
			d.Differ = both.P(last) < 0.05
		}
		line, ok := g.Fit(upTo(last)...)
		if !ok {
			return
		}
		line.Refine(cols, y, FloorM)
		d.Known, d.ErrorM, d.CI95 = true, line.Beta[0], line.Interval(0)
	case l != nil && l.Parted:
		d.Known, d.ErrorM, d.CI95 = true, *l.PlaceErrorM, *l.PlaceErrorCI95
	case r != nil && r.Parted:
		d.Known, d.ErrorM, d.CI95 = true, *r.PlaceErrorM, *r.PlaceErrorCI95
	default:
		return
	}
	d.Change = !d.Differ && (d.CI95[0] > 0 || d.CI95[1] < 0)
	if d.Change && d.SetM != nil {
		// A distance too long makes the tool late by as much.
		d.NewM = *d.SetM - d.ErrorM
	}
	if d.Differ {
		a.CannotTell = append(a.CannotTell, Doubt{About: NoDistance, First: *l.PlaceErrorM, Last: *r.PlaceErrorM})
	}
}

// joined are the columns of both moves: one place, a time and terms of each, and as the last column
// the difference of their places.
func joined(l, r *fitted) (cols [][]float64, y []float64) {
	n, all := len(l.y), len(l.y)+len(r.y)
	y = append(append(y, l.y...), r.y...)
	ones, apart := make([]float64, all), make([]float64, all)
	for i := range ones {
		ones[i], apart[i] = 1, 0.5
		if i >= n {
			apart[i] = -0.5
		}
	}
	cols = append(cols, ones)
	for k, f := range []*fitted{l, r} {
		for _, c := range f.cols[1:] {
			wide := make([]float64, all)
			copy(wide[k*n:], c)
			cols = append(cols, wide)
		}
	}
	return append(cols, apart), y
}

// WithinM is within how many metres of the line 95 % of readings will lie at a speed, once what was
// found is set: scatter of a reading and uncertainty of the line together, about the place that is
// left where the distance is not changed. ok is false where too little is known.
func (a *Answer) WithinM(m Move, atMps float64) (withinM float64, ok bool) {
	t := a.Of(m)
	if t == nil || t.fit.line.DF < 1 {
		return 0, false
	}
	f := &t.fit
	x := make([]float64, len(f.cols))
	x[f.time] = atMps
	middle := 0.0
	if t.Parted {
		x[f.place] = 1
		if !a.Distance.Change {
			middle = math.Abs(*t.PlaceErrorM)
		}
	}
	s := math.Sqrt(t.SigmaM*t.SigmaM + f.line.Sigma*f.line.Sigma*regress.Quadratic(f.line.Inv, x))
	df := float64(f.line.DF)
	lo, hi := 0.0, middle+s*sample.StudentQuantile(0.9999, df)
	for range 100 {
		mid := (lo + hi) / 2
		if sample.StudentCDF((mid-middle)/s, df)-sample.StudentCDF((-mid-middle)/s, df) < 0.95 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2, true
}

// AloneMs is the lead that is right at one speed while the distance stays as it is, and half of its
// 95 % interval. ok is false where time and place are not parted or no lead is known.
func (t *Timing) AloneMs(atMps float64) (ms, half float64, ok bool) {
	if !t.Parted || t.LeadMs == nil {
		return 0, 0, false
	}
	f := &t.fit
	x := make([]float64, len(f.cols))
	x[f.place], x[f.time] = 1, atMps
	half = regress.Quantile(0.05, f.line.DF) * f.line.Sigma * math.Sqrt(regress.Quadratic(f.line.Inv, x)) / atMps
	return *t.LeadMs + 1000**t.PlaceErrorM/atMps, 1000 * half, true
}

// next asks for the fewest further passes that bring both leads to what is wanted.
func (a *Answer) next(w Wish) {
	slow, fast := 0, 0
	for _, m := range []Move{Lift, Drop} {
		t := a.Of(m)
		if t == nil {
			continue
		}
		if s, f, enough := t.more(w); s+f > 0 {
			slow, fast = max(slow, s), max(fast, f)
			if !enough {
				a.CannotTell = append(a.CannotTell, Doubt{About: LeadNever, Move: m, Count: mostNext, First: w.WantS, Last: t.SigmaM})
			}
		}
	}
	for _, p := range []Passes{{3.6 * w.SlowMps, slow}, {3.6 * w.FastMps, fast}} {
		if p.Passes > 0 {
			p.SpeedKmh = math.Round(p.SpeedKmh*100) / 100
			a.Next = append(a.Next, p)
		}
	}
}

// more returns how many further passes at the two speeds bring the lead to what is wanted; enough is
// false if mostNext do not.
func (t *Timing) more(w Wish) (slow, fast int, enough bool) {
	if t.Parted && (t.TimeErrorCI95[1]-t.TimeErrorCI95[0])/2 <= w.WantS {
		return 0, 0, true
	}
	n, sum, squares := float64(t.Passes), 0.0, 0.0
	for _, p := range t.fit.passes {
		mps := t.Used[p[0]].SpeedMps
		sum += mps
		squares += mps * mps
	}
	for k := 1; k <= mostNext; k++ {
		best := math.Inf(1)
		for s := 0; s <= k; s++ {
			f := k - s
			all := n + float64(k)
			sm := sum + float64(s)*w.SlowMps + float64(f)*w.FastMps
			sq := squares + float64(s)*w.SlowMps*w.SlowMps + float64(f)*w.FastMps*w.FastMps
			about := sq - sm*sm/all
			if all < 3 || !(about > 1e-9) {
				continue
			}
			if half := regress.Quantile(0.05, int(all)-2) * t.fit.line.Sigma / math.Sqrt(about); half < best*(1-1e-9) {
				best, slow, fast = half, s, f
			}
		}
		if best <= w.WantS {
			return slow, fast, true
		}
	}
	return slow, fast, false
}
