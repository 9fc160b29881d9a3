// A shared pump that is not the simulator's: from event to event, with oil for so many
// sections at full speed, and with an accumulator. What a diagnosis makes of its drives.

package diagnose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"liftbench/replay/diagnose/evidence"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sim/campaign"
)

// bottle is an accumulator. While it holds oil every section moves at full speed.
type bottle struct{ holdsS float64 } // in seconds of one section at full speed

// movedBy returns when each of the sections that begin to move at starts has gone countS
// of its way of strokeS, in seconds at full speed. Of n that move, each has min(1,
// feeds/n) of its full speed, but full speed while the bottle holds oil. The bottle is
// full at the first start, and takes what the pump has left over.
func movedBy(starts []float64, countS, strokeS, feeds float64, b bottle) []float64 {
	const eps = 1e-12
	at, way, done := make([]float64, len(starts)), make([]float64, len(starts)), 0
	oil, now := b.holdsS, math.Inf(1)
	for _, s := range starts {
		now = min(now, s)
	}
	for done < len(starts) {
		n := 0.0
		for i, s := range starts {
			if s <= now+eps && way[i] < strokeS-eps {
				n++
			}
		}
		speed := 1.0
		if n > feeds && oil <= eps {
			speed = feeds / n
		}
		next := math.Inf(1)
		switch {
		case n > feeds && oil > eps:
			next = oil / (n - feeds)
		case n < feeds && oil < b.holdsS-eps:
			next = (b.holdsS - oil) / (feeds - n)
		}
		for i, s := range starts {
			switch {
			case s > now+eps:
				next = min(next, s-now)
			case way[i] < countS-eps:
				next = min(next, (countS-way[i])/speed)
			case way[i] < strokeS-eps:
				next = min(next, (strokeS-way[i])/speed)
			}
		}
		for i, s := range starts {
			if s <= now+eps && way[i] < strokeS-eps {
				was := way[i]
				way[i] += next * speed
				if was < countS-eps && way[i] >= countS-eps {
					at[i] = now + next
				}
				if way[i] >= strokeS-eps {
					done++
				}
			}
		}
		if b.holdsS > 0 {
			oil = min(b.holdsS, max(0, oil+next*(feeds-speed*n)))
		}
		now += next
	}
	return at
}

func TestMovedBy(t *testing.T) {
	for _, tc := range []struct {
		name        string
		starts      []float64
		feeds, hold float64
		want        []float64
	}{
		{"fewer than it feeds", []float64{0, 0}, 3, 0, []float64{0.3, 0.3}},
		{"twice as many", []float64{1, 1, 1, 1}, 2, 0, []float64{1.6, 1.6, 1.6, 1.6}},
		{"one begins later", []float64{0, 0.1}, 1, 0, []float64{0.5, 0.7}},
		{"the bottle carries all", []float64{0, 0, 0, 0}, 2, 0.6, []float64{0.3, 0.3, 0.3, 0.3}},
		{"the bottle carries half", []float64{0, 0, 0, 0}, 2, 0.3, []float64{0.45, 0.45, 0.45, 0.45}},
		{"the bottle is full again", []float64{0, 0, 0, 0, 5, 5, 5, 5}, 2, 0.6, []float64{0.3, 0.3, 0.3, 0.3, 5.3, 5.3, 5.3, 5.3}},
	} {
		for i, got := range movedBy(tc.starts, 0.3, 0.9, tc.feeds, bottle{tc.hold}) {
			if math.Abs(got-tc.want[i]) > 1e-9 {
				t.Errorf("%s: section %d at %g s; want %g", tc.name, i+1, got, tc.want[i])
			}
		}
	}
}

// pumpDay is how a drive with a shared pump is drawn.
type pumpDay struct {
	name             string
	feedsLo, feedsHi float64
	square, slant    bool // all borders square, all at a slant; otherwise both kinds
	drops            bool // the pump drives drops as well
	accumulator      bool
	told             int // setpoints: 0 on half of the drives, 1 on all
	lateS            float64
	ample            bool // feeds all
	passes           int  // at least
}

const pumpDeadS, pumpStrokeS = 0.3, 0.9

