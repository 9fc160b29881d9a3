// A second party: drives of a machine that shares nothing with the simulator or with the
// other drives of these tests. A bar goes along straight passes, each section has an
// instant at which it should change, a command a lead before it, and a work state a
// travel time after the command. Faults change the recorded lists of commands and states.

package diagnose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"
	"testing"

	"liftbench/nmea"
	"liftbench/replay/diagnose/evidence"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sim/campaign"
)

// seenChange is one recorded change of a section.
type seenChange struct {
	section int
	on      bool
	atS     float64
}

// shouldChange is when and how fast a section crosses a border.
type shouldChange struct {
	seenChange
	mps, eastM, northM, headingRad float64
	crossing                       int
}

// trial is one drive of the second party.
type trial struct {
	rng                *rand.Rand
	n                  int // sections
	passes             int
	liftS, dropS       float64 // leads, and travel times where nothing is wrong
	should             []shouldChange
	commands, states   []seenChange
	recordsCommands    bool
	toS                float64
	passTimes          [][2]float64 // in which each pass is in work
	lateCommandS       [2]float64   // of lifts, of drops
	slowS              []float64    // by section
	placeM             float64      // all too far on
	jitter             func(c *shouldChange) float64
	doesFollow         func(c *shouldChange) bool
	spacingM, speedMps float64
}

// newTrial draws a machine and a day.
func newTrial(seed uint64) *trial {
	rng := rand.New(rand.NewPCG(seed, 4711))
	t := &trial{rng: rng, n: 4 + rng.IntN(9), passes: 16 + rng.IntN(25), liftS: 0.4 + 0.5*rng.Float64(), dropS: 0.4 + 0.6*rng.Float64()}
	t.recordsCommands = rng.IntN(2) == 0
	t.slowS = make([]float64, t.n)
	t.jitter = func(*shouldChange) float64 { return 0 }
	t.doesFollow = func(*shouldChange) bool { return true }
	t.spacingM = 0.5 + 1.5*rng.Float64()
	t.speedMps = 1 + 0.8*rng.Float64()
	return t
}

func (t *trial) lead(on bool) float64 {
	if on {
		return t.dropS
	}
	return t.liftS
}

// drive fills in the lists.
func (t *trial) drive() {
	now := 100.0
	lengthM := 60 + 60*t.rng.Float64()
	inWork := make([]bool, t.n)
	for p := range t.passes {
		mps := t.speedMps * (1 + t.rng.Float64())
		north := p%2 == 0
		var times [2]float64
		for k, on := range []bool{true, false} {
			slant := 0.0
			if t.rng.Float64() < 0.7 {
				slant = 1.2*t.rng.Float64() - 0.6
			}
			shared := 0.0143 * t.rng.NormFloat64()
			middle := now + float64(k)*lengthM/mps
			times[k] = middle
			for s := range t.n {
				side := (float64(s) - float64(t.n-1)/2) * t.spacingM
				c := shouldChange{seenChange: seenChange{s, on, middle + side*slant/mps}, mps: mps, eastM: float64(p)*float64(t.n)*t.spacingM + side, crossing: 2*p + k}
				c.northM = lengthM / 2
				if (k == 0) == north {
					c.northM = -c.northM
				}
				if !north {
					c.headingRad = math.Pi
				}
				t.should = append(t.should, c)
				way := 0
				if on {
					way = 1
				}
				toldS := c.atS - t.lead(on) + (shared+t.placeM)/mps + t.lateCommandS[way]
				t.commands = append(t.commands, seenChange{s, on, toldS})
				answerS := toldS + t.lead(on) + t.slowS[s] + 0.004*t.rng.NormFloat64() + t.jitter(&c)
				if t.doesFollow(&c) && inWork[s] != on {
					inWork[s] = on
					t.states = append(t.states, seenChange{s, on, answerS})
				}
			}
		}
		t.passTimes = append(t.passTimes, times)
		now += lengthM/mps + 25 + 10*t.rng.Float64()
	}
	t.toS = now
}

