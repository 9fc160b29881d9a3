// Package peers compares each section with its peers, the other sections of the same
// crossing. They share the position error, so the comparison is free of it.
package peers

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/sections/score/sample"
)

// standsOut is how many times the usual delay of a section a slow one has, at least. On
// a bar that hangs askew all sections are off, the outer ones the most.
const standsOut = 3.0

// leastSections is the fewest sections of which one can be called the slow one.
const leastSections = 3

// delays are one section's delays against the others, on lifts or on drops, in s.
type delays struct {
	list      []float64 // one for each crossing
	meanS, se float64   // without outliers
	df        int
	gridS     float64 // evidence.Move.GridS
}

func delaysOf(list []float64) delays { return delaysOn(0, list) }

// delaysOn is delaysOf where times lie on a grid that leaves each a scatter of gridS: delays
// that differ by a few times that are no outliers, and none is known better.
func delaysOn(gridS float64, list []float64) delays {
	d := delays{list: list, gridS: gridS}
	d.meanS, d.se, d.df = regress.Mean(list, max(evidence.LeastS, 3*gridS))
	d.se = max(d.se, gridS/math.Sqrt(float64(max(1, len(list)))))
	return d
}

// Slow is a section that is later, or earlier, than the others.
type Slow struct {
	Section   int // from 0
	Kind      evidence.Kind
	DelayS    float64 // positive = late
	CI95      [2]float64
	LateS     [2]float64 // on lifts and on drops
	Differ    bool       // these two differ beyond chance
	Crossings int
}

// Pumped is what a pump that is short makes of the delays on lifts and on drops.
type Pumped struct {
	FlowS   float64    // how much later each other section that moves makes a move, see evidence.Move.Others
	UnsureS [2]float64 // how well that is known of the move that it makes latest; 0 where it does not share the pump
}

// PumpedBy is that of a pump which makes moves flowS later for each other section, known to a
// share of the most that it makes of one.
func PumpedBy(moves []evidence.Move, flowS, known float64) Pumped {
	p := Pumped{FlowS: flowS}
	for i := range moves {
		m := &moves[i]
		way := evidence.Way(m.On)
		p.UnsureS[way] = max(p.UnsureS[way], known*flowS*m.Others)
	}
	return p
}

// FindSlow returns the sections that are later or earlier than the others. floorS is the
// smallest delay that would have been seen.
//
// A section's delay at a crossing is its time error less the median of the others'.
// All sections of a crossing share the position error, so the delay is free of it.
// What a short pump adds is taken out first. Where it makes lifts late, or drops, and not the
// others, a section that is late on both has the delay that the others show.
func FindSlow(moves []evidence.Move, crossings []evidence.Crossing, sections int, p Pumped) (slow []Slow, floorS float64) {
	if sections < leastSections {
		return nil, math.Inf(1)
	}
	all := sectionDelays(moves, crossings, sections, p.FlowS)
	for s := range all {
		up, down := all[s][0], all[s][1]
		upStands, downStands := standsApart(all, s, 0), standsApart(all, s, 1)
		apartS := math.Abs(up.meanS - down.meanS)
		switch {
		case upStands && downStands && p.UnsureS[1] == 0 && apartS < p.UnsureS[0]:
			slow = append(slow, slowAs(s, evidence.Both, down))
		case upStands && downStands && p.UnsureS[0] == 0 && apartS < p.UnsureS[1]:
			slow = append(slow, slowAs(s, evidence.Both, up))
		case upStands && downStands:
			f := slowAs(s, evidence.Both, delaysOn(max(up.gridS, down.gridS), slices.Concat(up.list, down.list)))
			if f.Differ = !alike(up, down); f.Differ {
				f.LateS = [2]float64{up.meanS, down.meanS}
			}
			slow = append(slow, f)
		case upStands:
			slow = append(slow, slowAs(s, evidence.Lifts, up))
		case downStands:
			slow = append(slow, slowAs(s, evidence.Drops, down))
		}
	}
	return slow, leastDelay(all)
}

// sectionDelays returns the delays of each section, on lifts and on drops.
func sectionDelays(moves []evidence.Move, crossings []evidence.Crossing, sections int, flowS float64) [][2]delays {
	lists := make([][2][]float64, sections)
	var times, others []float64
	for k := range crossings {
		c := &crossings[k]
		if len(c.Changes) < leastSections {
			continue
		}
		times = times[:0]
		for _, i := range c.Changes {
			times = append(times, moves[i].LateM/moves[i].SpeedMps-flowS*moves[i].Others)
		}
		for a, i := range c.Changes {
			others = slices.Delete(append(others[:0], times...), a, a+1)
			list := &lists[moves[i].Section][evidence.Way(c.On)]
			*list = append(*list, times[a]-sample.Median(others))
		}
	}
	all := make([][2]delays, sections)
	gridS := gridOf(moves)
	for s := range all {
		all[s] = [2]delays{delaysOn(gridS[0], lists[s][0]), delaysOn(gridS[1], lists[s][1])}
	}
	return all
}

// gridOf is what a grid, or the time between polls, leaves of the scatter of the times of lifts
// and of drops, the median, s; 0 without.
func gridOf(moves []evidence.Move) (leftS [2]float64) {
	var of [2][]float64
	for i := range moves {
		way := evidence.Way(moves[i].On)
		of[way] = append(of[way], moves[i].GridS)
	}
	for way := range of {
		if len(of[way]) > 0 {
			leftS[way] = sample.Median(of[way])
		}
	}
	return leftS
}

// leastDelay is the smallest delay that would be seen on a typical section, in s; +Inf
// if none would.
func leastDelay(all [][2]delays) float64 {
	var floors []float64
	for s := range all {
		for _, d := range all[s] {
			if d.df >= 2 {
				floors = append(floors, (regress.Quantile(regress.Alpha/float64(4*len(all)), d.df)+regress.Power)*d.se)
			}
		}
	}
	if len(floors) == 0 {
		return math.Inf(1)
	}
	return max(evidence.LeastS, sample.Median(floors))
}

// standsApart reports whether a section's mean delay, on lifts (way 0) or drops (1), is
// worth a repair, well above the others' and above chance: Student's t, with Bonferroni
// over all sections, lifts and drops.
func standsApart(all [][2]delays, section, way int) bool {
	var others []float64
	for s := range all {
		if s != section {
			others = append(others, math.Abs(all[s][way].meanS))
		}
	}
	d := &all[section][way]
	return d.df >= 2 && math.Abs(d.meanS) >= evidence.LeastS && math.Abs(d.meanS) > standsOut*sample.Median(others) &&
		regress.TwoSided(d.meanS/d.se, d.df)*float64(2*len(all)) < regress.Alpha/2
}

// alike reports whether lifts and drops may be delayed by the same time.
func alike(up, down delays) bool {
	return math.Abs(up.meanS-down.meanS) < regress.Quantile(0.01, min(up.df, down.df))*math.Hypot(up.se, down.se)+evidence.LeastS/2
}

// slowAs is a section with these delays.
func slowAs(section int, kind evidence.Kind, d delays) Slow {
	return Slow{Section: section, Kind: kind, DelayS: d.meanS, CI95: regress.Around(d.meanS, d.se, d.df), LateS: [2]float64{d.meanS, d.meanS}, Crossings: len(d.list)}
}
