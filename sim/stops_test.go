// A drive with stops ought to be worked as the drive without them: the same lifts
// and drops at the same places.

package sim_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"liftbench/sections"
	"liftbench/sections/motion"
	"liftbench/sections/score"
	"liftbench/sim/campaign"
	"liftbench/sim/drive"
	"liftbench/sim/hydraulics"
	"liftbench/sim/receiver"
)

// stopping is a driver of the drawn world who stops, or does not.
func (w *world) stopping(t rapid.TB, p drive.Params) motion.Track {
	d, err := drive.Plan(w.field, w.machine, p)
	if err != nil {
		t.Fatal(err)
	}
	return d.Track
}

// ideals are the ideal crossings of a track, by section, in order.
func (w *world) ideals(t rapid.TB, track motion.Track) [][]score.Event {
	res, err := score.Run(track, w.bench(t, nil).Controller.Gate(), nil, nil, score.Options{})
	if err != nil {
		t.Fatal(err)
	}
	by := make([][]score.Event, len(w.machine.Sections))
	for _, e := range res.Events {
		by[e.Section] = append(by[e.Section], e)
	}
	return by
}

// drawStops draws a driver of the world, and the same with stops.
func drawStops(t *rapid.T) (without, with drive.Params) {
	without = drive.Params{
		StartNs:    startNs,
		WorkMps:    rapid.Float64Range(1.5, 4).Draw(t, "work"),
		SkipPasses: rapid.IntRange(0, 2).Draw(t, "skip"),
		Seed:       rapid.Uint64().Draw(t, "seed"),
	}
	with = without
	with.StopsPerH = rapid.Float64Range(20, 200).Draw(t, "stops an hour")
	with.StopS = rapid.SampledFrom([]float64{1, 2, 5, 20, 60}).Draw(t, "for")
	with.BrakeMps2 = rapid.Float64Range(0.2, 2.5).Draw(t, "brake")
	with.StartMps2 = rapid.Float64Range(0.2, 1.5).Draw(t, "start")
	return without, with
}

// settlingM is 0, but 1 cm for a trailed tool, whose heading is interpolated to
// 0.5 mrad between two poses 0.1 s apart, and 30 cm where it comes into line with the
// rows just there: over that way it changes by no more.
func (w *world) settlingM(track motion.Track, timeNs int64, cursor *int) float64 {
	if w.machine.Mount != sections.Trailed {
		return 0
	}
	p := track.At(timeNs, cursor)
	for _, z := range w.zones {
		off := math.Abs(math.Remainder(p.ToolHeadingRad-z.RowBearingRad, math.Pi))
		if math.Abs(off-w.set.RowToleranceRad) < 0.003 {
			return 0.3
		}
	}
	return 0.01
}

// What ought to be in work is the same, crossing by crossing, within 1 cm.
func TestStopsChangeNothing(t *testing.T) { inStopped(t, (*stopped).idealsDiffer) }

// idealsDiffer says which ideal crossing is another with stops; "" if none is.
func (w *stopped) idealsDiffer(t rapid.TB) string {
	ta, tb := w.stopping(t, w.without), w.stopping(t, w.with)
	a, b := w.ideals(t, ta), w.ideals(t, tb)
	cursor := 0
	for i := range a {
		if len(a[i]) != len(b[i]) {
			return fmt.Sprintf("section %d: %d ideal crossings, with stops %d", i+1, len(a[i]), len(b[i]))
		}
		for k := range a[i] {
			if off := math.Hypot(a[i][k].EastM-b[i][k].EastM, a[i][k].NorthM-b[i][k].NorthM); off > 0.01+w.settlingM(ta, a[i][k].IdealNs, &cursor) {
				return fmt.Sprintf("section %d: ideal crossing %d is %.3f m off with stops: %+v, %+v", i+1, k, off, a[i][k], b[i][k])
			}
		}
	}
	return ""
}

