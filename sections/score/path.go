// The way of one section's middle: where it is, how fast, how far.

package score

import (
	"math"

	"liftbench/sections/motion"
)

// path looks up the track, fastest in order of time.
type path struct {
	track motion.Track
	bar   *bar
	now   leg
	at    int // index of the pose that begins the leg last asked for
}

// leg returns the leg that timeNs lies on, valid until the next call; false
// before the first pose and from the last one on, where the tractor stands
// still.
func (p *path) leg(timeNs int64) (*leg, bool) {
	for p.at > 0 && p.track[p.at].TimeNs > timeNs {
		p.at--
	}
	for p.at+1 < len(p.track) && p.track[p.at+1].TimeNs <= timeNs {
		p.at++
	}
	if p.at+1 >= len(p.track) || timeNs < p.track[p.at].TimeNs {
		return nil, false
	}
	if from := &p.track[p.at]; p.now.a.pose != from {
		a, b := p.bar.station(from), p.bar.station(&p.track[p.at+1])
		p.now.set(p.bar, &a, &b)
	}
	return &p.now, true
}

// speed returns the speed of section i's middle at timeNs on leg l: its size,
// with the sign of its part along the tool's heading.
func (p *path) speed(l *leg, i int16, timeNs int64) float64 {
	pose := l.pose(timeNs)
	_, turn := l.rates(timeNs)
	along, across := p.bar.velocity(&pose, turn)
	s := &p.bar.machine.Sections[i]
	along, across = along-s.YM*turn, across+s.XM*turn
	return math.Copysign(math.Hypot(along, across), along)
}

// lengthM returns ∫speed dt of section i's middle from t0 to t1, negative when
// t1 is earlier (and the section goes forward). Simpson's rule on each leg.
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
		sum += float64(until-t0) * 1e-9 / 6 * (p.speed(l, i, t0) + 4*p.speed(l, i, mid) + p.speed(l, i, until))
		t0 = until
	}
	return sum
}

// describe fills in the event's errors and what the section did at its instant.
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
	f := p.bar.machine.Frame(&pose)
	le, ln, re, rn := p.bar.machine.Line(int(e.Section), &f)
	e.EastM, e.NorthM = (le+re)/2, (ln+rn)/2
	e.HeadingRad = math.Atan2(f.Sin, f.Cos)
}
