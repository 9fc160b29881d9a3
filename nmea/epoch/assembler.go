// Sentences of one instant become one fix: which sentences belong together, and
// when an epoch is complete.

package epoch

import "liftbench/nmea"

const (
	nsPerSecond int64 = 1e9
	nsPerDay    int64 = 86400 * nsPerSecond
)

// Counts is how many epochs and sentences an Assembler returned or dropped, by
// reason.
type Counts struct {
	Fixes       int64 // epochs returned
	Undated     int64 // epochs returned before any date was known
	Duplicates  int64 // epochs whose time came a second time from the same talker
	OutOfOrder  int64 // times dropped because an equal or later time came before
	NotBelieved int64 // epochs dropped because their time was far ahead and too few others agreed with it
	WrongDates  int64 // epochs returned although their date was wrong; they keep the day of the epochs around them
	ClockSets   int64 // times that the receiver's clock was set
	Untimed     int64 // GGA, GNS, RMC and GLL dropped because they have no time and no ZDA gave one
	Late        int64 // sentences dropped because they came after their epoch had been returned
}

// Assembler combines the sentences of one instant into one nmea.Fix. The zero
// value is ready to use. Pass each sentence to Add, then call Next until it
// returns false. At the end of the stream call Flush, then Next again.
//
// # Which sentences belong together
//
// Sentences with a time of day (GGA, GNS, RMC, GLL, GST, ZDA) belong to the
// epoch of that time, in any order and from any talker: GPGGA and GLGGA of one
// time are one epoch. Sentences without a time (VTG, HDT, THS, ROT, GSA) belong
// to the epoch of the last sentence that had one. There is one exception: where
// arrival times show a pause before such a sentence of more than 0.6 of the
// time between epochs, it belongs to the epoch that follows.
//
// An epoch is returned only if it has a GGA, GNS, RMC or GLL. A ZDA that
// belongs to no epoch sets the clock and nothing else.
//
// Where two sentences of an epoch give the same quantity, the first of this
// list counts:
//
//   - position: GGA, GNS, RMC, GLL
//   - quality: GGA, GNS, then RMC and GLL by their mode letter
//   - height, geoid height and age of corrections: GGA, GNS
//   - HDOP: GGA, GNS, GSA
//   - speed and course: RMC, VTG
//   - satellites: the largest number in any GGA or GNS
//
// Of two sentences of the same type the first counts. Status V in an RMC, GLL
// or GNS means that there is no fix, whatever quality GGA gives.
//
// # When an epoch is complete
//
// An epoch is complete when a sentence with a later time arrives, or at Flush.
// With Live set, it is complete as soon as it holds the same kinds of sentences
// as earlier epochs at the same place in the second, so that a controller does
// not wait for the next epoch.
//
// # Times and dates
//
// Time continues over midnight. Dates are taken from RMC and ZDA, but not from
// an RMC with status V. Until the first date, fixes are not Dated and their
// time counts from the midnight before the first fix; all later fixes are
// Dated.
//
// Epochs are returned in strictly increasing time. An epoch up to two seconds
// earlier than the newest one is dropped. A time further back, or far ahead, is
// believed only when several epochs in a row agree on it: see timeline.
type Assembler struct {
	// Live returns an epoch as soon as it holds what earlier epochs held. A
	// sentence that arrives after its epoch was returned is dropped and counted
	// as Late, and the Assembler then waits longer at that place in the second.
	// While Live is false no sentence is ever late.
	Live bool

	current     epoch // being assembled, its time believed
	currentOpen bool
	last        epoch // the last one returned
	hasLast     bool

	// Sentences without a time that arrived after a pause: the start of the
	// epoch to come.
	leading    epoch
	hasLeading bool

	suspect     epoch // being assembled, its time not believed yet
	suspectOpen bool
	toSuspect   bool // the last sentence with a time went to suspect

	arrivalNs         int64 // of the sentence being added
	previousArrivalNs int64 // of the sentence before it
	clockNs           int64 // time of the last ZDA that belonged to no epoch
	hasClock          bool
	dated             bool // a date is known
	hasDropped        bool
	droppedNs         int64 // the last time counted as out of order, so that an epoch counts once

	line  timeline
	cycle cycle

	ready    []nmea.Fix // complete fixes; the first returned of them Next has returned
	returned int
	counts   Counts
}

