// Sentences of one instant become one Fix: which belong together, and when no
// more are to come.

package epoch

import "liftbench/nmea"

// Counts says what an Assembler made of the sentences.
type Counts struct {
	Fixes       int64 // epochs given out
	Undated     int64 // of them, those before any date was known
	Duplicates  int64 // epochs whose time came again, from the same talker
	OutOfOrder  int64 // times dropped for being earlier than one already seen
	NotBelieved int64 // epochs dropped for a time far ahead that no others bore out
	WrongDates  int64 // epochs used whose date was not that of the day they came on
	ClockSets   int64 // times that the receiver's clock was believed to have been set
	Untimed     int64 // position sentences dropped for having no time
	Late        int64 // sentences dropped because their epoch, which had none of their type, was already given out
}

// Assembler puts the sentences of one instant together into one Fix. The zero
// value is ready. Give it every sentence by Add, and take the fixes by Next
// until it returns false before the next Add; Flush at the end.
//
// # What belongs together
//
// Sentences with a time (GGA, GNS, RMC, GLL, GST, ZDA) belong to the epoch of
// that time, in whatever order they come and whatever their talker: GPGGA and
// GLGGA of one time are one epoch. Those without (VTG, HDT, THS, ROT, GSA)
// belong to the epoch that is open, which the last timed sentence opened; if
// arrival times are known and show a pause before such a sentence (more than
// 0.6 of the time between epochs), it leads the next epoch. An epoch is given
// out only if it has a GGA, GNS, RMC or GLL; a ZDA alone only sets the clock.
//
// Where two sentences of an epoch say the same, the order of precedence is:
// position GGA, GNS, RMC, GLL; quality, height, HDOP, satellites and age GGA,
// GNS (HDOP then GSA; quality then RMC, GLL by their mode); speed and course
// RMC, VTG. Of equals the first one counts; of satellites the most. Status V
// in RMC, GLL or GNS means no fix, whatever GGA says.
//
// # When an epoch ends
//
// It ends when a sentence of a later time arrives, or at Flush. With Live it
// ends as soon as it holds what the epochs at the same place in the second
// held before, so that no waiting is added.
//
// # Time
//
// Time is taken on across midnight. Dates come from RMC and ZDA, unless they
// say that they are void; until the first one fixes are not Dated, and count
// from the midnight before the first; after it all are. Epochs come out in
// strictly increasing time: one up to two seconds earlier is dropped. A time
// further back, or far ahead, is not believed until several epochs agree: see
// timeline.
type Assembler struct {
	// Live closes an epoch as soon as it is complete by what was learned of
	// the stream. What comes too late for it is dropped and counted, and the
	// lesson is unlearned. Without it no sentence is ever lost.
	Live bool

	nowNs int64 // arrival of the sentence that was added last
	open  bool
	cur   epoch
	begun bool  // last is one
	last  epoch // the last epoch given out

	leads    bool
	next     epoch // untimed sentences that lead the next epoch
	heardNs  int64 // arrival of the sentence before
	hasClock bool
	clockNs  int64 // time of the last ZDA that was of no epoch
	dated    bool  // some sentence gave a date

	line     timeline
	suspect  epoch // of a time that is not believed yet
	doubting bool  // suspect is open
	aside    bool  // the last timed sentence was of suspect

	hasDropped bool
	droppedNs  int64 // last time that was out of order, so that an epoch counts once

	cycle  cycle
	ready  []nmea.Fix // complete; those from taken on wait for Next
	taken  int
	counts Counts
}

const (
	nsPerSecond int64 = 1e9
	nsPerDay    int64 = 86400 * nsPerSecond
	// newDayNs is how far back a time without date must be to be tomorrow's.
	newDayNs = 3600 * nsPerSecond
)

// Counts returns what was found so far.
func (a *Assembler) Counts() Counts { return a.counts }

// Next takes the next complete fix.
func (a *Assembler) Next(f *nmea.Fix) bool {
	if a.taken == len(a.ready) {
		return false
	}
	*f = a.ready[a.taken]
	a.taken++
	if a.taken == len(a.ready) {
		a.ready, a.taken = a.ready[:0], 0
	}
	return true
}

// Flush closes the epoch that is open: nothing more is to come for it.
func (a *Assembler) Flush() {
	if a.doubting {
		a.closeSuspect()
	}
	if a.open {
		a.close()
	}
	a.dismiss()
}

// Add puts one sentence in. It completes at most two fixes.
func (a *Assembler) Add(s *nmea.Sentence) {
	a.nowNs = s.ArrivalNs
	switch {
	case s.HasTime():
		a.addTimed(s)
	case bearsPosition(s):
		a.addPositionWithoutTime(s)
	case s.Type != nmea.ZDA:
		a.addUntimed(s)
	}
	a.heard(s.ArrivalNs)
}

