//go:build linux

// A day of 24 hours at 20 Hz, with the faults of the live campaign sprinkled
// in: no growth, no drift, and the same score as the sum of its parts.

package main

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"maps"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/report"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sections/motion"
	"liftbench/sections/score"
	"liftbench/sim"
	"liftbench/sim/campaign"
	"liftbench/sim/drive"
	"liftbench/sim/receiver"
)

// A lap takes a minute: back beside the field, round, straight over both
// zones, round, and back beside the field to where the next one begins. Faults
// come on the straight, 8 s from its start, and are over before the lap is.
const (
	lapS    = 60
	runUpS  = 15 // of the lap, before its straight
	dayHz   = 20
	runUpM  = 22.0
	turnM   = (lapS*straightMps - 2*straightM) / 2
	besideM = 2 * turnM / math.Pi // from the straight to the way back
)

// longDay is lap after lap, driven without a break.
type longDay struct {
	t        testing.TB
	first    *straight // the first lap
	seed     uint64
	mishaps  []*fault     // what goes wrong in each lap
	track    motion.Track // of all laps
	lapPoses int          // of one lap, without the last, which is the next one's first
}

// newLongDay is a day of so many laps, every other one with a fault of the
// stream. It begins so that midnight comes in the middle of it, while the
// receiver's clock is set wrong.
func newLongDay(t testing.TB, laps int, seed uint64) *longDay {
	d := &longDay{t: t, seed: seed}
	kinds := []*fault{&longSilence}
	for i := range faults {
		f := faults[i]
		if f.logged != nil {
			f.stream, f.counts = f.logged, nil // live counts what the log does not hold
		}
		if f.stream != nil && !f.head {
			kinds = append(kinds, &f)
		}
	}
	// The first of them comes twice on a day of 32 laps.
	clock := slices.IndexFunc(kinds, func(f *fault) bool { return f.name == "receiver's clock 10 s ahead" })
	kinds[0], kinds[clock] = kinds[clock], kinds[0]
	d.mishaps = make([]*fault, laps)
	for k := range d.mishaps {
		d.mishaps[k] = &faults[0] // all well
		if k%2 == 1 {
			d.mishaps[k] = kinds[k/2%len(kinds)]
		}
	}
	rand.New(rand.NewPCG(seed, 0)).Shuffle(laps/2, func(i, j int) {
		d.mishaps[2*i+1], d.mishaps[2*j+1] = d.mishaps[2*j+1], d.mishaps[2*i+1]
	})
	midnight := laps/2 | 1
	clock = slices.Index(d.mishaps, kinds[0])
	d.mishaps[midnight], d.mishaps[clock] = d.mishaps[clock], d.mishaps[midnight]
	// Midnight is a second after the fault begins.
	straightNs := time.Date(2031, 5, 12, 0, 0, -breakS-1, 0, time.UTC).Add(-time.Duration(midnight) * lapS * time.Second).UnixNano()

	d.first = newStraight(t, faultSections, "200", "300", straightNs)
	e, n := d.first.track[0].EastM, d.first.track[0].NorthM
	var track motion.Track
	at := straightNs - runUpS*1e9
	add := func(leg motion.Track) {
		track = append(track[:max(0, len(track)-1)], leg...)
		at = leg[len(leg)-1].TimeNs
	}
	add(drive.Straight(at, e+besideM, n+runUpM, -math.Pi, straightMps, runUpM))
	add(drive.Arc(at, e+besideM, n, -math.Pi, straightMps, turnM, besideM/2))
	add(drive.Straight(at, e, n, 0, straightMps, straightM))
	add(drive.Arc(at, e, n+straightM, 0, straightMps, turnM, besideM/2))
	add(drive.Straight(at, e+besideM, n+straightM, math.Pi, straightMps, straightM-runUpM))
	d.first.track = track
	d.lapPoses = len(track) - 1
	d.track = make(motion.Track, 0, laps*d.lapPoses+1)
	for k := range laps {
		d.track = append(d.track[:k*d.lapPoses], d.lap(k).track...)
	}
	return d
}

