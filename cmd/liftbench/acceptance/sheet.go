// Package acceptance writes the acceptance sheet: one page on A4 that says whether the
// agreed tolerance is kept, by which crossings and which statistics, how the machine was
// set before and after, and that both sides sign.
//
// A command that has crossings fills in a Sheet and calls Write; FromRun does it for a
// scored drive. The flags are Wanted.
package acceptance

import (
	"sort"
	"time"

	"liftbench/cmd/liftbench/acceptance/tolerance"
	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/sections"
	"liftbench/sections/score"
)

// Source says where the crossings come from.
type Source uint8

const (
	Simulated Source = iota // computed by the bench alone
	Outside                 // an outside controller on simulated hydraulics
	Recorded                // work states that the machine recorded
	Measured                // by tape at the flag line
)

// Sheet is all that an acceptance sheet says. What is zero, nil or empty becomes a line
// to be filled in by hand, or is left out.
type Sheet struct {
	Language language.Language
	Details  *settings.Acceptance // of the user's file; settings.DefaultAcceptance without one
	Title    string               // of the scenario, the log or the measurements
	Source   Source
	Machine  string    // its name, where Details does not give its model
	Field    string    // its name, where Details does not give it
	Day      time.Time // of the crossings, where Details does not give it
	Lifts    []Crossing
	Drops    []Crossing
	// Before and After are how the controller was set. Details.Before takes the place of
	// what Before says.
	Before, After Timing
	Doubts        Doubts
	Remarks       []string // on these crossings, in the language of the sheet
	Notes         []string // of the program, in English
	Command       string   // the command line, as it can be typed again
}

// Crossing is one crossing of the bar, at its speed.
type Crossing struct {
	tolerance.Crossing
	SpeedMps float64 // 0 = not known
}

// Doubts are what makes crossings tell less than they seem to.
type Doubts struct {
	Contradicted bool // the input contradicts itself: nothing is judged
	Commanded    bool // only commands are recorded, and not what the sections did
	OneState     bool // one state is recorded for all sections
	BorderFound  bool // the border was found from the track itself, and not surveyed
}

// hide reports whether errors may be larger than the crossings show.
func (d *Doubts) hide() bool { return d.Commanded || d.BorderFound }

// Timing are settings of a controller; nil = not known.
type Timing struct {
	LiftLeadMs, DropLeadMs        *float64
	LiftAuto, DropAuto            bool // the lead follows from the hydraulics
	AntennaForwardM, ToolForwardM *float64
	AntennaToToolM                *float64 // takes their place where the distance alone is known
}

// FromRun returns the sheet of a scored drive. Language and Details are still to be set.
func FromRun(o *run.Outcome) *Sheet {
	s := fromSetup(o.Setup, o.Outcome.Reception.FirstNs)
	s.Title, s.Notes, s.Command = o.Title, o.Remarks(), o.Command
	s.Doubts.Contradicted = o.Wrong() != nil
	switch {
	case o.Outside != nil:
		// The machine file says how our controller would be set, not that one.
		s.Source, s.After = Outside, Timing{}
	case !o.Simulated:
		s.Source = Recorded
	}
	s.Lifts, s.Drops = Crossings(o.Score.Events)
	return s
}

// FromDiagnosis returns the sheet of a recorded day.
func FromDiagnosis(d *run.Diagnosis) *Sheet {
	s := fromSetup(d.Setup, d.Reception.FirstNs)
	s.Title, s.Source, s.Notes, s.Command = d.Title, Recorded, append(d.Remarks(), d.ZonesFound...), d.Command
	s.Doubts = Doubts{Contradicted: d.Wrong() != nil, Commanded: !d.Actual, OneState: d.Whole, BorderFound: len(d.ZonesFound) > 0}
	s.Lifts, s.Drops = Crossings(d.Events)
	return s
}

// fromSetup returns a sheet of the setup's machine and field.
func fromSetup(u *settings.Setup, firstNs int64) *Sheet {
	s := &Sheet{Machine: u.Machine.Name, Day: time.Unix(0, firstNs).UTC(), After: TimingOf(u)}
	if u.Log == "" {
		s.Day = time.Time{} // nobody drove on it
	}
	return s
}

// TimingOf returns how the setup's controller is set.
func TimingOf(u *settings.Setup) Timing {
	c, set := &u.Machine.Controller, run.Job(u).Settings
	ms := func(l *sections.Lead) *float64 {
		x := float64(l.AloneNs()) * 1e-6
		return &x
	}
	return Timing{
		LiftLeadMs: ms(&set.LiftLead), LiftAuto: c.LiftLead.Auto,
		DropLeadMs: ms(&set.DropLead), DropAuto: c.DropLead.Auto,
		AntennaForwardM: &u.Machine.Antenna.ForwardM, ToolForwardM: &u.Machine.Tool.ForwardM,
	}
}

// Crossings gathers scored transitions, in order of time, into crossings of the bar.
func Crossings(events []score.Event) (lifts, drops []Crossing) {
	var changes []sections.WorkChange
	var of []*score.Event
	for i := range events {
		if e := &events[i]; e.Kind != score.Start {
			changes = append(changes, sections.WorkChange{TimeNs: e.TimeNs(), Section: e.Section, On: e.On})
			of = append(of, e)
		}
	}
	for _, x := range score.Crossings(changes) {
		var c Crossing
		for _, k := range x.Changes {
			e := of[k]
			switch e.Kind {
			case score.Paired:
				c.Readings = append(c.Readings, tolerance.Reading{Section: int(e.Section) + 1, ErrorM: e.PlaceErrorM})
			case score.Missed:
				c.Missed++
			case score.Spurious:
				c.Extra++
			}
			c.SpeedMps += e.SpeedMps / float64(len(x.Changes))
		}
		sort.Slice(c.Readings, func(i, j int) bool { return c.Readings[i].Section < c.Readings[j].Section })
		if x.On {
			drops = append(drops, c)
		} else {
			lifts = append(lifts, c)
		}
	}
	return lifts, drops
}
