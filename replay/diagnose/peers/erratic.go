// One section that comes early and late at random.

package peers

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/sections/score/sample"
)

const (
	// A section is erratic if leastErratic of its delays, and leastErraticShare of them,
	// are farErratic times the usual spread of the others and leastErraticS from its median.
	leastErratic      = 3
	leastErraticShare = 0.08
	farErratic        = 4.0
	leastErraticS     = 0.06
	// A grid of times is bounded: the difference of two of its roundings is never more than
	// 2.45 standard deviations off. So where the usual spread is hardly more than a grid's,
	// up to mostlyGrid times, what is farther than farOnGrid is no rounding.
	farOnGrid  = 2.5
	mostlyGrid = 1.3
)

// Erratic is a section that comes early and late at random.
type Erratic struct {
	Section   int     // from 0
	ScatterS  float64 // standard deviation against the others, beyond their own
	CI95      [2]float64
	UsualS    float64 // scatter of the usual section
	Crossings int
	SumM2     float64 // sum of the squared place errors that this is, in m²
}

// FindErratic returns the sections whose delays against the others scatter far more than
// those of the others do, the most erratic first. What makes all sections of a crossing late by
// different times, as a short pump does, must have been taken out of the moves. If most
// sections are erratic, none is returned: then it is not one section's fault. knownS is how well
// what was taken out is known, s: less scatter is not believed.
//
// They are found one at a time, and each is left out before the next is looked for: of few
// sections, one that is erratic moves the median that the others are compared with.
func FindErratic(moves []evidence.Move, crossings []evidence.Crossing, sections int, knownS float64) []Erratic {
	if sections < leastSections {
		return nil
	}
	moves = slices.Clone(moves)
	// Each section's usual delay is taken out first: where others are missing, a slow one
	// would move the median.
	for s, d := range sectionDelays(moves, crossings, sections, 0) {
		middle := [2]float64{sample.Median(slices.Clone(d[0].list)), sample.Median(slices.Clone(d[1].list))}
		for i := range moves {
			if m := &moves[i]; m.Section == s {
				m.LateM -= middle[evidence.Way(m.On)] * m.SpeedMps
			}
		}
	}
	var list []Erratic
	for {
		f, ok := mostErratic(moves, crossings, sections, knownS)
		if !ok {
			return list
		}
		if list = append(list, f); 2*len(list) > sections {
			return nil
		}
		crossings = without(crossings, moves, f.Section)
	}
}

// without returns the crossings without the changes of a section.
func without(crossings []evidence.Crossing, moves []evidence.Move, section int) []evidence.Crossing {
	out := slices.Clone(crossings)
	for k := range out {
		out[k].Changes = slices.DeleteFunc(slices.Clone(out[k].Changes), func(i int32) bool { return moves[i].Section == section })
	}
	return out
}

// mostErratic returns the erratic section that scatters most, in proportion to its limit.
func mostErratic(moves []evidence.Move, crossings []evidence.Crossing, sections int, knownS float64) (most Erratic, ok bool) {
	all := sectionDelays(moves, crossings, sections, 0)
	off := make([][]float64, sections) // from the median of the section's lifts, or drops
	var spread []float64
	at := make([]int, sections) // which of spread is whose
	gridS := gridOf(moves)
	for s := range all {
		at[s] = -1
		for _, d := range all[s] {
			middle := sample.Median(slices.Clone(d.list))
			for _, x := range d.list {
				off[s] = append(off[s], x-middle)
			}
		}
		if len(off[s]) > 0 {
			at[s] = len(spread)
			spread = append(spread, regress.Spread(off[s], make([]float64, len(off[s])), 2, max(evidence.LeastS/10, gridS[0], gridS[1])))
		}
	}
	leastS := max(leastErraticS, knownS)
	worst := 0.0
	for s := range off {
		df := len(off[s]) - 2
		if df < 2 {
			continue
		}
		usual := sample.Median(slices.Delete(slices.Clone(spread), at[s], at[s]+1))
		far := farErratic
		if usual < mostlyGrid*max(gridS[0], gridS[1]) {
			far = farOnGrid
		}
		limit := max(far*usual, leastS)
		beyond, squares := 0, 0.0
		for _, x := range off[s] {
			squares += x * x
			if math.Abs(x) > limit {
				beyond++
			}
		}
		if beyond < leastErratic || float64(beyond) < leastErraticShare*float64(len(off[s])) {
			continue
		}
		f := Erratic{Section: s, UsualS: usual, Crossings: len(off[s])}
		f.ScatterS = math.Sqrt(max(0, squares/float64(df)-usual*usual))
		if f.ScatterS < leastS || f.ScatterS/limit <= worst {
			continue
		}
		f.CI95 = regress.Deviation(f.ScatterS, float64(df))
		for i := range moves {
			if m := &moves[i]; m.Section == s {
				f.SumM2 += f.ScatterS * f.ScatterS * m.SpeedMps * m.SpeedMps
			}
		}
		most, worst, ok = f, f.ScatterS/limit, true
	}
	return most, ok
}