// lap is the drive of one lap. Headings run on from lap to lap.
func (d *longDay) lap(k int) *straight {
	s := newStraightAgain(d.first, d.first.startNs+int64(k)*lapS*1e9)
	s.seed = d.seed + uint64(k)
	for i := range s.track {
		s.track[i].HeadingRad += 2 * math.Pi * float64(k)
		s.track[i].ToolHeadingRad = s.track[i].HeadingRad
	}
	return s
}

// endNs is where a lap ends and the next one begins.
func (d *longDay) endNs(k int) int64 { return d.first.at(float64((k+1)*lapS - runUpS)) }

// record appends what is recorded of one lap. Every lap has the same noise.
func (d *longDay) record(k int, out []byte) []byte {
	s, f := d.lap(k), d.mishaps[k]
	epochs := s.epochs(d.t, receiver.Params{RateHz: dayHz, SigmaM: 0.005, Seed: d.seed})
	epochs = epochs[:lapS*dayHz] // the last one is the next lap's
	if f.stream != nil {
		epochs = f.stream(s, epochs)
	}
	for _, e := range epochs {
		for line := range bytes.Lines(e.text) {
			out = fmt.Appendf(out, "%d.%09d %s", e.arrivalNs/1e9, e.arrivalNs%1e9, line)
		}
	}
	return out
}

// dayLog reads as the log of the laps from next on; it holds one at a time.
type dayLog struct {
	day        *longDay
	next, laps int
	text, rest []byte
}

func (l *dayLog) Read(p []byte) (int, error) {
	if len(l.rest) == 0 {
		if l.next == l.laps {
			return 0, io.EOF
		}
		l.text = l.day.record(l.next, l.text[:0])
		l.rest = l.text
		l.next++
	}
	n := copy(p, l.rest)
	l.rest = l.rest[n:]
	return n, nil
}

// run runs the laps from one to another, scored against the true track or, as
// a log is, against that of their fixes. watch, when set, sees every epoch.
func (d *longDay) run(from, to int, truth bool, watch func(*nmea.Fix)) *dayFigures {
	d.t.Helper()
	u := d.first.setup
	job, o := run.Job(u), run.New(u)
	if truth {
		job.Truth = d.track[from*d.lapPoses : to*d.lapPoses+1]
	}
	o.Measure(job)
	if measure := job.Watch; watch != nil {
		job.Watch = func(f *nmea.Fix) {
			measure(f)
			watch(f)
		}
	}
	log := &dayLog{day: d, next: from, laps: to}
	if err := o.Take(job, &files.Log{Name: "the day", Progress: terminal.NewProgress(log, 0, "the day", io.Discard)}, ""); err != nil {
		d.t.Fatal(err)
	}
	return newDayFigures(d.t, o)
}

// dayFigures are the figures of some laps that add up.
type dayFigures struct {
	counts    map[string]float64 // metrics that count
	areasM2   map[string]float64
	setpoints []sections.Setpoint
	events    []score.Event
	outcome   *sim.Outcome // of the laps in one run; nil = of several runs
}

// sampledArea is the area that is no integral, but found by looking at the ground
// here and there. All laps lie on the same ground: what the second one works is
// worked again in the whole day, and for the first time in a run of its own. So
// it takes both for a sum.
const sampledArea = "worked once and again"

func newDayFigures(t testing.TB, o *run.Outcome) *dayFigures {
	t.Helper()
	var text bytes.Buffer
	if err := report.WriteMetrics(o, &text); err != nil {
		t.Fatal(err)
	}
	f := &dayFigures{setpoints: o.Setpoints, events: o.Score.Events, outcome: o.Outcome, counts: parseMetrics(text.Bytes())}
	maps.DeleteFunc(f.counts, func(line string, _ float64) bool {
		name, _, _ := strings.Cut(line, "{")
		if name == "liftbench_fix_interval_seconds_count" {
			return true // one interval lies between each two laps
		}
		return !strings.HasSuffix(name, "_total") && !strings.HasSuffix(name, "_count")
	})
	f.areasM2 = map[string]float64{sampledArea: o.Score.WorkedOnceM2 + o.Score.Area.RepeatM2}
	areas := func(whose string, a *score.Areas) {
		for name, m2 := range map[string]float64{"passed": a.PassedM2, "worked": a.WorkedM2, "miss": a.MissM2, "overrun": a.OverrunM2} {
			f.areasM2[whose+name] = m2
		}
	}
	areas("", &o.Score.Area)
	for i := range o.Score.Sections {
		areas(fmt.Sprintf("section %d, ", i+1), &o.Score.Sections[i].Area)
	}
	return f
}

