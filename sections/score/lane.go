// The books of one section: what it does, what it ought to do and the ground
// it has swept so far.

package score

// change is a change of a state at an instant: the ideal or the actual one.
type change struct {
	timeNs int64
	on     bool
}

// span is a stretch of time that a section spent on one kind of ground.
type span struct {
	ground   Ground
	from, to int64
}

// lane is one section on its way.
type lane struct {
	yM, widthM float64

	on      bool     // actual work state
	changes []change // every actual change after the track's first pose
	next    int      // first of changes that is still to come

	ideal        bool
	idealFirst   bool // at the track's first pose
	idealChanges []change

	// While no border can reach the section, its line lies wholly in or out.
	calmM   float64  // walk.movedM up to which no border can reach it
	known   bool     // whether in and all hold
	in, all float64  // share inside the zones that take part, and inside any
	since   odometer // settled up to here

	area  Areas
	now   span
	spans []span // only when strips were asked for
}

// book adds swept square metres of which the shares in and all (≥ in) lie
// inside the zones that take part and inside any zone.
func (l *lane) book(sweptM2, in, all float64) {
	l.area.PassedM2 += sweptM2 * in
	if !l.on {
		l.area.MissM2 += sweptM2 * in
		return
	}
	l.area.WorkedM2 += sweptM2
	l.area.OverrunM2 += sweptM2 * (1 - in)
	l.area.AcrossRowsM2 += sweptM2 * (all - in)
}

// settle books the calm way up to the odometer's reading.
func (l *lane) settle(to odometer) {
	if l.known {
		l.book(l.widthM*((to.along-l.since.along)-l.yM*(to.turn-l.since.turn)), l.in, l.all)
	}
	l.since = to
}

// until returns the next instant at which the actual state changes, but timeNs
// at the latest.
func (l *lane) until(timeNs int64) int64 {
	if l.next < len(l.changes) {
		return min(timeNs, l.changes[l.next].timeNs)
	}
	return timeNs
}

// change takes the actual changes due by timeNs and reports whether there were any.
func (l *lane) change(timeNs int64) bool {
	from := l.next
	for l.next < len(l.changes) && l.changes[l.next].timeNs <= timeNs {
		l.on = l.changes[l.next].on
		l.next++
	}
	return l.next > from
}

// observe notes a change of the ideal state.
func (l *lane) observe(timeNs int64, ideal bool) {
	if ideal != l.ideal {
		l.ideal = ideal
		l.idealChanges = append(l.idealChanges, change{timeNs, ideal})
	}
}

// ground is the kind of ground of at least half of the section's line.
func (l *lane) ground(in, all float64) Ground {
	switch {
	case l.on && in >= 0.5:
		return Worked
	case l.on && all >= 0.5:
		return AcrossRows
	case l.on:
		return Overrun
	case in >= 0.5:
		return Miss
	}
	return passedBy
}

// enter notes that the section is on ground g from timeNs on.
func (l *lane) enter(timeNs int64, g Ground) {
	if g == l.now.ground {
		return
	}
	l.closeSpan(timeNs)
	l.now = span{ground: g, from: timeNs}
}

// closeSpan ends the current span at timeNs.
func (l *lane) closeSpan(timeNs int64) {
	if l.now.ground != passedBy && timeNs > l.now.from {
		l.now.to = timeNs
		l.spans = append(l.spans, l.now)
	}
}