// scored pairs the changes of each section with its crossings: each is the nearest of the
// other, and no more than 10 s away.
func (t *trial) scored(seen []seenChange) []score.Event {
	var list []score.Event
	for s := range t.n {
		for _, on := range []bool{false, true} {
			var should []shouldChange
			var at []float64
			for _, c := range t.should {
				if c.section == s && c.on == on {
					should = append(should, c)
				}
			}
			for _, c := range seen {
				if c.section == s && c.on == on {
					at = append(at, c.atS)
				}
			}
			sort.Float64s(at)
			nearest := func(x float64, n int, of func(int) float64) int {
				best := -1
				for i := range n {
					if best < 0 || math.Abs(of(i)-x) < math.Abs(of(best)-x) {
						best = i
					}
				}
				return best
			}
			used := make([]bool, len(at))
			for i, c := range should {
				e := score.Event{Section: int16(s), On: on, Kind: score.Missed, IdealNs: dayNs + int64(c.atS*1e9), SpeedMps: c.mps,
					EastM: c.eastM, NorthM: c.northM, HeadingRad: c.headingRad, TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()}
				k := nearest(c.atS, len(at), func(i int) float64 { return at[i] })
				if k >= 0 && math.Abs(at[k]-c.atS) <= 10 && nearest(at[k], len(should), func(i int) float64 { return should[i].atS }) == i {
					used[k] = true
					e.Kind, e.ActualNs = score.Paired, dayNs+int64(at[k]*1e9)
					e.TimeErrorS = at[k] - c.atS
					e.PlaceErrorM = e.TimeErrorS * c.mps
				}
				list = append(list, e)
			}
			for k := range at {
				if !used[k] {
					list = append(list, score.Event{Section: int16(s), On: on, Kind: score.Spurious, ActualNs: dayNs + int64(at[k]*1e9), TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()})
				}
			}
		}
	}
	return list
}

// day is the drive as a diagnosis gets it.
func (t *trial) day() evidence.Day {
	m := &sections.Machine{Mount: sections.RearRigid, AntennaXM: 1.1}
	for s := range t.n {
		m.Sections = append(m.Sections, sections.Section{XM: -2.4, YM: (float64(s) - float64(t.n-1)/2) * t.spacingM, WidthM: t.spacingM})
	}
	set := sections.DefaultSettings()
	set.LiftLead = sections.Lead{DeadNs: 100e6, MoveNs: int64(t.liftS*1e9) - 100e6}
	set.DropLead = sections.Lead{DeadNs: 100e6, MoveNs: int64(t.dropS*1e9) - 100e6}
	day := evidence.Day{Machine: m, Settings: set, Actual: t.scored(t.states)}
	if t.recordsCommands {
		day.Setpoint = t.scored(t.commands)
	}
	for at := 0.0; at < t.toS; at += 0.5 {
		day.Fixes = append(day.Fixes, evidence.Fix{TimeNs: dayNs + int64(at*1e9), AgeNs: -1, Quality: nmea.RTKFixed})
	}
	return day
}

// relabel records each section under another number; -1 leaves it out.
func (t *trial) relabel(to func(s int) int, commands bool) {
	change := func(list []seenChange) []seenChange {
		var out []seenChange
		for _, c := range list {
			if c.section = to(c.section); c.section >= 0 {
				out = append(out, c)
			}
		}
		return out
	}
	t.states = change(t.states)
	if commands {
		t.commands = change(t.commands)
	}
}

// expected is what a trial's diagnosis must name.
type expected struct {
	cause   Cause
	section int     // from 1
	size    float64 // NaN = not compared
}

