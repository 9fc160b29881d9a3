// Clocks that are off by known times, on days that are written down here: passes up and
// down, whose changes lie where arithmetic puts them.

package clock

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"liftbench/replay/states"
	"liftbench/sections/score"
)

// drive is a day: every pass begins with a drop and ends with a lift of three sections.
type drive struct {
	seed           uint64
	passes         int
	slowMps, byMps float64 // the slowest pass, and how much faster the fastest is
	liftS, dropS   float64 // how late they are at every speed
	placeM         float64
	clock          func(ns float64) float64 // from the true time of a change to the recorded one
	leadS          float64                  // of setpoints
}

const (
	startNs  = int64(1_936_000_000e9)
	scatterM = 0.015
)

// events returns the changes as scored by recorded times: those within ten seconds of their
// crossing as pairs, others as what was missed and what had no crossing.
func (d drive) events() []score.Event {
	r := rand.New(rand.NewPCG(d.seed, 3))
	var out []score.Event
	ns := float64(0)
	for range d.passes {
		v := d.slowMps + d.byMps*r.Float64()
		for _, on := range []bool{true, false} {
			ns += (40 + 25*r.Float64()) * 1e9
			late := d.liftS
			if on {
				late = d.dropS
			}
			off := r.NormFloat64() * scatterM
			for section := range int16(3) {
				ideal := ns + float64(section)*0.1e9
				at := ideal + (late-d.leadS+(d.placeM+off)/v)*1e9
				if d.clock != nil {
					at = d.clock(at)
				}
				out = append(out, scored(section, on, startNs+int64(ideal), startNs+int64(math.Round(at)), v)...)
			}
		}
	}
	return out
}

func scored(section int16, on bool, idealNs, ns int64, v float64) []score.Event {
	if s := float64(ns-idealNs) * 1e-9; math.Abs(s) < 10 {
		return []score.Event{{Kind: score.Paired, Section: section, On: on, IdealNs: idealNs, ActualNs: ns, SpeedMps: v, TimeErrorS: s, PlaceErrorM: s * v}}
	}
	return []score.Event{
		{Kind: score.Missed, Section: section, On: on, IdealNs: idealNs, SpeedMps: v, TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()},
		{Kind: score.Spurious, Section: section, On: on, ActualNs: ns, SpeedMps: v, TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()},
	}
}

func by(s float64) func(float64) float64 { return func(ns float64) float64 { return ns + s*1e9 } }

// usual is a day of many speeds.
func usual() drive { return drive{seed: 1, passes: 40, slowMps: 1.2, byMps: 1.8} }

func TestOffset(t *testing.T) {
	for _, s := range []float64{1.5, 2, -0.6, -1, 3.3, 5.4, -7.2, 18, -18, 18.4, 47, 900, 3600, -7200, 19800, 86400, -3 * 86400, 86400 + 3600} {
		for _, what := range []string{"work states", "setpoints", "both"} {
			t.Run(fmt.Sprintf("%g s, %s", s, what), func(t *testing.T) {
				d := usual()
				d.clock = by(s)
				var in Input
				if what != "setpoints" {
					in.Actual = d.events()
				}
				if what != "work states" {
					d.leadS = 0.4
					in.Setpoint = d.events()
					in.LeadS = func(list []score.Event) []float64 { return slices.Repeat([]float64{0.4}, len(list)) }
				}
				r := Read(in)
				list := r.Offsets()
				if len(list) != 1 || list[0].Record != "" && what == "both" {
					t.Fatalf("clocks %+v", list)
				}
				o := list[0]
				s := s
				rest := 0.0
				if s == 18.4 { // or GPS time, and a position that is 0.4 s older
					rest = 0.4
					if doubts := r.Doubts(nil, 2); len(doubts) != 1 || !slices.Equal(doubts[0].Between, []string{"clock offset", "latency"}) {
						t.Errorf("doubts %+v", doubts)
					}
				}
				if math.Abs(o.OffsetS-s) > 0.1 || o.CI95[0] > s-rest || o.CI95[1] < s || o.CI95[1]-o.CI95[0] > 0.2+rest || math.Abs(o.RestS-rest) > 0.05 || o.DriftS != 0 {
					t.Errorf("%.3f %.3f, rest %.3f, drift %g", o.OffsetS, o.CI95, o.RestS, o.DriftS)
				}
				round := map[float64]Mistake{18: LeapSeconds, -18: LeapSeconds, 900: LocalTime, 3600: LocalTime, -7200: LocalTime, 19800: LocalTime, 86400: WrongDate, -3 * 86400: WrongDate, 90000: LocalTime}
				if o.Likely != round[s] {
					t.Errorf("made by %d", o.Likely)
				}
			})
		}
	}
}

