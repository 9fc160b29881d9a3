// This file goes along the track with all sections. Where no border is near, the ground
// that they sweep follows from the bar's way alone; elsewhere each is followed by trace.

package score

import (
	"math"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
	"liftbench/sections/worked"
)

const (
	// resolutionNs is how precisely the instants of ideal changes are found.
	resolutionNs = 4000
	// lookM is how far the bar may move, near a border, before it is looked at again.
	lookM = 0.1
	// aheadM is the clearance in front of a section below which it is measured exactly.
	aheadM = 1
	// bendM limits the error in area of one piece of the way, over the section's width:
	// how far the share deviates from a straight line, times the length of the piece.
	bendM = 1e-5
	// Where a tractor comes to stand it rolls back by decimetres. Who backs up goes further
	// than reversesM.
	reversesM = 1.0
	// everyZone is the mask of all zones.
	everyZone = ^field.Mask(0)
)

// walk goes along the track with all sections.
type walk struct {
	gate  *sections.Gate
	bar   bar
	lanes []lane
	spans bool         // whether spans of ground are wanted
	stop  func() error // Options.Stop
	err   error        // what it returned

	moves []sections.WorkChange // actual changes of all sections
	next  int                   // the first of moves that is still to come

	// worked is the ground worked so far; nil where it makes no difference.
	worked *worked.Record
	over   bool // whether any section may be over such ground on the step at hand

	leg    leg
	follow sections.Follow
	zones  field.Mask // zones that take part now
	odo    odometer   // of the bar where all sections move the same way, counted forwards
	movedM float64    // no point of the bar has moved farther than this since the start
	calmM  float64    // no border can reach the bar until movedM has this value
	known  bool       // whether the shares of all lanes are up to date
}

// run goes along the whole track. Lanes must be in their actual state at its first pose.
func (w *walk) run(track motion.Track) {
	first := &track[0]
	from := w.bar.station(first)
	w.gate.FollowTo(&w.follow, first, &from.frame)
	w.zones = taking(&w.follow)
	w.calmM = math.Inf(-1)
	w.pass(&from.frame, 0)
	for i := range w.lanes {
		l := &w.lanes[i]
		in, all, fresh := w.shares(i, &from.frame)
		l.ideal = w.gate.Wants(i, in)
		l.idealFirst = l.ideal
		l.calmM = math.Inf(-1)
		l.now = span{ground: l.ground(in, all, fresh), from: first.TimeNs}
	}
	for k := 1; k < len(track); k++ {
		if k%1024 == 0 && w.stop != nil {
			if w.err = w.stop(); w.err != nil {
				return
			}
		}
		b := &track[k]
		to := w.bar.station(b)
		if Jumps(from.pose, b) {
			w.jump(from.pose.TimeNs, &to)
			from = to
			continue
		}
		w.leg.set(&w.bar, &from, &to)
		wayM := float64((b.EastM-track[k-1].EastM)*to.frame.Sin) + float64((b.NorthM-track[k-1].NorthM)*to.frame.Cos)
		from = to
		t := track[k-1].TimeNs
		for last := w.followed(b, &to.frame); ; last = w.followed(b, &to.frame) {
			if w.sameZones(&last) {
				w.follow = last
				break
			}
			until := w.zonesChange(t, last)
			w.step(t, until)
			w.zonesChanged(until)
			t = until
		}
		w.step(t, b.TimeNs)
		w.pass(&to.frame, wayM)
	}
	end := track[len(track)-1].TimeNs
	for i := range w.lanes {
		w.lanes[i].settle(w.odo)
		if w.spans {
			w.lanes[i].closeSpan(end)
		}
	}
}

// taking returns the zones that are to be worked: none while the machine backs up, as tools in
// the ground are lifted for that.
func taking(f *sections.Follow) field.Mask {
	if f.BackM > reversesM {
		return 0
	}
	return f.Zones
}

// observe notes the ideal state of section i at timeNs, with that share inside and the
// bar at f, or, where f is nil, where the leg has it.
func (w *walk) observe(i int, timeNs int64, in float64, f *sections.Frame) {
	l := &w.lanes[i]
	if f == nil && (w.worked != nil || !l.ideal) {
		at := w.frame(timeNs)
		f = &at
	}
	zones := w.zones
	on := w.gate.InWork(w.worked, i, f, zones, in)
	if on && !l.ideal {
		if may := w.gate.May(&w.follow, false); may != w.zones { // it turns
			zones = may
			in = w.gate.Share(i, f, may)
			on = w.gate.InWork(w.worked, i, f, zones, in)
		}
	}
	l.observe(timeNs, on, w.gate.SureAt(w.worked, i, on, f, zones, in))
}

