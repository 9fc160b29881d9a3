// Days of four sections with one thing wrong each, and what is found and left of them.

package response

import (
	"math"
	"slices"
	"testing"

	"liftbench/nmea"
	"liftbench/replay/diagnose/evidence"
	"liftbench/sections"
	"liftbench/sections/score"
)

// changed is one recorded change.
type changed struct {
	section int
	on      bool
	atS     float64
}

// recorded is a day of n sections at 2 m/s: crossing k is at 60·k s, a drop first, with a
// slant by turns. Setpoints come 0.6 s before the borders and states at them.
type recorded struct {
	n                int
	ideal            []changed
	setpoint, actual []changed
}

func day(n, crossings int) *recorded {
	r := &recorded{n: n}
	for k := range crossings {
		for s := range n {
			c := changed{s, k%2 == 0, 60*float64(k) + 0.4*float64(s)*float64(k%3-1)}
			r.ideal = append(r.ideal, c)
			r.actual = append(r.actual, c)
			c.atS -= 0.6
			r.setpoint = append(r.setpoint, c)
		}
	}
	return r
}

// drop removes changes.
func drop(list []changed, is func(c changed) bool) []changed {
	return slices.DeleteFunc(slices.Clone(list), is)
}

// scored pairs each change with the border nearest to it, within 5 s.
func (r *recorded) scored(list []changed) (events []score.Event) {
	used := make([]bool, len(list))
	for _, c := range r.ideal {
		e := score.Event{Section: int16(c.section), On: c.on, Kind: score.Missed, IdealNs: int64(c.atS * 1e9), SpeedMps: 2, TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()}
		for i, a := range list {
			if e.Kind == score.Missed && !used[i] && a.section == c.section && a.on == c.on && math.Abs(a.atS-c.atS) < 5 {
				used[i] = true
				e.Kind, e.ActualNs, e.TimeErrorS, e.PlaceErrorM = score.Paired, int64(a.atS*1e9), a.atS-c.atS, 2*(a.atS-c.atS)
			}
		}
		events = append(events, e)
	}
	for i, a := range list {
		if !used[i] {
			events = append(events, score.Event{Section: int16(a.section), On: a.on, Kind: score.Spurious, ActualNs: int64(a.atS * 1e9), TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()})
		}
	}
	return events
}

// examine returns the report with and without setpoints, and the day with them.
func (r *recorded) examine(t *testing.T) (with, without Report, left evidence.Day) {
	t.Helper()
	m := &sections.Machine{Sections: make([]sections.Section, r.n)}
	lead := sections.Lead{DeadNs: 200e6, MoveNs: 400e6}
	d := evidence.Day{Machine: m, Settings: sections.Settings{LiftLead: lead, DropLead: lead}, Actual: r.scored(r.actual)}
	var fixes []evidence.Fix
	for at := int64(-60); at < 6000; at++ {
		fixes = append(fixes, evidence.Fix{TimeNs: at * 1e9, AgeNs: -1, Quality: nmea.RTKFixed})
	}
	reception := evidence.NewReception(fixes)
	without, _ = Examine(d, &reception)
	d.Setpoint = r.scored(r.setpoint)
	with, left = Examine(d, &reception)
	return with, without, left
}

func kinds(events []score.Event) (paired, missed, spurious int) {
	for i := range events {
		switch events[i].Kind {
		case score.Paired:
			paired++
		case score.Missed:
			missed++
		case score.Spurious:
			spurious++
		}
	}
	return paired, missed, spurious
}

// A good day has nothing to report and stays as it is.
func TestGoodDay(t *testing.T) {
	for _, n := range []int{1, 2, 4} {
		with, without, left := day(n, 40).examine(t)
		for _, r := range []Report{with, without} {
			if r.Order != nil || len(r.Sensors)+len(r.Unmet)+r.Missed+r.Uncommanded > 0 {
				t.Errorf("%d sections: %+v", n, r)
			}
		}
		if p, m, s := kinds(left.Actual); p != 40*n || m+s > 0 {
			t.Errorf("%d sections: %d paired, %d missed, %d spurious left", n, p, m, s)
		}
	}
}

