// A wrong heading in turns: it makes one end of the bar late and the other early, the
// more the faster the tractor turns.

package diagnose

import (
	"math"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
)

const (
	// turningRadPerS is a yaw rate above those on a straight: a circle with a radius of
	// 100 m at 2 m/s.
	turningRadPerS = 0.02
	leastTurns     = 5 // crossings in turns
)

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
	if t.turns < leastTurns {
		return nil
	}
	cols := [][]float64{t.straight, t.yaw}
	var f regress.Fit
	var y []float64
	fit := make([]float64, len(t.late))
	for range 3 {
		var ok bool
		y = regress.Clipped(t.late, fit, len(cols), a.roughM)
		if f, ok = regress.NewGram(cols, y, noiseFloorM).Fit(0, 1); !ok {
			return nil
		}
		fit = regress.Predict(&f, cols, len(y))
	}
	size, se := f.Beta[1], math.Sqrt(t.variance(&f, y, fit)+a.tilting(&f, &t))
	out := &found{term: term{cause: HeadingError, leastSize: evidence.LeastM / (t.fastestRadPerS * t.widestM)}, size: size, crossings: len(y)}
	if f.DF < 3 || math.Abs(size) < out.leastSize || !(regress.TwoSided(size/se, f.DF) < regress.Alpha/2) {
		return nil
	}
	out.ci = regress.Around(size, se, f.DF)
	for i := range a.moves {
		m := &a.moves[i]
		part := m.LeverM * m.YawRateRadPerS * size
		m.LateM -= part
		out.explained += part * part
	}
	return out
}

// tilts has one row for each crossing: how much later the sections with longer levers
// are. Rows are weighted by the spread of the levers, in m.
type tilts struct {
	late     []float64   // m: slope over the levers of the part of e that the chosen causes do not explain
	straight []float64   // m: 1
	yaw      []float64   // m·rad/s
	causes   [][]float64 // for each chosen cause, the slope of its column
	drop     []bool

	turns          int // crossings in turns
	widestM        float64
	fastestRadPerS float64
}

// tilts returns the rows of the crossings whose sections have different levers.
func (a *analysis) tilts() tilts {
	t := tilts{causes: make([][]float64, len(a.chosen.Set))}
	for k := range a.crossings {
		c := &a.crossings[k]
		mean := a.mean(k, func(m *evidence.Move) float64 { return m.LeverM })
		spread := math.Sqrt(a.mean(k, func(m *evidence.Move) float64 { return (m.LeverM - mean) * (m.LeverM - mean) }))
		if !(spread > 0) {
			continue
		}
		// The slope of x over the levers, Σ (l-l̄)·x / Σ (l-l̄)², times their spread.
		slope := func(x func(m *evidence.Move) float64) float64 {
			return a.mean(k, func(m *evidence.Move) float64 { return (m.LeverM - mean) * x(m) }) / spread
		}
		late := slope(func(m *evidence.Move) float64 { return m.LateM })
		for j, q := range a.chosen.Set {
			s := 0.0
			if x := a.terms[q].perUnitM; x != nil { // a piece of border tilts nothing
				s = slope(x)
			}
			t.causes[j] = append(t.causes[j], s)
			late -= a.chosen.Beta[j] * s
		}
		yaw := a.mean(k, func(m *evidence.Move) float64 { return m.YawRateRadPerS })
		t.late, t.drop = append(t.late, late), append(t.drop, c.On)
		t.straight, t.yaw = append(t.straight, spread), append(t.yaw, spread*yaw)
		for _, i := range c.Changes {
			t.widestM = max(t.widestM, math.Abs(a.moves[i].SideM))
		}
		t.fastestRadPerS = max(t.fastestRadPerS, math.Abs(yaw))
		if math.Abs(yaw) >= turningRadPerS {
			t.turns++
		}
	}
	return t
}

// weight is by how much the size changes with row k.
func (t *tilts) weight(f *regress.Fit, k int) float64 {
	return f.Inv.At(1, 0)*t.straight[k] + f.Inv.At(1, 1)*t.yaw[k]
}

// variance is the variance of the size, at least that of even scatter.
//
// A wrong antenna position makes a heading error whose size in seconds falls with the
// speed, and a drop and the lift after it have nearly the same speed. So the weighted
// residuals w·r/√(1-h) of both are added before they are squared (cluster-robust, with
// the correction of HC2; MacKinnon and White, J. Econometrics 29:305-325, 1985; from
// memory).
func (t *tilts) variance(f *regress.Fit, y, fit []float64) float64 {
	sum, pass := 0.0, 0.0
	for k := range y {
		if t.drop[k] {
			sum, pass = sum+pass*pass, 0
		}
		leverage := regress.Quadratic(f.Inv, []float64{t.straight[k], t.yaw[k]})
		pass += t.weight(f, k) * (y[k] - fit[k]) / math.Sqrt(max(1e-3, 1-leverage))
	}
	return max(f.SE(1)*f.SE(1), sum+pass*pass)
}

// tilting is what the uncertain sizes of the chosen causes add to the variance of the
// heading error.
func (a *analysis) tilting(f *regress.Fit, t *tilts) float64 {
	if len(t.causes) == 0 {
		return 0
	}
	by := make([]float64, len(t.causes))
	for j, slopes := range t.causes {
		for k, s := range slopes {
			by[j] += t.weight(f, k) * s
		}
	}
	return a.chosen.Sigma * a.chosen.Sigma * regress.Quadratic(a.chosen.Inv, by)
}