// fresh is the part of section i inside the zones that no earlier pass has worked.
func (w *walk) fresh(i int, f *sections.Frame, in float64) float64 {
	if !w.over {
		return in
	}
	return in * w.gate.Left(w.worked, i, f, w.zones, in)
}

// pass tells the record of worked ground that the bar has come to f, wayM further on.
func (w *walk) pass(f *sections.Frame, wayM float64) {
	if w.worked != nil {
		bar := w.gate.Whole(f)
		w.worked.Follow(w.follow.Zones, &bar, wayM)
	}
}

// mark notes what the sections in work have worked from t0 to t1, both on the leg.
func (w *walk) mark(t0, t1 int64) {
	for i := range w.lanes {
		l := &w.lanes[i]
		on, next := l.on, l.next
		for from := t0; from < t1; {
			until := t1
			if next < len(l.changes) {
				until = min(until, max(l.changes[next].timeNs, from))
			}
			if on && until > from {
				a, b := w.frame(from), w.frame(until)
				w.gate.MarkWorked(w.worked, i, &a, &b, w.follow.Zones)
			}
			if from = until; until < t1 {
				on = l.changes[next].on
				next++
			}
		}
	}
}

// jump goes on from a place to which the bar did not drive from leftNs on. Changes in
// between are noted at the time of arrival.
func (w *walk) jump(leftNs int64, to *station) {
	timeNs := to.pose.TimeNs
	w.follow = sections.Follow{}
	w.gate.FollowTo(&w.follow, to.pose, &to.frame)
	w.zones = taking(&w.follow)
	w.over = w.worked != nil
	w.pass(&to.frame, 0)
	w.calmM, w.known = math.Inf(-1), false
	for i := range w.lanes {
		l := &w.lanes[i]
		l.settle(w.odo)
		l.calmM, l.known = math.Inf(-1), false
		l.change(timeNs)
		in, all, fresh := w.shares(i, &to.frame)
		w.observe(i, timeNs, in, &to.frame)
		if w.spans {
			l.closeSpan(leftNs)
			l.now = span{ground: l.ground(in, all, fresh), from: timeNs}
		}
	}
	w.skipMoves(timeNs)
}

// skipMoves goes on to the first of moves after timeNs.
func (w *walk) skipMoves(timeNs int64) {
	for w.next < len(w.moves) && w.moves[w.next].TimeNs <= timeNs {
		w.next++
	}
}

// followed returns what w.follow will be once the tractor is at p, with the bar at at.
func (w *walk) followed(p *motion.Pose, at *sections.Frame) sections.Follow {
	f := w.follow
	w.gate.FollowTo(&f, p, at)
	return f
}

// sameZones reports whether the same zones take part with f as now, for sections in
// work and for those out of it.
func (w *walk) sameZones(f *sections.Follow) bool {
	return taking(f) == w.zones && w.gate.May(f, false) == w.gate.May(&w.follow, false)
}

// zonesChange returns an instant after t on the leg at which other zones take part than
// now, and sets w.follow as it is then. last is what it is at the leg's end.
func (w *walk) zonesChange(t int64, last sections.Follow) int64 {
	lo, hi := t, w.leg.b.pose.TimeNs
	for hi-lo > resolutionNs {
		mid := lo + (hi-lo)/2
		pose := w.leg.pose(mid)
		at := w.gate.Machine.Frame(&pose)
		if f := w.followed(&pose, &at); !w.sameZones(&f) {
			hi, last = mid, f
		} else {
			lo = mid
		}
	}
	w.follow = last
	return hi
}

// zonesChanged takes the zones that take part from timeNs on, and looks at every section
// again.
func (w *walk) zonesChanged(timeNs int64) {
	w.zones = taking(&w.follow)
	frame := w.frame(timeNs)
	w.over = w.worked != nil
	w.pass(&frame, 0)
	for i := range w.lanes {
		l := &w.lanes[i]
		l.settle(w.odo)
		l.in, l.all, l.fresh = w.shares(i, &frame)
		w.observe(i, timeNs, l.in, &frame)
		w.enter(l, timeNs, l.in, l.all, l.fresh)
	}
}

