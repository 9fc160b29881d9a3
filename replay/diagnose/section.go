// One section that is slower or quicker than the others, as with a sticking valve.

package diagnose

import (
	"fmt"
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/sections/score/sample"
)

// found is a cause before it is put into words.
type found struct {
	term
	section   int // from 1; 0 = all
	size      float64
	lateS     [2]float64 // of a slow section: its delay on lifts and on drops
	ci        Interval
	crossings int     // how many show it
	explained float64 // m²: by how much it reduces the sum of squared errors
	note      string  // a fact for the evidence
}

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
}

func delaysOf(list []float64) delays {
	d := delays{list: list}
	d.meanS, d.se, d.df = regress.Mean(list, leastS)
	return d
}

// slowSections returns the sections that are later or earlier than the others, and
// takes their delays out of the moves. floorS is the smallest delay that would have
// been seen.
//
// A section's delay at a crossing is its time error less the median of the others'.
// All sections of a crossing share the position error, so the delay is free of it.
// flowS is what each other rising section adds to a lift, with a short pump; that is
// taken out first.
func slowSections(moves []evidence.Move, crossings []evidence.Crossing, sections int, flowS float64) (slow []found, floorS float64) {
	if sections < leastSections {
		return nil, math.Inf(1)
	}
	all := sectionDelays(moves, crossings, sections, flowS)
	for s := range all {
		up, down := all[s][0], all[s][1]
		upStands, downStands := standsApart(all, s, 0), standsApart(all, s, 1)
		switch {
		case upStands && downStands:
			f := slowSection(s, both, delaysOf(slices.Concat(up.list, down.list)))
			if !alike(up, down) {
				f.note = fmt.Sprintf("lifts %s, drops %s", msOf(up.meanS), msOf(down.meanS))
				f.lateS = [2]float64{up.meanS, down.meanS}
			}
			slow = append(slow, f)
		case upStands:
			slow = append(slow, slowSection(s, lifts, up))
		case downStands:
			slow = append(slow, slowSection(s, drops, down))
		}
	}
	for k := range slow {
		slow[k].takeOut(moves)
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
	for s := range all {
		all[s] = [2]delays{delaysOf(lists[s][0]), delaysOf(lists[s][1])}
	}
	return all
}

// leastDelay is the smallest delay that would be seen on a typical section, in s; +Inf
// if none would.
func leastDelay(all [][2]delays) float64 {
	var floors []float64
	for s := range all {
		for _, d := range all[s] {
			if d.df >= 2 {
				floors = append(floors, (regress.Quantile(alpha/float64(4*len(all)), d.df)+power)*d.se)
			}
		}
	}
	if len(floors) == 0 {
		return math.Inf(1)
	}
	return max(leastS, sample.Median(floors))
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
	return d.df >= 2 && math.Abs(d.meanS) >= leastS && math.Abs(d.meanS) > standsOut*sample.Median(others) &&
		regress.TwoSided(d.meanS/d.se, d.df)*float64(2*len(all)) < alpha/2
}

// alike reports whether lifts and drops may be delayed by the same time.
func alike(up, down delays) bool {
	return math.Abs(up.meanS-down.meanS) < regress.Quantile(0.01, min(up.df, down.df))*math.Hypot(up.se, down.se)+leastS/2
}

// slowSection is the finding that a section, counted from 0, has these delays.
func slowSection(section int, kind moveKind, d delays) found {
	return found{
		term:    term{cause: SlowSection, moves: kind, leastSize: leastS},
		section: section + 1, size: d.meanS, lateS: [2]float64{d.meanS, d.meanS}, ci: regress.Around(d.meanS, d.se, d.df), crossings: len(d.list),
	}
}

// takeOut removes a slow section's delay from its moves.
func (f *found) takeOut(moves []evidence.Move) {
	for i := range moves {
		if m := &moves[i]; m.Section == f.section-1 {
			part := f.moves.applies(m.On) * f.lateS[evidence.Way(m.On)] * m.SpeedMps
			m.LateM -= part
			f.explained += part * part
		}
	}
}
