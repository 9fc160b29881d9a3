// Delays of sections, and sections that are left out.

package evidence

import (
	"math"
	"slices"
)

// ApartS is by how much the delays of sections differ from others, at most, in s.
func (s SlowS) ApartS(o SlowS) float64 {
	most := 0.0
	for way := range s {
		for i := range s[way] {
			most = max(most, math.Abs(s[way][i]-o[way][i]))
		}
	}
	return most
}

// mostBeyond is how far Beyond goes, in differences of the last two rounds: rounds that leave
// nine tenths of the error.
const mostBeyond = 9.0

// Round is a round of estimates: the delays that were tried, and what they gave.
type Round struct{ Tried, Gave SlowS }

// Beyond is where rounds lead to of which each leaves about the same part of the error. It is the secant of the rounds' changes in least squares
// (D. G. Anderson, J. ACM 12:547-560, 1965, of depth one; from memory). Where another section
// is slow than before it is what the last round gave.
func (r Round) Beyond(before Round) SlowS {
	s, was, gave, tried := r.Gave, r.Tried, before.Gave, before.Tried
	dot, square := 0.0, 0.0
	for way := range s {
		for i := range s[way] {
			if (s[way][i] == 0) != (gave[way][i] == 0) {
				return s
			}
			change, before := s[way][i]-was[way][i], gave[way][i]-tried[way][i]
			dot += change * (change - before)
			square += (change - before) * (change - before)
		}
	}
	if !(square > 0) {
		return s
	}
	by := max(-mostBeyond, min(dot/square, 0.5))
	var out SlowS
	for way := range s {
		for i := range s[way] {
			out[way] = append(out[way], s[way][i]-by*(s[way][i]-gave[way][i]))
		}
	}
	return out
}

// Without is the day with some sections, by number from 0, left out of what is judged. They
// still share the pump.
func (day Day) Without(sections []int) Day {
	day.Actual, day.Setpoint = slices.Clone(day.Actual), slices.Clone(day.Setpoint)
	for i := range day.Actual {
		if slices.Contains(sections, int(day.Actual[i].Section)) {
			day.Actual[i].TimeErrorS = math.NaN()
		}
	}
	for i := range day.Setpoint {
		if slices.Contains(sections, int(day.Setpoint[i].Section)) {
			day.Setpoint[i].TimeErrorS = math.NaN()
		}
	}
	return day
}

// leadOnGrid is the share of a step of recorded times below which no lead is said to be wrong. A
// judgement.
const leadOnGrid = 0.1

// LeastLeadS is how wrong a lead must be for this day's times to tell, in s. The day is Timed.
func (day *Day) LeastLeadS() float64 {
	c := day.Clock
	return max(LeastS, leadOnGrid*c.Actual.Grid.StepS(), leadOnGrid*c.Setpoint.Grid.StepS(), c.KindUnsureS())
}
