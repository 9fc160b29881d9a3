// Why a command came later than its lead asked for.

package sections

import (
	"liftbench/sections/enum"
	"liftbench/sections/motion"
)

// LateCause says why a command was given after its due time.
type LateCause uint8

const (
	// EstimateMoved: with the newest fix the crossing came out earlier than it
	// was predicted, by noise, braking, accelerating or steering.
	EstimateMoved LateCause = iota
	// ShortRun: the machine followed the rows, or left them, less than a lead
	// before the border, or a drop fell due within settlingNs of that: the straight
	// run was too short.
	ShortRun
	// LateFix: the position was lost, or the newest fix came later than the
	// ones before it.
	LateFix
	Stood          // the machine stood
	Backed         // it reversed, for which everything is lifted
	TooSlow        // it drove slower than Settings.MinSpeedMps
	ShortestTime   // Settings.ShortestUpNs or ShortestDownNs held the command back
	HysteresisHeld // Settings.HysteresisM held it back
	Operated       // the operator held the section, or had switched to manual
	NoMotionYet    // after the start, or a gap, the heading was not known yet

	// LateCauses is how many there are.
	LateCauses = int(NoMotionYet) + 1
)

// lateCauses are the words for each cause, as in metrics and files.
var lateCauses = []string{
	"estimate", "straight-run", "late-fix", "standing", "reversing", "slow", "shortest-time", "hysteresis", "operator", "no-heading",
}

// String returns the word for a cause.
func (c LateCause) String() string { return enum.Name(lateCauses, c) }

// AllLate is the number of late commands, whatever their cause.
func (c *Counts) AllLate() int64 {
	var n int64
	for _, of := range c.Late {
		n += of
	}
	return n
}

// settlingNs is how long the estimate takes to settle after a turn: 0.4 to 1.1 s by
// motion.TurnSettlingS, for bars of 6 and 9 m.
const settlingNs = 1e9

// hinder notes that nothing is decided at a border for now. The stand between
// reversing and going on is part of the reversing.
func (c *Controller) hinder(by LateCause) {
	if c.s.Hindered && c.s.HinderedBy == Backed && by == Stood {
		return
	}
	c.s.Hindered, c.s.HinderedBy = true, by
}

// unhinder notes that borders are decided on again, from nowNs on, and since
// when the zones that take part are the ones they are.
func (c *Controller) unhinder(nowNs int64) {
	if c.s.Hindered {
		c.s.Hindered, c.s.HinderedNs = false, nowNs
	}
	if c.s.Follow.Zones != c.s.SeenZones {
		c.s.SeenZones, c.s.ZonesNs = c.s.Follow.Zones, nowNs
	}
}

// lateCause returns why section i was not given its command at dueNs.
func (c *Controller) lateCause(m *motion.Motion, i int, dueNs, nowNs int64) LateCause {
	s := &c.section[i]
	switch {
	case dueNs < c.s.HinderedNs:
		return c.s.HinderedBy
	case s.HeldBy != EstimateMoved:
		return s.HeldBy
	case dueNs < c.s.ZonesNs || !s.On && dueNs < c.s.ZonesNs+settlingNs:
		return ShortRun
	}
	// Not a border but a zone that begins or ceases to take part.
	if now, then := viewAt(c, m, nowNs), viewAt(c, m, s.PendingNs); now.zones != then.zones {
		return ShortRun
	}
	if c.s.FixLate {
		return LateFix
	}
	return EstimateMoved
}

// timeFix notes whether a fix that came byNs after the one before it is late: by
// more than half the shorter of the two intervals before.
func (c *Controller) timeFix(byNs int64) {
	usual := min(c.s.IntervalsNs[0], c.s.IntervalsNs[1])
	c.s.FixLate = usual > 0 && byNs > usual+usual/2
	c.s.IntervalsNs[0], c.s.IntervalsNs[1] = c.s.IntervalsNs[1], byNs
}
