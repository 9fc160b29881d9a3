// The walk along the track: asleep where no border is near, step by step where
// one is.

package score

import (
	"math"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

const (
	// resolutionNs is the time to which crossings are found.
	resolutionNs = 4000
	// lookM is the longest movement of the bar between two looks at a border.
	lookM = 0.1
	// aheadM is how far ahead of a section a border is measured for.
	aheadM = 1
	// bendM bounds, for one piece of the way, deviation of the share from a
	// straight line times length: the error of the piece's area over its width.
	bendM = 1e-5
	// everyZone is the mask of all zones.
	everyZone = ^field.Mask(0)
)

// walk carries all sections along the track.
type walk struct {
	gate  *sections.Gate
	bar   bar
	lanes []lane
	spans bool // whether to note spans of ground

	moves []sections.WorkChange // actual changes of all sections; those from next on are to come
	next  int

	leg    leg
	follow sections.Follow
	zones  field.Mask // that take part now
	odo    odometer   // way of the bar in calm, counted forwards
	movedM float64    // no point of the bar has moved farther than this since the start
	calmM  float64    // movedM up to which no border can reach the bar
	known  bool       // whether all lanes know their shares
}

// run walks the whole track. Lanes hold their actual state at its first pose.
func (w *walk) run(track motion.Track) {
	first := &track[0]
	w.gate.Follow(&w.follow, first)
	w.zones = w.follow.Zones
	w.calmM = math.Inf(-1)
	from := w.bar.station(first)
	for i := range w.lanes {
		l := &w.lanes[i]
		in, all := w.shares(i, &from.frame)
		l.ideal = w.gate.Wants(i, in)
		l.idealFirst = l.ideal
		l.calmM = math.Inf(-1)
		l.now = span{ground: l.ground(in, all), from: first.TimeNs}
	}
	for k := 1; k < len(track); k++ {
		b := &track[k]
		to := w.bar.station(b)
		if jumps(from.pose, b) {
			w.jump(from.pose.TimeNs, &to)
			from = to
			continue
		}
		w.leg.set(&w.bar, &from, &to)
		from = to
		t := track[k-1].TimeNs
		for last := w.followed(b); ; last = w.followed(b) {
			if last.Zones == w.zones {
				w.follow = last
				break
			}
			until := w.zonesChange(t, last)
			w.step(t, until)
			w.retake(until)
			t = until
		}
		w.step(t, b.TimeNs)
	}
	end := track[len(track)-1].TimeNs
	for i := range w.lanes {
		w.lanes[i].settle(w.odo)
		if w.spans {
			w.lanes[i].closeSpan(end)
		}
	}
}

// jump takes every section anew at a place that the bar did not drive to. A
// crossing in between is noted at the arrival.
func (w *walk) jump(leftNs int64, to *station) {
	timeNs := to.pose.TimeNs
	w.follow = sections.Follow{}
	w.gate.Follow(&w.follow, to.pose)
	w.zones = w.follow.Zones
	w.calmM, w.known = math.Inf(-1), false
	for i := range w.lanes {
		l := &w.lanes[i]
		l.settle(w.odo)
		l.calmM, l.known = math.Inf(-1), false
		l.change(timeNs)
		in, all := w.shares(i, &to.frame)
		l.observe(timeNs, w.gate.Wants(i, in))
		if w.spans {
			l.closeSpan(leftNs)
			l.now = span{ground: l.ground(in, all), from: timeNs}
		}
	}
	w.take(timeNs)
}

// take counts the actual changes up to timeNs as done.
func (w *walk) take(timeNs int64) {
	for w.next < len(w.moves) && w.moves[w.next].TimeNs <= timeNs {
		w.next++
	}
}

// followed returns what there is to remember at pose p, from now on.
func (w *walk) followed(p *motion.Pose) sections.Follow {
	f := w.follow
	w.gate.Follow(&f, p)
	return f
}

// zonesChange returns the first instant found after t, within the leg, at
// which other zones take part than now, and goes on to there. At the leg's end
// it is last.
func (w *walk) zonesChange(t int64, last sections.Follow) int64 {
	lo, hi := t, w.leg.b.pose.TimeNs
	for hi-lo > resolutionNs {
		mid := lo + (hi-lo)/2
		pose := w.leg.pose(mid)
		if f := w.followed(&pose); f.Zones != w.zones {
			hi, last = mid, f
		} else {
			lo = mid
		}
	}
	w.follow = last
	return hi
}

// retake looks at every section again as zones start to take part or stop.
func (w *walk) retake(timeNs int64) {
	w.zones = w.follow.Zones
	frame := w.frame(timeNs)
	for i := range w.lanes {
		l := &w.lanes[i]
		l.settle(w.odo)
		in, all := w.shares(i, &frame)
		l.in, l.all = in, all
		l.observe(timeNs, w.gate.Wants(i, in))
		w.enter(l, timeNs, in, all)
	}
}

// step goes on from t0 to t1, both within the leg, with the same zones.
func (w *walk) step(t0, t1 int64) {
	if t1 <= t0 {
		return
	}
	sign := w.leg.sign(&w.bar)
	changes := w.next < len(w.moves) && w.moves[w.next].TimeNs <= t1
	calm := w.movedM+w.leg.moveM <= w.calmM || w.barIsCalm(t0)
	after := w.odo
	if sign != 0 {
		gain := w.leg.travel(t0, t1)
		after.along += sign * gain.along
		after.turn += sign * gain.turn
	}
	if !calm || !w.known || changes || sign == 0 {
		w.known = true
		w.each(t0, t1, calm, sign == 0, after)
	}
	w.take(t1)
	w.odo = after
	w.movedM += w.leg.moveM
}

// each takes the sections one by one from t0 to t1. mixed says that they do
// not all go the same way, so that the odometer does not count for them.
func (w *walk) each(t0, t1 int64, calm, mixed bool, after odometer) {
	frame := w.frame(t0)
	for i := range w.lanes {
		l := &w.lanes[i]
		if !calm && !w.laneIsCalm(i, &frame) {
			l.settle(w.odo)
			l.known, w.known = false, false
			w.trace(i, t0, t1)
			l.since = after
			continue
		}
		if !l.known {
			l.in, l.all = w.shares(i, &frame)
			l.known, l.since = true, w.odo
			l.observe(t0, w.gate.Wants(i, l.in))
			w.enter(l, t0, l.in, l.all)
		}
		if !mixed && (l.next >= len(l.changes) || l.changes[l.next].timeNs > t1) {
			continue
		}
		l.settle(w.odo)
		for from := t0; from < t1; {
			until := l.until(t1)
			l.book(l.widthM*w.leg.swept(l.yM, from, until), l.in, l.all)
			if l.change(until) {
				w.enter(l, until, l.in, l.all)
			}
			from = until
		}
		l.since = after
	}
}

// barIsCalm looks how far the bar can move before any border reaches it, and
// reports whether that is as far as the leg can take it.
func (w *walk) barIsCalm(timeNs int64) bool {
	f := w.frame(timeNs)
	clearM := w.gate.Field.ClearanceM(
		f.EastM+w.bar.midXM*f.Sin+w.bar.midYM*f.Cos,
		f.NorthM+w.bar.midXM*f.Cos-w.bar.midYM*f.Sin) - w.bar.radiusM
	if clearM < w.leg.moveM {
		return false
	}
	w.calmM = w.movedM + clearM
	return true
}

// laneIsCalm is the same of section i alone, with the bar at f.
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

// clearM returns how far section i can move before any border reaches it,
// negative when one may lie under it.
func (w *walk) clearM(i int, f *sections.Frame) float64 {
	s := &w.gate.Machine.Sections[i]
	east := f.EastM + s.XM*f.Sin + s.YM*f.Cos
	north := f.NorthM + s.XM*f.Cos - s.YM*f.Sin
	half := s.WidthM / 2
	if clearM := w.gate.Field.ClearanceM(east, north) - half; clearM >= aheadM {
		return clearM
	}
	return w.gate.Field.DistanceM(east, north, half+aheadM) - half
}

// frame returns where the bar is at timeNs, within the leg.
func (w *walk) frame(timeNs int64) sections.Frame {
	return w.leg.frameAt(w.gate.Machine, timeNs)
}

// shares returns the shares of section i inside the zones that take part and
// inside any zone; all is in where nothing depends on it, as in where the
// section is up.
func (w *walk) shares(i int, f *sections.Frame) (in, all float64) {
	in = w.gate.Share(i, f, w.zones)
	if in >= 1 {
		return in, in
	}
	return in, w.gate.Share(i, f, everyZone)
}

// enter notes the ground that the section is on from timeNs on, if that was
// asked for.
func (w *walk) enter(l *lane, timeNs int64, in, all float64) {
	if w.spans {
		l.enter(timeNs, l.ground(in, all))
	}
}
