// A wrong heading in turns: one end of the bar late, the other early, the more
// the faster it turns.

package diagnose

import "math"

const (
	// turningRadPerS is a yaw rate that a tractor on a straight does not have: a
	// circle of 100 m at 2 m/s.
	turningRadPerS = 0.02
	leastTurns     = 5 // crossings that turn
	// leastNearing is how much nearer to a border, at least, a section is taken to
	// come by each metre of its path: along a border a lever has no end.
	leastNearing = 0.25
)

// headingError returns the heading error in turns, nil where there is none, and
// takes its part out of the moves.
//
// A section on a lever l has e = l·ω·size, the lever of a border square to the
// path being y. In each crossing the slope of e over l is free of what all
// sections share; over crossings it is a + size·ω, with a the heading's error on
// the straight. What was chosen is taken out of e first: in a bend a section
// moves at v - y·ω, so that a time error tilts a crossing as well.
func (a *analysis) headingError() *found {
	t := a.tilts()
	if t.turns < leastTurns {
		return nil
	}
	cols := [][]float64{t.straight, t.yaw}
	var f fitted
	var y []float64
	fit := make([]float64, len(t.late))
	for range 3 {
		var ok bool
		y = clipped(t.late, fit, len(cols), noiseFloorM)
		if f, ok = newGram(cols, y, noiseFloorM).fit(0, 1); !ok {
			return nil
		}
		fit = predict(&f, cols, len(y))
	}
	size, se := f.beta[1], math.Sqrt(t.variance(&f, y, fit)+a.tilting(&f, &t))
	out := &found{term: term{cause: HeadingError, least: leastM / (t.fastestRadPerS * t.widestM)}, size: size, n: len(y)}
	if f.df < 3 || math.Abs(size) < out.least || !(twoSided(size/se, f.df) < alpha/2) {
		return nil
	}
	out.ci = around(size, se, f.df)
	for i := range a.moves {
		m := &a.moves[i]
		part := m.leverM * m.yawRateRadPerS * size
		m.lateM -= part
		out.explained += part * part
	}
	return out
}

// tilts are the crossings as a heading error shows in them, a row each, weighted
// by how far the levers of its sections spread, in m.
type tilts struct {
	late     []float64   // m: the slope over the levers of what the choice leaves of e
	straight []float64   // m: 1
	yaw      []float64   // m·rad/s
	chosen   [][]float64 // by cause of the choice: the slope of its column
	drop     []bool

	turns          int // crossings that turn
	widestM        float64
	fastestRadPerS float64
}

// tilts returns the rows of the crossings whose sections are on levers of
// different lengths.
func (a *analysis) tilts() tilts {
	t := tilts{chosen: make([][]float64, len(a.best.set))}
	for k := range a.list {
		c := &a.list[k]
		mean := a.row(k, func(m *move) float64 { return m.leverM })
		spread := math.Sqrt(a.row(k, func(m *move) float64 { return (m.leverM - mean) * (m.leverM - mean) }))
		if !(spread > 0) {
			continue
		}
		// The slope of x over the levers, Σ (l-l̄)·x / Σ (l-l̄)², times their spread.
		slope := func(x func(m *move) float64) float64 {
			return a.row(k, func(m *move) float64 { return (m.leverM - mean) * x(m) }) / spread
		}
		late := slope(func(m *move) float64 { return m.lateM })
		for j, q := range a.best.set {
			s := 0.0
			if x := a.terms[q].x; x != nil { // a piece of border does not tilt
				s = slope(x)
			}
			t.chosen[j] = append(t.chosen[j], s)
			late -= a.best.beta[j] * s
		}
		yaw := a.row(k, func(m *move) float64 { return m.yawRateRadPerS })
		t.late, t.drop = append(t.late, late), append(t.drop, c.on)
		t.straight, t.yaw = append(t.straight, spread), append(t.yaw, spread*yaw)
		for _, i := range c.of {
			t.widestM = max(t.widestM, math.Abs(a.moves[i].sideM))
		}
		t.fastestRadPerS = max(t.fastestRadPerS, math.Abs(yaw))
		if math.Abs(yaw) >= turningRadPerS {
			t.turns++
		}
	}
	return t
}

// weight is by how much row k moves the size.
func (t *tilts) weight(f *fitted, k int) float64 {
	return f.inv.At(1, 0)*t.straight[k] + f.inv.At(1, 1)*t.yaw[k]
}

// variance is that of the size, at least that of even scatter.
//
// An antenna that is elsewhere makes the heading wrong by so many seconds less
// the faster the tractor is, and a drop and the lift after it share their speed:
// the residuals w·r/√(1-h) of both are summed before they are squared
// (cluster-robust, corrected as HC2 is; MacKinnon and White, J. Econometrics
// 29:305-325, 1985; from memory).
func (t *tilts) variance(f *fitted, y, fit []float64) float64 {
	sum, pass := 0.0, 0.0
	for k := range y {
		if t.drop[k] {
			sum, pass = sum+pass*pass, 0
		}
		leverage := quadratic(f.inv, []float64{t.straight[k], t.yaw[k]})
		pass += t.weight(f, k) * (y[k] - fit[k]) / math.Sqrt(max(1e-3, 1-leverage))
	}
	return max(f.se(1)*f.se(1), sum+pass*pass)
}

// tilting is what the uncertainty of the choice's sizes adds to the variance of
// the heading error.
func (a *analysis) tilting(f *fitted, t *tilts) float64 {
	if len(t.chosen) == 0 {
		return 0
	}
	by := make([]float64, len(t.chosen))
	for j, slopes := range t.chosen {
		for k, s := range slopes {
			by[j] += t.weight(f, k) * s
		}
	}
	return a.best.sigma * a.best.sigma * quadratic(a.best.inv, by)
}

// levers sets by how much each section of a crossing is late for each radian that
// the heading is too far to the right.
//
// A bar turned by δ about the antenna is behind by y·δ and to the right by x·δ, x
// from the antenna forward. Across a border whose normal is at ψ to the right of
// the heading that is (y·cos ψ - x·sin ψ)·δ, of which a section that moves at
// (v, x'·ω), x' from the turning point, makes good cos ψ + (x'·ω/v)·sin ψ on each
// metre. A section that crosses alone says nothing of the border: its lever is y.
func levers(moves []move, c *crossing) {
	if len(c.of) == 1 {
		m := &moves[c.of[0]]
		m.leverM = m.sideM * m.perPlace
		return
	}
	n, east, north := float64(len(c.of)), 0.0, 0.0
	for _, i := range c.of {
		east += moves[i].eastM / n
		north += moves[i].northM / n
	}
	ee, en, nn := 0.0, 0.0, 0.0
	for _, i := range c.of {
		de, dn := moves[i].eastM-east, moves[i].northM-north
		ee, en, nn = ee+de*de, en+de*dn, nn+dn*dn
	}
	// The border runs along the longer axis of the places where it was crossed.
	normalRad := math.Atan2(2*en, nn-ee)/2 + math.Pi/2
	for _, i := range c.of {
		m := &moves[i]
		sin, cos := math.Sincos(normalRad - m.headingRad)
		if cos < 0 {
			sin, cos = -sin, -cos
		}
		nearing := cos + m.axleM*m.yawRateRadPerS/m.speedMps*sin
		m.leverM = (m.sideM*cos - m.antennaM*sin) / max(nearing, leastNearing) * m.perPlace
	}
}
