// The engine's clock.

package live

import "time"

// clock tells the receiver's UTC by the host's: the host's wall clock at the
// start, or what the receiver said where the two disagree, carried on by the
// host's monotonic clock. So whoever sets the host's clock meanwhile changes
// nothing.
type clock struct {
	now   func() time.Time
	from  time.Time
	utcNs int64 // at from
	pace  float64
}

func newClock(now func() time.Time, pace float64) clock {
	t := now()
	return clock{now: now, from: t, utcNs: t.UnixNano(), pace: pace}
}

// nowNs returns the receiver's UTC, ns since 1970.
func (c *clock) nowNs() int64 { return c.utcNs + c.paced(c.now().Sub(c.from)) }

// paced is how far the clock goes in so much of the host's time. At pace 1 it
// is exact.
func (c *clock) paced(d time.Duration) int64 {
	if c.pace == 1 {
		return int64(d)
	}
	return int64(float64(d) * c.pace)
}

// set makes it utcNs now.
func (c *clock) set(utcNs int64) { c.from, c.utcNs = c.now(), utcNs }

// run makes it go on at pace times the host's.
func (c *clock) run(pace float64) {
	c.set(c.nowNs())
	c.pace = pace
}

// until returns how long the host has to wait for utcNs.
func (c *clock) until(utcNs int64) time.Duration {
	return time.Duration(float64(utcNs-c.nowNs()) / c.pace)
}
