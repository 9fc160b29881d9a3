// What can be seen of an engine while it runs.

package live

import (
	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/sections"
)

// Status is a picture of an engine at one instant.
type Status struct {
	NowNs    int64    // the engine's clock: the receiver's UTC, ns since 1970
	Started  bool     // a fix was given to the controller
	Fix      nmea.Fix // the last one
	FixAgeNs int64    // how old it is
	// Lost reports that position is lost, since LostSinceNs and why.
	Lost        bool
	Standing    bool // the machine stands: a lost position is held
	LostSinceNs int64
	LostReason  sections.Reason
	FailedSafe  bool   // the fail-safe has been reached
	On          []bool // setpoint of each section
	SaidNs      int64  // when the state of all sections was handed to the outputs last
	Reader      epoch.ReaderCounts
	Controller  sections.Counts
}

// Status may be called at any time, from any goroutine.
func (e *Engine) Status() Status {
	s := Status{On: make([]bool, len(e.cfg.Machine.Sections))} // before the engine is held
	e.mu.Lock()
	defer e.mu.Unlock()
	s.NowNs = e.clock.nowNs()
	s.Started = e.started
	s.Fix = e.fix
	s.Controller = e.ctl.Counts()
	if e.started {
		s.FixAgeNs = s.NowNs - e.fix.TimeNs
	}
	s.LostSinceNs, s.LostReason, s.Lost = e.ctl.Lost()
	s.FailedSafe = e.ctl.FailedSafe()
	s.Standing = e.ctl.Standing()
	s.SaidNs = e.out.repeatNs - e.out.everyNs
	for i := range s.On {
		s.On[i] = e.ctl.On(i)
	}
	if e.replaying {
		s.Reader = e.replayed
	} else if e.reader != nil {
		s.Reader = e.reader.Counts()
	}
	return s
}