// A clock moves lifts and drops alike. Lifts alone or drops alone that are late, however
// late, and leads that are both wrong by very different times, are none.
func TestOneOfTwoIsNoClock(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := usual()
		d.seed = rapid.Uint64Range(1, 500).Draw(t, "seed")
		d.placeM = rapid.Float64Range(-0.5, 0.5).Draw(t, "place")
		late := rapid.Float64Range(-9, 9).Draw(t, "late")
		if rapid.Bool().Draw(t, "lifts") {
			d.liftS = late
		} else {
			d.dropS = late
		}
		if rapid.Bool().Draw(t, "opposite") {
			d.liftS, d.dropS = late, -late
		}
		r := Read(Input{Actual: d.events()})
		if list := r.Offsets(); len(list) > 0 {
			t.Fatalf("clocks %+v", list)
		}
	})
}

// On days of nearly one speed it is the scatter that decides whether the speeds tell a time
// from a place, and one such day in some hundreds misleads: a clock is named on one in a
// hundred at most.
func TestOneOfTwoAtOneSpeed(t *testing.T) {
	const days = 500
	named := 0
	for seed := range uint64(days) {
		rng := rand.New(rand.NewPCG(seed, 1))
		d := usual()
		d.seed, d.byMps, d.slowMps = seed, 0.05, 2
		d.placeM = rng.Float64() - 0.5
		late := 18*rng.Float64() - 9
		switch rng.IntN(3) {
		case 0:
			d.liftS = late
		case 1:
			d.dropS = late
		default:
			d.liftS, d.dropS = late, -late
		}
		r := Read(Input{Actual: d.events()})
		if len(r.Offsets()) > 0 {
			named++
		}
	}
	t.Logf("a clock named on %d of %d days", named, days)
	if named > days/100 {
		t.Errorf("a clock named on %d of %d days; want one in a hundred at most", named, days)
	}
}

// What may be an old position is no clock, and stands as that.
func TestLatencyIsNoClock(t *testing.T) {
	for _, s := range []float64{-0.3, 0.1, 0.4, 0.8, 1} {
		d := usual()
		d.clock = by(s)
		r := Read(Input{Actual: d.events()})
		if list := r.Offsets(); len(list) > 0 || math.Abs(r.HiddenS-s) > 0.05 {
			t.Errorf("%g s: clocks %+v, hidden %g", s, list, r.HiddenS)
		}
		doubts := r.Doubts([]Lateness{{Cause: "latency", SizeS: s}}, 2)
		if len(doubts) != 1 || !slices.Equal(doubts[0].Between, []string{"latency", "clock offset"}) || !strings.Contains(doubts[0].Why, fmt.Sprintf("%.2f s", math.Abs(s))) {
			t.Errorf("%g s: doubts %+v", s, doubts)
		}
	}
}

// With a clock that is off and one lead that is wrong, either lead may be.
func TestOffsetBesideALead(t *testing.T) {
	for _, c := range []struct{ clockS, liftS, dropS float64 }{{2, 0.4, 0}, {2, 0, 0.4}, {-2, -0.3, 0}, {-2, 0.5, 0}, {2.5, 0, -0.4}} {
		d := usual()
		d.clock, d.liftS, d.dropS = by(c.clockS), c.liftS, c.dropS
		r := Read(Input{Actual: d.events()})
		list := r.Offsets()
		if len(list) != 1 {
			t.Errorf("%+v: clocks %+v", c, list)
			continue
		}
		o := &list[0]
		if o.CI95[0] > c.clockS || o.CI95[1] < c.clockS || math.Abs(math.Abs(o.SlackS)-math.Abs(c.liftS-c.dropS)) > 0.1 {
			t.Errorf("%+v: %.3f %.3f, slack %.3f", c, o.OffsetS, o.CI95, o.SlackS)
		}
		if doubts := r.Doubts(nil, 2); len(doubts) != 1 || !slices.Equal(doubts[0].Between, []string{"lift timing", "drop timing", "clock offset"}) {
			t.Errorf("%+v: doubts %+v", c, doubts)
		}
	}
}

