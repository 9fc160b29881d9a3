// This file follows one section near a border. It cuts the time into pieces in which the
// section's share inside the zones is a straight line over time: that gives areas by
// integration, and the instants of ideal changes.

package score

import "math"

// sample is what is known of a section at one instant.
type sample struct {
	timeNs   int64
	in, all  float64 // share inside the zones that take part, and inside any zone
	fresh    float64 // of in, what no earlier pass has worked
	wants    bool    // it ought to be in work
	speedMps float64 // along the tool's heading, without its sign
}

// trace follows section i from t0 to t1, both on the leg. It looks at the section at
// least every lookM of its way, except where no border is near.
func (w *walk) trace(i int, t0, t1 int64) {
	l := &w.lanes[i]
	l.change(t0)
	for from := t0; from < t1; {
		until := l.until(t1)
		a := w.sample(i, from)
		w.observe(i, from, a.in, nil)
		w.enter(l, from, a.in, a.all, a.fresh)
		for a.timeNs < until {
			b := w.sample(i, a.timeNs+w.reachNs(i, a.timeNs, until))
			w.piece(i, &a, &b)
			a = b
		}
		if l.change(until) {
			w.enter(l, until, a.in, a.all, a.fresh)
		}
		from = until
	}
}

// reachNs returns how long the next piece of section i's way may last. It begins at timeNs
// and ends at until at the latest.
func (w *walk) reachNs(i int, timeNs, until int64) int64 {
	const pieceM = 2 * lookM // piece looks in its middle too
	leftM := w.leg.fastestMps * float64(until-timeNs) * 1e-9
	if leftM <= pieceM {
		return until - timeNs
	}
	reachM := float64(pieceM)
	if leftM > 2*pieceM {
		f := w.frame(timeNs)
		reachM = max(reachM, w.clearM(i, &f))
	}
	return min(1+int64(min(1, reachM/leftM)*float64(until-timeNs)), until-timeNs)
}

// piece counts the ground swept from a to b. It halves the time until the shares are
// straight lines over it. Simpson's rule is exact for the product of a linear share and
// a linear speed.
func (w *walk) piece(i int, a, b *sample) {
	m := w.sample(i, a.timeNs+(b.timeNs-a.timeNs)/2)
	seconds := float64(b.timeNs-a.timeNs) * 1e-9
	bend := max(math.Abs(a.in+b.in-float64(2*m.in)), math.Abs(a.all+b.all-float64(2*m.all)), math.Abs(a.fresh+b.fresh-float64(2*m.fresh))) / 2
	if b.timeNs-a.timeNs > resolutionNs && bend*seconds*max(a.speedMps, b.speedMps) > bendM {
		w.half(i, a, &m)
		w.half(i, &m, b)
		return
	}
	w.passBorder(i, a, &m)
	w.passBorder(i, &m, b)
	l := &w.lanes[i]
	swept := (a.speedMps + float64(4*m.speedMps) + b.speedMps) / 6 * seconds
	if swept == 0 {
		return
	}
	mean := func(p, q, r float64) float64 {
		return (float64(p*a.speedMps) + float64(4*q*m.speedMps) + float64(r*b.speedMps)) / 6 * seconds / swept
	}
	l.book(l.widthM*swept, mean(a.in, m.in, b.in), mean(a.all, m.all, b.all), mean(a.fresh, m.fresh, b.fresh))
}

// half counts one half of a piece. If the section lies wholly inside, or wholly outside,
// at both ends, it is not looked at again.
func (w *walk) half(i int, a, b *sample) {
	if a.in != b.in || a.all != b.all || a.fresh != b.fresh || a.in > 0 && a.in < 1 || a.all > 0 && a.all < 1 {
		w.piece(i, a, b)
		return
	}
	w.passBorder(i, a, b)
	l := &w.lanes[i]
	l.book(l.widthM*(a.speedMps+b.speedMps)/2*float64(b.timeNs-a.timeNs)*1e-9, a.in, a.all, a.fresh)
}

// passBorder notes changes of the ideal state and of the ground between a and b.
func (w *walk) passBorder(i int, a, b *sample) {
	l := &w.lanes[i]
	if ideal := b.wants; ideal != l.ideal && !(ideal && w.follow.Turning) {
		l.observe(w.bisect(i, a, b, func(s *sample) bool { return s.wants == ideal }), ideal, false)
	}
	w.observe(i, b.timeNs, b.in, nil)
	if !w.spans {
		return
	}
	if g := l.ground(b.in, b.all, b.fresh); g != l.now.ground {
		l.enter(w.bisect(i, a, b, func(s *sample) bool { return l.ground(s.in, s.all, s.fresh) == g }), g)
	}
}

// bisect returns an instant after a at which reached becomes true, up to resolutionNs
// late. It must be true at b.
func (w *walk) bisect(i int, a, b *sample, reached func(*sample) bool) int64 {
	lo, hi := a.timeNs, b.timeNs
	for hi-lo > resolutionNs {
		mid := w.sample(i, lo+(hi-lo)/2)
		if reached(&mid) {
			hi = mid.timeNs
		} else {
			lo = mid.timeNs
		}
	}
	return hi
}

// sample looks at section i at timeNs, which must be on the leg.
func (w *walk) sample(i int, timeNs int64) sample {
	f := w.frame(timeNs)
	l := &w.lanes[i]
	along, turn := w.leg.rates(timeNs)
	s := sample{timeNs: timeNs, speedMps: math.Abs(along - float64(l.yM*turn))}
	s.in = w.gate.Share(i, &f, w.zones)
	s.all, s.fresh = s.in, w.fresh(i, &f, s.in)
	s.wants = w.gate.Wants(i, s.in) && (s.in == 0 || s.fresh > 0)
	if l.on && s.in < 1 {
		s.all = w.gate.Share(i, &f, everyZone)
	}
	return s
}
