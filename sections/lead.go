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
func (c *Controller) move(i int, on bool, dueNs int64) {
	s := &c.section[i]
	s.On, s.DueNs = on, dueNs
	if dueNs < s.Turn.AtNs {
		s.Turn = s.Before
		c.works(s)
		return
	}
	at := turn{AtNs: dueNs + c.deadNs(i, on)}
	// It goes the other way until then.
	at.Share = c.shareAt(s, !on, at.AtNs)
	s.Before, s.Turn = s.Turn, at
	c.works(s)
}

// deadNs is the dead time of section i, down (on) or up.
func (c *Controller) deadNs(i int, on bool) int64 {
	t := &c.gate.Machine.Sections[i].Trim
	if on {
		return c.set.DropLead.DeadNs + t.DropNs
	}
	return c.set.LiftLead.DeadNs + t.LiftNs
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
func (c *Controller) dropLeadNs(i int, crossNs int64) int64 {
	l, s, deadNs := &c.set.DropLead, &c.section[i], c.deadNs(i, true)
	if l.TravelNs == 0 || c.shareAt(s, false, crossNs-l.MoveNs) >= 1 {
		return deadNs + l.MoveNs
	}
	d, u := float64(l.TravelNs), c.travelNs(s, false)
	e := 1 - float64(l.MoveNs)/d
	after := (float64(crossNs-s.Turn.AtNs) - float64((s.Turn.Share-e)*d)) / (1 + d/u)
	return deadNs + max(crossNs-s.Turn.AtNs-int64(after), 0)
}

// liftLeadNs is how long before crossNs a section that is in work, or on its way
// down, must be commanded up to pass the effective depth at crossNs: dropLeadNs
// turned over, with the stroke from the very bottom as expected beside the others.
func (c *Controller) liftLeadNs(i int, crossNs int64) int64 {
	l, s, deadNs := &c.set.LiftLead, &c.section[i], c.deadNs(i, false)
	if l.TravelNs == 0 || c.shareAt(s, true, crossNs-s.StrokeNs) <= 0 {
		return deadNs + s.StrokeNs
	}
	d, u := float64(c.set.DropLead.TravelNs), c.travelNs(s, false)
	e := float64(l.MoveNs) / float64(l.TravelNs)
	after := (float64(crossNs-s.Turn.AtNs) - float64((e-s.Turn.Share)*u)) / (1 + u/d)
	return deadNs + max(crossNs-s.Turn.AtNs-int64(after), 0)
}

// leadNs is how long before crossNs section i must be commanded.
func (c *Controller) leadNs(i int, crossNs int64) int64 {
	if c.section[i].On {
		return c.liftLeadNs(i, crossNs)
	}
	return c.dropLeadNs(i, crossNs)
}

// servesNs is the crossing that a drop of section i commanded at dueNs is in time for.
func (c *Controller) servesNs(i int, dueNs int64) int64 {
	l, s := &c.set.DropLead, &c.section[i]
	at := dueNs + c.deadNs(i, true)
	if l.TravelNs == 0 || at <= s.Turn.AtNs {
		return at + l.MoveNs
	}
	e := 1 - float64(l.MoveNs)/float64(l.TravelNs)
	return at + int64(float64(l.TravelNs)*max(0, c.shareAt(s, false, at)-e))
}
