// Sleep: no work while no border is near.

package sections

import (
	"math"

	"liftbench/sections/exact"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// sleep puts the controller to sleep until the earliest instant at which a
// section could have to move, or position could count as lost, and reports
// whether it did. Every section must be as it ought to be. The next fix wakes
// the controller in any case.
//
// Nothing can change while the bar, wherever it goes in the time looked ahead,
// stays clear of every edge, and while the zones that take part stay the same;
// zonesLooked says that they do, as far ahead as is looked.
func (c *Controller) sleep(m *motion.Motion, nowNs int64, zonesLooked bool) bool {
	aheadNs := max(c.lift, c.drop) + c.set.TickNs
	clear := c.gate.Field.ClearanceM(m.EastM, m.NorthM) - c.reach - sleepMarginM
	// v·t + ½·a·t² ≤ clear since the fix, with the bar's ends sweeping at
	// |ω|·reach.
	v := math.Abs(m.SpeedMps) + float64(math.Abs(m.YawRateRadPerS)*c.reach)
	const a = hardestMps2
	agedS := float64(nowNs+aheadNs-m.TimeNs) * 1e-9
	if clear <= float64(v*agedS)+float64(0.5*a*agedS*agedS) {
		return false
	}
	freeNs := int64((math.Sqrt(float64(v*v)+float64(2*a*clear)) - v) / a * 1e9)
	if !zonesLooked && !c.staysSettled(m, nowNs) {
		return false
	}
	if c.worked != nil {
		now, then := c.predict(m, nowNs), c.predict(m, nowNs+aheadNs)
		f, g := c.gate.Machine.Frame(&now), c.gate.Machine.Frame(&then)
		t := float64(aheadNs+longestSleepNs) * 1e-9
		if c.gate.OverWorked(c.worked, &f, &g, ^field.Mask(0), float64(v*t)+float64(0.5*a*t*t)) {
			return false
		}
	}
	untilNs := m.TimeNs + c.set.MaxAgeNs
	if c.s.LostNs != 0 {
		untilNs = c.s.LostNs + c.set.HoldNs
	}
	c.s.SleepNs = min(m.TimeNs+freeNs-aheadNs, untilNs, nowNs+longestSleepNs)
	return true
}

// QuietUntilNs returns the instant before which Tick gives nothing, unless a fix, or
// the operator, comes before.
func (c *Controller) QuietUntilNs() int64 { return c.s.SleepNs }

// staysSettled reports whether the zones that take part are what they were when
// every section was last as it ought to be, now and as far ahead as is looked.
func (c *Controller) staysSettled(m *motion.Motion, nowNs int64) bool {
	at := c.gate.Field.At(m.EastM, m.NorthM)
	aheadNs := max(c.lift, c.drop) + c.set.TickNs
	return c.zonesAround(m, nowNs, at) == c.s.SettledZones && c.zonesAround(m, nowNs+aheadNs, at) == c.s.SettledZones
}

// zonesAround returns the zones, of those that the tractor is in (at), that take part
// at an instant not far off.
func (c *Controller) zonesAround(m *motion.Motion, timeNs int64, at field.Mask) field.Mask {
	p := c.predict(m, timeNs)
	follow := c.s.Follow
	sin, cos := exact.Sincos(c.gate.Machine.heading(&p))
	c.gate.foresee(&follow, &p, sin, cos)
	v := view{zones: follow.Zones, drop: c.gate.May(&follow, false)}
	return v.around(at)
}

// around returns the zones of a view that are among those that the tractor is in.
func (v *view) around(at field.Mask) field.Mask {
	if v.drop != v.zones {
		return unsettled
	}
	return v.zones & at
}

// unsettled is no zones around: while the machine turns, sections up and in work
// look at different ones.
const unsettled = ^field.Mask(0)

const (
	sleepMarginM   = 0.5   // room for noise of the position
	longestSleepNs = 400e6 // heading and zones are looked at again after this
)