// newPumpTrial draws a drive of twelve sections on one pump. It returns how many the pump
// feeds; +Inf if it was never short.
func newPumpTrial(p *pumpDay, seed uint64) (t *trial, feeds float64) {
	rng := rand.New(rand.NewPCG(seed, 815))
	feeds = p.feedsLo + (p.feedsHi-p.feedsLo)*rng.Float64()
	countS := 0.3
	if rng.IntN(2) == 0 {
		countS += 0.6 * rng.Float64()
	}
	var b bottle
	if p.accumulator {
		b.holdsS = (0.3 + 1.2*rng.Float64()) * countS
	}
	t = &trial{rng: rng, n: 12, passes: max(p.passes, 20+rng.IntN(21)), liftS: pumpDeadS + countS, dropS: pumpDeadS + countS}
	t.recordsCommands = p.told == 1 || rng.IntN(2) == 0
	t.spacingM, t.speedMps = 0.4+0.6*rng.Float64(), 1+0.8*rng.Float64()
	now, lengthM, mostLateS := 100.0, 60+60*rng.Float64(), 0.0
	for k := range t.passes {
		mps := t.speedMps * (1 + rng.Float64())
		north := k%2 == 0
		for w, on := range [2]bool{true, false} {
			slope := 0.0
			if p.slant || !p.square && rng.Float64() < 0.6 {
				slope = 0.9 * (2*rng.Float64() - 1)
			}
			shared := 0.0143 * rng.NormFloat64()
			middle := now + float64(w)*lengthM/mps
			starts := make([]float64, t.n)
			told := make([]float64, t.n)
			for s := range t.n {
				side := (float64(s) - float64(t.n-1)/2) * t.spacingM
				c := shouldChange{seenChange: seenChange{s, on, middle + side*slope/mps}, mps: mps, eastM: float64(k)*float64(t.n)*t.spacingM + side, northM: lengthM / 2, crossing: 2*k + w}
				if (w == 0) == north {
					c.northM = -c.northM
				}
				if !north {
					c.headingRad = math.Pi
				}
				t.should = append(t.should, c)
				told[s] = c.atS - t.lead(on) + shared/mps
				if !on {
					told[s] += p.lateS
				}
				starts[s] = told[s] + pumpDeadS
			}
			oil := feeds
			if on && !p.drops || p.ample {
				oil = math.Inf(1)
			}
			moved := movedBy(starts, countS, pumpStrokeS, oil, b)
			for s := range t.n {
				mostLateS = max(mostLateS, moved[s]-starts[s]-countS)
				t.commands = append(t.commands, seenChange{s, on, told[s]})
				t.states = append(t.states, seenChange{s, on, moved[s] + 0.004*rng.NormFloat64()})
			}
		}
		now += lengthM/mps + 25 + 10*rng.Float64()
	}
	t.toS = now
	if mostLateS < evidence.LeastS {
		feeds = math.Inf(1) // never short: as good as one that feeds all
	}
	return t, feeds
}

// pumpInput is the drive as a diagnosis gets it: with leads for a pump that feeds all.
func pumpInput(t *trial) evidence.Day {
	day := t.day()
	const dead, stroke = int64(pumpDeadS * 1e9), int64(pumpStrokeS * 1e9)
	day.Settings.LiftLead = sections.Lead{DeadNs: dead, MoveNs: int64(t.liftS*1e9) - dead, TravelNs: stroke}
	day.Settings.DropLead = sections.Lead{DeadNs: dead, MoveNs: int64(t.dropS*1e9) - dead, TravelNs: stroke}
	day.LiftStrokeNs = stroke
	return day
}

// pumpRow counts what was said of the drives of one kind.
type pumpRow struct {
	secondRow
	feeds, feedsInside int
}

// judgePump counts one diagnosis.
func (r *pumpRow) judgePump(d *Diagnosis, day *evidence.Day, want []expected, feeds float64) (trace string) {
	trace = r.judge(d, want)
	for i := range d.Causes {
		f := &d.Causes[i]
		if f.Cause == FlowShortage && len(want) > 0 && want[0].cause == FlowShortage {
			r.feeds++
			if f.Feeds == nil || !inside(feeds, *f.FeedsCI95) {
				trace += fmt.Sprintf("feeds %s, %.2f true; ", feedsText(f), feeds)
			} else {
				r.feedsInside++
			}
		}
		if alone := aloneS(f, day); alone < 0 {
			trace += fmt.Sprintf("NEGATIVE %g s from command to motion; ", alone)
		}
	}
	return trace
}

