// Which times are believed. One wrong date or time, by a damaged sentence or a
// receiver that has no fix yet, must not carry a stream away.

package epoch

import "liftbench/nmea"

const (
	// nearNs is how far ahead of the newest epoch the next one may be, at least,
	// to be believed at once; and how far back a time is out of order, not
	// another clock's.
	nearNs = 2 * nsPerSecond
	// farthestNearNs bounds that for receivers that speak less often, and what
	// may lie between two epochs that agree with each other.
	farthestNearNs = 60 * nsPerSecond
	// believedAfter is how many epochs must agree on a time or a date that does
	// not go on from those before.
	believedAfter = 5
	// longestGapNs is the longest that a log is taken to have paused; beyond, the
	// receiver's clock was set.
	longestGapNs = 366 * nsPerDay
)

// timeline is the time that epochs go on in, and what would contradict it.
//
// An epoch goes on in it if its time of day does. A date that is off by whole
// days then is not needed: the epoch is used, and only when believedAfter dates
// in a row are off alike has the receiver's clock been set by as much.
//
// An epoch whose time of day is elsewhere is held. It is let go, dropped and
// counted, when the next one goes on in the line; when believedAfter in a row
// agree with each other they are given out, and the line goes on from them.
// Where it goes ahead that was a gap in the stream; where it goes back, or
// ahead by more than longestGapNs, or ahead while the arrival times say that no
// time passed, the receiver's clock was set. Then the stream's time goes on as
// if it had not been, and Fix.ClockSetNs says by how much it was. A gap that
// arrival times bear out is believed at once.
type timeline struct {
	setNs int64    // the receiver's time less the stream's
	steps [2]int64 // the last two intervals between epochs; 0 = not known

	hasAge        bool
	leastAgeNs    int64 // from an epoch's instant to its arrival, lately
	lastArrivalNs int64 // of the newest epoch

	offNs int64 // that the last dates were off
	votes int   // how many in a row

	held      []epoch // of times not believed yet, fix.TimeNs the receiver's
	heldDated bool    // a date came within one of them
}

// aheadNs is how far a time of day is ahead of a time of the line, between half
// a day back and half a day ahead.
func (l *timeline) aheadNs(timeNs, timeOfDayNs int64) int64 {
	d := nmea.TimeOfDayNs(timeOfDayNs - nmea.TimeOfDayNs(timeNs+l.setNs))
	if d > nsPerDay/2 {
		d -= nsPerDay
	}
	return d
}

// nearNs is how far ahead the next epoch is believed at once.
func (l *timeline) nearNs() int64 {
	return max(nearNs, min(5*min(l.steps[0], l.steps[1])/2, farthestNearNs))
}

// gap returns the time of an epoch that comes after a pause by its arrival: ok
// is false where there is no telling, or where it would have come before its
// instant, by what was least so far.
func (l *timeline) gap(refNs, aheadNs, arrivalNs int64) (timeNs int64, ok bool) {
	if !l.hasAge || arrivalNs == 0 {
		return 0, false
	}
	timeNs = refNs + aheadNs
	if aheadNs <= 0 {
		timeNs += nsPerDay
	}
	latestNs := arrivalNs - l.leastAgeNs + nearNs
	if timeNs > latestNs {
		return 0, false
	}
	return timeNs + (latestNs-timeNs)/nsPerDay*nsPerDay, true
}

// goOn takes an epoch that is given out.
func (l *timeline) goOn(f *nmea.Fix) {
	if f.ArrivalNs == 0 {
		l.hasAge = false
		return
	}
	ageNs := f.ArrivalNs - f.TimeNs
	if !l.hasAge || ageNs < l.leastAgeNs {
		l.leastAgeNs, l.hasAge = ageNs, true
	} else {
		l.leastAgeNs += (ageNs - l.leastAgeNs) / 256 // clocks drift
	}
	l.lastArrivalNs = f.ArrivalNs
}

// step notes the time between two epochs.
func (l *timeline) step(ns int64) { l.steps[0], l.steps[1] = l.steps[1], ns }

// forgetAges: the days that epochs are counted in begin anew.
func (l *timeline) forgetAges() { l.hasAge = false }

// vote weighs a date that is off by so many whole days, in ns. It returns true
// when so many agreed that the clock is believed to have been set.
func (l *timeline) vote(offNs int64) (set bool) {
	if offNs != l.offNs {
		l.offNs, l.votes = offNs, 0
	}
	l.votes++
	if offNs == 0 || l.votes < believedAfter {
		return false
	}
	l.setNs += offNs
	l.offNs, l.votes = 0, 0
	return true
}

