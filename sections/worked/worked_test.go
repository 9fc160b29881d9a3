// The record of worked rows, against a second one that forgets nothing: a list of all
// marks, asked place by place.

package worked

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"liftbench/sections/field"
	"liftbench/sections/geodesy"
)

// meadow is a body of so many metres across, its rows 30° from north, with a row drilled
// 0.25 m inside its left side.
func meadow(t rapid.TB, acrossM float64, drilled bool) *field.Field {
	t.Helper()
	s, c := math.Sincos(math.Pi / 6)
	at := func(u, v float64) orb.Point { return orb.Point{u*s + v*c, u*c - v*s} }
	z := field.Zone{Name: "body", RowBearingRad: math.Pi / 6,
		Polygons: orb.MultiPolygon{{{at(0, 0), at(100, 0), at(100, acrossM), at(0, acrossM), at(0, 0)}}}}
	if drilled {
		z.Drill = field.Drill{Known: true, At: at(40, 0.25)}
	}
	f, err := field.New(geodesy.NewPlane(52, 10), nil, []field.Zone{z})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// line is a section from v0 to v1 across the rows, at u along them.
func line(u, v0, v1 float64) *Line {
	s, c := math.Sincos(math.Pi / 6)
	return &Line{u*s + v0*c, u*c - v0*s, u*s + v1*c, u*c - v1*s}
}

const all = ^field.Mask(0)

func record(t rapid.TB, f *field.Field, spacingM float64) *Record {
	t.Helper()
	r, err := New(f, spacingM)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// newPass ends a pass and begins one, with the bar at l.
func newPass(r *Record, l *Line) {
	r.Follow(0, l, 1)
	r.Follow(all, l, 1)
}

func TestMarksBesideAList(t *testing.T) {
	f := meadow(t, 30, true)
	rapid.Check(t, func(t *rapid.T) {
		r := record(t, f, 0.5)
		type mark struct {
			pass     int
			row      int
			from, to float64
		}
		var marks []mark
		passes := rapid.IntRange(1, 4).Draw(t, "passes")
		for pass := range passes {
			first := rapid.IntRange(0, 50).Draw(t, "row")
			rows := rapid.IntRange(1, 6).Draw(t, "rows")
			v0, v1 := float64(first)*0.5, float64(first+rows)*0.5
			back := rapid.Bool().Draw(t, "back")
			if back {
				v0, v1 = v1, v0
			}
			newPass(r, line(0, v0, v1))
			u := rapid.Float64Range(-5, 50).Draw(t, "from")
			for range rapid.IntRange(1, 5).Draw(t, "steps") {
				to := u + rapid.Float64Range(0.02, 30).Draw(t, "way")
				aside := rapid.Float64Range(-0.05, 0.05).Draw(t, "aside")
				r.Follow(all, line(u, v0+aside, v1+aside), 1)
				r.Mark(all, line(u, v0+aside, v1+aside), line(to, v0+aside, v1+aside))
				for k := range rows {
					marks = append(marks, mark{pass, first + k, u, to})
				}
				if rapid.Bool().Draw(t, "gap") {
					to += rapid.Float64Range(0.5, 5).Draw(t, "gap way")
				}
				u = to
			}
		}
		if r.Forgotten() > 0 {
			t.Skip("more stretches than there is room for")
		}
		for range 50 {
			first, rows := rapid.IntRange(0, 55).Draw(t, "ask row"), rapid.IntRange(1, 4).Draw(t, "ask rows")
			u := rapid.Float64Range(-10, 150).Draw(t, "ask at")
			left, clear := 0, true
			for k := range rows {
				done := false
				for _, m := range marks {
					if m.pass == passes-1 || m.row != first+k {
						continue
					}
					done = done || u >= m.from && u < m.to
					// Within a millimetre of an end either may be right.
					clear = clear && math.Abs(u-m.from) > 0.001 && math.Abs(u-m.to) > 0.001
				}
				if !done {
					left++
				}
			}
			// The last pass ran up to 5 cm beside its rows, which is taken off what is asked.
			v0 := float64(first) * 0.5
			if got, want := r.Left(all, line(u, v0, v0+float64(rows)*0.5), nil), float64(left)/float64(rows); clear && got != want && first+rows <= 60 {
				t.Fatalf("rows %d to %d at %.3f m: %g left, want %g", first, first+rows-1, u, got, want)
			}
			if touches := r.Touches(all, line(u, v0, v0+float64(rows)*0.5), line(u, v0, v0+float64(rows)*0.5), 0); clear && !touches && left < rows {
				t.Fatalf("rows %d to %d at %.3f m are worked, but not touched", first, first+rows-1, u)
			}
		}
	})
}

// What is worked counts once the pass is over: the zone no longer takes part, the
// tractor has turned round or come back by half a metre, but not by standing or
// rolling back a bit.
func TestWhenAPassIsOver(t *testing.T) {
	f := meadow(t, 30, true)
	ahead, round := line(20, 0, 3), line(20, 3, 0)
	for _, c := range []struct {
		name string
		then func(r *Record)
		over bool
	}{
		{"going on", func(r *Record) { r.Follow(all, ahead, 5) }, false},
		{"standing", func(r *Record) { r.Follow(all, ahead, 0) }, false},
		{"rolling back", func(r *Record) { r.Follow(all, ahead, -0.3); r.Follow(all, ahead, 0.1); r.Follow(all, ahead, -0.3) }, false},
		{"coming back", func(r *Record) { r.Follow(all, ahead, -0.3); r.Follow(all, ahead, -0.3) }, true},
		{"leaving", func(r *Record) { r.Follow(0, ahead, 1) }, true},
		{"turned round", func(r *Record) { r.Follow(all, round, 1) }, true},
	} {
		r := record(t, f, 0.5)
		newPass(r, ahead)
		r.Mark(all, line(10, 0, 3), ahead)
		c.then(r)
		if got := r.Left(all, line(15, 0, 3), nil) == 0; got != c.over {
			t.Errorf("%s: counts: %v, want %v", c.name, got, c.over)
		}
	}
}

// Without a row drilled the first pass says where rows lie. A pass half a row beside
// it keeps to the same rows though it strays by 15 cm to either side.
func TestRowsOfAPassStay(t *testing.T) {
	r := record(t, meadow(t, 30, false), 0.5)
	newPass(r, line(0, 3.1, 6.1))
	r.Mark(all, line(0, 3.1, 6.1), line(50, 3.1, 6.1))
	newPass(r, line(0, 5.85, 8.85))
	for i := range 200 {
		aside := 0.15 * math.Sin(float64(i)/7)
		r.Follow(all, line(float64(i)*0.2, 5.85+aside, 8.85+aside), 0.2)
		l := line(float64(i)*0.2, 5.85+aside, 6.35+aside)
		if got := r.Left(all, l, nil); got != 0 && got != 1 {
			t.Fatal(got)
		} else if first := r.Left(all, line(0.1, 5.85, 6.35), nil); got != first {
			t.Fatalf("at %.1f m, %.2f m aside: %g left, at first %g", float64(i)*0.2, aside, got, first)
		}
	}
}

// Where there is no room for another stretch, one is forgotten, counted, and no row
// is called worked that was not.
func TestForgets(t *testing.T) {
	r := record(t, meadow(t, 30, true), 0.5)
	for k := range 3 * mostStretches {
		newPass(r, line(0, 0, 0.5))
		u := float64(k) * 5
		r.Mark(all, line(u, 0, 0.5), line(u+1+float64(k%4), 0, 0.5))
	}
	if got := r.Forgotten(); got != 2*mostStretches {
		t.Errorf("%d forgotten, want %d", got, 2*mostStretches)
	}
	r.Follow(0, line(0, 0, 0.5), 1)
	for k := range 3 * mostStretches {
		u := float64(k) * 5
		if r.Left(all, line(u+4.5, 0, 0.5), nil) != 1 {
			t.Errorf("%g m along is worked, and was not", u+4.5)
		}
	}
	// Worked over again in one go it takes one stretch.
	newPass(r, line(0, 0, 0.5))
	r.Mark(all, line(-1, 0, 0.5), line(100, 0, 0.5))
	newPass(r, line(0, 0, 0.5))
	if w := &r.rows[1]; r.Left(all, line(64.5, 0, 0.5), nil) != 0 {
		t.Errorf("worked again from end to end, and not known: %+v", w)
	}
}

// Without a row drilled the rows of the first pass lie side by side from its left end
// to its right one, however many they are.
func TestRowsOfTheFirstPass(t *testing.T) {
	const v0 = 3.1
	for rows := 1; rows <= 6; rows++ {
		bar := func(u float64) *Line { return line(u, v0, v0+float64(rows)*0.5) }
		r := record(t, meadow(t, 30, false), 0.5)
		newPass(r, bar(0))
		r.Mark(all, bar(0), bar(50))
		newPass(r, bar(0))
		for k := -1; k <= rows; k++ {
			middle := v0 + (float64(k)+0.5)*0.5
			want := 0.0
			if k < 0 || k == rows {
				want = 1
			}
			if got := r.Left(all, line(20, middle-0.01, middle+0.01), nil); got != want {
				t.Errorf("%d rows: %g left in the middle of row %d, want %g", rows, got, k, want)
			}
		}
	}
}

// They lie where the tool first came to work, though by the next place that is known it has
// gone on across the rows.
func TestRowsLieWhereWorkBegan(t *testing.T) {
	const v0 = 3.1
	for _, aside := range []float64{-0.2, 0.07, 0.4} {
		r := record(t, meadow(t, 30, false), 0.5)
		newPass(r, line(0, v0, v0+2))
		r.Mark(all, line(0, v0, v0+2), line(1, v0+aside, v0+aside+2))
		if got := math.Remainder(r.passes[0].RowM-v0-0.25, 0.5); !(math.Abs(got) <= 1e-9) {
			t.Errorf("gone %g m across: rows lie %g m beside those that it began on", aside, got)
		}
	}
}

// A bar in the middle between rows keeps to those that it took for its own as the pass
// began, though its position sways by 1 cm before the first drop.
func TestRowsStayBetweenRows(t *testing.T) {
	for beganM := 0.2; beganM < 0.35; beganM += 0.003 {
		r := record(t, meadow(t, 30, true), 0.5)
		newPass(r, line(0, 10+beganM, 13+beganM))
		began := r.passes[0].AsideM
		for i := range 40 {
			aside := beganM + 0.01*math.Sin(float64(i))
			r.Follow(all, line(0.2*float64(i), 10+aside, 13+aside), 0.2)
			if got := r.passes[0].AsideM; !(math.Abs(got-began) <= 0.0101) {
				t.Fatalf("begun %.3f m beside: %.3f m beside its rows as it began, and then %.3f m", beganM, began, got)
			}
		}
	}
}

// A bar that crosses the rows at an angle has no rows of its own: they lie where they do,
// however often it is told where it is.
func TestRowsStayWhereABarCrosses(t *testing.T) {
	const slope = 0.2 // 11°
	for _, stepM := range []float64{0.05, 0.2, 1} {
		r := record(t, meadow(t, 30, true), 0.5)
		for u := 0.0; u < 40; u += stepM {
			v := 3 + slope*u
			a, b := line(u, v, v), line(u-3*slope, v+3, v+3)
			r.Follow(all, &Line{a.LeftE, a.LeftN, b.LeftE, b.LeftN}, stepM)
			if u == 0 {
				r.Mark(all, a, a)
			}
		}
		if got := r.passes[0].AsideM; got != 0 {
			t.Errorf("steps of %g m: rows lie %.3f m aside", stepM, got)
		}
	}
}

// Where a section overlaps its zone by less than to the middle of a row, the row that
// overlaps it says whether it was worked, and not its neighbours outside.
func TestRowThatOverlaps(t *testing.T) {
	// Rows run north at 0.25 m, 0.75 m and so on; the body begins at half the way east.
	f, err := field.New(geodesy.NewPlane(52, 10), nil, []field.Zone{{Name: "body", Drill: field.Drill{Known: true, At: orb.Point{0.25, 20}},
		Polygons: orb.MultiPolygon{{{{0, 0}, {10, 5}, {10, 60}, {0, 60}, {0, 0}}}}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		name        string
		worked      float64 // the middle of that row
		north, left float64
	}{
		{"the row that overlaps was worked", 4.25, 2.05, 0},
		{"its neighbour was", 4.75, 2.05, 1},
		{"the row inside was", 4.25, 2.2, 0},
		{"its neighbour was, farther in", 4.75, 2.2, 1},
	} {
		at := func(e0, e1, n float64, south bool) *Line {
			if south {
				e0, e1 = e1, e0
			}
			return &Line{LeftE: e0, LeftN: n, RightE: e1, RightN: n}
		}
		for _, south := range []bool{false, true} {
			r := record(t, f, 0.5)
			newPass(r, at(4, 5, 20, south))
			r.Mark(all, at(tc.worked-0.2, tc.worked+0.2, -5, south), at(tc.worked-0.2, tc.worked+0.2, 50, south))
			newPass(r, at(4, 5, 20, south))
			if got := r.Left(all, at(4, 5, tc.north, south), f); got != tc.left {
				t.Errorf("%s, southwards %v: %g left, want %g", tc.name, south, got, tc.left)
			}
		}
	}
}

// Of a bar that stands at a slant each row is worked from where its own piece of the
// bar was to where it is.
func TestSlantingBar(t *testing.T) {
	// At v across it is slope times v ahead of its left end.
	for _, slope := range []float64{-0.7, -0.2, 0.4, 1.5} {
		for _, wideM := range []float64{0.5, 2, 3.5} {
			for _, turned := range []bool{false, true} {
				slanting := func(u float64) *Line {
					a, b := line(u, 0, 0), line(u+slope*wideM, wideM, wideM)
					if turned {
						a, b = b, a
					}
					return &Line{a.LeftE, a.LeftN, b.LeftE, b.LeftN}
				}
				r := record(t, meadow(t, 30, true), 0.5)
				newPass(r, slanting(10))
				r.Mark(all, slanting(10), slanting(20))
				newPass(r, slanting(10))
				for v := 0.25; v < wideM; v += 0.5 {
					for _, end := range []struct{ u, before, behind float64 }{{10, 1, 0}, {20, 0, 1}} {
						at := end.u + slope*v
						if got := r.Left(all, line(at-0.002, v-0.1, v+0.1), nil); got != end.before {
							t.Errorf("slope %g, %g m wide: %g left 2 mm before %g m at %g m across, want %g", slope, wideM, got, at, v, end.before)
						}
						if got := r.Left(all, line(at+0.002, v-0.1, v+0.1), nil); got != end.behind {
							t.Errorf("slope %g, %g m wide: %g left 2 mm behind %g m at %g m across, want %g", slope, wideM, got, at, v, end.behind)
						}
					}
				}
			}
		}
	}
}

// Of a section that lies partly outside its zones the rows inside alone count, unless
// none is inside.
func TestRowsOutsideDoNotCount(t *testing.T) {
	s, c := math.Sincos(math.Pi / 6)
	at := func(u, v float64) orb.Point { return orb.Point{u*s + v*c, u*c - v*s} }
	// A body 12 m wide and 100 m long, with a pond 4 m wide from 40 to 50 m along in it.
	f, err := field.New(geodesy.NewPlane(52, 10), nil, []field.Zone{
		{Name: "body", RowBearingRad: math.Pi / 6, Drill: field.Drill{Known: true, At: at(40, 0.25)},
			Polygons: orb.MultiPolygon{{{at(0, 0), at(100, 0), at(100, 12), at(0, 12), at(0, 0)}}}},
		{Name: "pond", Kind: field.KeepOut, RowBearingRad: math.NaN(),
			Polygons: orb.MultiPolygon{{{at(40, 4), at(50, 4), at(50, 8), at(40, 8), at(40, 4)}}}},
	})
	if err != nil {
		t.Fatal(err)
	}
	r := record(t, f, 0.5)
	body := f.At(at(20, 2)[0], at(20, 2)[1])
	worked := func(row int) bool { return row%3 == 0 }
	newPass(r, line(0, 0, 12))
	for row := range 24 {
		if worked(row) {
			v := float64(row) * 0.5
			r.Mark(body, line(-5, v, v+0.5), line(105, v, v+0.5))
		}
	}
	newPass(r, line(0, 0, 12))
	partly := 0
	for u := -2.45; u < 103; u += 1.3 {
		for first := range 20 {
			const rows = 4
			left, leftIn, in := 0.0, 0.0, 0.0
			for row := first; row < first+rows; row++ {
				v, fresh := (float64(row)+0.5)*0.5, 1.0
				if worked(row) {
					fresh = 0
				}
				left += fresh
				if u > 0 && u < 100 && !(u > 40 && u < 50 && v > 4 && v < 8) {
					in, leftIn = in+1, leftIn+fresh
				}
			}
			want := left / rows
			if in > 0 {
				want = leftIn / in
			}
			if in > 0 && in < rows {
				partly++
			}
			if in == 0 && u > 0 && (first == 8 || first+rows == 16) {
				continue // its end is right on the pond's edge: inside or not by a last bit
			}
			v := float64(first) * 0.5
			if got := r.Left(body, line(u, v, v+rows*0.5), f); got != want {
				t.Errorf("%.1f m along, rows %d to %d: %g left, want %g", u, first, first+rows-1, got, want)
			}
		}
	}
	if partly < 30 {
		t.Errorf("%d sections lie partly in the pond", partly)
	}
}

// Stretches of earlier passes become one where they overlap or just touch, whatever
// their order; one of the pass at hand and one that lies apart stay.
func TestMerge(t *testing.T) {
	const now = 9
	for _, c := range []struct {
		name string
		list []stretch
		want int32
	}{
		{"touching", []stretch{{0, 100, 1}, {100, 200, 2}}, 1},
		{"touching, the other first", []stretch{{100, 200, 1}, {0, 100, 2}}, 1},
		{"one in the other", []stretch{{0, 100, 1}, {40, 60, 2}}, 1},
		{"apart", []stretch{{0, 100, 1}, {101, 200, 2}}, 2},
		{"apart, the other first", []stretch{{101, 200, 1}, {0, 100, 2}}, 2},
		{"joined by a third", []stretch{{0, 100, 1}, {150, 200, 1}, {90, 160, 2}}, 1},
		{"of this pass", []stretch{{0, 100, now}, {50, 200, 2}}, 2},
		{"of this pass, the other first", []stretch{{0, 100, 1}, {50, 200, now}}, 2},
	} {
		w := row{N: int32(len(c.list))}
		copy(w.List[:], c.list)
		w.merge(now)
		if w.N != c.want {
			t.Errorf("%s: %v", c.name, w.List[:w.N])
		}
		least, most := int32(math.MaxInt32), int32(math.MinInt32)
		for _, s := range w.List[:w.N] {
			least, most = min(least, s.From), max(most, s.To)
		}
		if least != 0 || most != 200 && c.name != "one in the other" {
			t.Errorf("%s: from %d to %d", c.name, least, most)
		}
	}
}

func TestNewErrors(t *testing.T) {
	for _, c := range []struct {
		acrossM, spacingM float64
		says              string
	}{
		{30, 0, "row spacing 0 m"}, {30, math.NaN(), "row spacing NaN m"}, {30, 11, "row spacing 11 m"},
		{9000, 0.5, "18002 rows of 0.5 m in the zones that are worked; expected 16384 at most"},
	} {
		if _, err := New(meadow(t, c.acrossM, true), c.spacingM); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%g m: %v; want it to say %q", c.acrossM, err, c.says)
		}
	}
	anyWay, err := field.New(geodesy.NewPlane(52, 10), nil, []field.Zone{{RowBearingRad: math.NaN(), Polygons: orb.MultiPolygon{{{{0, 0}, {9, 0}, {9, 9}, {0, 0}}}}}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := New(anyWay, 0.5); err == nil || !strings.Contains(err.Error(), "expected a row bearing") {
		t.Errorf("a field without rows: %v", err)
	}
}

// A record that was saved says the same as before, and no byte of it can be missing.
func TestSaveRestore(t *testing.T) {
	f := meadow(t, 30, false)
	r := record(t, f, 0.5)
	for k := range 4 {
		v := float64(k) * 2.5
		newPass(r, line(0, v, v+3))
		r.Mark(all, line(float64(k), v, v+3), line(60, v, v+3))
	}
	saved := r.Append(nil)
	again, err := record(t, f, 0.5).Restored(saved)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(again.Append(nil), saved) {
		t.Error("saved again it differs")
	}
	for _, v := range []float64{0, 1, 2.5, 9, 20} {
		for _, u := range []float64{-1, 0.5, 2.5, 59, 61} {
			if a, b := r.Left(all, line(u, v, v+1), nil), again.Left(all, line(u, v, v+1), nil); a != b {
				t.Errorf("%g left at %g, %g; restored %g", a, u, v, b)
			}
		}
	}
	for n := range saved {
		if got, err := record(t, f, 0.5).Restored(saved[:n]); err == nil && bytes.Equal(got.Append(nil), saved) {
			t.Fatalf("%d of %d bytes say the same", n, len(saved))
		}
	}
	if _, err := record(t, f, 0.25).Restored(saved); err == nil || !strings.Contains(err.Error(), "this field has") {
		t.Errorf("rows of another spacing: %v", err)
	}
}

// How large a saved record is, and how long the saving takes: of a field 8 km across in
// which every row was worked once, the most there is room for but for ditches and poles.
func TestSavedSize(t *testing.T) {
	r := record(t, meadow(t, 8000, false), 0.5)
	for v := 0.0; v < 8000; v += 100 {
		newPass(r, line(0, v, v+100))
		r.Mark(all, line(0, v, v+100), line(60, v, v+100))
	}
	rows := 0
	for i := range r.rows {
		rows += min(int(r.rows[i].N), 1)
	}
	var b []byte
	began := time.Now()
	for range 20 {
		b = r.Append(b[:0])
	}
	t.Logf("%d of %d rows worked once: %d bytes in %v", rows, len(r.rows), len(b), time.Since(began)/20)
	if rows < 15900 || len(b) < 20*rows || len(b) > 20*rows+1000 {
		t.Errorf("%d rows worked: %d bytes; want 20 for each, and a head", rows, len(b))
	}
	if most := MostRows*(8+12*mostStretches) + 1000; most > 4<<20 {
		t.Errorf("a full record takes %d bytes: more than live reads back", most)
	}
}

func TestAllocatesNothing(t *testing.T) {
	r := record(t, meadow(t, 30, true), 0.5)
	var lines [202]*Line
	for k := range lines {
		lines[k] = line(float64(k)/5, 0, 3)
	}
	k := 1
	if n := testing.AllocsPerRun(200, func() {
		l := lines[k]
		if k%40 == 0 {
			newPass(r, l)
		}
		r.Follow(all, l, 0.2)
		r.Mark(all, lines[k-1], l)
		r.Left(all, l, nil)
		r.Touches(all, l, l, 3)
		k++
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func Example() {
	plane := geodesy.NewPlane(52, 10)
	f, _ := field.New(plane, nil, []field.Zone{{Name: "beets", RowBearingRad: 0, Polygons: orb.MultiPolygon{{{{0, 0}, {30, 0}, {30, 100}, {0, 100}, {0, 0}}}}}})
	r, _ := New(f, 0.5)
	body := f.At(5, 5)
	bar := func(northM, leftM float64) *Line { return &Line{leftM, northM, leftM + 3, northM} }
	r.Follow(body, bar(0, 0), 0)
	r.Mark(body, bar(0, 0), bar(100, 0)) // six rows, from south to north
	r.Follow(0, bar(110, 0), 10)         // and out of the body
	fmt.Println(r.Left(body, bar(50, 0), nil), r.Left(body, bar(50, 1), nil), r.Left(body, bar(50, 3), nil))
	// Output: 0 0.3333333333333333 1
}

// The rows of a pass are those that the bar is nearest to at the first drop: where it
// still comes onto its line as the pass begins, it may be nearer to others.
func TestRowsAreThoseAtTheFirstDrop(t *testing.T) {
	for _, beginsM := range []float64{0.27, 0.29, 0.4, -0.2} {
		r := record(t, meadow(t, 30, true), 0.5)
		newPass(r, line(0, 10+beginsM, 13+beginsM))
		for u := range 5 {
			r.Follow(all, line(float64(u), 10.25, 13.25), 1)
		}
		if got := r.passes[0].AsideM; !(math.Abs(got-0.25) <= 1e-9) {
			t.Errorf("begun %g m beside: the bar runs %.2f m beside its rows; want 0.25", beginsM, got)
		}
		// From then on they stay the same, though it strays.
		r.Mark(all, line(5, 10.25, 13.25), line(6, 10.25, 13.25))
		for u := range 40 {
			r.Follow(all, line(float64(6+u), 10.3, 13.3), 1)
		}
		if got := r.passes[0].AsideM; !(got > 0.25 && got <= 0.3) {
			t.Errorf("begun %g m beside: after the first drop it runs %.2f m beside its rows; want 0.25 to 0.30", beginsM, got)
		}
	}
}