func (f *dayFigures) add(g *dayFigures) {
	for name, n := range g.counts {
		f.counts[name] += n
	}
	for name, m2 := range g.areasM2 {
		f.areasM2[name] += m2
	}
	f.setpoints = append(f.setpoints, g.setpoints...)
	f.events = append(f.events, g.events...)
}

// TestLongDay drives 32 laps as a log, or with LIFTBENCH_CAMPAIGN=full the 1440
// of a whole day, and those against the true track too.
func TestLongDay(t *testing.T) {
	laps := campaign.Times(32, 32, 24*3600/lapS)
	d := newLongDay(t, laps, 1)
	t.Run("as a log", func(t *testing.T) { d.check(t, false) })
	if campaign.Full() {
		t.Run("against the true track", func(t *testing.T) { d.check(t, true) })
	}
}

// The day with its faults beside the same day without: what is decided outside the
// moments of a fault is the same, and what is reported of each kind is what was put in.
func TestLongDayBesideACleanDay(t *testing.T) {
	laps := campaign.Times(32, 32, 24*3600/lapS)
	d := newLongDay(t, laps, 1)
	clean := *d
	clean.mishaps = slices.Repeat([]*fault{&faults[0]}, laps)
	faulty, well := d.run(0, laps, false, nil), clean.run(0, laps, false, nil)

	// Outside these seconds of its straight a fault has not begun, or its fail-safe is
	// over and every section has dropped again.
	const fromS = breakS - 0.5
	untilS := func(f *fault) float64 { return max(mendS, clockMendS, f.backS) + 3 }
	outside := func(k int, list []sections.Setpoint) (kept []sections.Setpoint) {
		for _, s := range list {
			x := s
			x.DueNs -= d.endNs(k - 1)
			at := float64(s.DueNs-d.first.at(0)-int64(k)*lapS*1e9) * 1e-9
			if d.mishaps[k] == &faults[0] || at < fromS || at > untilS(d.mishaps[k]) {
				kept = append(kept, x)
			}
		}
		return kept
	}
	kinds := map[string]float64{}
	compared, same := 0, 0
	var worstNs int64
	a, b := faulty.setpoints, well.setpoints
	for k, f := range d.mishaps {
		kinds[f.name]++
		var x, y []sections.Setpoint
		x, a = before(d.endNs(k), a, func(s *sections.Setpoint) int64 { return s.DueNs })
		y, b = before(d.endNs(k), b, func(s *sections.Setpoint) int64 { return s.DueNs })
		x, y = outside(k, x), outside(k, y)
		compared += len(y)
		for i := range min(len(x), len(y)) {
			if off := max(x[i].DueNs-y[i].DueNs, y[i].DueNs-x[i].DueNs); x[i].Section == y[i].Section && x[i].On == y[i].On && x[i].Reason == y[i].Reason && off < 50e6 {
				same++
				worstNs = max(worstNs, off)
			}
		}
		if len(x) != len(y) && !f.chance && !f.gone {
			t.Errorf("lap %d, %s: %d setpoints outside the fault, %d on the clean day", k+1, f.name, len(x), len(y))
		}
	}
	t.Logf("outside the faults %d of %d setpoints are those of the clean day, %.1f ms apart at worst", same, compared, float64(worstNs)*1e-6)
	if compared < 12*laps || float64(same) < 0.99*float64(compared) {
		t.Errorf("%d of %d setpoints outside the faults are those of the clean day; want 99 %%", same, compared)
	}

	for _, c := range []struct {
		metric, fault string
		each          float64
		exact         bool // no other fault can bring it about
	}{
		{`liftbench_receiver_clock_sets_total`, "receiver's clock 10 s", 2, true}, // there and back
		{`liftbench_epochs_dropped_total{reason="not-believed"}`, "the time an hour ahead for 0.2 s", 4, false},
		{`liftbench_dates_not_believed_total`, "one date ten years ahead", 1, false},
		{`liftbench_fixes_rejected_total{reason="frozen"}`, "position stands still for 3 s", 20, false},
	} {
		injected := 0.0
		for name, n := range kinds {
			if strings.HasPrefix(name, c.fault) {
				injected += n * c.each
			}
		}
		got := faulty.counts[c.metric]
		t.Logf("%s: %g, of which the faults that are meant for it explain %g", c.metric, got, injected)
		if got < injected || c.exact && got != injected || well.counts[c.metric] != 0 {
			t.Errorf("%s: %g, %g on the clean day; put in were %g", c.metric, got, well.counts[c.metric], injected)
		}
	}
}

