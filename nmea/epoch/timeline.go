// Which times are believed. One wrong date or time, from a damaged sentence or
// from a receiver that has no fix yet, must not move the whole stream.

package epoch

import "liftbench/nmea"

const (
	// leastNearNs is the least distance within which a time is near the newest
	// epoch. A later near time is believed at once; an earlier one is out of
	// order, and does not suggest that the clock was set.
	leastNearNs = 2 * nsPerSecond
	// mostNearNs limits that distance for receivers that send more rarely, and
	// limits the interval between two epochs that agree with each other.
	mostNearNs = 60 * nsPerSecond
	// believedAfter is how many epochs in a row must agree on a time or a date
	// that does not follow on from those before.
	believedAfter = 5
	// longestPauseNs is the longest pause of a log. If time goes ahead by more,
	// the receiver's clock was set.
	longestPauseNs = 366 * nsPerDay
)

// timeline judges whether the time of an epoch follows on from the epochs
// before it.
//
// It follows on if its time of day does. A date that is off by whole days does
// not matter then: the epoch is used on the day of its neighbours. Only when
// believedAfter dates in a row are off by the same number of days has the
// receiver's clock been set by that much.
//
// An epoch whose time of day does not follow on is held back. If the next epoch
// follows on from those before, what is held is dropped and counted. If
// believedAfter epochs in a row follow on from each other, all of them are
// returned and time continues from them. If they are later, the stream had a
// pause. If they are earlier, later by more than longestPauseNs, or later
// although by the arrival times no time passed, the receiver's clock was set:
// the stream's time then continues as if it had not been, and Fix.ClockSetNs
// gives the difference.
//
// A pause that the arrival times confirm is believed at once.
type timeline struct {
	setNs int64 // the receiver's time minus the stream's
	// intervalsNs is the time between the last three epochs, the older interval
	// first; 0 where it is unknown.
	intervalsNs [2]int64

	// The age of an epoch is its arrival time minus its own time.
	hasAge        bool
	leastAgeNs    int64 // the least age lately
	lastArrivalNs int64 // of the newest epoch

	wrongByNs int64   // by how much the last date was off
	agreeing  int     // how many dates in a row were off by the same
	held      []epoch // not believed yet; fix.TimeNs is the receiver's time
	heldDated bool    // one of held, or the suspect, has a date
}

// aheadNs returns how far a time of day is ahead of timeNs, a time of the
// stream: more than minus half a day, at most half a day.
func (l *timeline) aheadNs(timeNs, timeOfDayNs int64) int64 {
	d := nmea.TimeOfDayNs(timeOfDayNs - nmea.TimeOfDayNs(timeNs+l.setNs))
	if d > nsPerDay/2 {
		d -= nsPerDay
	}
	return d
}

// nearNs returns how far ahead of the newest epoch a time is believed at once:
// two and a half intervals, but at least two seconds and at most a minute.
func (l *timeline) nearNs() int64 {
	return max(leastNearNs, min(5*min(l.intervalsNs[0], l.intervalsNs[1])/2, mostNearNs))
}

// timeAfterPause returns the time of an epoch that came after a pause, with the
// day that its arrival time gives. It returns false where arrival times are
// missing, or where the epoch would have arrived sooner after its own time than
// any before it.
func (l *timeline) timeAfterPause(newestNs, aheadNs, arrivalNs int64) (timeNs int64, ok bool) {
	if !l.hasAge || arrivalNs == 0 {
		return 0, false
	}
	timeNs = newestNs + aheadNs
	if aheadNs <= 0 {
		timeNs += nsPerDay
	}
	latestNs := arrivalNs - l.leastAgeNs + leastNearNs
	if timeNs > latestNs {
		return 0, false
	}
	return timeNs + (latestNs-timeNs)/nsPerDay*nsPerDay, true
}

