// One lift or drop that could be paired with its border, as the statistics
// take it: how late, and all that could have made it so.

package diagnose

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
type move struct {
	section        int
	on             bool
	idealNs        int64
	actualNs       int64
	sinceS         float64 // from the day's first transition
	speedMps       float64 // at the ideal instant
	timeErrorS     float64
	placeErrorM    float64 // the way driven in that time
	perPlace       float64 // metres of lateM for each metre of a place error, see speed.go
	yawRateRadPerS float64
	sideM          float64 // y of the section
	axleM          float64 // x of the section from the turning point, forward, of a rigid bar
	antennaM       float64 // and from the antenna
	leverM         float64 // metres late for each radian that the heading is too far to the right
	others         float64 // sections that rise beside it, of a lift
	eastM, northM  float64
	headingRad     float64
	lateM          float64
}

// slowestMps: below it a place error says nothing of a time.
const slowestMps = 0.1

// part is what of the way from ideal to actual is looked at.
type part uint8

const (
	whole   part = iota // ideal → actual
	command             // ideal → setpoint, against the lead
	machine             // setpoint → actual, against the lead
)

// moves returns the paired transitions that p looks at, by time and section.
// slowS is how much later each section begins to lift than it should.
func (in *Input) moves(p part, slowS []float64) []move {
	from := in.Actual
	if p == command {
		from = in.Setpoint
	}
	var told []int
	var strokes []stroke
	if p == machine {
		told, strokes = in.told(), in.strokes(in.Setpoint, true, slowS)
	} else {
		strokes = in.strokes(from, false, slowS)
	}
	var list []move
	for i := range from {
		e := &from[i]
		if !measured(e) {
			continue
		}
		section := &in.Machine.Sections[e.Section]
		m := move{
			section: int(e.Section), on: e.On, idealNs: e.IdealNs, actualNs: e.ActualNs,
			speedMps: e.SpeedMps, timeErrorS: e.TimeErrorS, placeErrorM: e.PlaceErrorM, perPlace: 1,
			yawRateRadPerS: e.YawRateRadPerS, sideM: section.YM,
			eastM: e.EastM, northM: e.NorthM, headingRad: e.HeadingRad,
			lateM: e.TimeErrorS * e.SpeedMps,
		}
		if in.Machine.Mount != sections.Trailed {
			m.axleM, m.antennaM = section.XM, section.XM-in.Machine.AntennaXM
		}
		at := i
		if p == machine {
			if at = told[i]; at < 0 {
				continue
			}
		}
		m.others = strokes[at].others
		leadS := in.leadS(e, strokes[at])
		switch p {
		case command:
			m.lateM += leadS * e.SpeedMps
		case machine:
			m.lateM = (float64(e.ActualNs-in.Setpoint[at].ActualNs)*1e-9 - leadS) * e.SpeedMps
		}
		list = append(list, m)
	}
	sortMoves(list)
	for i := range list {
		list[i].sinceS = float64(list[i].idealNs-list[0].idealNs) * 1e-9
	}
	return list
}

// measured reports whether a transition has an error that says something.
func measured(e *score.Event) bool {
	return e.Kind == score.Paired && e.SpeedMps > slowestMps && !math.IsNaN(e.TimeErrorS) && !math.IsNaN(e.PlaceErrorM)
}

// sortMoves puts moves in order of time.
func sortMoves(list []move) {
	slices.SortFunc(list, func(a, b move) int {
		return cmp.Or(cmp.Compare(a.idealNs, b.idealNs), cmp.Compare(a.section, b.section), boolOrder(a.on, b.on))
	})
}

// sameNs is how far apart two scores of one day may put a crossing.
const sameNs = 10e6

// told returns, for each actual transition, the setpoint of the same crossing by
// its place in Setpoint, -1 where there is none.
func (in *Input) told() []int {
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

// crossing is the sections that pass one border together: they share one
// position error, so that one crossing counts as one observation.
type crossing struct {
	on   bool
	from int64   // ideal instant of the first
	to   int64   // and of the last
	of   []int32 // moves, by index
	poor bool    // reception around it, see reception.go
}

// chainNs: two sections whose ideal instants are no further apart belong to one
// crossing.
const chainNs = 5e9

// crossings groups moves in order of time; a section that comes again starts a
// new crossing.
func crossings(moves []move) []crossing {
	var list []crossing
	latest := [2]int{-1, -1} // of lifts, of drops
	for i := range moves {
		m := &moves[i]
		way := 0
		if m.on {
			way = 1
		}
		if k := latest[way]; k >= 0 && m.idealNs-list[k].to <= chainNs && !list[k].has(moves, m.section) {
			list[k].of = append(list[k].of, int32(i))
			list[k].to = m.idealNs
			continue
		}
		latest[way] = len(list)
		list = append(list, crossing{on: m.on, from: m.idealNs, to: m.idealNs, of: []int32{int32(i)}})
	}
	return list
}

func (c *crossing) has(moves []move, section int) bool {
	for _, i := range c.of {
		if moves[i].section == section {
			return true
		}
	}
	return false
}

// oneState reports whether the sections of every crossing changed at the same
// instant although their ideal instants differ: one recorded state for the
// whole machine, which says nothing of single sections.
func oneState(moves []move, list []crossing) bool {
	staggered := 0
	for k := range list {
		c := &list[k]
		for _, i := range c.of {
			if moves[i].actualNs != moves[c.of[0]].actualNs {
				return false
			}
		}
		if c.to-c.from > 1e6 {
			staggered++
		}
	}
	return staggered > 0
}
