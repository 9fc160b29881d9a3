// One lift or drop that was paired with its border: how late it was, and
// everything that could have made it late.

package evidence

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

// Move is one paired transition. LateM is the error to be explained, positive =
// late: the time error times the speed at the ideal instant, in m (speed.go says
// why).
type Move struct {
	Section        int
	On             bool
	IdealNs        int64
	ActualNs       int64
	SinceS         float64 // since the day's first transition
	SpeedMps       float64 // at the ideal instant
	TimeErrorS     float64
	PlaceErrorM    float64 // distance driven in TimeErrorS
	PerPlace       float64 // metres of LateM for each metre of a place error, see speed.go
	YawRateRadPerS float64
	SideM          float64 // section's distance to the right of the middle
	AxleM          float64 // section ahead of the turning point; 0 for a trailed bar
	AntennaM       float64 // section ahead of the antenna; 0 for a trailed bar
	LeverM         float64 // metres late for each radian that the believed heading is too far right
	Others         float64 // how late a flow shortage of 1 s a section makes it, in s: see Sharing.SetOthers
	Beside         float64 // other sections that move at the same time, averaged over its own way
	EastM, NorthM  float64
	HeadingRad     float64
	LateM          float64
	GridS          float64 // what a grid of recorded times leaves of their scatter, standard deviation in s; 0 = none

	// lookNs is the middle of the interval between polls in which it was seen; 0 = no polls.
	lookNs int64
	event  int // by index, in the list that its stroke begins in
}

// slowestMps is the least speed at the border. A slower section may have stood,
// and then its place error says nothing of its time error.
const slowestMps = 0.1

// Leg is the part of a transition, from its ideal instant to the work state, whose
// lateness is explained.
type Leg uint8

const (
	Whole   Leg = iota // ideal instant → work state
	Command            // ideal instant → setpoint; late is later than a lead before it
	Machine            // setpoint → work state; late is longer than the lead
)

// Moves returns the paired transitions with their lateness on a leg, ordered by time
// and section. slowS is how much later each section begins to move than it should. Others and Beside are not set, see Sharing.
func (day *Day) Moves(leg Leg, slowS SlowS) []Move {
	from := day.Actual
	if leg == Command {
		from = day.Setpoint
	}
	var setpointOf []int
	var leadS []float64
	if leg == Machine {
		setpointOf, leadS = day.setpoints(), day.leads(day.Setpoint, true, slowS)
	} else {
		leadS = day.leads(from, false, slowS)
	}
	var list []Move
	for i := range from {
		e := &from[i]
		if !Measured(e) {
			continue
		}
		section := &day.Machine.Sections[e.Section]
		m := Move{
			Section: int(e.Section), On: e.On, IdealNs: e.IdealNs, ActualNs: e.ActualNs,
			SpeedMps: e.SpeedMps, TimeErrorS: e.TimeErrorS, PlaceErrorM: e.PlaceErrorM, PerPlace: 1,
			YawRateRadPerS: e.YawRateRadPerS, SideM: section.YM,
			EastM: e.EastM, NorthM: e.NorthM, HeadingRad: e.HeadingRad,
			LateM: e.TimeErrorS * e.SpeedMps,
		}
		if day.Machine.Mount != sections.Trailed {
			m.AxleM, m.AntennaM = section.XM, section.XM-day.Machine.AntennaXM
		}
		at := i
		if leg == Machine {
			if at = setpointOf[i]; at < 0 {
				continue
			}
		}
		m.event = at
		switch leg {
		case Whole:
			m.GridS, m.lookNs = day.leftS(nil, e), day.actual.lookNs(e)
		case Command:
			m.GridS, m.lookNs = day.leftS(e, nil), day.setpoint.lookNs(e)
			m.LateM += leadS[at] * e.SpeedMps
		case Machine:
			m.GridS, m.lookNs = day.leftS(&day.Setpoint[at], e), day.actual.lookNs(e)
			m.LateM = (float64(e.ActualNs-day.Setpoint[at].ActualNs)*1e-9 - leadS[at]) * e.SpeedMps
		}
		list = append(list, m)
	}
	sortMoves(list)
	for i := range list {
		list[i].SinceS = float64(list[i].IdealNs-list[0].IdealNs) * 1e-9
	}
	return list
}

// Moves returns the paired transitions of a drive whose machine is not known, ordered
// by time and section: their errors are set, what could have caused them is not.
func Moves(events []score.Event) []Move {
	var list []Move
	for i := range events {
		if e := &events[i]; Measured(e) {
			list = append(list, Move{Section: int(e.Section), On: e.On, IdealNs: e.IdealNs, SpeedMps: e.SpeedMps, PerPlace: 1,
				TimeErrorS: e.TimeErrorS, PlaceErrorM: e.PlaceErrorM, LateM: e.TimeErrorS * e.SpeedMps})
		}
	}
	sortMoves(list)
	return list
}

// Measured reports whether a transition has a border and an error that can be used.
func Measured(e *score.Event) bool {
	return e.Kind == score.Paired && e.SpeedMps > slowestMps && !math.IsNaN(e.TimeErrorS) && !math.IsNaN(e.PlaceErrorM)
}

// sortMoves orders moves by their ideal instants.
func sortMoves(list []Move) {
	sort.Slice(list, func(i, j int) bool {
		a, b := &list[i], &list[j]
		return cmp.Or(cmp.Compare(a.IdealNs, b.IdealNs), cmp.Compare(a.Section, b.Section), cmp.Compare(Way(a.On), Way(b.On))) < 0
	})
}

// sameNs is how far apart the scores of setpoints and of work states may put the
// ideal instant of one crossing.
const sameNs = 10e6

// setpoints returns, for each transition in Actual, the index in Setpoint of the
// setpoint for the same crossing; -1 where there is none.
func (day *Day) setpoints() []int {
	type kind struct {
		section int16
		on      bool
	}
	byKind := map[kind][]int{}
	for i := range day.Setpoint {
		if e := &day.Setpoint[i]; e.Kind == score.Paired {
			byKind[kind{e.Section, e.On}] = append(byKind[kind{e.Section, e.On}], i)
		}
	}
	for _, list := range byKind {
		slices.SortFunc(list, func(a, b int) int { return cmp.Compare(day.Setpoint[a].IdealNs, day.Setpoint[b].IdealNs) })
	}
	out := make([]int, len(day.Actual))
	for i := range day.Actual {
		e := &day.Actual[i]
		out[i] = -1
		if e.Kind != score.Paired {
			continue
		}
		list := byKind[kind{e.Section, e.On}]
		k, _ := slices.BinarySearchFunc(list, e.IdealNs-sameNs, func(q int, ns int64) int { return cmp.Compare(day.Setpoint[q].IdealNs, ns) })
		if k < len(list) && day.Setpoint[list[k]].IdealNs <= e.IdealNs+sameNs {
			out[i] = list[k]
		}
	}
	return out
}

// BeforeCommandS returns how long before their setpoints the moves of Machine come, as the
// median of lifts or of drops, in s; 0 if they do not.
func (day *Day) BeforeCommandS(moves []Move) float64 {
	var after [2][]float64
	for i := range moves {
		m := &moves[i]
		after[Way(m.On)] = append(after[Way(m.On)], float64(m.ActualNs-day.Setpoint[m.event].ActualNs)*1e-9)
	}
	byS := 0.0
	for _, list := range after {
		if len(list) > 0 {
			byS = max(byS, -sample.Median(list))
		}
	}
	return byS
}