// noteAge learns the least age from an epoch that is returned. The first date
// moves all times ahead, so that the next age is less than all before and
// replaces them.
func (l *timeline) noteAge(f *nmea.Fix) {
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

// noteInterval records the time between two epochs.
func (l *timeline) noteInterval(ns int64) {
	l.intervalsNs[0], l.intervalsNs[1] = l.intervalsNs[1], ns
}

// judgeDate weighs a date that is off by offNs, whole days as nanoseconds. It
// returns true when so many agreed that the clock was set by as much.
func (l *timeline) judgeDate(offNs int64) (clockSet bool) {
	if offNs != l.wrongByNs {
		l.wrongByNs, l.agreeing = offNs, 0
	}
	l.agreeing++
	if offNs == 0 || l.agreeing < believedAfter {
		return false
	}
	l.setNs += offNs
	l.wrongByNs, l.agreeing = 0, 0
	return true
}

// addToSuspect adds a sentence whose time does not follow on from the epochs
// before.
func (a *Assembler) addToSuspect(s *nmea.Sentence) {
	e := &a.suspect
	if a.suspectOpen && e.timeOfDayNs != s.TimeOfDayNs {
		a.closeSuspect()
		if len(a.line.held) == 0 { // they are believed now: s may follow on from them
			a.addTimed(s)
			return
		}
	}
	if !a.suspectOpen {
		timeNs := a.fullTime(s)
		if n := len(a.line.held); n > 0 {
			before := &a.line.held[n-1]
			ns := nmea.TimeOfDayNs(s.TimeOfDayNs - before.timeOfDayNs)
			switch {
			case ns == 0 || ns > nsPerDay-leastNearNs:
				a.dropPast(s, a.fullTime(s))
				return
			case ns <= mostNearNs:
				timeNs = before.fix.TimeNs + ns
			default:
				a.dropHeld()
			}
		}
		if a.hasLeading {
			*e, a.hasLeading = a.leading, false
		} else {
			e.reset()
		}
		e.timeOfDayNs, e.fix.TimeNs, e.fix.Dated = s.TimeOfDayNs, timeNs, a.dated || a.line.heldDated
		a.suspectOpen = true
	}
	a.toSuspect = true
	if hasGoodDate(s) && !e.hasDate {
		e.hasDate = true
		a.dateHeld(wholeDays(s.DateNs + e.timeOfDayNs - e.fix.TimeNs))
	}
	e.merge(s, false)
	a.closeCompleteSuspect()
}

// dateHeld moves the suspect and the epochs held by offNs, to the day of the
// first date among them. Later dates do not move them.
func (a *Assembler) dateHeld(offNs int64) {
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

// closeCompleteSuspect closes the suspect if it is complete on a live stream.
func (a *Assembler) closeCompleteSuspect() {
	if a.Live && a.suspect.position && a.cycle.complete(&a.suspect) {
		a.closeSuspect()
	}
}

// closeSuspect holds the suspect, and returns all epochs held once they are
// enough to be believed.
func (a *Assembler) closeSuspect() {
	a.suspectOpen = false
	if !a.suspect.position {
		return
	}
	a.line.held = append(a.line.held, a.suspect)
	if len(a.line.held) < believedAfter {
		return
	}
	if a.currentOpen {
		a.closeCurrent()
	}
	a.believeHeld()
}

// believeHeld returns the epochs held: the stream had a pause, or the clock was
// set.
func (a *Assembler) believeHeld() {
	l := &a.line
	first := &l.held[0].fix
	aheadNs := first.TimeNs - l.setNs - a.last.fix.TimeNs
	arrived := l.hasAge && first.ArrivalNs != 0
	switch {
	case !a.hasLast || first.Dated && !a.dated:
		// It is the first date, and all times change their day.
	case arrived || aheadNs <= 0 || aheadNs > longestPauseNs:
		stepNs := min(l.intervalsNs[0], l.intervalsNs[1])
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
		a.finish(e)
	}
	l.held, l.heldDated = l.held[:0], false
	l.agreeing, l.wrongByNs = 0, 0
	a.hasClock = false
}

// dropHeld drops the suspect and the epochs held, because an epoch came that
// does not agree with them, and counts them.
func (a *Assembler) dropHeld() {
	if a.suspectOpen {
		a.suspectOpen = false
		if a.suspect.position {
			a.line.held = append(a.line.held, a.suspect)
		}
	}
	for i := range a.line.held {
		if a.hasLast && a.line.held[i].fix.TimeNs-a.line.setNs <= a.last.fix.TimeNs {
			a.counts.OutOfOrder++
		} else {
			a.counts.NotBelieved++
		}
	}
	a.line.held, a.line.heldDated = a.line.held[:0], false
}
