// One tick: what falls due within it.

package sections

import (
	"math"

	"liftbench/sections/motion"
)

// Tick appends to out the setpoints that fall due from nowNs on and before
// nowNs + TickNs, and returns it: what falls due at that very end is the next
// tick's, so that consecutive ticks give each command once. Call it every
// TickNs with out's capacity at least the
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
	if c.s.Manual && !c.anyHeldDown() {
		c.s.SleepNs = math.MaxInt64
		c.hinder(Operated)
		return out
	}
	m, ready := c.s.Estimator.Motion()
	lost := c.lost(nowNs)
	if c.Standing() {
		c.hinder(Stood)
		// At rest no border commands anything, until the next fix. What the operator
		// holds has been seen to above.
		switch {
		case !lost:
			c.s.SleepNs, c.s.HeldAtRest = c.s.FixNs+c.set.MaxAgeNs+1, false
		case nowNs < c.s.LostNs+c.set.HoldNs:
			c.s.SleepNs = c.s.LostNs + c.set.HoldNs
		default:
			if !c.s.HeldAtRest {
				c.s.HeldAtRest = true
				c.s.Counts.HeldAtRest++
			}
			c.s.SleepNs = math.MaxInt64
		}
		return out
	}
	c.s.HeldAtRest = false
	if lost && nowNs >= c.s.LostNs+c.set.HoldNs {
		c.hinder(LateFix)
		return c.failSafe(nowNs, out)
	}
	// While the position is still lost, as after a fix that was too old when it
	// arrived, the fail-safe stays done: it is not done and counted again.
	c.s.FailedSafe = c.s.FailedSafe && lost
	if !ready {
		c.hinder(NoMotionYet)
		return out
	}
	if c.s.Estimator.State.Still.Reversing {
		c.hinder(Backed)
		return c.raiseAll(nowNs, Reversed, out)
	}
	if c.s.Manual {
		c.hinder(Operated)
		return out
	}
	if m.SpeedMps < 0 {
		c.hinder(Stood)
		// An estimate that ran past zero as the driver braked: it is coming to stand.
		return out
	}

	c.unhinder(nowNs)
	if c.s.Settled && c.sleep(&m, nowNs, false) {
		return out
	}
	horizonNs := nowNs + c.set.TickNs
	v := viewAt(c, &m, horizonNs+c.lift)
	w := viewAt(c, &m, horizonNs+c.drop)
	mayDrop, noDrop := c.s.LostNs == 0, LateFix
	if mayDrop && m.SpeedMps < c.set.MinSpeedMps {
		mayDrop, noDrop = false, TooSlow
	}
	pending, settled := 0, true
	u := w // the view that the last section looked at that is on its way up
	for i := range c.section {
		s := &c.section[i]
		s.PendingNs = 0
		if s.Hold != Released {
			s.HeldBy = Operated
			continue
		}
		untilNs := v.timeNs
		if s.On {
			if v.inWork(c, i) {
				var ahead bool
				if untilNs, ahead = c.stillWrong(&m, i, nowNs, v.timeNs); !ahead {
					s.HeldBy = EstimateMoved
					continue
				}
			} else {
				s.WrongM = c.odometerM(&m, untilNs)
			}
		} else {
			if untilNs = c.servesNs(i, horizonNs); untilNs != u.timeNs {
				u = viewAt(c, &m, untilNs)
			}
			if !u.inWork(c, i) {
				s.HeldBy = EstimateMoved
				continue
			}
		}
		settled = false
		if !s.On && !mayDrop {
			s.HeldBy = noDrop
			continue
		}
		crossNs, ok := c.change(&m, i, nowNs, untilNs)
		if !ok {
			continue
		}
		s.PendingNs = crossNs
		pending++
	}
	if pending > 0 {
		out = c.command(&m, nowNs, out)
	}
	was := c.s.Settled
	c.s.SettledZones = unsettled
	if settled {
		// Every section may be right at the instants looked ahead to and wrong here, if a
		// zone begins or stops to take part in between. So the zones must be the same now
		// and at both of these instants.
		at := c.gate.Field.At(m.EastM, m.NorthM)
		if ahead := v.around(at); ahead != unsettled && ahead == w.around(at) && ahead == c.zonesAround(&m, nowNs, at) {
			c.s.SettledZones = ahead
		}
	}
	if c.s.Settled = c.s.SettledZones != unsettled; c.s.Settled && !was {
		c.sleep(&m, nowNs, true)
	}
	return out
}