// effect is where a tool leaves work or comes to work, by how much the speed changed
// at most while that was foreseen, whether the curvature did, and whether what it was for was not seen a lead
// before: a zone that begins to take part in its middle, say. acrossM is how far off the
// bar may be across where the speed changed, and slope the tangent of the angle at which
// the section meets the border there.
type effect struct {
	on            bool
	atNs          int64
	eastM, northM float64
	changedMps2   float64
	mps           float64
	steered       bool
	surprised     bool
	acrossM       float64
	slope         float64
}

// brakingRad is how far the heading is off, a lead ahead, where a driver brakes or starts
// and the antenna is 10 cm aside: 0.17°, as motion.TestBrakingIsNoTurn has it.
const brakingRad = 0.17 * math.Pi / 180

// slope is the tangent of the angle at which section i, with the bar at pose p, meets a
// border: by how much of its width more is inside, or less, a step further on.
func (w *world) slope(i int, p motion.Pose) float64 {
	const stepM = 0.1
	inside := func(aheadM float64) float64 {
		q := p
		sin, cos := math.Sincos(p.HeadingRad)
		q.EastM, q.NorthM = q.EastM+aheadM*sin, q.NorthM+aheadM*cos
		f := w.machine.Frame(&q)
		le, ln, re, rn := w.machine.Line(i, &f)
		return w.machine.Sections[i].WidthM * w.field.Share(le, ln, re, rn, w.field.Participating(f.Sin, f.Cos, math.Cos(w.set.RowToleranceRad)))
	}
	return math.Abs(inside(stepM)-inside(-stepM)) / (2 * stepM)
}

// foreseenNs is how long before a crossing its command can depend on the motion,
// and unforeseenNs how long before it that is settled: the longest lead, the age
// of the newest fix, and what an estimate takes to notice that a driver brakes.
const (
	foreseenNs   = 4e9
	unforeseenNs = 1.2e9
)

// fromM is how far an effect is from another.
func (e *effect) fromM(o *effect) float64 { return math.Hypot(e.eastM-o.eastM, e.northM-o.northM) }

// driven is what a whole drive comes to, by section: what the tools did, what they ought to
// have done over the ground that this drive itself has worked, and the area worked.
type driven struct {
	track    motion.Track
	by       [][]effect
	ideals   [][]score.Event
	workedM2 float64
}

// work drives the whole of a track.
func (w *world) work(t rapid.TB, track motion.Track) (d driven) {
	was := w.track
	w.track = track
	defer func() { w.track = was }()
	bank, err := hydraulics.New(w.h, len(w.machine.Sections))
	if err != nil {
		t.Fatal(err)
	}
	b := w.bench(t, bank)
	type given struct{ section, ordinal int }
	surprises, setpoints := map[given]bool{}, make([]int, len(w.machine.Sections))
	for _, f := range w.fixes(t, receiver.Params{}) {
		had, late := len(b.Setpoints), b.Controller.Counts()
		b.Fix(&f)
		now := b.Controller.Counts()
		beyondNoise := now.AllLate()-now.Late[sections.EstimateMoved] > late.AllLate()-late.Late[sections.EstimateMoved]
		for _, s := range b.Setpoints[had:] {
			surprises[given{int(s.Section), setpoints[s.Section]}] = beyondNoise
			setpoints[s.Section]++
		}
	}
	b.Finish()
	by := make([][]effect, len(w.machine.Sections))
	cursor := 0
	for _, c := range b.Changes {
		p := track.At(c.TimeNs, &cursor)
		f := w.machine.Frame(&p)
		le, ln, re, rn := w.machine.Line(int(c.Section), &f)
		e := effect{on: c.On, atNs: c.TimeNs, eastM: (le + re) / 2, northM: (ln + rn) / 2, mps: p.SpeedMps}
		e.surprised = surprises[given{int(c.Section), len(by[c.Section])}]
		for back := int64(1e8); back <= foreseenNs; back += 1e8 {
			q := track.At(c.TimeNs-back, &cursor)
			e.changedMps2 = max(e.changedMps2, math.Abs(q.SpeedMps-p.SpeedMps)*10)
			e.steered = e.steered || back < 2e9 && math.Abs(q.YawRateRadPerS-p.YawRateRadPerS) > 1e-3
			p = q
		}
		if e.changedMps2 > 1e-3 {
			e.acrossM = brakingRad * w.machine.ReachM()
		}
		e.slope = w.slope(int(c.Section), track.At(c.TimeNs, &cursor))
		by[c.Section] = append(by[c.Section], e)
	}
	res, err := score.Run(track, w.bench(t, nil).Controller.Gate(), b.Changes, nil, score.Options{})
	if err != nil {
		t.Fatal(err)
	}
	d = driven{track: track, by: by, ideals: make([][]score.Event, len(by)), workedM2: res.Area.WorkedM2}
	for _, e := range res.Events {
		if e.Kind == score.Paired || e.Kind == score.Missed {
			d.ideals[e.Section] = append(d.ideals[e.Section], e)
		}
	}
	return d
}

