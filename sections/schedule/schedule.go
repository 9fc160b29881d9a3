// Package schedule says when a controller is called: with each fix when it arrives,
// and tick by tick.
package schedule

import (
	"liftbench/nmea"
	"liftbench/sections"
)

// Schedule says at which instants a controller is called, by the receiver's
// clock, so that a bench that races through a log and a machine that waits for
// the same fixes decide the same, bit for bit. What is decided hangs on
// nothing but the fixes and when each arrived.
//
// Ticks lie at whole multiples of TickNs since 1970, from the first fix on. A
// fix is given to the controller when all ticks before its arrival have been
// run, and followed by a tick at that very instant: what it changes is
// commanded at once, not at the next whole multiple.
//
//	at := s.ArrivalNs(&fix)
//	for t, ok := s.Next(at); ok; t, ok = s.Next(at) {
//		out = c.Tick(t, out)
//	}
//	c.Fix(&fix)
//	out = c.Tick(s.Take(at), out)
type Schedule struct {
	tickNs    int64
	latencyNs int64
	nextNs    int64 // next tick on the grid
	lastNs    int64 // time of the last call
	stillNs   int64 // no tick from here on until the next fix
	started   bool
	agreedNs  int64 // arrival of the last fix whose age was plausible; 0 = none yet
}

// New returns the schedule of a controller with these settings.
func New(set *sections.Settings) Schedule {
	return Schedule{tickNs: set.TickNs, latencyNs: set.LatencyNs}
}

// silenceNs is how long ticks go on without a fix: longer than any fail-safe
// takes, after which nothing can happen.
const silenceNs = 180e9

// Next passes the next tick on the grid that lies before beforeNs and returns
// its time; ok is false when there is none.
func (s *Schedule) Next(beforeNs int64) (tickNs int64, ok bool) {
	t, ok := s.Upcoming()
	if !ok || t >= beforeNs {
		return 0, false
	}
	s.lastNs = t
	s.nextNs = t + s.tickNs
	return t, true
}

// Upcoming returns the time of the next tick on the grid; ok is false before
// the first fix and after three minutes of silence.
func (s *Schedule) Upcoming() (tickNs int64, ok bool) {
	return s.nextNs, s.started && s.nextNs < s.stillNs
}

// Take notes that a fix was given to the controller at atNs, and returns the
// time of the tick that must follow at once: atNs, or the last tick's where
// that is later.
func (s *Schedule) Take(atNs int64) (tickNs int64) {
	if !s.started {
		s.started, s.lastNs = true, atNs
	}
	s.lastNs = max(s.lastNs, atNs)
	s.nextNs = (s.lastNs/s.tickNs + 1) * s.tickNs
	s.stillNs = s.lastNs + silenceNs
	return s.lastNs
}

// ArrivalNs returns when a fix reaches the controller, on the receiver's
// clock: when its last sentence did, where the stream has arrival times and
// they agree with the receiver's, otherwise LatencyNs after the instant it is
// valid for. Ask it once for every fix, in order.
//
// Once the host's clock and the receiver's have agreed, an age of up to a minute is
// taken for what it is: fixes were held up somewhere and come all at once, and the
// clocks have not changed.
func (s *Schedule) ArrivalNs(f *nmea.Fix) int64 {
	age := f.ReadyNs - f.TimeNs
	if saidNs := age - f.ClockSetNs; f.ReadyNs != 0 && f.ClockSetNs != 0 && (age < 0 || age > maxLatencyNs) && saidNs >= 0 && saidNs <= maxLatencyNs {
		// The host's clock agrees with what the receiver's was set to.
		return f.ReadyNs - f.ClockSetNs
	}
	switch {
	case f.ReadyNs == 0 || age < 0 || age > stallNs:
	case age <= maxLatencyNs:
		s.agreedNs = f.ReadyNs
		return f.ReadyNs
	case s.agreedNs != 0 && f.ReadyNs >= s.agreedNs && f.ReadyNs-s.agreedNs <= age+stallNs:
		return f.ReadyNs
	}
	return f.TimeNs + s.latencyNs
}

// stallNs is how long a stall may last before the host's clock is thought to
// have been set instead.
const stallNs = 60e9

// MeasuredAgeNs returns the age of a fix on arrival, where the stream has an
// arrival time and the host's clock agrees with the receiver's, as that was at
// first or as it was set.
func MeasuredAgeNs(f *nmea.Fix) (ageNs int64, ok bool) {
	ageNs = f.ArrivalNs - f.TimeNs
	if saidNs := ageNs - f.ClockSetNs; (ageNs < 0 || ageNs > maxLatencyNs) && saidNs >= 0 && saidNs <= maxLatencyNs {
		ageNs = saidNs
	}
	return ageNs, f.ArrivalNs != 0 && ageNs >= 0 && ageNs <= maxLatencyNs
}

// maxLatencyNs is the greatest age on arrival that is believed of clocks that
// have not agreed yet.
const maxLatencyNs = 2e9