// doubt holds a sentence whose time does not go on from the epochs before.
func (a *Assembler) doubt(s *nmea.Sentence) {
	e := &a.suspect
	if a.doubting && e.timeOfDayNs != s.TimeOfDayNs {
		a.closeSuspect()
		if len(a.line.held) == 0 { // believed: s may go on from them
			a.addTimed(s)
			return
		}
	}
	if !a.doubting {
		timeNs := a.resolve(s)
		if n := len(a.line.held); n > 0 {
			before := &a.line.held[n-1]
			ns := nmea.TimeOfDayNs(s.TimeOfDayNs - before.timeOfDayNs)
			switch {
			case ns == 0 || ns > nsPerDay-nearNs:
				a.dropStraggler(s, a.resolve(s))
				return
			case ns <= farthestNearNs:
				timeNs = before.fix.TimeNs + ns
			default:
				a.dismiss()
			}
		}
		if a.leads {
			*e, a.leads = a.next, false
		} else {
			e.reset()
		}
		e.timeOfDayNs, e.fix.TimeNs, e.fix.Dated = s.TimeOfDayNs, timeNs, a.dated
		a.doubting = true
	}
	a.aside = true
	if saysDate(s) && !e.hasDate {
		e.hasDate = true
		a.dateSuspects(wholeDays(s.DateNs + e.timeOfDayNs - e.fix.TimeNs))
	}
	e.merge(s, false)
	a.endSuspect()
}

// dateSuspects moves what is held, and the epoch that is open, to the day that
// the first date among them says. Later ones are not needed.
func (a *Assembler) dateSuspects(offNs int64) {
	if a.line.heldDated {
		if offNs != 0 {
			a.counts.WrongDates++
		}
		return
	}
	a.line.heldDated = true
	a.suspect.fix.TimeNs += offNs
	a.suspect.fix.Dated = true
	for i := range a.line.held {
		a.line.held[i].fix.TimeNs += offNs
		a.line.held[i].fix.Dated = true
	}
}

// endSuspect closes a suspect that is complete.
func (a *Assembler) endSuspect() {
	if a.Live && a.suspect.position && a.cycle.complete(&a.suspect) {
		a.closeSuspect()
	}
}

// closeSuspect holds the suspect that is open, and believes all that are held
// when there are enough.
func (a *Assembler) closeSuspect() {
	a.doubting = false
	if !a.suspect.position {
		return
	}
	a.line.held = append(a.line.held, a.suspect)
	if len(a.line.held) < believedAfter {
		return
	}
	if a.open {
		a.close()
	}
	a.believe()
}

// believe gives out what is held: after a gap, or as the clock was set.
func (a *Assembler) believe() {
	l := &a.line
	first := &l.held[0].fix
	aheadNs := first.TimeNs - l.setNs - a.last.fix.TimeNs
	arrived := l.hasAge && first.ArrivalNs != 0
	switch {
	case !a.begun || first.Dated && !a.dated:
		l.forgetAges() // the first date: from now on days are counted from it
	case arrived || aheadNs <= 0 || aheadNs > longestGapNs:
		stepNs := min(l.steps[0], l.steps[1])
		if stepNs <= 0 {
			stepNs = nsPerSecond / 10
		}
		if arrived {
			stepNs *= max(1, (first.ArrivalNs-l.lastArrivalNs+stepNs/2)/stepNs)
		}
		l.setNs += aheadNs - stepNs
		a.counts.ClockSets++
	}
	a.dated = a.dated || first.Dated
	for i := range l.held {
		e := &l.held[i]
		e.fix.TimeNs -= l.setNs
		a.give(e)
	}
	l.held, l.heldDated = l.held[:0], false
	l.votes, l.offNs = 0, 0
	a.hasClock = false
}

// dismiss drops what is held: the epochs go on without it.
func (a *Assembler) dismiss() {
	if a.doubting {
		a.doubting = false
		if a.suspect.position {
			a.line.held = append(a.line.held, a.suspect)
		}
	}
	for i := range a.line.held {
		if a.begun && a.line.held[i].fix.TimeNs-a.line.setNs <= a.last.fix.TimeNs {
			a.counts.OutOfOrder++
		} else {
			a.counts.NotBelieved++
		}
	}
	a.line.held, a.line.heldDated = a.line.held[:0], false
	a.aside = false
}
