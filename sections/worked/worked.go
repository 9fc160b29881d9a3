// Package worked remembers which crop rows have been worked, and from where to
// where, so that a pass that overlaps an earlier one by whole rows can leave those
// rows alone. It holds plain numbers in arrays of a fixed size, and allocates nothing
// once constructed.
package worked

import (
	"fmt"
	"math"

	"liftbench/sections/field"
)

// MostRows is how many rows a record can hold, in all directions together: 1.3 MB.
// At 0.5 m from row to row it is enough for a field of 8 km across.
const MostRows = 16384

// mostStretches is how many stretches of one row are remembered. A row in one piece
// takes one; a ditch, a pole or a gap in the position makes one more.
const mostStretches = 6

const (
	perM      = 1e4 // a stretch's ends are whole tenths of a millimetre
	farthestM = 2e5 // from the plane's origin
	touchM    = 0.01
	backM     = 0.5 // further back than this a new pass begins
)

// Line is where a section is, from its left to its right end: metres east and north on
// the plane.
type Line struct{ LeftE, LeftN, RightE, RightN float64 }

// stretch is a part of a row that was worked on one pass: from and to are along the
// row bearing.
type stretch struct{ From, To, Pass int32 }

// row is what was worked of one row.
type row struct {
	N    int32 // of Worked
	List [mostStretches]stretch
}

// pass is what there is to remember of one class for Follow.
type pass struct {
	// Number of the pass at hand. What is worked on it does not count as worked yet,
	// so that the bar never meets its own work where the position jumps back a bit.
	Number  int32
	Taking  bool // its zones take part
	Forward bool // along the row bearing
	Marked  bool // something was worked on it
	// RowM is where a row lies across, from the plane's origin to the right: as drilled,
	// or as the first pass went; NaN before.
	RowM float64
	// AsideM is how far to the right of its rows the bar runs on this pass.
	AsideM float64
}

// class is the rows of one direction.
type class struct {
	field.RowClass
	rows  []row
	pass  *pass
	row0M float64 // where row 0 lies on the pass at hand: see place
}

// Record is the rows of a field with what was worked of them.
type Record struct {
	spacingM float64
	rowsPerM float64
	classes  []class
	passes   []pass
	rows     []row
	back     back
}

// back is how far the tractor has come back since it last went forward.
type back struct {
	WayM      float64
	Forgotten int64
}

// New returns a record of the field's rows, of which none is worked yet. It fails on a
// field without rows, or with more than MostRows.
func New(f *field.Field, spacingM float64) (*Record, error) {
	if !(spacingM >= 0.05 && spacingM <= 10) {
		return nil, fmt.Errorf("row spacing %g m; expected 0.05 to 10, to know which rows are worked", spacingM)
	}
	r := &Record{spacingM: spacingM, rowsPerM: 1 / spacingM}
	list := f.RowClasses()
	if len(list) == 0 {
		return nil, fmt.Errorf("no zone that is worked says how its rows run; expected a row bearing, to know which rows are worked")
	}
	counts, all := make([]int, len(list)), 0
	for i, c := range list {
		counts[i] = int(math.Ceil((c.RightM-c.LeftM)/spacingM)) + 2
		all += counts[i]
	}
	if all > MostRows {
		return nil, fmt.Errorf("%d rows of %g m in the zones that are worked; expected %d at most, to know which rows are worked", all, spacingM, MostRows)
	}
	r.rows, r.passes = make([]row, all), make([]pass, len(list))
	rest := r.rows
	for i, c := range list {
		r.passes[i].RowM = c.RowM
		r.classes = append(r.classes, class{RowClass: c, rows: rest[:counts[i]], pass: &r.passes[i]})
		r.place(&r.classes[i])
		rest = rest[counts[i]:]
	}
	return r, nil
}

// Forgotten returns how many stretches there was no room for: that ground is worked
// again.
func (r *Record) Forgotten() int64 { return r.back.Forgotten }