// What a section did not follow is counted by lifts and drops; a drop after a lift that did
// not happen asks for nothing.
func TestUnmet(t *testing.T) {
	for _, tc := range []struct {
		name   string
		missed func(c changed, k int) bool // of crossing k
		want   []Unmet
		rest   int
	}{
		{"a section misses 7 of 20 lifts", func(c changed, k int) bool { return c.section == 2 && k >= 11 && k < 25 },
			[]Unmet{{Section: 2, Commanded: true, AtOnce: false, Lift: Count{7, 20, 20}, Drop: Count{0, 13, 13}}}, 0},
		{"every third lift of a section", func(c changed, k int) bool { return c.section == 1 && (k%6 == 1 || k%6 == 2) },
			[]Unmet{{Section: 1, Commanded: true, Lift: Count{7, 20, 20}, Drop: Count{0, 13, 13}}}, 0},
		{"a section that never changes", func(c changed, k int) bool { return c.section == 0 },
			[]Unmet{{Section: 0, Commanded: true, AtOnce: true, Lift: Count{20, 20, 20}, Drop: Count{20, 20, 20}}}, 0},
		{"the bar misses 4 lifts of 20", func(c changed, k int) bool { return k%10 == 5 || k%10 == 6 },
			[]Unmet{{Section: -1, Commanded: true, Lift: Count{16, 80, 20}, Drop: Count{0, 64, 16}}}, 0},
		{"two lifts", func(c changed, k int) bool {
			return c.section == k%4 && (k == 5 || k == 15) || c.section == (k-1)%4 && (k == 6 || k == 16)
		}, nil, 2},
	} {
		r := day(4, 40)
		r.actual = drop(r.actual, func(c changed) bool { return tc.missed(c, int(math.Round(c.atS/60))) })
		with, without, _ := r.examine(t)
		same := func(got []Unmet, commanded bool) bool {
			return slices.EqualFunc(got, tc.want, func(a, b Unmet) bool {
				b.Commanded = commanded
				b.AtOnce = a.AtOnce // checked below
				return a == b
			})
		}
		if !same(with.Unmet, true) || with.Missed != tc.rest || with.Uncommanded != 0 || with.Order != nil {
			t.Errorf("%s: %+v, %d missed; want %+v, %d", tc.name, with.Unmet, with.Missed, tc.want, tc.rest)
		}
		if !same(without.Unmet, false) || without.Missed != tc.rest {
			t.Errorf("%s, without setpoints: %+v, %d missed; want %+v, %d", tc.name, without.Unmet, without.Missed, tc.want, tc.rest)
		}
	}
	// In a row, and not.
	row := day(4, 40)
	row.actual = drop(row.actual, func(c changed) bool { return c.section == 0 && c.atS > 600 && c.atS < 1500 })
	if with, _, _ := row.examine(t); len(with.Unmet) != 1 || !with.Unmet[0].AtOnce || with.Unmet[0].Never() {
		t.Errorf("a section that stands still for 14 crossings: %+v", with.Unmet)
	}
	// A controller that commands nothing is not a machine that does not follow.
	off := day(4, 40)
	is := func(c changed) bool { k := int(math.Round(c.atS / 60)); return k == 5 || k == 6 }
	off.actual, off.setpoint = drop(off.actual, is), drop(off.setpoint, is)
	if with, _, _ := off.examine(t); len(with.Unmet) != 0 || with.Uncommanded != 4 || with.Missed != 0 {
		t.Errorf("nothing commanded at 4 lifts: %+v", with)
	}
	// States that begin later and end earlier than the setpoints.
	part := day(4, 40)
	part.actual = drop(part.actual, func(c changed) bool { return c.atS < 590 || c.atS > 1790 })
	if with, _, _ := part.examine(t); len(with.Unmet) != 0 || with.Missed != 0 {
		t.Errorf("states of a part of the day: %+v", with)
	}
}

// Fisher's exact test, one side, beside the sum of binomial coefficients.
func TestAtLeast(t *testing.T) {
	// Of 8 marked among 20, 5 or more of 6 drawn: (56·12 + 28·1)/38760.
	if got := atLeast(5, 6, 8, 20); !(math.Abs(got-700.0/38760) <= 1e-9) {
		t.Errorf("%g; want %g", got, 700.0/38760)
	}
	if got := atLeast(0, 6, 8, 20); !(math.Abs(got-1) <= 1e-9) {
		t.Errorf("none or more: %g; want 1", got)
	}
}