// brief says of each gap and strip of a section, from one ideal crossing to the next,
// whether by the speeds there it may take less time than the shortest that is lifted, or
// dropped, for; and whether it may take more.
func (w *world) brief(track motion.Track, ideals []score.Event) (less, more []bool) {
	less, more = make([]bool, len(ideals)), make([]bool, len(ideals))
	cursor := 0
	for k := range ideals {
		if k+1 == len(ideals) {
			more[k] = true
			break
		}
		e, next := &ideals[k], &ideals[k+1]
		shortestS := float64(w.set.ShortestUpNs) * 1e-9
		if e.On {
			shortestS = float64(w.set.ShortestDownNs) * 1e-9
		}
		wayM := math.Hypot(next.EastM-e.EastM, next.NorthM-e.NorthM)
		for ns := e.IdealNs - unforeseenNs; ns <= next.IdealNs; ns += 1e8 {
			v := track.At(ns, &cursor).SpeedMps
			less[k], more[k] = less[k] || wayM < 1.02*shortestS*v, more[k] || wayM > 0.98*shortestS*v
		}
	}
	return less, more
}

// at returns the ideal crossing that an effect belongs to, -1 if there is none: the
// nearest in place, of those the nearest in time, as a driver may stand between them.
func (e *effect) at(ideals []score.Event) int {
	const reachM, perS = 3.0, 0.01 // a stand of a minute counts as 60 cm
	best, bestM := -1, reachM
	for k := range ideals {
		i := &ideals[k]
		offM := math.Hypot(i.EastM-e.eastM, i.NorthM-e.northM) + perS*math.Abs(float64(i.IdealNs-e.atNs))*1e-9
		if i.On == e.on && offM < bestM {
			best, bestM = k, offM
		}
	}
	return best
}

// What the controller commands is the same: as many lifts and drops of each
// section, at the same places within 1 cm where speed and curvature were steady, and
// so the same area worked within 0.1 %. What may differ is what nobody can foresee, and
// by how much (apartM):
//   - where the driver brakes or starts within the lead, ½·a·t², a the greatest change of
//     speed and t = unforeseenNs, and what he still goes at the least speed;
//   - along a border that the section meets at an angle α, there, x/tan α more, with x how
//     far the bar is aside as the heading is off (brakingRad times its reach);
//   - where the path was bent within 2 s before, 3 cm, as where a zone begins in its middle
//     a wait after a turn has closed: so precisely the estimate tells where;
//   - where such a zone begins within the lead, a fix later and a lead at another speed;
//   - where worked ground is left, by as much as the ideal crossing does, which follows from
//     what each driver himself has worked before.
//
// A gap that takes the one driver less than the shortest time that is lifted
// for, and the other more, is lifted for by the one only; so with strips (alone). By
// what either makes, times the section's width, the area may differ too.
func TestStopsCommandNothing(t *testing.T) { inStopped(t, (*stopped).differ) }