// command gives the setpoints of pending crossings that fall due in this tick.
func (c *Controller) command(m *motion.Motion, nowNs int64, out []Setpoint) []Setpoint {
	c.timeStrokes()
	endNs := nowNs + c.set.TickNs
	for i := range c.section {
		s := &c.section[i]
		if s.PendingNs == 0 {
			continue
		}
		shortestNs := c.set.ShortestUpNs
		if s.On {
			shortestNs = c.set.ShortestDownNs
		}
		wantedNs := s.PendingNs - c.leadNs(i, s.PendingNs)
		if wantedNs >= endNs {
			s.HeldBy = EstimateMoved
			continue // not yet
		}
		crossNs, crossM := s.PendingNs, c.odometerM(m, s.PendingNs)
		dueNs := max(wantedNs, nowNs)
		if s.DueNs != 0 {
			if crossNs = max(crossNs, s.CrossNs+shortestNs); crossNs > s.PendingNs {
				dueNs = max(dueNs, crossNs-c.leadNs(i, crossNs))
			}
			if math.IsInf(s.CrossM, -1) {
				dueNs = max(dueNs, s.DueNs+shortestNs)
			}
			if dueNs > max(wantedNs, nowNs) {
				s.HeldBy = ShortestTime
			}
			// A valve that has not moved yet for the last command would not move at all.
			dueNs = max(dueNs, s.Turn.AtNs)
			if dueNs >= endNs {
				continue
			}
			// Where a driver brakes or starts, nobody knows for how long: ½·a·t².
			t := float64(s.PendingNs-m.TimeNs) * 1e-9
			unsureM := float64(0.5 * math.Abs(m.AccelMps2) * t * t)
			if crossM-s.CrossM < c.set.HysteresisM+unsureM {
				s.HeldBy = HysteresisHeld
				continue
			}
		}
		if dueNs > wantedNs {
			c.s.Counts.Late[c.lateCause(m, i, wantedNs, nowNs)]++
		}
		s.HeldBy = EstimateMoved
		c.move(i, !s.On, dueNs)
		s.CrossNs, s.CrossM, s.WrongM = crossNs, crossM, math.Inf(-1)
		out = append(out, Setpoint{DueNs: dueNs, Section: int16(i), On: s.On, Reason: AtBorder})
	}
	return out
}

// holds gives the setpoints of sections that the operator holds.
func (c *Controller) holds(nowNs int64, out []Setpoint) []Setpoint {
	for i := range c.section {
		s := &c.section[i]
		switch {
		case s.Hold == HoldUp && s.On:
			out = append(out, c.set1(i, nowNs, false, HeldUp))
		case s.Hold == HoldDown && !s.On && c.s.LostNs == 0 && !c.s.Estimator.Backward():
			out = append(out, c.set1(i, nowNs, true, HeldDown))
		}
	}
	return out
}

// set1 sets section i at once, for a reason other than a border.
func (c *Controller) set1(i int, nowNs int64, on bool, why Reason) Setpoint {
	s := &c.section[i]
	c.move(i, on, nowNs)
	s.PendingNs, s.CrossNs = 0, nowNs
	s.CrossM, s.WrongM = math.Inf(-1), math.Inf(-1)
	c.s.Settled = false
	return Setpoint{DueNs: nowNs, Section: int16(i), On: on, Reason: why}
}

// anyHeldDown reports whether the operator holds any section in work.
func (c *Controller) anyHeldDown() bool {
	for i := range c.section {
		if c.section[i].Hold == HoldDown {
			return true
		}
	}
	return false
}

// raiseAll lifts at once whatever is in work; in manual mode only what the
// operator holds in work, as nothing else is the controller's to command.
func (c *Controller) raiseAll(nowNs int64, why Reason, out []Setpoint) []Setpoint {
	c.forgetCrossings()
	for i := range c.section {
		if c.section[i].On && (!c.s.Manual || c.section[i].Hold == HoldDown) {
			out = append(out, c.set1(i, nowNs, false, why))
		}
	}
	return out
}