func (d *longDay) check(t *testing.T, truth bool) {
	d.t = t
	whole := d.weigh(t, truth)
	d.sameEveryLap(t, whole)
	parts := &dayFigures{counts: map[string]float64{}, areasM2: map[string]float64{}}
	firsts := map[*fault]*dayFigures{}
	for k, f := range d.mishaps {
		part := d.run(k, k+1, truth, nil)
		was := t.Failed()
		if f.judge(t, d.lap(k), part.setpoints, part.counts); t.Failed() && !was {
			t.Fatalf("in lap %d: %s", k+1, f.name)
		}
		if first := firsts[f]; first == nil || f.chance {
			firsts[f] = part
		} else {
			part.sameCounts(t, first, fmt.Sprintf("lap %d", k+1), "the first with "+f.name)
		}
		parts.add(part)
	}
	d.sumOfParts(t, whole, parts)
}

func (f *dayFigures) sameCounts(t *testing.T, g *dayFigures, one, other string) {
	t.Helper()
	for name, n := range f.counts {
		if n != g.counts[name] {
			t.Errorf("%s: %g in %s, %g in %s", name, n, one, g.counts[name], other)
		}
	}
}

// weigh runs the whole day and weighs the heap 24 times. It may hold what was
// decided and what the tools did, and where the true track is not known the
// samples that the track is to be made of: nothing else that grows.
func (d *longDay) weigh(t *testing.T, truth bool) *dayFigures {
	t.Helper()
	laps := len(d.mishaps)
	fromNs, toNs := d.endNs(-1), d.endNs(laps-1)
	var heapMB []float64
	whole := d.run(0, laps, truth, func(f *nmea.Fix) {
		if f.TimeNs >= fromNs+int64(len(heapMB))*(toNs-fromNs)/24 {
			runtime.GC()
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			heapMB = append(heapMB, float64(m.HeapAlloc)*1e-6)
		}
	})
	o := whole.outcome
	if r := &o.Reception; r.FirstNs != fromNs || r.LastNs != toNs-1e9/dayHz {
		t.Errorf("epochs from %s to %s; want %s to %s", time.Unix(0, r.FirstNs).UTC(), time.Unix(0, r.LastNs).UTC(),
			time.Unix(0, fromNs).UTC(), time.Unix(0, toNs-1e9/dayHz).UTC())
	}
	keptMB := megabytesOf(o.Setpoints) + megabytesOf(o.Changes)
	if !truth {
		keptMB += float64(o.Reception.Fixes) * megabytesOf(make([]motion.Sample, 1))
	}
	grownMB := heapMB[len(heapMB)-1] - heapMB[0]
	t.Logf("%d epochs, %d setpoints; heap at the start of each of 24 parts, MB: %.2f; at the end %.2f are kept", o.Reception.Epochs, len(o.Setpoints), heapMB, keptMB)
	// Arrays that grow have room for a quarter more. The log of a lap, held by
	// the test, is longer by some hundred kilobytes where all is said twice.
	if grownMB > 1.3*keptMB+0.5 {
		t.Errorf("the heap grew by %.2f MB; want about %.2f", grownMB, keptMB)
	}
	return whole
}

func megabytesOf[T any](s []T) float64 {
	return float64(len(s)) * float64(reflect.TypeFor[T]().Size()) * 1e-6
}

// lapFigures are what was decided in one lap, and what came of it.
type lapFigures struct {
	number    int
	endNs     int64
	setpoints []sections.Setpoint
	events    []score.Event
}