// Counts returns the counts so far.
func (a *Assembler) Counts() Counts { return a.counts }

// Next stores the next complete fix in f. It returns false when there is none.
func (a *Assembler) Next(f *nmea.Fix) bool {
	if a.returned == len(a.ready) {
		return false
	}
	*f = a.ready[a.returned]
	a.returned++
	if a.returned == len(a.ready) {
		a.ready, a.returned = a.ready[:0], 0
	}
	return true
}

// Flush completes the epoch being assembled, because no more sentences follow.
func (a *Assembler) Flush() {
	a.EndEpoch()
	a.dropHeld()
}

// EndEpoch completes the epoch being assembled, because its sender says that it is
// whole. More may follow, and what is not believed yet is kept for that.
func (a *Assembler) EndEpoch() {
	if a.suspectOpen {
		a.closeSuspect()
	}
	if a.currentOpen {
		a.closeCurrent()
	}
}

// Add adds one sentence. Take the fixes that it completes with Next.
func (a *Assembler) Add(s *nmea.Sentence) {
	a.arrivalNs = s.ArrivalNs
	switch {
	case s.HasTime():
		a.addTimed(s)
	case givesPosition(s):
		a.addPositionWithoutTime(s)
	case s.Type != nmea.ZDA:
		a.addUntimed(s)
	}
	a.noteArrival(s.ArrivalNs)
}

// noteArrival records when a sentence arrived, also of one that is not decoded:
// it ends a pause too.
func (a *Assembler) noteArrival(arrivalNs int64) { a.previousArrivalNs = arrivalNs }

// addTimed adds a sentence that has a time of day to its epoch, or drops it.
func (a *Assembler) addTimed(s *nmea.Sentence) {
	if a.currentOpen && a.current.sameTime(s) {
		a.toSuspect = false
		a.addToCurrent(s)
		return
	}
	if s.Type == nmea.ZDA {
		a.setClock(s)
		return
	}
	epochNs, known := a.newestEpoch()
	if !known {
		a.open(a.fullTime(s), s.TimeOfDayNs)
		a.addToCurrent(s)
		return
	}
	newestNs, _ := a.newestTime()
	aheadNs := a.line.aheadNs(newestNs, s.TimeOfDayNs)
	// A ZDA may come before the other sentences of its epoch: then the time is
	// ahead of the newest epoch, but not of the clock.
	past := aheadNs <= 0 && a.line.aheadNs(epochNs, s.TimeOfDayNs) <= 0
	switch timeNs, paused := a.line.timeAfterPause(newestNs, aheadNs, s.ArrivalNs); {
	case past && aheadNs >= -leastNearNs:
		a.dropPast(s, newestNs+aheadNs)
	case !past && aheadNs >= -leastNearNs && aheadNs <= a.line.nearNs():
		a.open(newestNs+aheadNs, s.TimeOfDayNs)
		a.addToCurrent(s)
	case paused:
		a.open(timeNs, s.TimeOfDayNs)
		a.addToCurrent(s)
	default:
		a.addToSuspect(s)
	}
}

// newestEpoch returns the time of the newest epoch that is believed.
func (a *Assembler) newestEpoch() (timeNs int64, known bool) {
	switch {
	case a.currentOpen:
		return a.current.fix.TimeNs, true
	case a.hasLast:
		return a.last.fix.TimeNs, true
	}
	return 0, false
}

// newestTime returns the time of the newest epoch that is believed, or that of
// a ZDA after it.
func (a *Assembler) newestTime() (timeNs int64, known bool) {
	if timeNs, known = a.newestEpoch(); !known {
		return 0, false
	}
	if a.hasClock {
		timeNs = max(timeNs, a.clockNs)
	}
	return timeNs, true
}