func TestDrift(t *testing.T) {
	for _, gain := range []float64{0.4, -0.6, 2.5, -3} {
		d := usual()
		lengthNs := 80 * 52.5e9
		d.clock = func(ns float64) float64 { return ns + 0.3e9 + gain*1e9*(ns/lengthNs-0.5) }
		for _, told := range []bool{false, true} {
			in := Input{Actual: d.events()}
			if told {
				in = Input{Setpoint: in.Actual, LeadS: func(list []score.Event) []float64 { return make([]float64, len(list)) }}
			}
			r := Read(in)
			list := r.Offsets()
			if !told && gain == -0.6 {
				if len(list) > 0 { // tools that are less late than in the morning: warm oil
					t.Errorf("%g s: clocks %+v", gain, list)
				}
				continue
			}
			if len(list) != 1 || math.Abs(list[0].DriftS-gain) > 0.1 || math.Abs(list[0].OffsetS-0.3) > 0.1 {
				t.Errorf("%g s, setpoints %v: clocks %+v", gain, told, list)
			}
		}
		// Lifts alone that get later are no clock.
		d.clock = nil
		list := d.events()
		for i := range list {
			if e := &list[i]; !e.On {
				late := gain * (float64(e.IdealNs-startNs)/lengthNs - 0.5)
				e.ActualNs += int64(late * 1e9)
				e.TimeErrorS += late
			}
		}
		if r := Read(Input{Actual: list}); len(r.Offsets()) > 0 {
			t.Errorf("%g s of lifts alone: clocks %+v", gain, r.Offsets())
		}
	}
}

// Setpoints that come when they should, and work states that are late, are a machine; work
// states ahead of their setpoints are another clock.
func TestSetpointsTellTheMachine(t *testing.T) {
	const leadS = 0.4
	leads := func(list []score.Event) []float64 { return slices.Repeat([]float64{leadS}, len(list)) }
	for _, c := range []struct {
		toldS, didS float64
		apart       bool
		record      []string
	}{
		{0, 0, false, nil},
		{0, 0.3, false, nil},
		{0, 2, false, nil},
		{0, 6, false, nil},
		{0, -0.2, false, nil},
		{0, -1.5, true, []string{"actual"}},
		{0, 18, true, []string{"actual"}},
		{0, 7200, true, []string{"actual"}},
		{-2, 0, true, []string{"setpoint"}},
		{2, 0, true, []string{"setpoint"}},
		{7200, 0, true, []string{"setpoint"}},
		{1.3, -0.7, true, []string{"setpoint", "actual"}},
		{3, 3, false, []string{""}},
		{7200, 7200, false, []string{""}},
	} {
		told, did := usual(), usual()
		told.leadS = leadS
		told.clock, did.clock = by(c.toldS), by(c.didS)
		r := Read(Input{Setpoint: told.events(), Actual: did.events(), LeadS: leads})
		var record []string
		for _, o := range r.Offsets() {
			record = append(record, o.Record)
		}
		if r.Apart != c.apart || !slices.Equal(record, c.record) {
			t.Errorf("setpoints %+g s, work states %+g s: apart %v, clocks of %q", c.toldS, c.didS, r.Apart, record)
		}
		doubts := r.Doubts([]Lateness{{Cause: "machine slow", SizeS: c.didS - c.toldS, FromTold: true}}, 2)
		if want := c.toldS == 0 && c.didS > mostLateS && !c.apart; (len(doubts) == 1 && slices.Contains(doubts[0].Between, "machine slow")) != want {
			t.Errorf("setpoints %+g s, work states %+g s: doubts %+v", c.toldS, c.didS, doubts)
		}
		// Where one clock wrote both, what is between them is the machine's, however long.
		r = Read(Input{Setpoint: told.events(), Actual: did.events(), LeadS: leads, OneClock: true})
		doubts = r.Doubts([]Lateness{{Cause: "machine slow", SizeS: c.didS - c.toldS, FromTold: true}}, 2)
		if r.Apart || slices.ContainsFunc(doubts, func(q Doubt) bool { return slices.Contains(q.Between, "machine slow") }) {
			t.Errorf("setpoints %+g s, work states %+g s, one clock: apart %v, doubts %+v", c.toldS, c.didS, r.Apart, doubts)
		}
		if s := r.Sampling(); s == nil || !s.OneClock || s.Text != "" {
			t.Errorf("one clock: sampling %+v", s)
		}
	}
}