func feedsText(f *Finding) string {
	if f.Feeds == nil {
		return "unknown"
	}
	return fmt.Sprintf("%.2f %.2f", *f.Feeds, *f.FeedsCI95)
}

// aloneS is the time from command to work state of a section that moves alone, if a
// finding is how much longer it takes than the lead; otherwise 0.
func aloneS(f *Finding, day *evidence.Day) float64 {
	s := &day.Settings
	switch {
	case f.Cause == LiftTiming, f.Cause == MachineSlow && f.Move != "drop":
		return float64(s.LiftLead.AloneNs())*1e-9 + f.Size
	case f.Cause == DropTiming, f.Cause == MachineSlow:
		return float64(s.DropLead.AloneNs())*1e-9 + f.Size
	}
	return 0
}

var pumpDays = []pumpDay{
	{name: "borders square and at a slant", feedsLo: 3, feedsHi: 11},
	{name: "… feeds 3 to 5", feedsLo: 3, feedsHi: 5},
	{name: "… feeds 8 to 11", feedsLo: 8, feedsHi: 11},
	{name: "all at a slant", feedsLo: 3, feedsHi: 11, slant: true},
	{name: "all square", feedsLo: 3, feedsHi: 11, square: true},
	{name: "drops too", feedsLo: 3, feedsHi: 11, drops: true},
	{name: "drops too, all at a slant", feedsLo: 3, feedsHi: 11, drops: true, slant: true},
	{name: "an accumulator", feedsLo: 3, feedsHi: 9, accumulator: true},
	{name: "an accumulator, drops too", feedsLo: 3, feedsHi: 9, accumulator: true, drops: true},
	{name: "lifts late besides", feedsLo: 3, feedsHi: 11, lateS: 0.3},
	{name: "feeds all", feedsLo: 12, feedsHi: 12, ample: true},
}

// Twelve sections on a pump that feeds some of them.
func TestSharedPump(t *testing.T) {
	longTest(t)
	each := campaign.Times(4, 16, 100)
	var b strings.Builder
	b.WriteString("| pump that feeds 3 to 11 of 12 | drives | right cause first | in doubt, the right one named | wrong | with a false cause | feeds in its interval | called fine |\n| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |\n")
	var all pumpRow
	for k := range pumpDays {
		p := &pumpDays[k]
		var r pumpRow
		for i := range each {
			tr, feeds := newPumpTrial(p, uint64(1000*k+i))
			day := pumpInput(tr)
			d, err := Run(day)
			if err != nil {
				t.Fatal(err)
			}
			var want []expected
			if !math.IsInf(feeds, 1) {
				want = append(want, of(FlowShortage, 0, math.NaN()))
			}
			if p.lateS != 0 {
				late := LiftTiming
				if tr.recordsCommands {
					late = CommandTiming
				}
				want = append(want, of(late, 0, p.lateS))
			}
			trace := r.judgePump(d, &day, want, feeds)
			if trace != "" {
				t.Logf("%s, drive %d, feeds %.2f, counts after %.2f s, commands %v: %s", p.name, i, feeds, tr.liftS-pumpDeadS, tr.recordsCommands, trace)
			}
			if strings.Contains(trace, "NEGATIVE") {
				t.Errorf("%s, drive %d: %s", p.name, i, trace)
			}
		}
		n := r.first + r.doubt + r.wrong
		fmt.Fprintf(&b, "| %s | %d | %s | %s | %s | %s | %s | %d |\n", p.name, r.drives, share(r.first, n), share(r.doubt, n), share(r.wrong, n), share(r.extra, r.drives), shareIn(r.feedsInside, r.feeds), r.fine)
		all.drives += r.drives
		all.first += r.first
		all.doubt += r.doubt
		all.wrong += r.wrong
		all.extra += r.extra
		all.fine += r.fine
		all.feeds += r.feeds
		all.feedsInside += r.feedsInside
		if below(r.first+r.doubt, n, 0.95) || below(r.drives-r.extra, r.drives, 0.95) || below(r.feedsInside, r.feeds, 0.92) {
			t.Errorf("%s: right or named %d of %d; want 95 %%; false cause in %d of %d; want 5 %%; feeds in %d of %d intervals; want 92 %%",
				p.name, r.first+r.doubt, n, r.extra, r.drives, r.feedsInside, r.feeds)
		}
	}
	t.Logf("\n%s", b.String())
	if all.feeds == 0 || below(all.feeds-all.feedsInside, all.feeds, 0.02) || all.fine > 0 {
		t.Errorf("feeds in %d of %d intervals; want 92 to 98 %%; %d faulty drives called fine", all.feedsInside, all.feeds, all.fine)
	}
}

