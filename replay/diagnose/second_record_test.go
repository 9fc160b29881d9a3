// What the second party's drives leave on record: section numbers, clocks and grids of
// times, and the score of what was recorded.

package diagnose

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"liftbench/nmea"
	"liftbench/replay/diagnose/evidence"
	"liftbench/sections"
	"liftbench/sections/score"
)

// recorder is what becomes of a drive's changes on record.
type recorder struct {
	recordsCommands bool
	then            []func() // changes of the lists, before their times are written
	offsetS         [2]float64
	driftS          [2]float64 // over the day: half before its middle, half after it
	stepS           float64    // of the grid of times; 0 = none
	rounded         bool       // on the grid to the nearest; otherwise at the next look
	phaseS          float64
	fileS           [2]float64 // the leads on file are so much shorter than the machine's and the controller's
}

// record changes the lists of a drive into what a log has of them.
func (t *trial) record() {
	for _, f := range t.then {
		f()
	}
	t.commands, t.states = t.written(t.commands, 0), t.written(t.states, 1)
}

// written returns changes with the times that a clock and a grid give them. A change that
// is gone at the next look is not seen.
func (t *trial) written(list []seenChange, clock int) []seenChange {
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b seenChange) int { return cmp.Compare(a.atS, b.atS) })
	fromS, toS := list[0].atS, list[len(list)-1].atS
	for i := range list {
		c := &list[i]
		c.atS += t.offsetS[clock] + t.driftS[clock]*((c.atS-fromS)/(toS-fromS)-0.5)
		switch {
		case t.stepS == 0:
		case t.rounded:
			c.atS = t.stepS * math.Round(c.atS/t.stepS)
		default:
			c.atS = t.phaseS + t.stepS*math.Ceil((c.atS-t.phaseS)/t.stepS)
		}
	}
	if t.stepS == 0 || t.rounded {
		return list
	}
	var out []seenChange
	on := make([]bool, t.n)
	for i, c := range list {
		gone := slices.ContainsFunc(list[i+1:], func(later seenChange) bool { return later.section == c.section && later.atS == c.atS })
		if !gone && c.on != on[c.section] {
			on[c.section] = c.on
			out = append(out, c)
		}
	}
	return out
}

// scored pairs the changes of each section with its crossings: each is the nearest of the
// other, and no more than 10 s away.
func (t *trial) scored(seen []seenChange) []score.Event {
	var list []score.Event
	for s := range t.n {
		for _, on := range []bool{false, true} {
			var should []shouldChange
			var at []float64
			for _, c := range t.should {
				if c.section == s && c.on == on {
					should = append(should, c)
				}
			}
			for _, c := range seen {
				if c.section == s && c.on == on {
					at = append(at, c.atS)
				}
			}
			sort.Float64s(at)
			nearest := func(x float64, n int, of func(int) float64) int {
				best := -1
				for i := range n {
					if best < 0 || math.Abs(of(i)-x) < math.Abs(of(best)-x) {
						best = i
					}
				}
				return best
			}
			used := make([]bool, len(at))
			for i, c := range should {
				e := score.Event{Section: int16(s), On: on, Kind: score.Missed, IdealNs: dayNs + int64(c.atS*1e9), SpeedMps: c.mps,
					EastM: c.eastM, NorthM: c.northM, HeadingRad: c.headingRad, TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()}
				k := nearest(c.atS, len(at), func(i int) float64 { return at[i] })
				if k >= 0 && math.Abs(at[k]-c.atS) <= 10 && nearest(at[k], len(should), func(i int) float64 { return should[i].atS }) == i {
					used[k] = true
					e.Kind, e.ActualNs = score.Paired, dayNs+int64(at[k]*1e9)
					e.TimeErrorS = at[k] - c.atS
					e.PlaceErrorM = e.TimeErrorS * c.mps
				}
				list = append(list, e)
			}
			for k := range at {
				if !used[k] {
					list = append(list, score.Event{Section: int16(s), On: on, Kind: score.Spurious, ActualNs: dayNs + int64(at[k]*1e9), TimeErrorS: math.NaN(), PlaceErrorM: math.NaN()})
				}
			}
		}
	}
	return list
}

// day is the drive as a diagnosis gets it.
func (t *trial) day() evidence.Day {
	m := &sections.Machine{Mount: sections.RearRigid, AntennaXM: 1.1}
	for s := range t.n {
		m.Sections = append(m.Sections, sections.Section{XM: -2.4, YM: (float64(s) - float64(t.n-1)/2) * t.spacingM, WidthM: t.spacingM})
	}
	set := sections.DefaultSettings()
	ns := func(s float64) int64 { return int64(s * 1e9) }
	set.LiftLead = sections.Lead{DeadNs: ns(t.deadS), MoveNs: ns(t.liftS - t.fileS[0] - t.deadS), TravelNs: ns(t.strokeS)}
	set.DropLead = sections.Lead{DeadNs: ns(t.deadS), MoveNs: ns(t.dropS - t.fileS[1] - t.deadS), TravelNs: ns(t.strokeS)}
	day := evidence.Day{Machine: m, Settings: set, LiftStrokeNs: ns(t.strokeS), Actual: t.scored(t.states)}
	if t.recordsCommands {
		day.Setpoint = t.scored(t.commands)
	}
	for at := 0.0; at < t.toS; at += 0.5 {
		day.Fixes = append(day.Fixes, evidence.Fix{TimeNs: dayNs + int64(at*1e9), AgeNs: -1, Quality: nmea.RTKFixed})
	}
	return day
}

// relabel records each section under another number; -1 leaves it out.
func (t *trial) relabel(to func(s int) int, commands bool) {
	change := func(list []seenChange) []seenChange {
		var out []seenChange
		for _, c := range list {
			if c.section = to(c.section); c.section >= 0 {
				out = append(out, c)
			}
		}
		return out
	}
	t.states = change(t.states)
	if commands {
		t.commands = change(t.commands)
	}
}