// Intervals of polls take half of each out, whatever the others have, and say so.
func TestPolls(t *testing.T) {
	d := usual()
	exact := d.events()
	seen := slices.Clone(exact)
	var list []states.Poll
	r := rand.New(rand.NewPCG(9, 9))
	for i := range seen {
		e := &seen[i]
		if e.Kind != score.Paired {
			continue
		}
		width := int64(100e6 + 1.9e9*r.Float64())
		*e = MovedTo(*e, e.ActualNs+int64(r.Float64()*float64(width)))
		list = append(list, states.Poll{Section: e.Section, AfterNs: e.ActualNs - width, AtNs: e.ActualNs})
	}
	with, without := Read(Input{Actual: seen, ActualPolls: list}), Read(Input{Actual: seen})
	if without.Sampling() != nil || with.Actual.Found() {
		t.Errorf("without intervals %+v; with them the clock is off by %g s", without.Sampling(), with.Actual.OffsetS)
	}
	s := with.Sampling()
	if s == nil || s.Kind != Polled || s.GridS != 0 || s.WithinS == nil || s.WithinS[0] < 0.1 || s.WithinS[2] > 2 || !strings.HasPrefix(s.Text, "Each change lies within an interval of ") {
		t.Fatalf("sampling %+v", s)
	}
	for i, e := range with.Actual.Corrected(seen) {
		if e.Kind != score.Paired {
			continue
		}
		k := slices.IndexFunc(seen, func(x score.Event) bool { return x.Section == e.Section && x.IdealNs == e.IdealNs })
		p := slices.IndexFunc(list, func(p states.Poll) bool { return p.Section == e.Section && p.AtNs == seen[k].ActualNs })
		if middle := (list[p].AfterNs + list[p].AtNs) / 2; e.ActualNs-middle > 1 || middle-e.ActualNs > 1 {
			t.Fatalf("event %d is %d ns off the middle of its interval", i, e.ActualNs-middle)
		}
	}
	// Times that are written on a coarser grid than the polls are: the grid is what is known.
	if g := (&Grid{StepNs: 4e9}); pollsOf(list).beside(g) != nil || pollsOf(list).beside(&Grid{StepNs: 1e9}) == nil {
		t.Error("polls beside a grid")
	}
}

// At one speed a time and a place are one: seconds may be metres, a quarter of a minute is
// not.
func TestOneSpeed(t *testing.T) {
	for s, named := range map[float64]bool{0.8: false, 1.3: false, -0.8: false, 2.5: true, -2.5: true, 18: true, 3600: true} {
		d := usual()
		d.slowMps, d.byMps = 2, 0
		d.clock = by(s)
		r := Read(Input{Actual: d.events()})
		list := r.Offsets()
		if (len(list) == 1) != named {
			t.Errorf("%g s: clocks %+v", s, list)
		}
		if named && (list[0].CI95[0] > s || list[0].CI95[1] < s) {
			t.Errorf("%g s: %.3f %.3f", s, list[0].OffsetS, list[0].CI95)
		}
		if !named && math.Abs(r.HiddenS-s) > 0.05 {
			t.Errorf("%g s: hidden %g", s, r.HiddenS)
		}
		if doubts := r.Doubts(nil, 2); named && math.Abs(s) < 18 && (len(doubts) != 1 || !slices.Equal(doubts[0].Between, []string{"clock offset", "geometry"})) {
			t.Errorf("%g s: doubts %+v", s, doubts)
		}
	}
}