// Follow goes on to a place that wayM, negative backwards, is from the one before,
// where the bar is and these zones take part. A pass over the rows of a zone ends where
// that no longer takes part, where the tractor has turned round, and where it has come
// back by half a metre.
//
// A hoe works whole rows however it strays: so its rows are those that it is nearest to
// as it first works on a pass, give or take swayAside, and they stay the same until it has
// come most of a row away from them. While it works, AsideM follows it over asideOverM. A
// bar that crosses the rows at an angle has none of its own: they stay where they are.
func (r *Record) Follow(zones field.Mask, bar *Line, wayM float64) {
	was := r.back.WayM
	r.back.WayM = max(0, was-wayM)
	if wayM > 0 {
		r.back.WayM = 0
	}
	cameBack := was < backM && r.back.WayM >= backM
	for i := range r.classes {
		c := &r.classes[i]
		p := c.pass
		taking := zones&c.Zones != 0
		left, right := c.across(bar.LeftE, bar.LeftN), c.across(bar.RightE, bar.RightN)
		begins := taking && (!p.Taking || left < right != p.Forward || cameBack)
		if p.Taking && (begins || !taking) {
			p.Number++
			p.Marked = false
		}
		p.Taking, p.Forward = taking, left < right
		if !taking || math.IsNaN(p.RowM) || !c.along(bar) {
			continue
		}
		off := min(left, right) + float64(r.spacingM/2) - p.RowM - p.AsideM
		off -= float64(math.Round(off/r.spacingM) * r.spacingM)
		if p.Marked {
			off *= min(math.Abs(wayM)/asideOverM, 1)
		}
		p.AsideM += off
		rows := p.AsideM / r.spacingM
		sways := !begins && rows > -belowAside-swayAside && rows < 1-belowAside+swayAside
		if !p.Marked && !sways || math.Abs(rows) > mostAside {
			p.AsideM -= float64(math.Floor(rows+belowAside) * r.spacingM)
		}
		r.place(c)
	}
}

const (
	asideOverM = 10.0
	mostAside  = 0.8 // of a row
	// Where a pass lies between two rows, half a row beside them is the likeliest: that
	// is not where the one row gives way to the other.
	belowAside = 0.43
	// Where the one row gives way to the other all the same, it does not for so little.
	swayAside = 0.05
)

// across is how far a point is right of the plane's origin as the rows run.
func (c *class) across(e, n float64) float64 {
	if c.Line != nil {
		return c.Line.Near(e, n).RightM
	}
	return float64(e*c.CosRow) - float64(n*c.SinRow)
}

// along reports whether a bar is square to the rows, and so goes along them, to within 2°:
// as far as the heading strays on a pass.
func (c *class) along(bar *Line) bool {
	if c.Line != nil {
		return c.alongBend(bar)
	}
	e, n := bar.RightE-bar.LeftE, bar.RightN-bar.LeftN
	return math.Abs(float64(e*c.SinRow)+float64(n*c.CosRow)) <= tanAlong*math.Abs(float64(e*c.CosRow)-float64(n*c.SinRow))
}

const tanAlong = 0.0349 // of 2°

// span is a line as a class sees it: v across the rows, u along them, the left end
// first in either driving direction.
type span struct {
	v0, u0, v1, u1 float64
	slope          float64 // du/dv
	first, last    int     // the rows whose middle it covers; none if last < first
}

func (r *Record) span(c *class, l *Line) span {
	var s span
	if c.Line != nil {
		s = c.spanBend(l)
	} else {
		s = c.spanStraight(l)
	}
	if s.v0 > s.v1 {
		s.v0, s.u0, s.v1, s.u1 = s.v1, s.u1, s.v0, s.u0
	}
	if s.v1 > s.v0 {
		s.slope = (s.u1 - s.u0) / (s.v1 - s.v0)
	}
	s.first = max(0, int(math.Ceil(float64((s.v0-c.row0M)*r.rowsPerM))))
	s.last = min(len(c.rows)-1, int(math.Ceil(float64((s.v1-c.row0M)*r.rowsPerM)))-1)
	return s
}