// step goes from t0 to t1, both on the leg, while the same zones take part.
func (w *walk) step(t0, t1 int64) {
	if t1 <= t0 {
		return
	}
	sign := w.leg.sign(&w.bar)
	changes := w.next < len(w.moves) && w.moves[w.next].TimeNs <= t1
	calm := w.movedM+w.leg.moveM <= w.calmM || w.barIsCalm(t0)
	if w.worked != nil {
		w.mark(t0, t1)
		from, to := w.frame(t0), w.frame(t1)
		w.over = w.gate.OverWorked(w.worked, &from, &to, w.zones, w.leg.moveM)
		calm = calm && !w.over
	}
	after := w.odo
	if sign != 0 {
		gain := w.leg.travel(t0, t1)
		after.along += float64(sign * gain.along)
		after.turn += float64(sign * gain.turn)
	}
	if !calm || !w.known || changes || sign == 0 {
		w.known = true
		w.eachSection(t0, t1, calm, sign == 0, after)
	}
	w.skipMoves(t1)
	w.odo = after
	w.movedM += w.leg.moveM
}

// eachSection takes the sections one by one from t0 to t1. mixed says that some of them
// move forward and some backwards, so that the odometer says nothing about them. after
// is its reading at t1.
func (w *walk) eachSection(t0, t1 int64, calm, mixed bool, after odometer) {
	frame := w.frame(t0)
	for i := range w.lanes {
		l := &w.lanes[i]
		if !calm && (w.over || !w.laneIsCalm(i, &frame)) {
			l.settle(w.odo)
			l.known, w.known = false, false
			w.trace(i, t0, t1)
			l.since = after
			continue
		}
		if !l.known {
			l.in, l.all, l.fresh = w.shares(i, &frame)
			l.known, l.since = true, w.odo
			w.observe(i, t0, l.in, &frame)
			w.enter(l, t0, l.in, l.all, l.fresh)
		}
		if !mixed && (l.next >= len(l.changes) || l.changes[l.next].timeNs > t1) {
			continue
		}
		l.settle(w.odo)
		for from := t0; from < t1; {
			until := l.until(t1)
			l.book(l.widthM*w.leg.swept(l.yM, from, until), l.in, l.all, l.fresh)
			if l.change(until) {
				w.enter(l, until, l.in, l.all, l.fresh)
			}
			from = until
		}
		l.since = after
	}
}

// barIsCalm reports whether no border can reach the bar, which is where it is at timeNs,
// within a whole leg's movement. If so it notes how long that remains so.
func (w *walk) barIsCalm(timeNs int64) bool {
	f := w.frame(timeNs)
	clearM := w.gate.Field.ClearanceM(
		f.EastM+float64(w.bar.midXM*f.Sin)+float64(w.bar.midYM*f.Cos),
		f.NorthM+float64(w.bar.midXM*f.Cos)-float64(w.bar.midYM*f.Sin)) - w.bar.radiusM
	if clearM < w.leg.moveM {
		return false
	}
	w.calmM = w.movedM + clearM
	return true
}

// laneIsCalm does the same for section i alone, with the bar at f.
func (w *walk) laneIsCalm(i int, f *sections.Frame) bool {
	l := &w.lanes[i]
	if w.movedM+w.leg.moveM <= l.calmM {
		return true
	}
	clearM := w.clearM(i, f)
	if clearM < w.leg.moveM {
		return false
	}
	l.calmM = w.movedM + clearM
	return true
}

// clearM returns how far section i can move before a border can reach it. It is negative if
// a border may lie under the section.
func (w *walk) clearM(i int, f *sections.Frame) float64 {
	s := &w.gate.Machine.Sections[i]
	east := f.EastM + float64(s.XM*f.Sin) + float64(s.YM*f.Cos)
	north := f.NorthM + float64(s.XM*f.Cos) - float64(s.YM*f.Sin)
	half := float64(s.WidthM / 2)
	if clearM := w.gate.Field.ClearanceM(east, north) - half; clearM >= aheadM {
		return clearM
	}
	return w.gate.Field.DistanceM(east, north, half+aheadM) - half
}

// frame returns where the bar is at timeNs, which must be on the leg.
func (w *walk) frame(timeNs int64) sections.Frame {
	return w.leg.frameAt(w.gate.Machine, timeNs)
}

// shares returns the shares of section i inside the zones that take part, inside any
// zone, and, of the first, of what no earlier pass has worked.
func (w *walk) shares(i int, f *sections.Frame) (in, all, fresh float64) {
	in = w.gate.Share(i, f, w.zones)
	fresh = w.fresh(i, f, in)
	if in >= 1 {
		return in, in, fresh
	}
	return in, w.gate.Share(i, f, everyZone), fresh
}

// enter notes the ground on which a section is from timeNs on, if spans are wanted.
func (w *walk) enter(l *lane, timeNs int64, in, all, fresh float64) {
	if w.spans {
		l.enter(timeNs, l.ground(in, all, fresh))
	}
}
