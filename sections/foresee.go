// What is ahead: the bar at a later instant, and when a section crosses.

package sections

import (
	"math"

	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// view is the bar as predicted for one instant.
type view struct {
	timeNs int64
	frame  Frame
	zones  field.Mask // for sections in work
	drop   field.Mask // for those that are not: see Gate.May
	// Where no zone takes part, or no edge is within the bar's reach, all
	// sections ought to be alike: in work or not.
	alike, inside, insideDrop bool
}

// zonesFor returns the zones in which section i may be in work.
func (v *view) zonesFor(c *Controller, i int) (m field.Mask, inside bool) {
	if c.section[i].On {
		return v.zones, v.inside
	}
	return v.drop, v.insideDrop
}

func viewAt(c *Controller, m *motion.Motion, timeNs int64) view {
	p := c.predict(m, timeNs)
	return viewOf(c, &p)
}

func viewOf(c *Controller, p *motion.Pose) view {
	frame, follow := c.gate.Machine.Frame(p), c.s.Follow
	c.gate.foresee(&follow, p, frame.Sin, frame.Cos)
	v := view{timeNs: p.TimeNs, frame: frame, zones: follow.Zones, drop: c.gate.May(&follow, false)}
	e, n := v.frame.EastM, v.frame.NorthM
	switch {
	case c.idle && v.zones == c.gate.Field.Unbound():
		v.alike = true
	case c.gate.Field.ClearanceM(e, n) > c.reach && !c.gate.OverWorked(c.worked, &v.frame, &v.frame, v.zones, 0):
		v.alike, v.inside = true, c.gate.Field.Share(e, n, e, n, v.zones) > 0
		v.insideDrop = v.inside && (v.drop == v.zones || c.gate.Field.Share(e, n, e, n, v.drop) > 0)
	}
	return v
}

func (v *view) inWork(c *Controller, i int) bool {
	zones, inside := v.zonesFor(c, i)
	if v.alike {
		return inside
	}
	return c.gate.InWork(c.worked, i, &v.frame, zones, c.gate.Share(i, &v.frame, zones))
}

// change finds when section i must next change, given that at untilNs its state is
// wrong: the first crossing that is worth a change. It looks from nowNs on, or from the
// crossing that it gave its last command for, if that is still ahead. ok is false
// where there is none up to untilNs.
func (c *Controller) change(m *motion.Motion, i int, nowNs, untilNs int64) (crossNs int64, ok bool) {
	lo, ok := c.reaches(m, nowNs, untilNs, c.section[i].CrossM)
	for range mostBrief {
		if !ok {
			return 0, false
		}
		crossNs = c.crossing(m, i, lo, untilNs)
		overM, lasts := c.lasts(m, i, crossNs)
		if lasts {
			return crossNs, true
		}
		if overM >= sureM && c.predict(m, untilNs).SpeedMps > 0 {
			// Along a border it becomes worth it somewhere: there, and not at the tick that sees it.
			if _, lasts = c.lasts(m, i, untilNs); lasts {
				return bisect(crossNs, untilNs, func(t int64) bool {
					_, lasts := c.lasts(m, i, t)
					return lasts
				}), true
			}
		}
		// What is too brief may hide the crossing that follows it.
		lo, ok = c.reaches(m, crossNs, untilNs, c.odometerM(m, crossNs)+overM)
	}
	return 0, false
}

// mostBrief is how many gaps and strips, one after another and all too brief, the
// longest lead looks across.
const mostBrief = 4

// reaches returns when the odometer, as predicted, reaches wayM, not before fromNs; ok
// is false where that is not before untilNs.
func (c *Controller) reaches(m *motion.Motion, fromNs, untilNs int64, wayM float64) (timeNs int64, ok bool) {
	if c.odometerM(m, fromNs) < wayM {
		if c.odometerM(m, untilNs) <= wayM {
			return 0, false
		}
		fromNs = bisect(fromNs, untilNs, func(t int64) bool { return c.odometerM(m, t) >= wayM })
	}
	return fromNs, fromNs < untilNs
}

// crossing finds the first instant after fromNs from which on the state of section i is
// wrong, as it is at untilNs; fromNs itself if it is wrong there.
func (c *Controller) crossing(m *motion.Motion, i int, fromNs, untilNs int64) (crossNs int64) {
	on := c.section[i].On
	if v := viewAt(c, m, fromNs); v.inWork(c, i) != on {
		return fromNs
	}
	return bisect(fromNs, untilNs, func(t int64) bool {
		v := viewAt(c, m, t)
		return v.inWork(c, i) != on
	})
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

// stillWrong reports whether section i, in work, ought to be up at the place ahead
// where that was last seen, though not at beyondNs, and when it gets there.
func (c *Controller) stillWrong(m *motion.Motion, i int, nowNs, beyondNs int64) (untilNs int64, ahead bool) {
	s := &c.section[i]
	if math.IsInf(s.WrongM, -1) {
		return 0, false
	}
	if c.odometerM(m, nowNs) < s.WrongM && s.WrongM <= c.odometerM(m, beyondNs) {
		untilNs = bisect(nowNs, beyondNs, func(t int64) bool { return c.odometerM(m, t) >= s.WrongM })
		if v := viewAt(c, m, untilNs); !v.inWork(c, i) {
			return untilNs, true
		}
	}
	s.WrongM = math.Inf(-1)
	return 0, false
}

// lasts reports whether what section i would change for at crossNs is worth it. It
// must not be over before the shortest time up or down is, nor after less than sliverM: a
// gap would be too short to lift for, a strip too short to drop for. And it must become sure before the
// section has gone sureM, or else it is only a graze. If it is not, overM is a way
// beyond the crossing at which the section's state is right again.
func (c *Controller) lasts(m *motion.Motion, i int, crossNs int64) (overM float64, is bool) {
	s := &c.section[i]
	shortestNs := c.set.ShortestDownNs
	if s.On {
		shortestNs = c.set.ShortestUpNs
		if c.set.BridgeGaps {
			shortestNs = max(shortestNs, c.deadNs(i, false)+c.set.LiftLead.MoveNs+c.deadNs(i, true)+c.set.DropLead.MoveNs)
		}
	}
	from := c.predict(m, crossNs)
	if !(from.SpeedMps > 0) {
		return 0, true // it comes to stand before: nothing is to be seen beyond
	}
	lengthM := max(from.SpeedMps*float64(shortestNs)*1e-9, sliverM)
	sure := false
	for k := 1.0; k <= briefLooks; k++ {
		wayM := lengthM * k / briefLooks
		on, is := c.beyond(i, &from, wayM)
		if on == s.On {
			return wayM, false
		}
		sure = sure || is
	}
	for wayM := firstSureM; !sure && wayM <= sureM; wayM *= 2 {
		if wayM <= lengthM {
			continue
		}
		on, is := c.beyond(i, &from, wayM)
		if on == s.On {
			return wayM, false
		}
		sure = is
	}
	return sureM, sure
}

const (
	// sliverM is the shortest gap or strip that counts at any speed, as for the score.
	sliverM    = 0.2
	briefLooks = 4     // how often a gap or strip is looked at over its shortest length
	firstSureM = 0.125 // and then after so far, and twice as far each time, up to sureM
	sureM      = 4.0
)

// beyond returns whether section i ought to be in work wayM further on than from,
// and whether it is sure of that.
func (c *Controller) beyond(i int, from *motion.Pose, wayM float64) (on, sure bool) {
	v := c.viewBeyond(from, wayM)
	zones, inside := v.zonesFor(c, i)
	if v.alike {
		return inside, true
	}
	share := c.gate.Share(i, &v.frame, zones)
	on = c.gate.InWork(c.worked, i, &v.frame, zones, share)
	return on, c.gate.SureAt(c.worked, i, on, &v.frame, zones, share)
}

// viewBeyond is the bar wayM further on than from, as the tractor is steered there.
// It goes by the way alone, as though the speed stayed: a driver who brakes at a
// border crosses the same ground.
func (c *Controller) viewBeyond(from *motion.Pose, wayM float64) view {
	m := motion.Motion{Pose: *from}
	p := m.Predict(from.TimeNs + int64(wayM/from.SpeedMps*1e9))
	if c.gate.Machine.Mount == Trailed {
		p.ToolHeadingRad = motion.TrailStep(from, &p, c.gate.Machine.HitchBehindM, c.gate.Machine.DrawbarM)
	}
	return viewOf(c, &p)
}