// secondFaults make a trial faulty before it is driven, and change its lists after.
var secondFaults = []struct {
	name string
	make func(t *trial) (want []expected, after func())
}{
	{"nothing wrong", func(t *trial) ([]expected, func()) { return nil, nil }},
	{"a section follows nothing", func(t *trial) ([]expected, func()) {
		bad := t.rng.IntN(t.n)
		t.doesFollow = func(c *shouldChange) bool { return c.section != bad }
		return []expected{{DoesNotFollow, bad + 1, math.NaN()}}, nil
	}},
	{"a section misses some lifts", func(t *trial) ([]expected, func()) {
		bad, share := t.rng.IntN(t.n), 0.25+0.5*t.rng.Float64()
		t.doesFollow = func(c *shouldChange) bool { return c.section != bad || c.on || t.rng.Float64() >= share }
		return []expected{{DoesNotFollow, bad + 1, share}}, nil
	}},
	{"the machine misses lifts", func(t *trial) ([]expected, func()) {
		share := 0.1 + 0.3*t.rng.Float64()
		t.doesFollow = func(c *shouldChange) bool { return c.on || t.rng.Float64() >= share }
		return []expected{{DoesNotFollow, 0, share}}, nil
	}},
	{"the machine misses whole drops", func(t *trial) ([]expected, func()) {
		share := 0.2 + 0.2*t.rng.Float64()
		missed := map[int]bool{}
		for k := range 2 * t.passes {
			missed[k] = t.rng.Float64() < share
		}
		t.doesFollow = func(c *shouldChange) bool { return !c.on || !missed[c.crossing] }
		return []expected{{DoesNotFollow, 0, share}}, nil
	}},
	{"sections in reverse order", func(t *trial) ([]expected, func()) {
		commands := t.rng.IntN(2) == 0
		return []expected{{SectionOrder, 0, math.NaN()}}, func() { t.relabel(func(s int) int { return t.n - 1 - s }, commands) }
	}},
	{"sections shifted by one", func(t *trial) ([]expected, func()) {
		by := 1 - 2*t.rng.IntN(2)
		return []expected{{SectionOrder, 0, math.NaN()}}, func() {
			t.relabel(func(s int) int { return (s + by + t.n) % t.n }, true)
		}
	}},
	{"sections shifted, one lost", func(t *trial) ([]expected, func()) {
		by := 1 - 2*t.rng.IntN(2)
		return []expected{{SectionOrder, 0, math.NaN()}}, func() {
			t.relabel(func(s int) int {
				if s += by; s < 0 || s >= t.n {
					return -1
				}
				return s
			}, true)
		}
	}},
	{"two sections exchanged", func(t *trial) ([]expected, func()) {
		a := t.rng.IntN(t.n)
		b := (a + 1 + t.rng.IntN(t.n-1)) % t.n
		return []expected{{SectionOrder, 0, math.NaN()}}, func() {
			t.relabel(func(s int) int {
				switch s {
				case a:
					return b
				case b:
					return a
				}
				return s
			}, true)
		}
	}},
	{"one section erratic", func(t *trial) ([]expected, func()) {
		bad, sd := t.rng.IntN(t.n), 0.15+0.6*t.rng.Float64()
		t.jitter = func(c *shouldChange) float64 {
			if c.section != bad {
				return 0
			}
			return sd * t.rng.NormFloat64()
		}
		return []expected{{Erratic, bad + 1, sd}}, nil
	}},
	{"all sections erratic", func(t *trial) ([]expected, func()) {
		sd := 0.15 + 0.3*t.rng.Float64()
		t.jitter = func(*shouldChange) float64 { return sd * t.rng.NormFloat64() }
		return []expected{{Erratic, 0, sd}}, nil
	}},
	{"the whole bar erratic", func(t *trial) ([]expected, func()) {
		sd := 0.15 + 0.3*t.rng.Float64()
		shared := map[int]float64{}
		for k := range 2 * t.passes {
			shared[k] = sd * t.rng.NormFloat64()
		}
		t.jitter = func(c *shouldChange) float64 { return shared[c.crossing] }
		return []expected{{Erratic, 0, sd}}, nil
	}},
	{"a sensor that blinks in mid-pass", func(t *trial) ([]expected, func()) {
		bad, share := t.rng.IntN(t.n), 0.3+0.5*t.rng.Float64()
		return []expected{{Sensor, bad + 1, math.NaN()}}, func() {
			for _, pass := range t.passTimes {
				if t.rng.Float64() < share {
					at := pass[0] + (0.35+0.3*t.rng.Float64())*(pass[1]-pass[0])
					t.states = append(t.states, seenChange{bad, false, at}, seenChange{bad, true, at + 0.5 + 2*t.rng.Float64()})
				}
			}
		}
	}},
	{"a sensor that chatters", func(t *trial) ([]expected, func()) {
		bad, share := t.rng.IntN(t.n), 0.3+0.6*t.rng.Float64()
		return []expected{{Sensor, bad + 1, math.NaN()}}, func() {
			for _, c := range slices.Clone(t.states) {
				if c.section != bad || t.rng.Float64() >= share {
					continue
				}
				at := c.atS
				for range 1 + t.rng.IntN(3) {
					at += 0.03 + 0.12*t.rng.Float64()
					t.states = append(t.states, seenChange{bad, !c.on, at})
					at += 0.03 + 0.12*t.rng.Float64()
					t.states = append(t.states, seenChange{bad, c.on, at})
				}
			}
		}
	}},
	{"a sensor that sticks for hours", func(t *trial) ([]expected, func()) {
		bad := t.rng.IntN(t.n)
		return []expected{{Sensor, bad + 1, math.NaN()}}, func() {
			from := t.passTimes[t.passes/4][0] + 10
			to := t.passTimes[t.passes/4+t.passes/3][0] + 10
			t.states = slices.DeleteFunc(t.states, func(c seenChange) bool { return c.section == bad && c.atS > from && c.atS < to })
		}
	}},
}