// Lifts alone tell whole hours, and leave seconds in doubt.
func TestLiftsAlone(t *testing.T) {
	for s, named := range map[float64]bool{2: false, 7200: true} {
		for _, on := range []bool{false, true} {
			d := usual()
			d.clock = by(s)
			r := Read(Input{Actual: slices.DeleteFunc(d.events(), func(e score.Event) bool { return e.On != on })})
			if list := r.Offsets(); (len(list) == 1) != named || named && list[0].OffsetS != s {
				t.Errorf("%g s: clocks %+v", s, list)
			}
			want := map[bool]string{false: "Only lifts", true: "Only drops"}[on]
			doubts := r.Doubts([]Lateness{{Cause: "lift timing", SizeS: s, OneMove: true}}, 2)
			if len(doubts) != 1 || !strings.HasPrefix(doubts[0].Why, want) || !slices.Contains(doubts[0].Between, "clock offset") {
				t.Errorf("%g s: doubts %+v", s, doubts)
			}
		}
	}
}

func TestGridOf(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	var times []int64
	for range 200 {
		times = append(times, startNs+int64(r.Float64()*36000e9))
	}
	if g := GridOf(times); g != (Grid{}) {
		t.Errorf("times on no grid: %+v", g)
	}
	for _, q := range []int64{50e6, 100e6, 200e6, 250e6, 500e6, 1e9} {
		for _, phase := range []int64{0, q / 3} {
			on := make([]int64, len(times))
			for i, ns := range times {
				on[i] = ns/q*q + phase + int64(r.Float64()*1e6)
			}
			g := GridOf(on)
			want := NoGrid // both are possible
			if phase > 0 {
				want = Sampled
			}
			if g.StepNs != q || g.Kind != want {
				t.Errorf("%d ms and %d: %+v", q/1e6, phase/1e6, g)
			}
		}
	}
}

// Times that were rounded are not half a step late, whatever one of the leads is.
func TestKind(t *testing.T) {
	for _, c := range []struct {
		stepS, liftS, offsetS float64
		sampled               bool
	}{
		{0.2, 0, 0, false}, {0.2, 0, 0, true}, {1, 0, 0, false}, {1, 0, 0, true}, {0.5, 2.5, 0, false}, {0.5, 2.5, 0, true},
		{0.2, 0, 18, false}, {0.2, 0, 3600, true}, {1, 0, -7200, false},
	} {
		q := c.stepS * 1e9
		d := usual()
		d.liftS = c.liftS
		d.clock = func(ns float64) float64 {
			ns += c.offsetS * 1e9
			if c.sampled {
				return math.Ceil(ns/q) * q
			}
			return math.Round(ns/q) * q
		}
		r := Read(Input{Actual: d.events()})
		want := Rounded
		if c.sampled {
			want = Sampled
		}
		if g := &r.Actual.Grid; g.StepS() != c.stepS || g.Kind != want || !g.Guessed || r.KindUnsureS() != c.stepS/2 {
			t.Errorf("%+v: %+v", c, *g)
		}
		both := Read(Input{Setpoint: d.events(), Actual: d.events(), LeadS: func(list []score.Event) []float64 { return make([]float64, len(list)) }})
		if g := &both.Actual.Grid; g.Kind != want || !g.Guessed || !strings.Contains(both.Sampling().Text, "are taken to be") {
			t.Errorf("%+v, setpoints too: %+v, %s", c, *g, both.Sampling().Text)
		}
		if c.offsetS != 0 != r.Actual.Found() || r.Actual.OffsetS != c.offsetS {
			t.Errorf("%+v: offset %g", c, r.Actual.OffsetS)
		}
	}
}

// Changes at their true times are paired as they would have been by a right clock.
func TestCorrected(t *testing.T) {
	for _, s := range []float64{4, 7200, -3600} {
		d := usual()
		d.placeM = 0.3
		want := d.events()
		d.clock = by(s)
		got := (&Clock{OffsetS: s}).Corrected(d.events())
		order := func(a, b score.Event) int {
			if a.IdealNs != b.IdealNs {
				return int(max(-1, min(1, a.IdealNs-b.IdealNs)))
			}
			return int(a.Section) - int(b.Section)
		}
		slices.SortFunc(want, order)
		slices.SortFunc(got, order)
		if len(got) != len(want) {
			t.Fatalf("%g s: %d events of %d", s, len(got), len(want))
		}
		for i := range want {
			if got[i].Kind != score.Paired || got[i].IdealNs != want[i].IdealNs || max(got[i].ActualNs-want[i].ActualNs, want[i].ActualNs-got[i].ActualNs) > 1000 || math.Abs(got[i].PlaceErrorM-want[i].PlaceErrorM) > 1e-3 {
				t.Fatalf("%g s: %+v\nwant %+v", s, got[i], want[i])
			}
		}
	}
}