// setClock takes the time and date of a ZDA that belongs to no open epoch. It
// ignores one whose time does not follow on from the epochs before.
func (a *Assembler) setClock(s *nmea.Sentence) {
	newestNs, known := a.newestTime()
	if !known {
		a.clockNs, a.hasClock = a.fullTime(s), true
		a.dated = a.dated || s.HasDate()
		return
	}
	aheadNs := a.line.aheadNs(newestNs, s.TimeOfDayNs)
	if aheadNs < -leastNearNs || aheadNs > a.line.nearNs() {
		return
	}
	timeNs := newestNs + aheadNs
	if s.HasDate() {
		offNs := wholeDays(s.DateNs + s.TimeOfDayNs - timeNs - a.line.setNs)
		if !a.dated {
			a.dated = true
			timeNs += offNs
		} else {
			a.judgeDate(offNs)
		}
	}
	a.clockNs, a.hasClock = max(timeNs, newestNs), true
}

// judgeDate counts a date by how far it is off, in whole days as nanoseconds,
// and whether it shows that the receiver's clock was set.
func (a *Assembler) judgeDate(offNs int64) {
	if offNs != 0 {
		a.counts.WrongDates++
	}
	if a.line.judgeDate(offNs) {
		a.counts.ClockSets++
	}
}

// fullTime returns the time of s with its day, by the receiver's clock. Where s
// has no date, the day is the one that puts it at most one hour before, or less
// than 23 hours after, the last time known.
func (a *Assembler) fullTime(s *nmea.Sentence) int64 {
	if hasGoodDate(s) {
		return s.DateNs + s.TimeOfDayNs
	}
	lastNs, known := a.newestTime()
	switch {
	case known:
		lastNs += a.line.setNs
	case a.hasClock:
		lastNs = a.clockNs
	default:
		return s.TimeOfDayNs
	}
	const backNs = 3600 * nsPerSecond
	timeNs := lastNs - nmea.TimeOfDayNs(lastNs) + s.TimeOfDayNs
	if timeNs < lastNs-backNs {
		return timeNs + nsPerDay
	}
	if timeNs >= lastNs+nsPerDay-backNs {
		return timeNs - nsPerDay
	}
	return timeNs
}

// dropPast drops a sentence whose time is not after the newest, and counts why.
func (a *Assembler) dropPast(s *nmea.Sentence, timeNs int64) {
	switch {
	case a.hasLast && timeNs == a.last.fix.TimeNs && !a.last.kinds.has(s):
		a.countLate()
	case a.hasLast && timeNs == a.last.fix.TimeNs:
		if !a.last.repeated {
			a.last.repeated = true
			a.counts.Duplicates++
		}
	case !a.hasDropped || a.droppedNs != timeNs:
		a.droppedNs, a.hasDropped = timeNs, true
		a.counts.OutOfOrder++
	}
}

// countLate counts a sentence that arrived after its epoch was returned, and
// makes the Assembler wait longer at that place in the second.
func (a *Assembler) countLate() {
	a.counts.Late++
	a.cycle.closedTooEarly(a.last.fix.TimeNs)
}

// addPositionWithoutTime adds a GGA, GNS, RMC or GLL whose time is empty, as
// receivers send them before they have a fix. It belongs to the current epoch
// unless that has a sentence of its type; otherwise it opens an epoch at the
// time of the last ZDA, if no epoch has that time yet.
func (a *Assembler) addPositionWithoutTime(s *nmea.Sentence) {
	if a.currentOpen && !a.current.kinds.hasType(s.Type) {
		a.addToCurrent(s)
		return
	}
	if !a.hasClock || a.currentOpen && a.clockNs <= a.current.fix.TimeNs || a.hasLast && a.clockNs <= a.last.fix.TimeNs {
		a.counts.Untimed++
		return
	}
	a.open(a.clockNs, nmea.TimeOfDayNs(a.clockNs+a.line.setNs))
	a.addToCurrent(s)
}

