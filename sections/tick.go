// One tick: what falls due within it.

package sections

import (
	"math"

	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// Tick appends to out the setpoints that fall due in [nowNs, nowNs + TickNs]
// and returns it. Call it every TickNs with out's capacity at least the
// number of sections: then nothing is allocated. Setpoints come by section,
// from the left.
func (c *Controller) Tick(nowNs int64, out []Setpoint) []Setpoint {
	if nowNs < c.s.SleepNs {
		return out
	}
	return c.decide(nowNs, out)
}

// decide is Tick when awake.
func (c *Controller) decide(nowNs int64, out []Setpoint) []Setpoint {
	if c.s.Held > 0 {
		out = c.holds(nowNs, out)
	}
	if c.s.Manual {
		c.s.SleepNs = math.MaxInt64
		return out
	}
	m, ready := c.s.Estimator.Motion()
	if c.lost(nowNs, m.TimeNs) && nowNs >= c.s.LostNs+c.set.HoldNs {
		return c.failSafe(nowNs, out)
	}
	if !ready {
		return out
	}
	if m.SpeedMps < reversingMps {
		return c.raiseAll(nowNs, Reversed, out)
	}

	if c.s.Settled && c.sleep(&m, nowNs) {
		return out
	}
	horizonNs := nowNs + c.set.TickNs
	v := viewAt(c, &m, horizonNs+c.lift)
	w := viewAt(c, &m, horizonNs+c.drop)
	mayDrop := c.s.LostNs == 0 && m.SpeedMps >= c.set.MinSpeedMps
	pending, settled := 0, true
	for i := range c.section {
		s := &c.section[i]
		s.PendingNs = 0
		if s.Hold != Released {
			continue
		}
		at := &v
		if !s.On {
			at = &w
		}
		if at.inWork(c, i) == s.On {
			continue
		}
		settled = false
		if !s.On && !mayDrop {
			continue
		}
		crossNs, ok := c.crossing(&m, i, nowNs, at.timeNs)
		if !ok || s.On && c.bridged(&m, i, crossNs) {
			continue
		}
		s.PendingNs = crossNs
		pending++
	}
	if pending > 0 {
		out = c.command(&m, nowNs, out)
	}
	if settled && !c.s.Settled {
		c.s.Settled, c.s.SettledZones = true, c.zonesAround(&m, nowNs)
		c.sleep(&m, nowNs)
	}
	c.s.Settled = settled
	return out
}

// reversingMps: slower backward motion may be noise at standstill.
const reversingMps = -0.15

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
	v := view{timeNs: timeNs, frame: c.gate.Machine.Frame(&p), zones: c.gate.Zones(&p)}
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
	return c.gate.Rule.InWork(c.gate.Share(i, &v.frame, v.zones))
}

