// The lead: how long before a crossing a command is given. It depends on how high
// each tool is, which the controller knows from its own commands: a tool that has
// not gone all the way up is down again sooner.
//
// Height here is a share of the stroke, from 0 at working depth to 1 raised. T is
// the time of a whole stroke and M the time until the effective depth. Going up,
// the tool passes that depth at the height e = M/T; going down, at e = 1 - M/T.

package sections

// turn is when a valve moves and how high the tool then is.
type turn struct {
	AtNs  int64
	Share float64
}

// raised is the turn of a tool that was never commanded.
var raised = turn{Share: 1}

// move notes a command of section i: its valve moves one dead time after dueNs. If
// the opposite command comes within the dead time, before the valve has moved, the
// two cancel, and the tool goes on as if neither had been given.
func (c *Controller) move(s *sectionState, on bool, dueNs int64) {
	s.On, s.DueNs = on, dueNs
	if dueNs < s.Turn.AtNs {
		s.Turn = s.Before
		c.works(s)
		return
	}
	dead := c.set.LiftLead.DeadNs
	if on {
		dead = c.set.DropLead.DeadNs
	}
	at := turn{AtNs: dueNs + dead}
	// It goes the other way until then.
	at.Share = c.shareAt(s, !on, at.AtNs)
	s.Before, s.Turn = s.Turn, at
	c.works(s)
}

// shareAt returns how high the tool is at timeNs, not before its last turn, where
// it goes down (on) or up from that turn on.
func (c *Controller) shareAt(s *sectionState, on bool, timeNs int64) float64 {
	travelNs := c.travelNs(s, on)
	if travelNs <= 0 { // not known: it is there at once
		if on {
			return 0
		}
		return 1
	}
	gone := float64(timeNs-s.Turn.AtNs) / travelNs
	if on {
		return max(0, min(s.Turn.Share-gone, 1))
	}
	return max(0, min(s.Turn.Share+gone, 1))
}

// travelNs is how long the whole stroke down (on) or up takes: up as long as its
// last lift was stretched by others beside it. 0 = not known.
func (c *Controller) travelNs(s *sectionState, on bool) float64 {
	if on {
		return float64(c.set.DropLead.TravelNs)
	}
	l := &c.set.LiftLead
	return float64(l.TravelNs) * s.stretch(l)
}

// stretch is how many times as long as alone the last lift takes.
func (s *sectionState) stretch(l *Lead) float64 {
	if l.MoveNs == 0 {
		return 1
	}
	return float64(max(s.StrokeNs, l.MoveNs)) / float64(l.MoveNs)
}

// dropLeadNs is how long before crossNs a section that is up, or on its way up,
// must be commanded down to pass the effective depth at crossNs.
//
// Let the valve move at x. The tool is then at h(x), rising at 1/U from a at the
// turn t, and falls at 1/D: it passes e at x + (h(x) - e)·D = crossNs, so that
// (x - t)·(1 + D/U) = crossNs - t - (a - e)·D. One that is all the way up takes
// the whole lead.
func (c *Controller) dropLeadNs(s *sectionState, crossNs int64) int64 {
	l := &c.set.DropLead
	if l.TravelNs == 0 || c.shareAt(s, false, crossNs-l.MoveNs) >= 1 {
		return l.AloneNs()
	}
	d, u := float64(l.TravelNs), c.travelNs(s, false)
	e := 1 - float64(l.MoveNs)/d
	after := (float64(crossNs-s.Turn.AtNs) - float64((s.Turn.Share-e)*d)) / (1 + d/u)
	return l.DeadNs + max(crossNs-s.Turn.AtNs-int64(after), 0)
}

// liftLeadNs is how long before crossNs a section that is in work, or on its way
// down, must be commanded up to pass the effective depth at crossNs: dropLeadNs
// turned over, with the stroke from the very bottom as expected beside the others.
func (c *Controller) liftLeadNs(s *sectionState, crossNs int64) int64 {
	l := &c.set.LiftLead
	if l.TravelNs == 0 || c.shareAt(s, true, crossNs-s.StrokeNs) <= 0 {
		return l.DeadNs + s.StrokeNs
	}
	d, u := float64(c.set.DropLead.TravelNs), c.travelNs(s, false)
	e := float64(l.MoveNs) / float64(l.TravelNs)
	after := (float64(crossNs-s.Turn.AtNs) - float64((e-s.Turn.Share)*u)) / (1 + u/d)
	return l.DeadNs + max(crossNs-s.Turn.AtNs-int64(after), 0)
}

// leadNs is how long before crossNs section s must be commanded.
func (c *Controller) leadNs(s *sectionState, crossNs int64) int64 {
	if s.On {
		return c.liftLeadNs(s, crossNs)
	}
	return c.dropLeadNs(s, crossNs)
}

// servesNs is the crossing that a drop commanded at dueNs is in time for.
func (c *Controller) servesNs(s *sectionState, dueNs int64) int64 {
	l := &c.set.DropLead
	at := dueNs + l.DeadNs
	if l.TravelNs == 0 || at <= s.Turn.AtNs {
		return dueNs + l.AloneNs()
	}
	e := 1 - float64(l.MoveNs)/float64(l.TravelNs)
	return at + int64(float64(l.TravelNs)*max(0, c.shareAt(s, false, at)-e))
}