// Within their steps times are put nearer to where they were than the steps' middles are.
func TestSharpen(t *testing.T) {
	for _, stepS := range []float64{0.1, 0.25, 1} {
		d := usual()
		d.placeM = 0.4
		exact := d.events()
		d.clock = func(ns float64) float64 { return math.Round(ns/(stepS*1e9)) * stepS * 1e9 }
		rounded := d.events()
		sharp, left := Sharpen(rounded, slices.Repeat([]float64{stepS}, len(rounded)), nil)
		leftS := 0.0
		for _, s := range left {
			leftS += s * s / float64(len(left))
		}
		leftS = math.Sqrt(leftS)
		var was, is float64
		for i := range exact {
			was += math.Pow(rounded[i].TimeErrorS-exact[i].TimeErrorS, 2) / float64(len(exact))
			is += math.Pow(sharp[i].TimeErrorS-exact[i].TimeErrorS, 2) / float64(len(exact))
		}
		t.Logf("step %g s: scatter %.1f ms, sharpened %.1f ms, stated %.1f ms", stepS, math.Sqrt(was)*1e3, math.Sqrt(is)*1e3, leftS*1e3)
		if most := map[bool]float64{true: was / 4, false: was}[stepS > 0.1]; is > most || leftS > stepS/math.Sqrt(12) { // 0.1 s is too near to the scatter
			t.Errorf("step %g s: scatter %.1f ms, sharpened %.1f ms, stated %.1f ms", stepS, math.Sqrt(was)*1e3, math.Sqrt(is)*1e3, leftS*1e3)
		}
	}
}

func TestWords(t *testing.T) {
	for _, c := range []struct {
		o    Offset
		want string
	}{
		{Offset{Clock: Clock{OffsetS: -2, CI95: [2]float64{-2.02, -1.98}, Crossings: 66}}, "The terminal's clock is 2.00 s behind (95 % interval 1.98 to 2.02 s)"},
		{Offset{Clock: Clock{OffsetS: 7200, CI95: [2]float64{7199.9, 7200.1}, Likely: LocalTime}, Record: "actual"}, "The clock of the work states is 2 h ahead"},
		{Offset{Clock: Clock{OffsetS: 3 * 86400, Likely: WrongDate}}, "The terminal's clock is 3 d ahead"},
		{Offset{Clock: Clock{OffsetS: 18, Likely: LeapSeconds}, Record: "setpoint"}, "The clock of the setpoints is 18.00 s ahead"},
		{Offset{Clock: Clock{DriftS: -1.5, LastNs: 2, MiddleNs: 1}}, "The terminal's clock loses 1.50 s over the day: 0.75 s ahead at its beginning, 0.75 s behind at its end"},
	} {
		if got := c.o.Evidence(); !strings.HasPrefix(got, c.want) {
			t.Errorf("%s\nwant %s", got, c.want)
		}
	}
}

// Where all passes take the same time, the ends of a day tell by how many of them a clock is
// off, however many they are.
func TestOffsetOfEvenPasses(t *testing.T) {
	for _, passes := range []int{30, 700} {
		var list []score.Event
		for k := range passes {
			for i, on := range []bool{true, false} {
				ideal := startNs + int64(k)*91e9 + int64(i)*40e9
				for section := range int16(2) {
					list = append(list, scored(section, on, ideal, ideal+3600e9, 2)...)
				}
			}
		}
		r := Read(Input{Actual: list})
		if o := r.Offsets(); len(o) != 1 || o[0].OffsetS != 3600 {
			t.Errorf("%d passes: clocks %+v", passes, o)
		}
	}
}
