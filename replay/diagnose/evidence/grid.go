// What a grid of recorded times leaves of crossings.

package evidence

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/regress"
)

// positionM is the scatter of a crossing without a grid: that of RTK positions (1.43 cm;
// Carballido et al. 2014, Appl. Eng. Agric. 30(3):361-366) and of valves.
const positionM = 0.02

// GridWeights returns the weights of some of the crossings, by index, by what a grid of times
// leaves of them, all 1 without one, and what it leaves of the scatter of a weighted one, m.
func GridWeights(moves []Move, list []Crossing, rows []int) (weight []float64, scatterM float64) {
	gridM, total := make([]float64, len(rows)), make([]float64, len(rows))
	for r, k := range rows {
		gridM[r] = list[k].gridScatterM(moves)
		total[r] = math.Hypot(positionM, gridM[r])
		scatterM += gridM[r]
	}
	if scatterM == 0 {
		for r := range total {
			total[r] = 1
		}
		return total, 0
	}
	weight = regress.Inverse(total)
	squares := 0.0
	for r := range rows {
		squares += gridM[r] * weight[r] * gridM[r] * weight[r] / float64(len(rows))
	}
	return weight, math.Sqrt(squares)
}

// sameStepNs is how near in time crossings of two sections must be for a grid to tell the
// same of both.
const sameStepNs = 40e6

// gridScatterM is what a grid of recorded times leaves of the scatter of a crossing's mean,
// m; 0 without. Of sections that cross at one instant all times lie in one step, and their
// mean is known no better than one; those that cross one after another tell one each. So do
// those that were seen by different looks, however soon they cross. The moves must be in order of time.
func (c *Crossing) gridScatterM(moves []Move) float64 {
	apart, meanM := 0.0, 0.0
	for j, i := range c.Changes {
		switch before := max(j-1, 0); {
		case moves[i].lookNs != 0:
			if !slices.ContainsFunc(c.Changes[:j], func(k int32) bool { return moves[k].lookNs == moves[i].lookNs }) {
				apart++
			}
		case j == 0 || moves[i].IdealNs-moves[c.Changes[before]].IdealNs > sameStepNs:
			apart++
		}
		meanM += moves[i].GridS * moves[i].SpeedMps / float64(len(c.Changes))
	}
	return meanM / math.Sqrt(apart)
}