// inStopped asks of 20 worlds, of 60 with LIFTBENCH_CAMPAIGN=ci or 500 with full, what differs
// with stops. Nothing may.
func inStopped(t *testing.T, differ func(*stopped, rapid.TB) string) {
	worlds := campaign.Times(20, 60, 500)
	drawn := rapid.Custom(func(t *rapid.T) *stopped {
		s := &stopped{world: drawWorld(t)}
		s.set.LiftLead.FedAtOnce = 0
		s.without, s.with = drawStops(t)
		return s
	})
	var tried [2]int // by what is done over worked ground
	for seed := range worlds {
		w := drawn.Example(seed)
		tried[w.set.WorkedGround]++
		if off := differ(w, t); off != "" {
			t.Errorf("world %d, worked ground %v: %s", seed, w.set.WorkedGround, off)
		}
	}
	t.Logf("%d worlds, and %d where worked ground is left", tried[sections.WorkAgain], tried[sections.LeaveWorked])
}

// stopped is a drawn world with a driver who stops, or does not.
type stopped struct {
	*world
	without, with drive.Params
}

// differ says what is commanded otherwise with stops; "" if nothing is.
func (w *stopped) differ(t rapid.TB) string {
	drives := [2]driven{w.work(t, w.stopping(t, w.without)), w.work(t, w.stopping(t, w.with))}
	unforeseenM2 := 0.0
	for i := range w.machine.Sections {
		m2, off := w.sectionDiffers(&drives, i)
		if off != "" {
			return fmt.Sprintf("section %d: %s", i+1, off)
		}
		unforeseenM2 += m2
	}
	a, b := drives[0].workedM2, drives[1].workedM2
	if off := math.Abs(a - b); off > 0.001*a+unforeseenM2 {
		return fmt.Sprintf("%.2f m² worked, with stops %.2f; want %.2f m² apart at most", a, b, 0.001*a+unforeseenM2)
	}
	return ""
}

// told is a section of one drive from a command on: what is still to come, the ideal
// crossing that the last command was for, and which ones may take less than the shortest
// time to the next, and which more.
type told struct {
	effects    []effect
	ideals     []score.Event
	last       int
	less, more []bool
}

// next returns the ideal crossing that the next command is for, -1 if there is none.
func (d *told) next() int { return d.effects[0].at(d.ideals) }

// passesOver reports whether the gaps or strips since the last command, up to the ideal
// crossing k, may all be too brief for one.
func (d *told) passesOver(k int) bool {
	for from := d.last + 1; from+1 < k; from += 2 {
		if !d.less[from] {
			return false
		}
	}
	return true
}

// goesOn goes on by n commands.
func (d *told) goesOn(n int) {
	if k := d.effects[n-1].at(d.ideals); k >= 0 {
		d.last = k
	}
	d.effects = d.effects[n:]
}

// end returns the ideal crossing of the next command, or where there is no more, or it has
// none, the last in time before it; behind all where there is no more.
func (d *told) end() int {
	if len(d.effects) == 0 {
		return len(d.ideals)
	}
	if k := d.next(); k >= 0 {
		return k
	}
	return d.last
}