func (c *class) spanStraight(l *Line) span {
	return span{
		v0: c.across(l.LeftE, l.LeftN), u0: float64(l.LeftE*c.SinRow) + float64(l.LeftN*c.CosRow),
		v1: c.across(l.RightE, l.RightN), u1: float64(l.RightE*c.SinRow) + float64(l.RightN*c.CosRow),
	}
}

// place puts row 0 of a class where it is on the pass at hand: the first one less than a
// spacing left of the zones, as far to the right of it as the bar runs.
func (r *Record) place(c *class) {
	before := math.Ceil((c.pass.RowM - c.LeftM) / r.spacingM)
	c.row0M = c.pass.RowM - float64(before*r.spacingM) + c.pass.AsideM
}

// row returns where along row k the line meets it, and where the row lies across.
func (r *Record) row(c *class, s *span, k int) (u, v float64) {
	v = c.row0M + float64(float64(k)*r.spacingM)
	return s.u0 + float64(s.slope*(v-s.v0)), v
}

// whole is a place along a row in whole tenths of a millimetre.
func whole(m float64) int32 { return int32(math.Round(max(-farthestM, min(m, farthestM)) * perM)) }

// Mark notes that a section in work has gone from one line to another: the rows whose
// middle the second covers are worked in between.
func (r *Record) Mark(zones field.Mask, from, to *Line) {
	for i := range r.classes {
		c := &r.classes[i]
		if zones&c.Zones == 0 {
			continue
		}
		if math.IsNaN(c.pass.RowM) {
			c.pass.RowM, c.pass.AsideM = r.firstRowM(c, from), 0
			r.place(c)
		}
		c.pass.Marked = true
		a, b := r.span(c, from), r.span(c, to)
		for k := b.first; k <= b.last; k++ {
			u, _ := r.row(c, &a, k)
			v, _ := r.row(c, &b, k)
			r.addBetween(c, k, u, v)
		}
	}
}

// addBetween notes that row k was worked between two places along it.
func (r *Record) addBetween(c *class, k int, u, v float64) {
	if around := c.aroundM(); around > 0 {
		if u, v = wrapped(u, around), wrapped(v, around); math.Abs(u-v) > around/2 { // by way of the line's beginning
			r.add(&c.rows[k], stretch{whole(max(u, v)), whole(around), c.pass.Number})
			r.add(&c.rows[k], stretch{0, whole(min(u, v)), c.pass.Number})
			return
		}
	}
	r.add(&c.rows[k], stretch{whole(min(u, v)), whole(max(u, v)), c.pass.Number})
}

// firstRowM is where the leftmost row of a section lies that is over whole rows.
func (r *Record) firstRowM(c *class, l *Line) float64 {
	v0, v1 := c.across(l.LeftE, l.LeftN), c.across(l.RightE, l.RightN)
	n := max(1, math.Round(math.Abs(v1-v0)/r.spacingM))
	return float64((v0+v1)/2) - float64((n-1)/2*r.spacingM)
}

// add notes a stretch. Where a row has no room for another, the shortest is forgotten.
func (r *Record) add(w *row, s stretch) {
	const touch = touchM * perM
	for i := range w.List[:w.N] {
		if o := &w.List[i]; o.Pass == s.Pass && s.From <= o.To+touch && s.To >= o.From-touch {
			o.From, o.To = min(o.From, s.From), max(o.To, s.To)
			return
		} else if o.From <= s.From && o.To >= s.To {
			return
		}
	}
	if w.N == mostStretches {
		w.merge(s.Pass)
	}
	if w.N < mostStretches {
		w.List[w.N] = s
		w.N++
		return
	}
	r.back.Forgotten++
	least := 0
	for i := range w.List {
		if w.List[i].length() < w.List[least].length() {
			least = i
		}
	}
	if w.List[least].length() < s.length() {
		w.List[least] = s
	}
}

func (s *stretch) length() int32 { return s.To - s.From }

