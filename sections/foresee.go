// What is ahead: the bar at a later instant, and when a section crosses.

package sections

import (
	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// view is the bar as predicted for one instant.
type view struct {
	timeNs int64
	frame  Frame
	zones  field.Mask
	// Where no zone takes part, or no edge is within the bar's reach, all
	// sections ought to be alike: in work or not.
	alike, inside bool
}

func viewAt(c *Controller, m *motion.Motion, timeNs int64) view {
	p := c.predict(m, timeNs)
	follow := c.s.Follow
	c.gate.Foresee(&follow, &p)
	v := view{timeNs: timeNs, frame: c.gate.Machine.Frame(&p), zones: follow.Zones}
	e, n := v.frame.EastM, v.frame.NorthM
	switch {
	case c.idle && v.zones == c.gate.Field.Unbound():
		v.alike = true
	case c.gate.Field.ClearanceM(e, n) > c.reach:
		v.alike, v.inside = true, c.gate.Field.Share(e, n, e, n, v.zones) > 0
	}
	return v
}

func (v *view) inWork(c *Controller, i int) bool {
	if v.alike {
		return v.inside
	}
	return c.gate.Wants(i, c.gate.Share(i, &v.frame, v.zones))
}

// crossing finds when section i must next change, given that at untilNs its state
// is wrong: the first instant from which on it is wrong. It looks from nowNs on, or
// from the crossing that it gave its last command for, if that is still ahead.
// ok is false where that crossing lies beyond untilNs.
func (c *Controller) crossing(m *motion.Motion, i int, nowNs, untilNs int64) (crossNs int64, ok bool) {
	s := &c.section[i]
	lo := nowNs
	if ahead := s.CrossM; c.odometerM(m, lo) < ahead {
		if c.odometerM(m, untilNs) <= ahead {
			return 0, false
		}
		lo = bisect(lo, untilNs, func(t int64) bool { return c.odometerM(m, t) >= ahead })
	}
	if lo >= untilNs {
		return 0, false
	}
	if v := viewAt(c, m, lo); v.inWork(c, i) != s.On {
		return lo, true
	}
	return bisect(lo, untilNs, func(t int64) bool {
		v := viewAt(c, m, t)
		return v.inWork(c, i) != s.On
	}), true
}

// odometerM is the odometer as predicted for timeNs.
func (c *Controller) odometerM(m *motion.Motion, timeNs int64) float64 {
	p := m.Predict(timeNs)
	sin, cos := exact.Sincos((m.HeadingRad + p.HeadingRad) / 2)
	return c.s.OdometerM + float64((p.EastM-m.EastM)*sin) + float64((p.NorthM-m.NorthM)*cos)
}

// bisect returns an instant in (lo, hi] at which reached becomes true; it is
// true at hi and not at lo.
func bisect(lo, hi int64, reached func(int64) bool) int64 {
	for hi-lo > crossingPrecisionNs {
		if mid := lo + (hi-lo)/2; reached(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi
}

// crossingPrecisionNs is how finely a predicted crossing is found: 0.05 mm at
// 15 km/h.
const crossingPrecisionNs = 12_000

// bridged reports whether the section ought to be in work again before it
// could have gone up and down.
func (c *Controller) bridged(m *motion.Motion, i int, crossNs int64) bool {
	if !c.set.BridgeGaps {
		return false
	}
	v := viewAt(c, m, crossNs+c.set.LiftLead.AloneNs()+c.set.DropLead.AloneNs())
	return v.inWork(c, i)
}
