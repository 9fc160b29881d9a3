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

// effects are those of a whole drive, by section, and the area worked.
func (w *world) effects(t rapid.TB, track motion.Track) (by [][]effect, workedM2 float64) {
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
	by = make([][]effect, len(w.machine.Sections))
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
	return by, res.Area.WorkedM2
}

// brief says of each gap and strip of a section, from one ideal crossing to the next,
// whether by the speeds there, with and without stops, it may take less time than
// the shortest that is lifted, or dropped, for; and whether it may take more.
func (w *world) brief(tracks [2]motion.Track, ideals [2][]score.Event) (less, more []bool) {
	less, more = make([]bool, len(ideals[0])), make([]bool, len(ideals[0]))
	cursor := 0
	for k := 0; k+1 < len(ideals[0]); k++ {
		for d, track := range tracks {
			e, next := &ideals[d][k], &ideals[d][k+1]
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
//   - where worked ground is left, as much as the ground worked before on other passes differs
//     within 2 m (inherited), and a strip that is left there may be worth a drop for the one only.
//
// A gap that takes the one driver less than the shortest time that is lifted
// for, and the other more, is lifted for by the one only; so with strips. By
// what either makes, times the section's width, the area may differ too.
func TestStopsCommandNothing(t *testing.T) { inStopped(t, (*stopped).differ) }

// inStopped asks of 20 worlds, of 60 with LIFTBENCH_CAMPAIGN=ci or 500 with full, what differs
// with stops. Nothing may; where worked ground is left, two worlds or one in fifty may.
func inStopped(t *testing.T, differ func(*stopped, rapid.TB) string) {
	worlds := campaign.Times(20, 60, 500)
	drawn := rapid.Custom(func(t *rapid.T) *stopped {
		s := &stopped{world: drawWorld(t)}
		s.set.LiftLead.FedAtOnce = 0
		s.without, s.with = drawStops(t)
		return s
	})
	var differing [2]int // by what is done over worked ground
	for seed := range worlds {
		w := drawn.Example(seed)
		if off := differ(w, t); off != "" {
			t.Logf("world %d, worked ground %v: %s", seed, w.set.WorkedGround, off)
			differing[w.set.WorkedGround]++
		}
	}
	t.Logf("of %d worlds %d differ, and %d where worked ground is left", worlds, differing[sections.WorkAgain], differing[sections.LeaveWorked])
	if differing[sections.WorkAgain] > 0 || differing[sections.LeaveWorked] > max(2, worlds/50) {
		t.Error("want none, and where worked ground is left 1 in 50")
	}
}

// stopped is a drawn world with a driver who stops, or does not.
type stopped struct {
	*world
	without, with drive.Params
}

// differ says what is commanded otherwise with stops; "" if nothing is.
func (w *stopped) differ(t rapid.TB) string {
	tracks := [2]motion.Track{w.stopping(t, w.without), w.stopping(t, w.with)}
	ideals := [2][][]score.Event{w.ideals(t, tracks[0]), w.ideals(t, tracks[1])}
	var by [2][][]effect
	var areaM2 [2]float64
	for d := range by {
		by[d], areaM2[d] = w.effects(t, tracks[d])
	}
	unforeseenM2 := 0.0
	before := w.inherits(by)
	for i := range w.machine.Sections {
		widthM := w.machine.Sections[i].WidthM
		id := [2][]score.Event{ideals[0][i], ideals[1][i]}
		less, more := w.brief(tracks, id)
		a, b := by[0][i], by[1][i]
		for len(a)+len(b) > 0 {
			if len(a) > 0 && len(b) > 0 && a[0].on == b[0].on {
				mostM, offM := w.apartM(&a[0], &b[0]), a[0].fromM(&b[0])
				if !a[0].nearM(id[0], begunM) && !b[0].nearM(id[1], begunM) {
					mostM += begunM
				}
				mostM += max(before[0].at(&a[0]), before[1].at(&b[0]))
				if offM > mostM {
					// The one comes back to work before a gap that the other waits for.
					k, n := a[0].at(id[0]), b[0].at(id[1])
					k, n = min(k, n), max(k, n)
					if k >= 0 && k < n && !slices.Contains(less[k:n], false) && slices.Contains(more[k:n], true) {
						mostM = offM
					}
				}
				if offM <= mostM {
					if mostM > steadyM {
						unforeseenM2 += offM * widthM
					}
					a, b = a[1:], b[1:]
					continue
				}
			}
			// One of them lifts for a gap, or drops for a strip, and the other does not.
			longer, at := &a, id[0]
			if len(b) > len(a) {
				longer, at = &b, id[1]
			}
			l := *longer
			if len(l) < 2 {
				return fmt.Sprintf("section %d: %+v, with stops %+v", i+1, a, b)
			}
			if left := before[0].at(&l[0]) + before[0].at(&l[1]) + before[1].at(&l[0]) + before[1].at(&l[1]); len(a) != len(b) && left > 0 {
				shortestM := float64(w.set.ShortestUpNs) * 1e-9 * l[0].mps // both times are the same
				if over := l[0].fromM(&l[1]) - shortestM; over <= left+steadyM {
					unforeseenM2 += l[0].fromM(&l[1]) * widthM
					*longer = l[2:]
					continue
				}
			}
			if k := l[0].at(at); len(a) == len(b) || k < 0 || !less[k] || !more[k] {
				return fmt.Sprintf("section %d: %+v, with stops %+v", i+1, a[:min(1, len(a))], b[:min(1, len(b))])
			}
			unforeseenM2 += l[0].fromM(&l[1]) * widthM
			*longer = l[2:]
		}
	}
	if off := math.Abs(areaM2[0] - areaM2[1]); off > 0.001*areaM2[0]+unforeseenM2 {
		return fmt.Sprintf("%.2f m² worked, with stops %.2f; want %.2f m² apart at most", areaM2[0], areaM2[1], 0.001*areaM2[0]+unforeseenM2)
	}
	return ""
}

// inherited is what the ground worked on earlier passes of a drive differs by from that of
// the other drive: where tools left work or came to it, and how far from there they did in
// the other.
type inherited []struct {
	effect
	offM float64
}

// inherits are those of both drives, where worked ground is left.
func (w *world) inherits(by [2][][]effect) (out [2]inherited) {
	if w.set.WorkedGround == sections.WorkAgain {
		return out
	}
	const mostM = 3.0
	for d := range by {
		for i, list := range by[d] {
			for k := range list {
				offM := mostM
				for o := range by[1-d][i] {
					if f := &by[1-d][i][o]; f.on == list[k].on {
						offM = min(offM, list[k].fromM(f))
					}
				}
				out[d] = append(out[d], struct {
					effect
					offM float64
				}{list[k], offM})
			}
		}
	}
	return out
}

// at returns by how much the ground that was worked before around an effect differs.
func (in inherited) at(e *effect) float64 {
	const aroundM, passNs = 2.0, 10e9
	mostM := 0.0
	for k := range in {
		if f := &in[k]; f.atNs < e.atNs-passNs && f.fromM(e) <= aroundM+f.offM {
			mostM = max(mostM, f.offM)
		}
	}
	return mostM
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