// merge makes one of stretches that overlap and are of earlier passes.
func (w *row) merge(now int32) {
	for i := 0; i < int(w.N); i++ {
		for j := i + 1; j < int(w.N); j++ {
			a, b := &w.List[i], &w.List[j]
			if a.Pass != now && b.Pass != now && a.From <= b.To && b.From <= a.To {
				a.From, a.To = min(a.From, b.From), max(a.To, b.To)
				w.N--
				w.List[j] = w.List[w.N]
				i = -1 // from the start
				break
			}
		}
	}
}

// worked reports whether the row was worked at a place, on an earlier pass.
func (w *row) worked(at, now int32) bool {
	for i := range w.List[:w.N] {
		if s := &w.List[i]; s.From <= at && at < s.To && s.Pass != now {
			return true
		}
	}
	return false
}

// Left returns which share of the rows whose middle a section covers is not worked
// yet, 1 where it covers none. zones are those that take part. Where it lies
// partly outside them, inside is the field: then rows outside do not count. Where the
// middles of all are outside, the row at an end that is inside counts, or all of them.
// Otherwise inside is nil.
func (r *Record) Left(zones field.Mask, l *Line, inside *field.Field) float64 {
	least := 1.0
	for i := range r.classes {
		c := &r.classes[i]
		if zones&c.Zones == 0 || math.IsNaN(c.pass.RowM) {
			continue
		}
		s := r.span(c, l)
		var all, in, ends share
		for k := s.first; k <= s.last; k++ {
			u, v := r.row(c, &s, k)
			fresh := !c.rows[k].worked(whole(c.station(u)), c.pass.Number)
			all.count(fresh)
			if inside == nil {
				continue
			}
			if c.inside(inside, zones, u, v) {
				in.count(fresh)
			}
			if k == s.first && c.inside(inside, zones, s.u0, s.v0) || k == s.last && c.inside(inside, zones, s.u1, s.v1) {
				ends.count(fresh)
			}
		}
		switch {
		case in.of > 0:
			all = in
		case ends.of > 0:
			all = ends
		}
		if all.of > 0 {
			least = min(least, all.part/all.of)
		}
	}
	return least
}

// share is how many of a number of rows are not worked yet.
type share struct{ part, of float64 }

func (s *share) count(fresh bool) {
	if s.of++; fresh {
		s.part++
	}
}

// inside reports whether a place, u along the rows and v across them, is in any of the zones.
func (c *class) inside(f *field.Field, zones field.Mask, u, v float64) bool {
	e, n := float64(u*c.SinRow)+float64(v*c.CosRow), float64(u*c.CosRow)-float64(v*c.SinRow)
	if c.Line != nil {
		e, n, _, _, _ = c.Line.At(u, v)
	}
	return f.Share(e, n, e, n, zones) > 0
}

// Touches reports whether any row that a line, on its way to another, can cover may be
// worked, within aheadM along the rows.
func (r *Record) Touches(zones field.Mask, from, to *Line, aheadM float64) bool {
	for i := range r.classes {
		c := &r.classes[i]
		if zones&c.Zones == 0 || math.IsNaN(c.pass.RowM) {
			continue
		}
		a, b := r.span(c, from), r.span(c, to)
		ahead := aheadM
		if c.Line != nil {
			ahead = c.aheadBend(from, to, aheadM)
		}
		lo, hi := whole(min(a.u0, a.u1, b.u0, b.u1)-ahead), whole(max(a.u0, a.u1, b.u0, b.u1)+ahead)
		if around := c.aroundM(); around > 0 && (lo < 0 || hi > whole(around)) {
			lo, hi = 0, whole(around)
		}
		for k := min(a.first, b.first); k <= max(a.last, b.last); k++ {
			w := &c.rows[k]
			for j := range w.List[:w.N] {
				if s := &w.List[j]; s.From <= hi && lo <= s.To && s.Pass != c.pass.Number {
					return true
				}
			}
		}
	}
	return false
}
