// The answer: the line through the readings of each move, and what to set.

package tape

import (
	"fmt"
	"math"
	"sort"
	"strings"

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
	CannotTell []string `json:"cannot_tell"`
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
	MeanMps  float64   `json:"-"` // mean speed
	Effects  []Effect  `json:"-"` // of sections, directions, oil
	Used     []Reading `json:"-"` // those that count
	fit      fitted
}

// LeftOut is a reading that does not count, and why.
type LeftOut struct {
	Row int    `json:"row"`
	Why string `json:"why"`
}

// Passes are passes at one speed.
type Passes struct {
	SpeedKmh float64 `json:"speed_kmh"`
	Passes   int     `json:"passes"`
}

// Effect is by how much one section, direction or oil differs.
type Effect struct {
	Name   string
	TimeS  float64 // later than the mean; 0 where it is a place
	PlaceM float64 // further on than the mean; 0 where it is a time
	Half   float64 // of the 95 % interval, s or m
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

// fitted is a line with its terms.
type fitted struct {
	line  regress.Fit
	cols  [][]float64
	y     []float64
	place int // column of Δx; -1 = none
	time  int // column of Δt
	terms []term
}

// term is something beside place and time that readings may hang on.
type term struct {
	what string      // direction, oil or section
	cols [][]float64 // one for each coefficient
	name []string    // of each coefficient; one more for sections: the last
}

// Find tells what to set.
func Find(list []Reading, w Wish) *Answer {
	a := &Answer{CannotTell: []string{}, Next: []Passes{}}
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
	most := max(1, len(own)/5) // left out at most
	for {
		var left []string
		t.fit, left = fit(used, leadS, antenna, w)
		f := &t.fit
		t.Parted = f.place >= 0
		row, p, alike := f.line.Slipped(f.cols, f.y, FloorM)
		if p >= slipAt || len(t.LeftOut) == most {
			a.CannotTell = append(a.CannotTell, left...)
			break
		}
		if alike != nil {
			a.CannotTell = append(a.CannotTell, left...)
			a.CannotTell = append(a.CannotTell, fmt.Sprintf("%s: which of %s is wrong; one of them is, beyond chance: measure there again", m, rowsText(used, row, alike)))
			break
		}
		fitOf := regress.Predict(&f.line, f.cols, len(f.y))[row]
		off := f.y[row] - fitOf
		t.LeftOut = append(t.LeftOut, LeftOut{used[row].Row, fmt.Sprintf("%+.0f cm beside the line of the others, where chance puts one reading in %s so far off: misread or a slip?", 100*(off/leverageRest(f, row)), inWords(p))})
		used = append(append([]Reading{}, used[:row]...), used[row+1:]...)
	}
	t.Used, t.Count = used, len(used)
	slow, fast := math.Inf(1), 0.0
	for _, r := range used {
		t.MeanMps += r.SpeedMps / float64(len(used))
		slow, fast = min(slow, r.SpeedMps), max(fast, r.SpeedMps)
	}
	t.OneSpeed = !differ(slow, fast)
	f := &t.fit
	t.SigmaM = f.line.Sigma
	half := w.SigmaM / math.Sqrt(regress.Dot(f.cols[0], f.cols[0])) * sample.Z95
	if f.line.DF < 1 {
		t.Assumed, t.SigmaM = true, w.SigmaM
		a.CannotTell = append(a.CannotTell, fmt.Sprintf("%s: how far readings scatter, from %d; ±%.0f cm (a standard deviation) are assumed", m, len(used), 100*w.SigmaM))
	} else {
		half = regress.Quantile(0.05, f.line.DF) * f.line.SE(f.time)
	}
	t.TimeErrorS = f.line.Beta[f.time]
	t.TimeErrorCI95 = [2]float64{t.TimeErrorS - half, t.TimeErrorS + half}
	switch {
	case t.Parted:
		place, ci := f.line.Beta[f.place], f.line.Interval(f.place)
		t.PlaceErrorM, t.PlaceErrorCI95 = &place, &ci
	case !t.OneSpeed:
		a.CannotTell = append(a.CannotTell, fmt.Sprintf("%s: whether a time or a place is wrong: %d readings are too few; the lead is right if no place is", m, len(used)))
	default:
		a.CannotTell = append(a.CannotTell, fmt.Sprintf("%s: whether a time or a place is wrong, as all passes were at about %.1f km/h; the lead is right for that speed alone", m, 3.6*t.MeanMps))
	}
	if t.LeadSetMs != nil {
		ms := *t.LeadSetMs + 1000*t.TimeErrorS
		t.LeadMs, t.LeadCI95Ms = &ms, &[2]float64{ms - 1000*half, ms + 1000*half}
	}
	t.Effects = f.effects()
	return t
}

// leverageRest is 1 - h of a row: beside the line of the others it is off by its residual over that.
func leverageRest(f *fitted, row int) float64 {
	x := make([]float64, len(f.line.Set))
	for j, q := range f.line.Set {
		x[j] = f.cols[q][row]
	}
	return 1 - regress.Quadratic(f.line.Inv, x)
}

// inWords is 1/p in round numbers.
func inWords(p float64) string {
	switch n := 1 / p; {
	case n > 1e6:
		return "a million sheets"
	case n > 1000:
		return fmt.Sprintf("%.0f thousand sheets", n/1000)
	default:
		return fmt.Sprintf("%.0f sheets", n)
	}
}

// rowsText names rows.
func rowsText(list []Reading, row int, more []int) string {
	rows := []int{list[row].Row}
	for _, i := range more {
		rows = append(rows, list[i].Row)
	}
	sort.Ints(rows)
	text := make([]string, len(rows))
	for i, r := range rows {
		text[i] = fmt.Sprint(r)
	}
	return "rows " + strings.Join(text[:len(text)-1], ", ") + " and " + text[len(text)-1]
}

// fit draws the line through readings of one move. Where leads or distances changed between passes,
// each reading is brought to what was set at last: a lead longer by L makes a tool earlier by v·L, a
// distance longer by D later by D. It says which of the terms the readings carry cannot be told.
func fit(list []Reading, leadS float64, antenna *float64, w Wish) (f fitted, left []string) {
	n := len(list)
	ones, v, y := make([]float64, n), make([]float64, n), make([]float64, n)
	slow, fast := math.Inf(1), 0.0
	for i, r := range list {
		ones[i], v[i], y[i] = 1, r.SpeedMps, r.LateM
		if r.LeadS != nil {
			y[i] += r.SpeedMps * (*r.LeadS - leadS)
		}
		if r.AntennaM != nil {
			y[i] -= *r.AntennaM - *antenna
		}
		slow, fast = min(slow, v[i]), max(fast, v[i])
	}
	f = fitted{cols: [][]float64{v}, y: y, place: -1, time: 0}
	if n >= 3 && differ(slow, fast) {
		f.cols, f.place, f.time = [][]float64{ones, v}, 0, 1
	}
	for _, term := range terms(list, v) {
		with := append(append([][]float64{}, f.cols...), term.cols...)
		if n-len(with) < freeRows {
			left = append(left, fmt.Sprintf("%s: whether %s matters, from %d readings", list[0].Move, term.what, n))
			continue
		}
		if _, ok := regress.NewGram(with, y, FloorM).Fit(upTo(len(with))...); !ok {
			left = append(left, fmt.Sprintf("%s: whether %s matters, as it changed together with something else on the same passes", list[0].Move, term.what))
			continue
		}
		f.cols, f.terms = with, append(f.terms, term)
	}
	line, ok := regress.NewGram(f.cols, y, FloorM).Fit(upTo(len(f.cols))...)
	if ok {
		line.Refine(f.cols, y, FloorM)
	} else {
		// One reading, or two: the time that explains them alone.
		beta := regress.Dot(v, y) / regress.Dot(v, v)
		f.cols, f.place, f.time, f.terms = [][]float64{v}, -1, 0, nil
		line = regress.Fit{Set: []int{0}, Beta: []float64{beta}, DF: 0, Sigma: w.SigmaM}
	}
	f.line = line
	return f, left
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

// terms are those that the readings carry: each of their values at least twice.
func terms(list []Reading, v []float64) []term {
	var out []term
	if t, ok := directionTerm(list); ok {
		out = append(out, t)
	}
	if t, ok := oilTerm(list, v); ok {
		out = append(out, t)
	}
	if t, ok := sectionTerm(list, v); ok {
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
	return term{"the direction", [][]float64{col}, []string{names[0] + " beside " + names[1]}}, true
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
		return term{"cold oil", [][]float64{col}, []string{"cold oil beside warm"}}, true
	}
	if cold+warm > 0 || !(hi-lo >= 10) {
		return term{}, false
	}
	for i, r := range list {
		col[i] = v[i] * (mean - *r.OilC) / 10
	}
	return term{"cold oil", [][]float64{col}, []string{"oil colder by 10 K"}}, true
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
	t := term{what: "the section"}
	last := numbers[len(numbers)-1]
	for _, number := range numbers {
		t.name = append(t.name, fmt.Sprintf("section %d", number))
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

// effects are the terms in words and numbers.
func (f *fitted) effects() []Effect {
	var out []Effect
	if f.line.DF < 1 {
		return nil
	}
	q := regress.Quantile(0.05, f.line.DF)
	at := len(f.cols)
	for _, t := range f.terms {
		at -= len(t.cols)
	}
	for _, t := range f.terms {
		z := make([]float64, len(f.cols))
		sum := 0.0
		for k, name := range t.name {
			e := Effect{Name: name}
			size := 0.0
			if k < len(t.cols) {
				size = f.line.Beta[at+k]
				e.Half = q * f.line.SE(at+k)
				sum += size
				z[at+k] = 1
			} else { // the last section: what is missing from a mean of 0
				size = -sum
				e.Half = q * f.line.Sigma * math.Sqrt(regress.Quadratic(f.line.Inv, z))
			}
			if t.what == "the direction" {
				e.PlaceM = size
			} else {
				e.TimeS = size
			}
			out = append(out, e)
		}
		at += len(t.cols)
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
		a.CannotTell = append(a.CannotTell, fmt.Sprintf("what puts lifts %+.0f cm and drops %+.0f cm off their place: no distance does both; measure both to the same edge of the soil, at the same depth", 100**l.PlaceErrorM, 100**r.PlaceErrorM))
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
	s := f.line.Sigma * math.Sqrt(1+regress.Quadratic(f.line.Inv, x))
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
				a.CannotTell = append(a.CannotTell, fmt.Sprintf("%s: its lead to ±%.0f ms, even with %d more passes: readings scatter by %.0f cm; look for what makes them", m, 1000*w.WantS, mostNext, 100*t.SigmaM))
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
	n, sum, squares := float64(t.Count), 0.0, 0.0
	for _, r := range t.Used {
		sum += r.SpeedMps
		squares += r.SpeedMps * r.SpeedMps
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
			if half := regress.Quantile(0.05, int(all)-2) * t.SigmaM / math.Sqrt(about); half < best*(1-1e-9) {
				best, slow, fast = half, s, f
			}
		}
		if best <= w.WantS {
			return slow, fast, true
		}
	}
	return slow, fast, false
}
