// Package day is a recorded day in plain values, in whatever form it was recorded: task
// data of ISO 11783-10 or the trace of a CAN bus.
package day

import (
	"fmt"
	"math"

	"liftbench/nmea"
	"liftbench/replay/states"
	"liftbench/sections"
)

// Day is what a machine recorded of a day.
type Day struct {
	// Form is how it was recorded, in words.
	Form string
	// Fixes are of the antenna, UTC, in order of time. Where a recording has no speed it is
	// derived from the positions.
	Fixes []nmea.Fix
	// Work is what the sections were told and did, at the times at which that was reported;
	// nil where none of it was recorded.
	Work *states.Recorded
	// Single reports that Work is one state for the whole machine, as section 1, however many
	// sections that has.
	Single bool
	// Machine is what the recording tells of the machine; nil = nothing.
	Machine *Machine
	// Field is the field as GeoJSON that field.Read takes; nil = none.
	Field []byte
	// Found, Chosen, LeftOut and Notes say what the recording holds, what of it was taken
	// where there was a choice, what was not used, and what else a user should know, in a
	// sentence each.
	Found, Chosen, LeftOut, Notes []string
}

// Machine is what a recording tells of its machine. A number that it does not tell is NaN.
type Machine struct {
	Mount                           sections.Mount
	AntennaXM, AntennaYM, AntennaZM float64            // from the middle of the rear axle: forward, right, up
	HitchBehindM, DrawbarM          float64            // trailed
	Sections                        []sections.Section // from the left; XM and YM are NaN where they are not told
	LiftLeadMs, DropLeadMs          float64            // that the terminal was set to
}

// positions counts the fixes that have one.
func (d *Day) positions() int {
	n := 0
	for i := range d.Fixes {
		if d.Fixes[i].HasPosition() {
			n++
		}
	}
	return n
}

// orNaN returns x, or NaN where it is not known.
func orNaN(x float64, known bool) float64 {
	if !known {
		return math.NaN()
	}
	return x
}

// WorkOf returns the work states for a machine of n sections. If they are Single, each
// section is given that state.
func (d *Day) WorkOf(n int) (*states.Recorded, error) {
	most := int16(-1)
	for _, list := range [][]sections.WorkChange{d.Work.Setpoints, d.Work.Actuals} {
		for _, c := range list {
			most = max(most, c.Section)
		}
	}
	if int(most) >= n {
		return nil, fmt.Errorf("work states of %d sections were recorded, and the machine has %d; expected a machine file of the same machine", most+1, n)
	}
	if !d.Single || n == 1 {
		return d.Work, nil
	}
	w := *d.Work
	w.Whole = true
	change := func(c sections.WorkChange, section int16) sections.WorkChange { c.Section = section; return c }
	within := func(p states.Poll, section int16) states.Poll { p.Section = section; return p }
	w.Setpoints, w.Actuals = forEach(w.Setpoints, n, change), forEach(w.Actuals, n, change)
	w.SetpointPolls, w.ActualPolls = forEach(w.SetpointPolls, n, within), forEach(w.ActualPolls, n, within)
	return &w, nil
}

// forEach gives each of n sections what is listed of the first.
func forEach[T any](list []T, n int, of func(x T, section int16) T) []T {
	var all []T
	for _, x := range list {
		for i := range n {
			all = append(all, of(x, int16(i)))
		}
	}
	return all
}