// secondOld are faults of the old dictionary that the new ones are put on top of.
var secondOld = []struct {
	name string
	make func(t *trial) expected
}{
	{"", func(*trial) expected { return expected{} }},
	{"lifts late", func(t *trial) expected {
		size := 0.25 + 0.4*t.rng.Float64()
		t.lateCommandS[0] = size
		if t.recordsCommands {
			return expected{CommandTiming, 0, size}
		}
		return expected{LiftTiming, 0, size}
	}},
	{"bar elsewhere", func(t *trial) expected {
		size := 0.3 + 0.4*t.rng.Float64()
		t.placeM = size
		return expected{Geometry, 0, size}
	}},
	{"a slow section", func(t *trial) expected {
		s, size := t.rng.IntN(t.n), 0.3+0.4*t.rng.Float64()
		t.slowS[s] = size
		return expected{SlowSection, s + 1, size}
	}},
}

// secondRow counts what was said of the drives with one fault.
type secondRow struct {
	drives, first, doubt, wrong, extra, sizes, inside int
	fine                                              int // called fine although something is wrong
}

// secondParty drives so many trials of each fault, alone and on top of old ones.
func secondParty(t *testing.T, each int) (names []string, rows map[string]*secondRow) {
	rows = map[string]*secondRow{}
	seed := uint64(0)
	for _, old := range secondOld {
		for _, f := range secondFaults {
			name := f.name
			if old.name != "" {
				name = "new faults on top: " + old.name
				if f.name == "nothing wrong" {
					name = old.name
				}
			}
			if rows[name] == nil {
				names, rows[name] = append(names, name), &secondRow{}
			}
			times := each
			if old.name != "" && f.name != "nothing wrong" {
				times = max(1, each/6)
			}
			for range times {
				seed++
				tr := newTrial(seed)
				want, after := f.make(tr)
				if w := old.make(tr); w.cause != "" {
					if w.section > 0 && slices.ContainsFunc(want, func(x expected) bool { return x.section == w.section }) {
						continue // two faults of one section
					}
					if f.name == "sections shifted, one lost" || w.cause == SlowSection && len(want) > 0 && want[0].cause == SectionOrder {
						w.section = -1 // under another number, or lost
					}
					want = append(want, w)
				}
				tr.drive()
				if after != nil {
					after()
				}
				d, err := Run(tr.day())
				if err != nil {
					t.Fatalf("%s, trial %d: %v", f.name, seed, err)
				}
				if trace := rows[name].judge(d, want); trace != "" {
					t.Logf("%s (%s), trial %d, n %d, commands %v: %s", f.name, old.name, seed, tr.n, tr.recordsCommands, trace)
				}
			}
		}
	}
	return names, rows
}

