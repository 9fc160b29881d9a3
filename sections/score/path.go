// This file computes how fast and how far the middle of a section moves.

package score

import (
	"math"
	"sort"

	"github.com/paulmach/orb"
	"liftbench/sections/exact"

	"liftbench/sections/motion"
)

// path finds the leg for an instant. That is fastest where one instant is near the next.
type path struct {
	track motion.Track
	bar   *bar
	now   leg
	at    int // index of the pose at which that leg begins
}

// leg returns the leg on which timeNs lies; it is valid until the next call. It returns
// false before the first pose, and from the last pose on, when the tractor stands still.
func (p *path) leg(timeNs int64) (*leg, bool) {
	if timeNs < p.track[0].TimeNs || timeNs >= p.track[len(p.track)-1].TimeNs {
		return nil, false
	}
	p.find(timeNs)
	if from := &p.track[p.at]; p.now.a.pose != from {
		a, b := p.bar.station(from), p.bar.station(&p.track[p.at+1])
		p.now.set(p.bar, &a, &b)
	}
	return &p.now, true
}

// find sets at to the last pose that is not after timeNs: that of the leg at hand, of the
// next leg, or, by bisection, of any other.
func (p *path) find(timeNs int64) {
	from, to := 0, len(p.track)
	if p.track[p.at].TimeNs <= timeNs {
		for range 2 {
			if p.track[p.at+1].TimeNs > timeNs {
				return
			}
			p.at++
		}
		from = p.at
	} else {
		to = p.at
	}
	p.at = from + sort.Search(to-from, func(k int) bool { return p.track[from+k].TimeNs > timeNs }) - 1
}

// speed returns the speed of the middle of section i at timeNs on leg l, in m/s. It is
// negative while the middle moves backwards along the tool's heading.
func (p *path) speed(l *leg, i int16, timeNs int64) float64 {
	pose := l.pose(timeNs)
	_, turn := l.rates(timeNs)
	along, across := p.bar.velocity(&pose, turn)
	s := &p.bar.machine.Sections[i]
	along, across = along-float64(s.YM*turn), across+float64(s.XM*turn)
	return math.Copysign(exact.Hypot(along, across), along)
}

// lengthM returns how far the middle of section i moves from t0 to t1, the integral of its
// speed: negative if it goes backwards, or if t1 is earlier and it goes forward. It uses
// Simpson's rule on each leg.
func (p *path) lengthM(i int16, t0, t1 int64) float64 {
	if t1 < t0 {
		return -p.lengthM(i, t1, t0)
	}
	t0 = max(t0, p.track[0].TimeNs)
	sum := 0.0
	for t0 < t1 {
		l, ok := p.leg(t0)
		if !ok {
			break
		}
		until := min(t1, l.b.pose.TimeNs)
		mid := t0 + (until-t0)/2
		sum += float64(float64(until-t0) * 1e-9 / 6 * (p.speed(l, i, t0) + float64(4*p.speed(l, i, mid)) + p.speed(l, i, until)))
		t0 = until
	}
	return sum
}

// middleAt returns where the middle of section i is at a pose.
func (p *path) middleAt(i int16, pose *motion.Pose) (eastM, northM float64) {
	f := p.bar.machine.Frame(pose)
	le, ln, re, rn := p.bar.machine.Line(int(i), &f)
	return (le + re) / 2, (ln + rn) / 2
}

// middle returns where the middle of section i is at timeNs.
func (p *path) middle(i int16, timeNs int64) orb.Point {
	pose := p.track[len(p.track)-1]
	if l, ok := p.leg(timeNs); ok {
		pose = l.pose(timeNs)
	}
	e, n := p.middleAt(i, &pose)
	return orb.Point{e, n}
}

// describe sets the event's errors, and where the section was and how it moved.
func (p *path) describe(e *Event) {
	if e.Kind == Paired {
		e.TimeErrorS = float64(e.ActualNs-e.IdealNs) * 1e-9
		e.PlaceErrorM = p.lengthM(e.Section, e.IdealNs, e.ActualNs)
	}
	t := e.TimeNs()
	pose := p.track[len(p.track)-1]
	if l, ok := p.leg(t); ok {
		pose = l.pose(t)
		e.SpeedMps = p.speed(l, e.Section, t)
		e.YawRateRadPerS = pose.YawRateRadPerS
	}
	e.EastM, e.NorthM = p.middleAt(e.Section, &pose)
	f := p.bar.machine.Frame(&pose)
	e.HeadingRad = exact.Atan2(f.Sin, f.Cos)
}