// sectionDiffers says what section i is commanded otherwise with stops, "" if nothing is,
// and how much more or less ground that may be.
func (w *stopped) sectionDiffers(drives *[2]driven, i int) (unforeseenM2 float64, off string) {
	widthM := w.machine.Sections[i].WidthM
	var both [2]told
	for d := range both {
		g := &drives[d]
		both[d] = told{effects: g.by[i], ideals: g.ideals[i], last: -1}
		both[d].less, both[d].more = w.brief(g.track, g.ideals[i])
	}
	a, b := &both[0], &both[1]
	for len(a.effects)+len(b.effects) > 0 {
		if len(a.effects) > 0 && len(b.effects) > 0 && a.effects[0].on == b.effects[0].on {
			e, f := &a.effects[0], &b.effects[0]
			mostM, offM := w.apartM(e, f), e.fromM(f)
			if !e.nearM(a.ideals, begunM) && !f.nearM(b.ideals, begunM) {
				mostM += begunM
			}
			if offM <= mostM || w.forOthers(a, b, mostM) {
				if max(mostM, offM) > steadyM {
					unforeseenM2 += offM * widthM
				}
				a.goesOn(1)
				b.goesOn(1)
				continue
			}
		}
		// One of them lifts for a gap, or drops for a strip, and the other does not.
		switch {
		case len(a.effects) >= len(b.effects) && alone(a, b):
			unforeseenM2 += a.effects[0].fromM(&a.effects[1]) * widthM
			a.goesOn(2)
		case alone(b, a):
			unforeseenM2 += b.effects[0].fromM(&b.effects[1]) * widthM
			b.goesOn(2)
		case alone(a, b):
			unforeseenM2 += a.effects[0].fromM(&a.effects[1]) * widthM
			a.goesOn(2)
		default:
			return 0, fmt.Sprintf("%+v, with stops %+v", a.effects[:min(2, len(a.effects))], b.effects[:min(2, len(b.effects))])
		}
	}
	return unforeseenM2, ""
}

// alone reports whether the next two commands of a are for a gap, or a strip, that may take
// the shortest time there, and that b passes over.
func alone(a, b *told) bool {
	if len(a.effects) < 2 {
		return false
	}
	k := a.next()
	return k >= 0 && a.more[k] && b.passesOver(b.end())
}

// forOthers reports whether the next commands of a and b, of the same kind, are for ideal
// crossings that are as far apart as they are, but for mostM: the ground that was
// worked before differs, or the one passes over a gap that the other does not.
func (w *stopped) forOthers(a, b *told, mostM float64) bool {
	k, n := a.next(), b.next()
	if k < 0 || n < 0 || !a.passesOver(k) || !b.passesOver(n) || !a.more[k] || !b.more[n] {
		return false
	}
	e, f, x, y := &a.effects[0], &b.effects[0], &a.ideals[k], &b.ideals[n]
	return math.Hypot(e.eastM-f.eastM-x.EastM+y.EastM, e.northM-f.northM-x.NorthM+y.NorthM) <= mostM
}

// begunM is how precisely the estimate tells where a turn closed: that far off, at most, a
// zone begins to take part in its middle, at no border.
const begunM = 0.03

// nearM reports whether an effect is within withinM of any ideal crossing like it.
func (e *effect) nearM(ideals []score.Event, withinM float64) bool {
	return slices.ContainsFunc(ideals, func(i score.Event) bool {
		return i.On == e.on && math.Hypot(i.EastM-e.eastM, i.NorthM-e.northM) <= withinM
	})
}

// steadyM is how far two effects may be apart where everything is steady.
const steadyM = 0.01

// apartM is how far two effects of the same command may be apart.
func (w *world) apartM(a, b *effect) float64 {
	const leadS = unforeseenNs * 1e-9
	mostM := steadyM
	if mps2 := a.changedMps2 + b.changedMps2; mps2 > 1e-3 {
		mostM += w.set.MinSpeedMps*leadS + mps2/2*leadS*leadS
		if slope := min(a.slope, b.slope); slope > 0 {
			mostM += max(a.acrossM, b.acrossM) / slope
		}
	}
	if a.steered || b.steered {
		mostM += 0.03
	}
	if a.surprised || b.surprised {
		// A fix later, and a lead at another speed.
		mostM += 0.1*max(a.mps, b.mps) + math.Abs(a.mps-b.mps)*leadS
	}
	return mostM
}