// Each wrong order is named, and the day put right.
func TestOrder(t *testing.T) {
	for _, tc := range []struct {
		name  string
		to    func(s int) int // recorded number of a section; -1 = lost
		kind  OrderKind
		by    int
		wrong []int
	}{
		{"reversed", func(s int) int { return 4 - s }, Reversed, 0, []int{0, 1, 3, 4}},
		{"one too high", func(s int) int { return (s + 1) % 5 }, Shifted, 1, []int{0, 1, 2, 3, 4}},
		{"two too low", func(s int) int { return (s + 3) % 5 }, Shifted, -2, []int{0, 1, 2, 3, 4}},
		{"one too high, the last lost", func(s int) int {
			if s == 4 {
				return -1
			}
			return s + 1
		}, Shifted, 1, []int{0, 1, 2, 3, 4}},
		{"second and fifth exchanged", func(s int) int { return []int{0, 4, 2, 3, 1}[s] }, Exchanged, 0, []int{1, 4}},
	} {
		for _, slowS := range []float64{0, 0.7} {
			r := day(5, 42)
			for i := range r.actual {
				if r.actual[i].section == 2 {
					r.actual[i].atS += slowS
				}
			}
			renumber := func(list []changed) (out []changed) {
				for _, c := range list {
					if c.section = tc.to(c.section); c.section >= 0 {
						out = append(out, c)
					}
				}
				return out
			}
			r.actual = renumber(r.actual)
			with, without, left := r.examine(t)
			for _, rep := range []Report{with, without} {
				if o := rep.Order; o == nil || o.Kind != tc.kind || o.By != tc.by || !slices.Equal(o.Wrong, tc.wrong) || o.Crossings != 28 || !(o.BeforeM > 0.3) || !(o.AfterM < 0.01) && slowS == 0 {
					t.Errorf("%s, section 3 %g s slow: %+v", tc.name, slowS, o)
				}
				if len(rep.Unmet)+len(rep.Sensors) > 0 {
					t.Errorf("%s: %+v", tc.name, rep)
				}
			}
			lost := 0
			for _, e := range left.Actual {
				want := 0.0
				if e.Section == 2 {
					want = slowS
				}
				switch {
				case e.Kind == score.Missed && e.Section == 4 && tc.to(4) < 0:
					lost++
				case e.Kind != score.Paired || !(math.Abs(e.TimeErrorS-want) <= 1e-6) || !(math.Abs(e.PlaceErrorM-2*want) <= 1e-6):
					t.Fatalf("%s: %+v; want %g s", tc.name, e, want)
				}
			}
			if len(left.Actual) != 5*42 || lost != 0 && lost != 42 {
				t.Errorf("%s: %d events left, %d lost", tc.name, len(left.Actual), lost)
			}
		}
	}
	// Setpoints in the same wrong order are put right too.
	r := day(5, 42)
	for _, list := range [][]changed{r.actual, r.setpoint} {
		for i := range list {
			list[i].section = 4 - list[i].section
		}
	}
	if with, _, left := r.examine(t); with.Order == nil || !(math.Abs(left.Setpoint[0].TimeErrorS+0.6) <= 1e-6) {
		t.Errorf("setpoints reversed: %+v, %+v", with.Order, left.Setpoint[0])
	}
	// Square borders show no order, and few slanting ones are not enough.
	few := day(5, 6)
	for i := range few.actual {
		few.actual[i].section = 4 - few.actual[i].section
	}
	if with, _, _ := few.examine(t); with.Order != nil {
		t.Errorf("four slanting borders: %+v", with.Order)
	}
}

// Changes that no tool makes are counted and taken out.
func TestSensors(t *testing.T) {
	blink := func(r *recorded, section, n int, gapS float64) {
		for k := range n {
			at := 120*float64(k+2) + 30
			r.actual = append(r.actual, changed{section, false, at}, changed{section, true, at + gapS})
		}
	}
	chatter := func(r *recorded, section, n int) {
		for _, c := range slices.Clone(r.actual) {
			if c.section == section && n > 0 {
				n--
				r.actual = append(r.actual, changed{section, !c.on, c.atS + 0.1}, changed{section, c.on, c.atS + 0.25})
			}
		}
	}
	for _, tc := range []struct {
		name string
		make func(r *recorded)
		want []Sensor
		odd  int // spurious changes that stay
	}{
		{"blinks twice a day", func(r *recorded) { blink(r, 1, 1, 2) }, nil, 2},
		{"blinks in mid-pass", func(r *recorded) { blink(r, 1, 8, 2) }, []Sensor{{Section: 1, Alone: 16, Changes: 56}}, 0},
		{"flickers in mid-pass", func(r *recorded) { blink(r, 3, 8, 0.2) }, []Sensor{{Section: 3, Chatters: 8, Changes: 48}}, 0},
		{"flickers at borders", func(r *recorded) { chatter(r, 0, 10) }, []Sensor{{Section: 0, Chatters: 10, Changes: 40}}, 0},
		{"flickers twice", func(r *recorded) { chatter(r, 0, 2) }, nil, 4},
		{"the bar is lifted in mid-pass", func(r *recorded) {
			for s := range 4 {
				blink(r, s, 8, 2)
			}
		}, nil, 64},
		{"two sections blink at once", func(r *recorded) { blink(r, 1, 8, 2); blink(r, 2, 8, 2) }, nil, 32},
	} {
		r := day(4, 40)
		tc.make(r)
		with, without, left := r.examine(t)
		for _, rep := range []Report{with, without} {
			if !slices.Equal(rep.Sensors, tc.want) || len(rep.Unmet) > 0 || rep.Order != nil {
				t.Errorf("%s: %+v; want %+v", tc.name, rep, tc.want)
			}
		}
		if p, m, s := kinds(left.Actual); p != 160 || m != 0 || s != tc.odd {
			t.Errorf("%s: %d paired, %d missed, %d spurious left; want 160, 0, %d", tc.name, p, m, s, tc.odd)
		}
	}
	// A controller that commands as fast is not a sensor.
	r := day(4, 40)
	chatter(r, 0, 10)
	for _, c := range r.actual[160:] {
		c.atS -= 0.6
		r.setpoint = append(r.setpoint, c)
	}
	if with, _, _ := r.examine(t); len(with.Sensors) != 0 {
		t.Errorf("commanded as fast: %+v", with.Sensors)
	}
}