// crossing finds the first instant up to untilNs, where the section ought to
// be other than it is, from which it ought to be so. It looks from nowNs on, or from the
// last crossing it gave a command for, if that is still ahead. ok is false
// where that crossing lies beyond untilNs.
func (c *Controller) crossing(m *motion.Motion, i int, nowNs, untilNs int64) (crossNs int64, ok bool) {
	s := &c.section[i]
	lo := max(nowNs, s.CrossNs)
	if lo >= untilNs {
		return 0, false
	}
	if v := viewAt(c, m, lo); v.inWork(c, i) != s.On {
		return lo, true
	}
	hi := untilNs
	for hi-lo > crossingPrecisionNs {
		mid := lo + (hi-lo)/2
		if v := viewAt(c, m, mid); v.inWork(c, i) == s.On {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi, true
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

// command gives the setpoints of pending crossings that fall due in this tick.
func (c *Controller) command(m *motion.Motion, nowNs int64, out []Setpoint) []Setpoint {
	c.timeStrokes()
	speed := math.Abs(m.SpeedMps)
	endNs := nowNs + c.set.TickNs
	odometerM := c.s.OdometerM + speed*float64(nowNs-m.TimeNs)*1e-9
	for i := range c.section {
		s := &c.section[i]
		if s.PendingNs == 0 {
			continue
		}
		leadNs, shortestNs := c.set.DropLead.AloneNs(), c.set.ShortestUpNs
		if s.On {
			leadNs, shortestNs = c.set.LiftLead.DeadNs+s.StrokeNs, c.set.ShortestDownNs
		}
		dueNs := s.PendingNs - leadNs
		if dueNs >= endNs {
			continue // not yet
		}
		late := dueNs < nowNs
		crossM := odometerM + speed*float64(s.PendingNs-nowNs)*1e-9
		dueNs = max(dueNs, nowNs)
		if s.DueNs != 0 {
			dueNs = max(dueNs, s.DueNs+shortestNs)
			if dueNs >= endNs || crossM-s.CrossM < c.set.HysteresisM {
				continue
			}
		}
		if late {
			c.s.Counts.Late++
		}
		s.On = !s.On
		s.DueNs, s.CrossNs, s.CrossM = dueNs, s.PendingNs, crossM
		out = append(out, Setpoint{DueNs: dueNs, Section: int16(i), On: s.On, Reason: AtBorder})
	}
	return out
}

// timeStrokes works out how long each pending lift will move up to the
// effective depth. Where the pump does not feed all sections at once, that
// hangs on the others' strokes: it begins with all of them as long as can be,
// which is right where all lift together, and comes down in a few rounds
// where they lift one after another.
func (c *Controller) timeStrokes() {
	l := &c.set.LiftLead
	longestNs, rounds := c.lift-l.DeadNs, 4
	if l.FedAtOnce <= 0 {
		longestNs, rounds = l.MoveNs, 0
	}
	for i := range c.section {
		if s := &c.section[i]; s.On && s.PendingNs != 0 {
			s.StrokeNs = longestNs
		}
	}
	for range rounds {
		for i := range c.section {
			if s := &c.section[i]; s.On && s.PendingNs != 0 {
				s.StrokeNs = c.strokeNs(i)
			}
		}
	}
}

// strokeNs adds up, from the crossing of section i back and in slices, the
// stroke that it makes with as many others moving as there are then.
func (c *Controller) strokeNs(i int) int64 {
	l := &c.set.LiftLead
	crossNs := c.section[i].PendingNs
	sliceNs := max(l.MoveNs/flowSlices, 1)
	toGo, t := float64(l.MoveNs), crossNs
	for toGo >= 1 && t > crossNs-c.lift {
		n := 1.0
		mid := t - sliceNs/2
		for j := range c.section {
			if from, to := c.stroke(j); j != i && from <= mid && mid < to {
				n++
			}
		}
		rate := 1 / l.stretch(n)
		step := min(float64(sliceNs), toGo/rate)
		toGo -= step * rate
		t -= int64(math.Round(step))
	}
	return crossNs - t
}

// flowSlices is how many slices a stroke is looked at in.
const flowSlices = 12

// stroke returns when section j moves up, from its start until it is all the
// way up: as commanded, or as expected of a lift that is pending. The whole
// stroke is stretched as its part up to the effective depth is.
func (c *Controller) stroke(j int) (fromNs, toNs int64) {
	l, s := &c.set.LiftLead, &c.section[j]
	switch {
	case s.On && s.PendingNs != 0:
		fromNs = s.PendingNs - s.StrokeNs
	case !s.On && s.DueNs != 0:
		fromNs = s.DueNs + l.DeadNs
	default:
		return 0, 0
	}
	stretch := float64(max(s.StrokeNs, l.MoveNs)) / float64(l.MoveNs)
	return fromNs, fromNs + int64(float64(l.TravelNs)*stretch)
}

// holds gives the setpoints of sections that the operator holds.
func (c *Controller) holds(nowNs int64, out []Setpoint) []Setpoint {
	for i := range c.section {
		s := &c.section[i]
		switch {
		case s.Hold == HoldUp && s.On:
			out = append(out, c.set1(i, nowNs, false, HeldUp))
		case s.Hold == HoldDown && !s.On && c.s.LostNs == 0 && c.s.Estimator.X[3] > reversingMps:
			out = append(out, c.set1(i, nowNs, true, HeldDown))
		}
	}
	return out
}

// set1 sets section i at once, for a reason other than a border.
func (c *Controller) set1(i int, nowNs int64, on bool, why Reason) Setpoint {
	s := &c.section[i]
	s.On, s.DueNs, s.CrossNs, s.PendingNs = on, nowNs, 0, 0
	s.CrossM = math.Inf(-1)
	c.s.Settled = false
	return Setpoint{DueNs: nowNs, Section: int16(i), On: on, Reason: why}
}

// raiseAll lifts at once whatever is in work.
func (c *Controller) raiseAll(nowNs int64, why Reason, out []Setpoint) []Setpoint {
	for i := range c.section {
		if c.section[i].On {
			out = append(out, c.set1(i, nowNs, false, why))
		}
	}
	return out
}

// lost reports whether position is lost at nowNs, and notes since when.
func (c *Controller) lost(nowNs, fixNs int64) bool {
	if c.s.LostNs == 0 && c.s.Estimator.State.Started && nowNs > fixNs+c.set.MaxAgeNs {
		c.s.LostNs, c.s.LostReason = fixNs+c.set.MaxAgeNs, LostFix
	}
	return c.s.LostNs != 0
}

// failSafe does what is set for a lost position, once, and sleeps until the
// next good fix.
func (c *Controller) failSafe(nowNs int64, out []Setpoint) []Setpoint {
	if !c.s.FailedSafe {
		c.s.FailedSafe = true
		c.s.Counts.FailSafe++
		if c.s.LostReason == LowQuality {
			c.s.Counts.FailSafeLowQuality++
		}
	}
	c.s.SleepNs = math.MaxInt64
	if c.set.FailSafe == FailSafeHold {
		return out
	}
	return c.raiseAll(nowNs, c.s.LostReason, out)
}

// sleep puts the controller to sleep until the earliest instant at which a
// section could have to move, or position could count as lost, and reports
// whether it did. Every section must be as it ought to be. The next fix wakes
// the controller in any case.
//
// Nothing can change while the bar, wherever it goes in the time looked ahead,
// stays clear of every edge, and while the zones that take part stay the same.
func (c *Controller) sleep(m *motion.Motion, nowNs int64) bool {
	aheadNs := max(c.lift, c.drop) + c.set.TickNs
	clear := c.gate.Field.ClearanceM(m.EastM, m.NorthM) - c.reach - sleepMarginM
	// v·t + ½·a·t² ≤ clear since the fix, with the bar's ends sweeping at
	// |ω|·reach.
	v := math.Abs(m.SpeedMps) + math.Abs(m.YawRateRadPerS)*c.reach
	const a = hardestMps2
	agedS := float64(nowNs+aheadNs-m.TimeNs) * 1e-9
	if clear <= v*agedS+0.5*a*agedS*agedS {
		return false
	}
	freeNs := int64((math.Sqrt(v*v+2*a*clear) - v) / a * 1e9)
	if c.zonesAround(m, nowNs) != c.s.SettledZones || c.zonesAround(m, nowNs+aheadNs) != c.s.SettledZones {
		return false
	}
	untilNs := m.TimeNs + c.set.MaxAgeNs
	if c.s.LostNs != 0 {
		untilNs = c.s.LostNs + c.set.HoldNs
	}
	c.s.SleepNs = min(m.TimeNs+freeNs-aheadNs, untilNs, nowNs+longestSleepNs)
	return true
}

// zonesAround returns the zones that the tractor is in and that take part at
// its heading, as it will be at an instant not far off.
func (c *Controller) zonesAround(m *motion.Motion, timeNs int64) field.Mask {
	p := m.Pose
	turn := m.YawRateRadPerS * float64(timeNs-m.TimeNs) * 1e-9
	p.HeadingRad += turn
	p.ToolHeadingRad = c.s.ToolRad + turn
	return c.gate.Zones(&p) & c.gate.Field.At(m.EastM, m.NorthM)
}

const (
	sleepMarginM   = 0.5   // room for noise of the position
	longestSleepNs = 400e6 // heading and zones are looked at again after this
)