// heard notes that a sentence arrived, decoded or not: the stream did not
// pause.
func (a *Assembler) heard(arrivalNs int64) { a.heardNs = arrivalNs }

// addTimed finds the epoch of a sentence that has a time.
func (a *Assembler) addTimed(s *nmea.Sentence) {
	if a.open && a.cur.sameTime(s) {
		a.aside = false
		a.put(s)
		return
	}
	if s.Type == nmea.ZDA {
		a.setClock(s)
		return
	}
	refNs, known := a.newest()
	if !known {
		a.start(a.resolve(s), s.TimeOfDayNs)
		a.put(s)
		return
	}
	aheadNs := a.line.aheadNs(refNs, s.TimeOfDayNs)
	switch timeNs, gap := a.line.gap(refNs, aheadNs, s.ArrivalNs); {
	case aheadNs <= 0 && aheadNs >= -nearNs:
		a.dropStraggler(s, refNs+aheadNs)
	case aheadNs > 0 && aheadNs <= a.line.nearNs():
		a.start(refNs+aheadNs, s.TimeOfDayNs)
		a.put(s)
	case gap:
		a.start(timeNs, s.TimeOfDayNs)
		a.put(s)
	default:
		a.doubt(s)
	}
}

// newest returns the time of the newest epoch that is believed, or of a ZDA
// that went on from it.
func (a *Assembler) newest() (timeNs int64, known bool) {
	switch {
	case a.open:
		timeNs = a.cur.fix.TimeNs
	case a.begun:
		timeNs = a.last.fix.TimeNs
	default:
		return 0, false
	}
	if a.hasClock {
		timeNs = max(timeNs, a.clockNs)
	}
	return timeNs, true
}

// setClock takes a ZDA that is of no open epoch. One whose time does not go on
// from the epochs before says nothing.
func (a *Assembler) setClock(s *nmea.Sentence) {
	refNs, known := a.newest()
	if !known {
		a.clockNs, a.hasClock = a.resolve(s), true
		a.dated = a.dated || s.HasDate()
		return
	}
	aheadNs := a.line.aheadNs(refNs, s.TimeOfDayNs)
	if aheadNs < -nearNs || aheadNs > a.line.nearNs() {
		return
	}
	timeNs := refNs + aheadNs
	if s.HasDate() {
		offNs := wholeDays(s.DateNs + s.TimeOfDayNs - timeNs - a.line.setNs)
		if !a.dated {
			a.dated = true
			timeNs += offNs
			a.line.forgetAges()
		} else {
			a.vote(offNs)
		}
	}
	a.clockNs, a.hasClock = max(timeNs, refNs), true
}

// vote weighs a date that is off by so much.
func (a *Assembler) vote(offNs int64) {
	if offNs != 0 {
		a.counts.WrongDates++
	}
	if a.line.vote(offNs) {
		a.counts.ClockSets++
	}
}

// resolve returns the receiver's time of s in full. Without a date in the
// sentence the day is the one that puts it up to one hour before, or less than
// 23 hours after, the last time known.
func (a *Assembler) resolve(s *nmea.Sentence) int64 {
	if saysDate(s) {
		return s.DateNs + s.TimeOfDayNs
	}
	ref, known := a.newest()
	switch {
	case known:
		ref += a.line.setNs
	case a.hasClock:
		ref = a.clockNs
	default:
		return s.TimeOfDayNs
	}
	t := ref - nmea.TimeOfDayNs(ref) + s.TimeOfDayNs
	if t < ref-newDayNs {
		return t + nsPerDay
	}
	if t >= ref+nsPerDay-newDayNs {
		return t - nsPerDay
	}
	return t
}

// dropStraggler drops a sentence of a time that has passed.
func (a *Assembler) dropStraggler(s *nmea.Sentence, timeNs int64) {
	switch {
	case a.begun && timeNs == a.last.fix.TimeNs && !a.last.seen.has(s):
		a.late()
	case a.begun && timeNs == a.last.fix.TimeNs:
		if !a.last.repeated {
			a.last.repeated = true
			a.counts.Duplicates++
		}
	case !a.hasDropped || a.droppedNs != timeNs:
		a.droppedNs, a.hasDropped = timeNs, true
		a.counts.OutOfOrder++
	}
}

// late counts a sentence that came when its epoch was closed, and has that
// place in the cycle learned anew.
func (a *Assembler) late() {
	a.counts.Late++
	a.cycle.unlearn(a.last.fix.TimeNs)
}