// sameEveryLap checks that all laps that are alike decide the same, with the
// same errors, late and early in the day.
func (d *longDay) sameEveryLap(t *testing.T, whole *dayFigures) {
	t.Helper()
	firsts := map[*fault]*lapFigures{}
	var worstNs int64
	var worstS, worstM float64
	setpoints, events, compared := whole.setpoints, whole.events, 0
	for k, f := range d.mishaps {
		endNs := d.endNs(k)
		l := &lapFigures{number: k + 1, endNs: endNs}
		l.setpoints, setpoints = before(endNs, setpoints, func(s *sections.Setpoint) int64 { return s.DueNs })
		l.events, events = before(endNs, events, (*score.Event).TimeNs)
		first := firsts[f]
		if first == nil || f.chance {
			firsts[f] = l
			continue
		}
		ns, seconds, metres, same := l.compare(first)
		if !same {
			t.Errorf("laps %d and %d, %s, decide otherwise", first.number, l.number, f.name)
		}
		if f.noticedS == 0 || float64(ns) > f.noticedS*1e9 {
			worstNs = max(worstNs, ns)
		}
		worstS, worstM = max(worstS, seconds), max(worstM, metres)
		compared++
	}
	t.Logf("%d laps beside the first of their kind: setpoints off by %d ns, time errors by %.1g s, place errors by %.1g m at worst", compared, worstNs, worstS, worstM)
	if worstNs > 1000 || worstS > 1e-6 || worstM > 1e-5 {
		t.Error("they drift; want 1 µs and 10 µm at most")
	}
}

// before splits a list in order of time.
func before[T any](ns int64, list []T, timeNs func(*T) int64) (early, late []T) {
	i := 0
	for i < len(list) && timeNs(&list[i]) < ns {
		i++
	}
	return list[:i:i], list[i:]
}

// compare returns by how much setpoints, time errors and place errors differ
// at most; same is false where more than that does.
func (l *lapFigures) compare(m *lapFigures) (ns int64, seconds, metres float64, same bool) {
	if len(l.setpoints) != len(m.setpoints) || len(l.events) != len(m.events) {
		return 0, 0, 0, false
	}
	for i := range l.setpoints {
		a, b := l.setpoints[i], m.setpoints[i]
		off := a.DueNs - l.endNs - (b.DueNs - m.endNs)
		ns = max(ns, off, -off)
		if a.Section != b.Section || a.On != b.On || a.Reason != b.Reason {
			return 0, 0, 0, false
		}
	}
	// What happens at once may come in any order.
	bySection := func(a, b score.Event) int { return cmp.Compare(a.Section, b.Section) }
	slices.SortStableFunc(l.events, bySection)
	slices.SortStableFunc(m.events, bySection)
	for i := range l.events {
		a, b := &l.events[i], &m.events[i]
		if a.Section != b.Section || a.On != b.On || a.Kind != b.Kind {
			return 0, 0, 0, false
		}
		if a.Kind == score.Paired {
			seconds, metres = max(seconds, math.Abs(a.TimeErrorS-b.TimeErrorS)), max(metres, math.Abs(a.PlaceErrorM-b.PlaceErrorM))
		}
	}
	return ns, seconds, metres, true
}