// judge counts one diagnosis; it returns what there is to look at.
func (r *secondRow) judge(d *Diagnosis, want []expected) (trace string) {
	r.drives++
	is := func(f *Finding, w *expected) bool {
		return f.Cause == w.cause && (w.section < 0 || f.Section == w.section)
	}
	extra := false
	for i := range d.Causes {
		known := false
		for k := range want {
			if !is(&d.Causes[i], &want[k]) {
				continue
			}
			known = true
			if !math.IsNaN(want[k].size) {
				r.sizes++
				if inside(want[k].size, d.Causes[i].CI95) {
					r.inside++
				} else {
					trace += fmt.Sprintf("size %g of %s not in %v; ", want[k].size, want[k].cause, d.Causes[i].CI95)
				}
			}
		}
		extra = extra || !known
	}
	if extra {
		r.extra++
	}
	if len(want) > 0 && len(d.Causes)+len(d.CannotTell) == 0 {
		r.fine++
	}
	// What the day says it could not have shown need not be found.
	shown := slices.DeleteFunc(slices.Clone(want), func(w expected) bool {
		return slices.ContainsFunc(d.Floors, func(f Floor) bool { return f.Cause == w.cause && (f.Size == nil || *f.Size > w.size) })
	})
	right := len(d.Causes) >= len(shown)
	for i := 0; right && i < len(shown); i++ {
		right = slices.ContainsFunc(want, func(w expected) bool { return is(&d.Causes[i], &w) })
	}
	named := false
	for _, w := range want {
		for _, q := range d.CannotTell {
			named = named || slices.Contains(q.Between, w.cause)
		}
	}
	switch {
	case len(want) == 0:
	case right:
		r.first++
	case named:
		r.doubt++
	default:
		r.wrong++
	}
	if extra || !right && !named {
		for _, f := range d.Causes {
			trace += fmt.Sprintf("%s %d %s %.3g %v; ", f.Cause, f.Section, f.Move, f.Size, f.CI95)
		}
		for _, q := range d.CannotTell {
			trace += fmt.Sprintf("doubt %q; ", q.Between)
		}
		trace += fmt.Sprintf("want %+v", want)
	}
	return trace
}

// TestSecondParty prints the table of the README and holds it to its promises.
func TestSecondParty(t *testing.T) {
	names, rows := secondParty(t, campaign.Times(6, 6, 60))
	var b strings.Builder
	b.WriteString("| drives with | drives | right cause first | in doubt, the right one named | wrong | with a false cause | size in its interval | called fine |\n| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |\n")
	var all secondRow
	for _, name := range names {
		r := rows[name]
		n := r.first + r.doubt + r.wrong
		fmt.Fprintf(&b, "| %s | %d | %s | %s | %s | %s | %s | %d |\n", name, r.drives, share(r.first, n), share(r.doubt, n), share(r.wrong, n), share(r.extra, r.drives), shareIn(r.inside, r.sizes), r.fine)
		all.drives += r.drives
		all.first += r.first
		all.doubt += r.doubt
		all.wrong += r.wrong
		all.extra += r.extra
		all.sizes += r.sizes
		all.inside += r.inside
		all.fine += r.fine
	}
	t.Logf("\n%s", b.String())
	n := all.first + all.doubt + all.wrong
	for _, c := range []struct {
		what  string
		k, n  int
		least float64
	}{
		{"the right cause first, or in doubt and named", all.first + all.doubt, n, 0.95},
		{"not wrong", n - all.wrong, n, 0.98},
		{"without a false cause", all.drives - all.extra, all.drives, 0.95},
		{"the true size in its interval", all.inside, all.sizes, 0.92},
	} {
		if c.n == 0 || below(c.k, c.n, c.least) {
			t.Errorf("%s: %d of %d; want %g %%", c.what, c.k, c.n, 100*c.least)
		}
	}
	if all.fine > 0 {
		t.Errorf("%d faulty drives are called fine", all.fine)
	}
}
