// One lift or drop that could be paired with its border, as the statistics
// take it: how late, and all that could have made it so.

package evidence

import (
	"cmp"
	"math"
	"slices"

	"liftbench/sections"
	"liftbench/sections/score"
)

// move is one paired transition. lateM is the error that a part of the
// diagnosis explains, positive = late: its time at the speed of the ideal
// instant, in metres (see speed.go).
type Move struct {
	Section        int
	On             bool
	IdealNs        int64
	ActualNs       int64
	SinceS         float64 // from the day's first transition
	SpeedMps       float64 // at the ideal instant
	TimeErrorS     float64
	PlaceErrorM    float64 // the way driven in that time
	PerPlace       float64 // metres of lateM for each metre of a place error, see speed.go
	YawRateRadPerS float64
	SideM          float64 // y of the section
	AxleM          float64 // x of the section from the turning point, forward, of a rigid bar
	AntennaM       float64 // and from the antenna
	LeverM         float64 // metres late for each radian that the heading is too far to the right
	Others         float64 // sections that rise beside it, of a lift
	EastM, NorthM  float64
	HeadingRad     float64
	LateM          float64
}

// slowestMps: below it a place error says nothing of a time.
const slowestMps = 0.1

// part is what of the way from ideal to actual is looked at.
type Leg uint8

const (
	Whole   Leg = iota // ideal → actual
	Command            // ideal → setpoint, against the lead
	Machine            // setpoint → actual, against the lead
)

// moves returns the paired transitions that p looks at, by time and section.
// slowS is how much later each section begins to lift than it should.
func (in *Day) Moves(p Leg, slowS []float64) []Move {
	from := in.Actual
	if p == Command {
		from = in.Setpoint
	}
	var told []int
	var strokes []stroke
	if p == Machine {
		told, strokes = in.setpoints(), in.strokes(in.Setpoint, true, slowS)
	} else {
		strokes = in.strokes(from, false, slowS)
	}
	var list []Move
	for i := range from {
		e := &from[i]
		if !Measured(e) {
			continue
		}
		section := &in.Machine.Sections[e.Section]
		m := Move{
			Section: int(e.Section), On: e.On, IdealNs: e.IdealNs, ActualNs: e.ActualNs,
			SpeedMps: e.SpeedMps, TimeErrorS: e.TimeErrorS, PlaceErrorM: e.PlaceErrorM, PerPlace: 1,
			YawRateRadPerS: e.YawRateRadPerS, SideM: section.YM,
			EastM: e.EastM, NorthM: e.NorthM, HeadingRad: e.HeadingRad,
			LateM: e.TimeErrorS * e.SpeedMps,
		}
		if in.Machine.Mount != sections.Trailed {
			m.AxleM, m.AntennaM = section.XM, section.XM-in.Machine.AntennaXM
		}
		at := i
		if p == Machine {
			if at = told[i]; at < 0 {
				continue
			}
		}
		m.Others = strokes[at].others
		leadS := in.leadS(e, strokes[at])
		switch p {
		case Command:
			m.LateM += leadS * e.SpeedMps
		case Machine:
			m.LateM = (float64(e.ActualNs-in.Setpoint[at].ActualNs)*1e-9 - leadS) * e.SpeedMps
		}
		list = append(list, m)
	}
	sortMoves(list)
	for i := range list {
		list[i].SinceS = float64(list[i].IdealNs-list[0].IdealNs) * 1e-9
	}
	return list
}

// movesOf returns the paired transitions of a drive, by time and section, with
// their errors alone.
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

// measured reports whether a transition has an error that says something.
func Measured(e *score.Event) bool {
	return e.Kind == score.Paired && e.SpeedMps > slowestMps && !math.IsNaN(e.TimeErrorS) && !math.IsNaN(e.PlaceErrorM)
}

// sortMoves puts moves in order of time.
func sortMoves(list []Move) {
	slices.SortFunc(list, func(a, b Move) int {
		return cmp.Or(cmp.Compare(a.IdealNs, b.IdealNs), cmp.Compare(a.Section, b.Section), boolOrder(a.On, b.On))
	})
}

// sameNs is how far apart two scores of one day may put a crossing.
const sameNs = 10e6

// told returns, for each actual transition, the setpoint of the same crossing by
// its place in Setpoint, -1 where there is none.
func (in *Day) setpoints() []int {
	type way struct {
		section int16
		on      bool
	}
	of := map[way][]int{}
	for i := range in.Setpoint {
		if e := &in.Setpoint[i]; e.Kind == score.Paired {
			of[way{e.Section, e.On}] = append(of[way{e.Section, e.On}], i)
		}
	}
	for _, list := range of {
		slices.SortFunc(list, func(a, b int) int { return cmp.Compare(in.Setpoint[a].IdealNs, in.Setpoint[b].IdealNs) })
	}
	out := make([]int, len(in.Actual))
	for i := range in.Actual {
		e := &in.Actual[i]
		out[i] = -1
		if e.Kind != score.Paired {
			continue
		}
		list := of[way{e.Section, e.On}]
		k, _ := slices.BinarySearchFunc(list, e.IdealNs-sameNs, func(q int, ns int64) int { return cmp.Compare(in.Setpoint[q].IdealNs, ns) })
		if k < len(list) && in.Setpoint[list[k]].IdealNs <= e.IdealNs+sameNs {
			out[i] = list[k]
		}
	}
	return out
}

func boolOrder(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}
