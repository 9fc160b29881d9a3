// When the position is lost, because a fix is too old or too bad, and what the
// fail-safe then does.

package sections

import (
	"math"

	"liftbench/nmea"
)

// lost reports whether the position is lost at nowNs, and notes since when: the newest
// good fix is older than MaxAgeNs, or a fix of too low quality came, or one that
// contradicts its speed.
func (c *Controller) lost(nowNs int64) bool {
	if c.s.LostNs == 0 && c.s.Estimator.State.Started && nowNs > c.s.FixNs+c.set.MaxAgeNs {
		c.s.LostNs, c.s.LostReason = c.s.FixNs+c.set.MaxAgeNs, LostFix
	}
	return c.s.LostNs != 0
}

// FailedSafe reports whether the fail-safe has been reached since the position was
// lost.
func (c *Controller) FailedSafe() bool { return c.s.LostNs != 0 && c.s.FailedSafe }

// failSafe does what is set for a lost position, once, and sleeps until the
// next good fix.
func (c *Controller) failSafe(nowNs int64, out []Setpoint) []Setpoint {
	if !c.s.FailedSafe {
		c.s.FailedSafe = true
		c.s.Counts.FailSafe++
		if c.s.LostReason == LowQuality {
			c.s.Counts.FailSafeLowQuality++
		}
		if c.s.LostReason == FrozenFix {
			c.s.Counts.FailSafeFrozen++
		}
	}
	c.s.SleepNs = math.MaxInt64
	if c.set.FailSafe == FailSafeHold {
		return out
	}
	return c.raiseAll(nowNs, c.s.LostReason, out)
}

// frozen counts a position that contradicts its velocities, and reports whether it
// is one. It is as good as lost.
func (c *Controller) frozen(f *nmea.Fix, eastM, northM float64) bool {
	if !c.s.Frozen.Add(f, eastM, northM) {
		return false
	}
	c.s.Counts.Frozen++
	if c.s.LostNs == 0 {
		c.s.LostNs, c.s.LostReason = f.TimeNs, FrozenFix
		c.s.SleepNs = 0
	}
	c.watchDeparture(f)
	return true
}
