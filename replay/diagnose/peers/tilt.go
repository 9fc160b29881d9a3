// How much later the sections at one end of a bar are than those at the other.

package peers

import (
	"math"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
)

// TurningRadPerS is a yaw rate above those on a straight: a circle with a radius of
// 100 m at 2 m/s.
const TurningRadPerS = 0.02

// Tilts has one row for each crossing: how much later the sections with longer levers
// are. Rows are weighted by the spread of the levers, in m.
type Tilts struct {
	Late     []float64   // m: slope over the levers of the part of e that the causes do not explain
	Straight []float64   // m: 1
	Yaw      []float64   // m·rad/s
	Causes   [][]float64 // for each cause, the slope of its column
	Drop     []bool

	Turns          int // crossings in turns
	WidestM        float64
	FastestRadPerS float64
}

// Explained is a cause and its size. PerUnitM is how late a size of 1 makes a move, in m;
// nil tilts nothing.
type Explained struct {
	PerUnitM func(m *evidence.Move) float64
	Size     float64
}

// TiltsOf returns the rows of the crossings whose sections have different levers.
func TiltsOf(moves []evidence.Move, crossings []evidence.Crossing, causes []Explained) Tilts {
	t := Tilts{Causes: make([][]float64, len(causes))}
	for k := range crossings {
		c := &crossings[k]
		average := func(x func(m *evidence.Move) float64) float64 {
			sum := 0.0
			for _, i := range c.Changes {
				sum += x(&moves[i])
			}
			return sum / float64(len(c.Changes))
		}
		mean := average(func(m *evidence.Move) float64 { return m.LeverM })
		spread := math.Sqrt(average(func(m *evidence.Move) float64 { return (m.LeverM - mean) * (m.LeverM - mean) }))
		if !(spread > 0) {
			continue
		}
		// The slope of x over the levers, Σ (l-l̄)·x / Σ (l-l̄)², times their spread.
		slope := func(x func(m *evidence.Move) float64) float64 {
			return average(func(m *evidence.Move) float64 { return (m.LeverM - mean) * x(m) }) / spread
		}
		late := slope(func(m *evidence.Move) float64 { return m.LateM })
		for j, x := range causes {
			s := 0.0
			if x.PerUnitM != nil {
				s = slope(x.PerUnitM)
			}
			t.Causes[j] = append(t.Causes[j], s)
			late -= x.Size * s
		}
		yaw := average(func(m *evidence.Move) float64 { return m.YawRateRadPerS })
		t.Late, t.Drop = append(t.Late, late), append(t.Drop, c.On)
		t.Straight, t.Yaw = append(t.Straight, spread), append(t.Yaw, spread*yaw)
		for _, i := range c.Changes {
			t.WidestM = max(t.WidestM, math.Abs(moves[i].SideM))
		}
		t.FastestRadPerS = max(t.FastestRadPerS, math.Abs(yaw))
		if math.Abs(yaw) >= TurningRadPerS {
			t.Turns++
		}
	}
	return t
}

// weight is by how much the size changes with row k.
func (t *Tilts) weight(f *regress.Fit, k int) float64 {
	return f.Inv.At(1, 0)*t.Straight[k] + f.Inv.At(1, 1)*t.Yaw[k]
}

// Variance is the variance of the size, the second coefficient of f, at least that of even
// scatter. y are the rows and fit what f makes of them.
//
// A wrong antenna position makes a heading error whose size in seconds falls with the
// speed, and a drop and the lift after it have nearly the same speed. So the weighted
// residuals w·r/√(1-h) of both are added before they are squared (cluster-robust, with
// the correction of HC2; MacKinnon and White, J. Econometrics 29:305-325, 1985; from
// memory).
func (t *Tilts) Variance(f *regress.Fit, y, fit []float64) float64 {
	sum, pass := 0.0, 0.0
	for k := range y {
		if t.Drop[k] {
			sum, pass = sum+pass*pass, 0
		}
		leverage := regress.Quadratic(f.Inv, []float64{t.Straight[k], t.Yaw[k]})
		pass += t.weight(f, k) * (y[k] - fit[k]) / math.Sqrt(max(1e-3, 1-leverage))
	}
	return max(f.SE(1)*f.SE(1), sum+pass*pass)
}

// Uncertain is what the uncertain sizes of the causes, as chosen has them, add to the
// variance of the size.
func (t *Tilts) Uncertain(f, chosen *regress.Fit) float64 {
	if len(t.Causes) == 0 {
		return 0
	}
	by := make([]float64, len(t.Causes))
	for j, slopes := range t.Causes {
		for k, s := range slopes {
			by[j] += t.weight(f, k) * s
		}
	}
	return chosen.Sigma * chosen.Sigma * regress.Quadratic(chosen.Inv, by)
}
