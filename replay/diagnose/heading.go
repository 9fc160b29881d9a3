// A wrong heading in turns: it makes one end of the bar late and the other early, the
// more the faster the tractor turns.

package diagnose

import (
	"math"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/peers"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/terms"
)

const leastTurns = 5 // crossings in turns

// headingError returns the heading error in turns and takes it out of the moves; nil if
// there is none.
//
// A section with the lever l has e = l·ω·size; at a border square to the path l is the
// section's y. Within a crossing, the slope of e over l does not depend on what all
// sections share. Over the crossings the slope is a + size·ω, with a the heading error
// on the straight. What the chosen causes explain is taken out of e first: in a turn a
// section moves at v - y·ω, so a time error tilts a crossing too.
func (a *analysis) headingError() *found {
	t := a.tilts()
	if t.Turns < leastTurns {
		return nil
	}
	cols := [][]float64{t.Straight, t.Yaw}
	var f regress.Fit
	var y []float64
	fit := make([]float64, len(t.Late))
	for range 3 {
		var ok bool
		y = regress.Clipped(t.Late, fit, len(cols), a.roughM)
		if f, ok = regress.NewGram(cols, y, noiseFloorM).Fit(0, 1); !ok {
			return nil
		}
		fit = regress.Predict(&f, cols, len(y))
	}
	size, se := f.Beta[1], math.Sqrt(t.Variance(&f, y, fit)+t.Uncertain(&f, &a.chosen))
	out := &found{Term: terms.Term{Cause: HeadingError, LeastSize: evidence.LeastM / (t.FastestRadPerS * t.WidestM)}, Size: size, Crossings: len(y)}
	if f.DF < 3 || math.Abs(size) < out.LeastSize || !(regress.TwoSided(size/se, f.DF) < regress.Alpha/2) {
		return nil
	}
	out.CI95 = regress.Around(size, se, f.DF)
	for i := range a.moves {
		m := &a.moves[i]
		part := m.LeverM * m.YawRateRadPerS * size
		m.LateM -= part
		out.SumM2 += part * part
	}
	return out
}

// tilts returns the tilts of the crossings beside the chosen causes.
func (a *analysis) tilts() peers.Tilts {
	var causes []peers.Explained
	for j, q := range a.chosen.Set {
		causes = append(causes, peers.Explained{PerUnitM: a.terms[q].PerUnitM, Size: a.chosen.Beta[j]})
	}
	return peers.TiltsOf(a.moves, a.crossings, causes)
}