// sumOfParts holds the whole day against its laps, each run alone by a bench
// that knows nothing of the others. Where chance damages sentences, how early
// an epoch is known to be complete hangs on those before, and so the tick at
// which it is heard.
func (d *longDay) sumOfParts(t *testing.T, whole, parts *dayFigures) {
	t.Helper()
	// A fault that is noticed sooner or later refuses a fix more or less.
	const used, frozen = "liftbench_fixes_used_total", `liftbench_fixes_rejected_total{reason="frozen"}`
	more, most := whole.counts[frozen]-parts.counts[frozen], 0.0
	for _, f := range d.mishaps {
		most += math.Ceil(f.noticedS * dayHz)
	}
	if math.Abs(more) > most {
		t.Errorf("%g positions in contradiction to speed and course in the whole, %g in the parts; want them %g apart at most", whole.counts[frozen], parts.counts[frozen], most)
	}
	whole.counts[used] += more
	whole.counts[frozen] -= more
	whole.sameCounts(t, parts, "the whole", "the parts")
	if len(whole.setpoints) != len(parts.setpoints) {
		t.Fatalf("%d setpoints in the whole, %d in the parts", len(whole.setpoints), len(parts.setpoints))
	}
	var worstNs [3]int64 // the second where chance is at work, the third where it hangs on the way before when a fault is noticed
	movedM2 := 0.0       // ground between what the third did in whole and parts
	for i, a := range whole.setpoints {
		b := parts.setpoints[i]
		lap, kind := int((a.DueNs-d.endNs(-1))/(lapS*1e9)), 0
		offNs := max(a.DueNs-b.DueNs, b.DueNs-a.DueNs)
		switch f := d.mishaps[lap]; {
		case f.chance:
			kind = 1
		case f.noticedS > 0 && a.Reason == sections.FrozenFix:
			kind = 2
			movedM2 += float64(offNs) * 1e-9 * straightMps * d.first.geometry.Sections[a.Section].WidthM
		}
		worstNs[kind] = max(worstNs[kind], offNs)
		if a.Section != b.Section || a.On != b.On || a.Reason != b.Reason {
			t.Fatalf("lap %d: %+v in the whole, %+v in the parts", lap+1, a, b)
		}
	}
	if worstNs[0] > 1000 || worstNs[1] > 1e6 || worstNs[2] > stretchS*1e9 {
		t.Errorf("setpoints of whole and parts are %d ns apart; want 1 µs, 1 ms where chance is at work, %g s where a position contradicts speed and course", worstNs, stretchS)
	}
	// At 6 m/s a setpoint that is 0.4 ms off moves the border of a section of
	// 0.5 m by 12 cm².
	chances := 0.0
	for _, f := range d.mishaps {
		if f.chance {
			chances++
		}
	}
	workedM2, worstM2 := whole.areasM2["worked"], 0.0
	tolM2 := 1e-9*workedM2 + 0.02*chances + 1.01*movedM2
	// Of each of both zones, crossed lap after lap in the same place, the hatch may
	// have one line too many or too few: in the whole they are far apart.
	gapM := whole.outcome.Score.HatchM
	sampledTolM2 := (1e-3 + 2*gapM/(firstHi-firstLo+longHi-longLo)) * workedM2
	for name, m2 := range whole.areasM2 {
		off := math.Abs(m2 - parts.areasM2[name])
		if name == sampledArea {
			t.Logf("%s: %.1f m² in the whole, its hatch %.3f m apart, %.1f in the parts", name, m2, gapM, parts.areasM2[name])
			if off > sampledTolM2 {
				t.Errorf("%s: %.1f m² in the whole, %.1f in the parts", name, m2, parts.areasM2[name])
			}
			continue
		}
		worstM2 = max(worstM2, off)
		if off > tolM2 {
			t.Errorf("%s: %.4f m² in the whole, %.4f in the parts", name, m2, parts.areasM2[name])
		}
	}
	t.Logf("whole and sum of parts: %d setpoints %d ns apart at worst, where sentences are damaged by chance %d, where positions contradict speed %d; %.0f m² worked, areas %.4f m² apart (%.4f m² by the latter)",
		len(whole.setpoints), worstNs[0], worstNs[1], worstNs[2], workedM2, worstM2, movedM2)
	lift, drop := score.Tally(parts.events)
	for _, c := range []struct {
		name         string
		whole, parts *score.Stats
	}{{"lifts", &whole.outcome.Score.Lift, &lift}, {"drops", &whole.outcome.Score.Drop, &drop}} {
		w, p := *c.whole, *c.parts
		same := func(of string, a, b *score.Spread, tol float64) {
			if math.Abs(a.Mean-b.Mean) > 1e-9+tol*chances/float64(len(d.mishaps)) || math.Abs(a.P95Abs-b.P95Abs) > tol || math.Abs(a.MaxAbs-b.MaxAbs) > tol {
				t.Errorf("%s, %s: %+v in the whole, %+v in the parts", c.name, of, *a, *b)
			}
		}
		same("time", w.TimeErrorS, p.TimeErrorS, 1e-3)
		same("place", w.PlaceErrorM, p.PlaceErrorM, 1e-3*straightMps)
		if w.Count != p.Count || w.Paired != p.Paired || w.Missed != p.Missed || w.Spurious != p.Spurious {
			t.Errorf("%s: %+v in the whole, %+v in the parts", c.name, w, p)
		}
	}
}
