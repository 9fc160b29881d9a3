// This file counts for one section: what it does, what it should do, and what ground it
// has swept so far.

package score

// change is a change of the ideal or the actual work state.
type change struct {
	timeNs int64
	on     bool
	sure   bool // of an ideal one: sections.Gate.Sure was met before the next
}

// span is a stretch of time that a section spent on one kind of ground.
type span struct {
	ground   Ground
	from, to int64
}

// lane is one section on its way along the track.
type lane struct {
	yM, widthM float64

	on      bool     // actual work state
	changes []change // all actual changes from the track's first pose on
	next    int      // the first of changes that is still to come

	ideal        bool // ideal work state
	idealFirst   bool // the same at the track's first pose
	idealChanges []change

	// While the section is calm, no border can reach it and its shares stay the same.
	calmM   float64  // it is calm until walk.movedM has this value
	known   bool     // whether in and all are up to date
	in, all float64  // share inside the zones that take part, and inside any zone
	fresh   float64  // of in, what no earlier pass has worked
	since   odometer // reading up to which the swept ground is counted

	area  Areas
	now   span   // has no end yet
	spans []span // finished; only if strips are wanted
}

// book counts swept ground, of which the share in lies inside the zones that take part,
// the share all, at least as large, inside any zone, and the share fresh, at most in, where
// the section is missed if it is up.
func (l *lane) book(sweptM2, in, all, fresh float64) {
	if !l.on {
		l.area.PassedM2 += float64(sweptM2 * fresh)
		l.area.MissM2 += float64(sweptM2 * fresh)
		return
	}
	l.area.PassedM2 += float64(sweptM2 * in)
	l.area.WorkedM2 += float64(sweptM2)
	l.area.OverrunM2 += float64(sweptM2 * (1 - in))
	l.area.AcrossRowsM2 += float64(sweptM2 * (all - in))
}

// settle counts the ground swept in the calm since the last time, up to an odometer
// reading.
func (l *lane) settle(to odometer) {
	if l.known {
		l.book(l.widthM*((to.along-l.since.along)-float64(l.yM*(to.turn-l.since.turn))), l.in, l.all, l.fresh)
	}
	l.since = to
}

// until returns the instant of the next actual change, or timeNs if that is earlier.
func (l *lane) until(timeNs int64) int64 {
	if l.next < len(l.changes) {
		return min(timeNs, l.changes[l.next].timeNs)
	}
	return timeNs
}

// change carries out the actual changes up to timeNs and reports whether there were any.
func (l *lane) change(timeNs int64) bool {
	from := l.next
	for l.next < len(l.changes) && l.changes[l.next].timeNs <= timeNs {
		l.on = l.changes[l.next].on
		l.next++
	}
	return l.next > from
}

// observe notes the ideal state at timeNs, which may be a change, and whether it is
// sure there.
func (l *lane) observe(timeNs int64, ideal, sure bool) {
	if ideal != l.ideal {
		l.ideal = ideal
		l.idealChanges = append(l.idealChanges, change{timeNs: timeNs, on: ideal})
	}
	if n := len(l.idealChanges); sure && n > 0 {
		l.idealChanges[n-1].sure = true
	}
}

// ground returns the kind of ground on which at least half of the section's line lies.
func (l *lane) ground(in, all, fresh float64) Ground {
	switch {
	case l.on && in >= 0.5:
		return Worked
	case l.on && all >= 0.5:
		return AcrossRows
	case l.on:
		return Overrun
	case fresh >= 0.5:
		return Miss
	}
	return passedBy
}

// enter notes that the section is on ground g from timeNs on. The span before ends there.
func (l *lane) enter(timeNs int64, g Ground) {
	if g == l.now.ground {
		return
	}
	l.closeSpan(timeNs)
	l.now = span{ground: g, from: timeNs}
}

// closeSpan ends the current span at timeNs and keeps it, if there is anything to draw.
func (l *lane) closeSpan(timeNs int64) {
	if l.now.ground != passedBy && timeNs > l.now.from {
		l.now.to = timeNs
		l.spans = append(l.spans, l.now)
	}
}