// addPositionWithoutTime places a GGA, GNS, RMC or GLL whose time is empty, as
// receivers send before they have a fix: in the open epoch unless it has one
// of its type, else at the time of the last ZDA if that is a new one.
func (a *Assembler) addPositionWithoutTime(s *nmea.Sentence) {
	if a.open && !a.cur.seen.hasType(s.Type) {
		a.put(s)
		return
	}
	if !a.hasClock || a.open && a.clockNs <= a.cur.fix.TimeNs || a.begun && a.clockNs <= a.last.fix.TimeNs {
		a.counts.Untimed++
		return
	}
	a.start(a.clockNs, nmea.TimeOfDayNs(a.clockNs+a.line.setNs))
	a.put(s)
}

// addUntimed places a VTG, HDT, THS, ROT or GSA.
func (a *Assembler) addUntimed(s *nmea.Sentence) {
	switch {
	case a.leadsNext(s):
		if !a.leads {
			a.next.reset()
			a.leads = true
		}
		a.next.merge(s, true)
	case a.aside:
		if a.doubting {
			a.suspect.merge(s, false)
			a.endSuspect()
		}
	case a.open:
		a.put(s)
	case a.begun && s.Type != nmea.GSA && !a.last.seen.hasType(s.Type):
		a.late()
	}
}

// leadsNext reports whether a pause in the arrival times sets s apart from the
// sentence before it. Once one does, so do all up to the next epoch. Times in
// whole seconds are too coarse to tell.
func (a *Assembler) leadsNext(s *nmea.Sentence) bool {
	if a.leads {
		return true
	}
	if s.ArrivalNs == 0 || a.heardNs == 0 || a.cycle.periodNs == 0 ||
		s.ArrivalNs%nsPerSecond == 0 && a.heardNs%nsPerSecond == 0 {
		return false
	}
	return (s.ArrivalNs-a.heardNs)*10 > a.cycle.periodNs*6
}

// start closes the epoch that is open and opens the next, whose time is
// believed: those that were held are not.
func (a *Assembler) start(timeNs, timeOfDayNs int64) {
	if a.open {
		a.close()
	}
	a.dismiss()
	a.aside = false
	if !a.begun && a.hasClock && (a.clockNs-timeNs > nearNs || timeNs-a.clockNs > nearNs) {
		a.hasClock = false
	}
	if a.leads {
		a.cur, a.leads = a.next, false
	} else {
		a.cur.reset()
	}
	a.open = true
	if a.begun {
		a.cycle.pace(timeNs - a.last.fix.TimeNs)
	}
	a.cur.timeOfDayNs = timeOfDayNs
	a.cur.fix.TimeNs = timeNs
	a.cur.fix.Dated = a.dated
}

// put adds a sentence to the open epoch.
func (a *Assembler) put(s *nmea.Sentence) {
	e := &a.cur
	if s.HasTime() && !e.repeated && e.seen.has(s) {
		e.repeated = true
		a.counts.Duplicates++
	}
	if saysDate(s) && !e.hasDate {
		e.hasDate = true
		offNs := wholeDays(s.DateNs + e.timeOfDayNs - e.fix.TimeNs - a.line.setNs)
		if !a.dated {
			e.fix.TimeNs += offNs
			a.line.forgetAges()
		} else {
			a.vote(offNs)
		}
		e.fix.Dated, a.dated = true, true
	}
	e.merge(s, false)
	if a.Live && a.cycle.complete(e) {
		a.close()
	}
}

// close gives the open epoch out, if it has a position sentence and its time,
// with the date that came within it, is a new one.
func (a *Assembler) close() {
	e := &a.cur
	a.open = false
	switch {
	case !e.position:
		return
	case a.begun && e.fix.TimeNs == a.last.fix.TimeNs:
		a.counts.Duplicates++
		return
	case a.begun && e.fix.TimeNs < a.last.fix.TimeNs:
		a.counts.OutOfOrder++
		return
	}
	a.give(e)
}

// give gives a complete epoch out.
func (a *Assembler) give(e *epoch) {
	if e.void {
		e.fix.Quality = nmea.NoFix
	}
	e.fix.ReadyNs = a.nowNs
	e.fix.ClockSetNs = a.line.setNs
	a.cycle.learn(e)
	a.counts.Fixes++
	if !e.fix.Dated {
		a.counts.Undated++
	}
	a.ready = append(a.ready, e.fix)
	if a.begun && a.last.fix.Dated == e.fix.Dated {
		a.line.step(e.fix.TimeNs - a.last.fix.TimeNs)
	}
	a.line.goOn(&e.fix)
	a.last, a.begun = *e, true
}