// The bench with a pump of 25 L/min, diagnosed as one of 40: sections that take 8 L/min each
// are fed 3.1 at a time, not 5. With a lead that counts sections, setpoints are recorded.
func TestPumpOnBench(t *testing.T) {
	longTest(t)
	drives := campaign.Times(6, 16, 16)
	for _, aware := range []bool{false, true} {
		inside, extra, named := 0, 0, 0
		for seed := range uint64(drives) {
			s := shape{seed: 100 + seed, transitions: 360, sections: 6, kmh: 4, spreadKmh: 4, noiseM: 0.0143, braking: true, told: aware}
			day := benched(t, s, fault{pumpLMin: 25, aware: aware}, false, false)
			d, err := Run(day)
			if err != nil {
				t.Fatal(err)
			}
			other := false
			for i := range d.Causes {
				f := &d.Causes[i]
				if f.Cause != FlowShortage {
					other = true
					t.Logf("aware %t, drive %d: %s %d %g %v", aware, seed, f.Cause, f.Section, f.Size, f.CI95)
					continue
				}
				named++
				if f.FeedsCI95[0] <= 25.0/8 && 25.0/8 <= f.FeedsCI95[1] {
					inside++
				} else {
					t.Logf("aware %t, drive %d: feeds %s", aware, seed, feedsText(f))
				}
			}
			if other {
				extra++
			}
		}
		t.Logf("aware %t: named on %d of %d drives, another cause on %d, feeds in its interval on %d", aware, named, drives, extra, inside)
		if below(named, drives, 0.95) || extra > 1 || below(inside, named, 0.92) {
			t.Errorf("aware %t: named on %d of %d drives, another cause on %d, feeds in its interval on %d", aware, named, drives, extra, inside)
		}
	}
}

// Work states that come before their setpoints: nothing is said to take less than no time,
// and the day is not called fine.
func TestNothingBeforeItsCommand(t *testing.T) {
	for _, byS := range []float64{0.2, 0.5, 1, 3} {
		for _, only := range []string{"", "lift", "drop"} {
			day := withSetpoints(closedForm(clearDay(8), fault{}), func(e *score.Event) float64 {
				if only == "lift" && e.On || only == "drop" && !e.On {
					return 0
				}
				return -leadAloneS(&evidence.Day{Settings: sections.DefaultSettings()}, e.On) - byS
			})
			d, err := Run(day)
			if err != nil {
				t.Fatal(err)
			}
			for i := range d.Causes {
				if f := &d.Causes[i]; f.Cause == MachineSlow && aloneS(f, &day) < -1e-9 {
					t.Errorf("%g s before, %q: %s %g s", byS, only, f.Cause, f.Size)
				}
			}
			said := false
			for _, q := range d.CannotTell {
				said = said || strings.Contains(q.Why, "different clocks")
			}
			if !said {
				t.Errorf("%g s before, %q: %+v, %+v", byS, only, d.Causes, d.CannotTell)
			}
		}
	}
}

// Ten thousand transitions on a pump that is short.
func BenchmarkSharedPump(b *testing.B) {
	for _, p := range []pumpDay{
		{name: "lifts", feedsLo: 6, feedsHi: 6, passes: 417},
		{name: "lifts and drops, setpoints", feedsLo: 6, feedsHi: 6, passes: 417, drops: true, told: 1},
		{name: "accumulator", feedsLo: 6, feedsHi: 6, passes: 417, accumulator: true},
	} {
		b.Run(p.name, func(b *testing.B) {
			tr, _ := newPumpTrial(&p, 7)
			in := pumpInput(tr)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Run(in); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
