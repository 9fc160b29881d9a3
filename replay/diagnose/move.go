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
// diagnosis explains, in metres along the path, positive = late.
type move struct {
	section      int
	on           bool
	idealNs      int64
	actualNs     int64
	sinceS       float64 // from the day's first transition
	speedMps     float64
	yawRateRadPS float64
	sideM        float64 // y of the section
	// beside is how many other sections move meanwhile, for strokes as long as
	// each of strokesS.
	beside        [len(strokesS)]float64
	eastM, northM float64
	headingRad    float64
	lateM         float64
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

// key names a crossing of a section in the scores of actuals and setpoints.
type key struct {
	idealNs int64
	section int16
	on      bool
}

// moves returns the paired transitions that p looks at, by time and section.
func (in *Input) moves(p part) []move {
	from := in.Actual
	if p == command {
		from = in.Setpoint
	}
	told := map[key]*score.Event{}
	if p == machine {
		for i := range in.Setpoint {
			if e := &in.Setpoint[i]; e.Kind == score.Paired {
				told[key{e.IdealNs, e.Section, e.On}] = e
			}
		}
	}
	var list []move
	for i := range from {
		e := &from[i]
		if e.Kind != score.Paired || !(e.SpeedMps > slowestMps) || math.IsNaN(e.PlaceErrorM) {
			continue
		}
		m := move{
			section: int(e.Section), on: e.On, idealNs: e.IdealNs, actualNs: e.ActualNs,
			speedMps: e.SpeedMps, yawRateRadPS: e.YawRateRadPerS,
			sideM: in.Machine.Sections[e.Section].YM,
			eastM: e.EastM, northM: e.NorthM,
			lateM: e.PlaceErrorM,
		}
		leadS := in.LeadS(e)
		switch p {
		case command:
			m.lateM += leadS * e.SpeedMps
		case machine:
			s := told[key{e.IdealNs, e.Section, e.On}]
			if s == nil {
				continue
			}
			m.lateM = (float64(e.ActualNs-s.ActualNs)*1e-9 - leadS) * e.SpeedMps
		}
		list = append(list, m)
	}
	slices.SortFunc(list, func(a, b move) int {
		return cmp.Or(cmp.Compare(a.idealNs, b.idealNs), cmp.Compare(a.section, b.section), boolOrder(a.on, b.on))
	})
	for i := range list {
		list[i].sinceS = float64(list[i].idealNs-list[0].idealNs) * 1e-9
	}
	countBeside(list, from)
	return list
}

// strokesS are the times that a whole lift may take: a section that has left the
// soil still takes oil until it is up.
var strokesS = [...]float64{0.25, 0.6, 1.2, 2.4}

// besideS is how much later than a section another may start and still count.
const besideS = 0.25

// countBeside counts for each move the other sections whose ideal instants, the
// same way, lie within a stroke before it or besideS after.
func countBeside(list []move, events []score.Event) {
	type start struct {
		ns      int64
		section int16
	}
	var starts [2][]start
	for i := range events {
		if e := &events[i]; e.Kind == score.Paired || e.Kind == score.Missed {
			starts[wayOf(e.On)] = append(starts[wayOf(e.On)], start{e.IdealNs, e.Section})
		}
	}
	for way := range starts {
		slices.SortFunc(starts[way], func(a, b start) int {
			return cmp.Or(cmp.Compare(a.ns, b.ns), cmp.Compare(a.section, b.section))
		})
	}
	for i := range list {
		m := &list[i]
		all := starts[wayOf(m.on)]
		longest := int64(strokesS[len(strokesS)-1] * 1e9)
		k, _ := slices.BinarySearchFunc(all, m.idealNs-longest, func(s start, t int64) int { return cmp.Compare(s.ns, t) })
		for ; k < len(all) && all[k].ns <= m.idealNs+besideS*1e9; k++ {
			if int(all[k].section) == m.section {
				continue
			}
			for w, s := range strokesS {
				if float64(m.idealNs-all[k].ns) <= s*1e9 {
					m.beside[w]++
				}
			}
		}
	}
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

// LeadS is how long a transition ought to take from setpoint to actual: dead
// time + stroke · max(1, n / fed) for n sections that move at once, where the
// lead counts them.
func (in *Input) LeadS(e *score.Event) float64 {
	lead := &in.Settings.LiftLead
	if e.On {
		lead = &in.Settings.DropLead
	}
	return leadOf(lead, e.Together+1)
}

func leadOf(lead *sections.Lead, n int) float64 {
	stretch := 1.0
	if lead.FedAtOnce > 0 {
		stretch = max(1, float64(n)/lead.FedAtOnce)
	}
	return (float64(lead.DeadNs) + float64(lead.MoveNs)*stretch) * 1e-9
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