// addUntimed adds a VTG, HDT, THS, ROT or GSA.
func (a *Assembler) addUntimed(s *nmea.Sentence) {
	switch {
	case a.isLeading(s):
		if !a.hasLeading {
			a.leading.reset()
			a.hasLeading = true
		}
		a.leading.merge(s, true)
	case a.toSuspect:
		if a.suspectOpen {
			a.suspect.merge(s, false)
			a.closeCompleteSuspect()
		}
	case a.currentOpen:
		a.addToCurrent(s)
	case a.hasLast && s.Type != nmea.GSA && !a.last.kinds.hasType(s.Type):
		a.countLate()
	}
}

// isLeading reports whether s, which has no time, belongs to the epoch to come:
// there was a pause in the arrival times before it, or before another sentence
// since the last one with a time. Arrival times in whole seconds are too coarse
// to show a pause.
func (a *Assembler) isLeading(s *nmea.Sentence) bool {
	if a.hasLeading {
		return true
	}
	if s.ArrivalNs == 0 || a.previousArrivalNs == 0 || a.cycle.periodNs == 0 ||
		s.ArrivalNs%nsPerSecond == 0 && a.previousArrivalNs%nsPerSecond == 0 {
		return false
	}
	return (s.ArrivalNs-a.previousArrivalNs)*10 > a.cycle.periodNs*6
}

// open closes the current epoch and opens the next one, whose time is believed.
// It drops the epochs held so far: they did not agree with it.
func (a *Assembler) open(timeNs, timeOfDayNs int64) {
	if a.currentOpen {
		a.closeCurrent()
	}
	a.dropHeld()
	a.toSuspect = false
	if !a.hasLast && a.clockNs-timeNs > leastNearNs { // the ZDA was of another time
		a.hasClock = false
	}
	if a.hasLeading {
		a.current, a.hasLeading = a.leading, false
	} else {
		a.current.reset()
	}
	a.currentOpen = true
	if a.hasLast {
		a.cycle.notePeriod(timeNs - a.last.fix.TimeNs)
	}
	a.current.timeOfDayNs = timeOfDayNs
	a.current.fix.TimeNs = timeNs
	a.current.fix.Dated = a.dated
}

// addToCurrent adds a sentence to the current epoch.
func (a *Assembler) addToCurrent(s *nmea.Sentence) {
	e := &a.current
	if s.HasTime() && !e.repeated && e.kinds.has(s) {
		e.repeated = true
		a.counts.Duplicates++
	}
	if hasGoodDate(s) && !e.hasDate {
		e.hasDate = true
		offNs := wholeDays(s.DateNs + e.timeOfDayNs - e.fix.TimeNs - a.line.setNs)
		if !a.dated {
			e.fix.TimeNs += offNs
		} else {
			a.judgeDate(offNs)
		}
		e.fix.Dated, a.dated = true, true
	}
	e.merge(s, false)
	if a.Live && a.cycle.complete(e) {
		a.closeCurrent()
	}
}

// closeCurrent returns the current epoch if it has a position sentence and its
// time, after any date in it, is later than the last one's.
func (a *Assembler) closeCurrent() {
	e := &a.current
	a.currentOpen = false
	switch {
	case !e.position:
		return
	case a.hasLast && e.fix.TimeNs == a.last.fix.TimeNs:
		a.counts.Duplicates++
		return
	case a.hasLast && e.fix.TimeNs < a.last.fix.TimeNs:
		a.counts.OutOfOrder++
		return
	}
	a.finish(e)
}

// finish makes a complete epoch ready for Next.
func (a *Assembler) finish(e *epoch) {
	if e.void {
		e.fix.Quality = nmea.NoFix
	}
	e.fix.ReadyNs = a.arrivalNs
	e.fix.ClockSetNs = a.line.setNs
	a.cycle.learn(e)
	a.counts.Fixes++
	if !e.fix.Dated {
		a.counts.Undated++
	}
	a.ready = append(a.ready, e.fix)
	if a.hasLast && a.last.fix.Dated == e.fix.Dated {
		a.line.noteInterval(e.fix.TimeNs - a.last.fix.TimeNs)
	}
	a.line.noteAge(&e.fix)
	a.last, a.hasLast = *e, true
}
