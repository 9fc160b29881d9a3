// This file checks a drive and scores it in one call.

package score

import (
	"fmt"

	"liftbench/sections"
	"liftbench/sections/motion"
)

// defaultWindowNs is what Options.WindowNs = 0 means.
const defaultWindowNs = 5e9

// Run scores a drive. track has the true or smoothed poses in order of time, for trailed
// machines with the tool's heading. changes are the actual work changes of all sections
// in order of time. initial is the actual work state of each section before the first
// change; nil means that all are up. Changes before the first pose only set the state.
// After the last pose the tractor is taken to stand still.
//
// The machine of gate must pass Validate. The error says which pose, change or setting is
// unusable.
func Run(track motion.Track, gate *sections.Gate, changes []sections.WorkChange, initial []bool, opt Options) (*Result, error) {
	n := len(gate.Machine.Sections)
	if err := checkTrack(track); err != nil {
		return nil, err
	}
	if initial != nil && len(initial) != n {
		return nil, fmt.Errorf("%d initial work states for %d sections; expected one each, or none at all", len(initial), n)
	}
	if opt.WindowNs < 0 || opt.GapNs < 0 || opt.SpellNs < 0 {
		return nil, fmt.Errorf("pairing window %d ns, gap %d ns, spell %d ns; expected 0 or more", opt.WindowNs, opt.GapNs, opt.SpellNs)
	}
	if opt.WindowNs == 0 {
		opt.WindowNs = defaultWindowNs
	}
	lanes, moves, err := newLanes(gate.Machine, changes, initial, track[0].TimeNs)
	if err != nil {
		return nil, err
	}
	record, err := gate.Record()
	if err != nil {
		return nil, err
	}
	w := &walk{worked: record, gate: gate, bar: newBar(gate.Machine), lanes: lanes, spans: opt.Strips, moves: moves, stop: opt.Stop}
	corners := findCorners(track, gate.Machine)
	ground, repeated, err := paint(track, corners, gate.Field, &w.bar, lanes, moves)
	if err != nil {
		return nil, err
	}
	w.run(track)

	res := &Result{
		Sections:     make([]Section, n),
		ZoneM2:       gate.Field.AreaM2(),
		WorkedOnceM2: ground.m2(ground.workedM),
		HatchM:       ground.gapM,
	}
	res.Events = events(track, &w.bar, lanes, moves, opt)
	countUp(res)
	for i := range lanes {
		area := &lanes[i].area
		area.RepeatM2 = ground.m2(repeated[i])
		res.Sections[i].Area = *area
		res.Area.add(area)
	}
	// Overrun is an integral, and as good as exact; little of it is worked again.
	res.OutsideM2 = max(0, res.Area.OverrunM2-res.Area.AcrossRowsM2-ground.m2(ground.againOutsideM))
	if opt.Strips {
		res.Strips = strips(track, corners, gate.Machine, lanes)
	}
	return res, w.err
}

// checkTrack returns an error for the first pose that cannot be used.
func checkTrack(track motion.Track) error {
	if len(track) == 0 {
		return fmt.Errorf("the track holds no pose; expected at least one")
	}
	for k := range track {
		p := &track[k]
		// If any of them is not finite, the difference is NaN.
		sum := p.EastM + p.NorthM + p.HeadingRad + p.ToolHeadingRad + p.SpeedMps + p.YawRateRadPerS
		if sum-sum != 0 {
			return fmt.Errorf("pose %d of the track is %+v; expected finite numbers", k+1, *p)
		}
		if k > 0 && p.TimeNs <= track[k-1].TimeNs {
			return fmt.Errorf("pose %d of the track is %d ns after the one before; expected a later time", k+1, p.TimeNs-track[k-1].TimeNs)
		}
	}
	return nil
}

// newLanes returns a lane for each section, with its state at the first pose and its
// changes from then on, and moves, those changes of all sections. Changes to the state
// that a section already has are dropped.
func newLanes(m *sections.Machine, changes []sections.WorkChange, initial []bool, firstNs int64) (lanes []lane, moves []sections.WorkChange, err error) {
	lanes = make([]lane, len(m.Sections))
	latest := make([]bool, len(lanes))
	copy(latest, initial)
	for i := range lanes {
		s := &m.Sections[i]
		lanes[i] = lane{yM: s.YM, widthM: s.WidthM, on: latest[i]}
	}
	for k, c := range changes {
		if int(c.Section) < 0 || int(c.Section) >= len(lanes) {
			return nil, nil, fmt.Errorf("work change %d is of section %d; the machine has 1 to %d", k+1, c.Section+1, len(lanes))
		}
		if k > 0 && c.TimeNs < changes[k-1].TimeNs {
			return nil, nil, fmt.Errorf("work change %d is %d ns before the one above it; expected order of time", k+1, changes[k-1].TimeNs-c.TimeNs)
		}
		l := &lanes[c.Section]
		if latest[c.Section] == c.On {
			continue
		}
		latest[c.Section] = c.On
		if c.TimeNs < firstNs {
			l.on = c.On
			continue
		}
		l.changes = append(l.changes, change{timeNs: c.TimeNs, on: c.On})
		moves = append(moves, c)
	}
	return lanes, moves, nil
}

// countUp sets the statistics from the events.
func countUp(res *Result) {
	var lift, drop tally
	lifts, drops := make([]tally, len(res.Sections)), make([]tally, len(res.Sections))
	for i := range res.Events {
		e := &res.Events[i]
		if e.On {
			drop.add(e)
			drops[e.Section].add(e)
		} else {
			lift.add(e)
			lifts[e.Section].add(e)
		}
	}
	res.Lift, res.Drop = lift.stats(), drop.stats()
	for i := range res.Sections {
		res.Sections[i].Lift, res.Sections[i].Drop = lifts[i].stats(), drops[i].stats()
	}
}
