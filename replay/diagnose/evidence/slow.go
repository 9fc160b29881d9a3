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
