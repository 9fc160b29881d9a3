// Cylinder, hose and orifice against textbook formulas.

package hydraulics

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// v = Q/A: a 50 mm bore at 20 L/min moves at 0.170 m/s (fluid-power handbook
// formula: 21.22·Q/D² with L/min and mm gives m/s).
func TestRodSpeed(t *testing.T) {
	p := with(func(p *Params) {
		p.BoreM, p.StrokeM = 0.050, 0.30
		p.RaisedM, p.WorkingDepthM = 0.26, 0.04 // travel = stroke: no lever
		p.ValveFlowM3PerS = 20 * litrePerMin
	})
	near(t, "m/s", p.toolSpeedMps(p.LiftFlowM3PerS(1)), 0.170, 0.0005)
	near(t, "m/s", p.toolSpeedMps(p.LiftFlowM3PerS(1)), 21.2207*20/(50*50), 1e-6)
	// The lever: half the stroke for the same travel doubles the tool's speed.
	p.StrokeM /= 2
	near(t, "m/s with lever", p.toolSpeedMps(p.LiftFlowM3PerS(1)), 2*21.2207*20/(50*50), 2e-6)
}

// Each of the two laws alone (Hagen-Poiseuille: Q = π·d⁴·Δp/(128·μ·l);
// orifice: Q = C_d·A_o·√(2Δp/ρ)), as in any textbook of fluid mechanics.
func TestFlowLimits(t *testing.T) {
	p := hoe()
	drop := 1500 / (math.Pi / 4 * 0.032 * 0.032)

	p.HoseLengthM = 0
	want := 0.62 * math.Pi / 4 * 0.0025 * 0.0025 * math.Sqrt(2*drop/870)
	near(t, "orifice alone", p.DropFlowM3PerS(), want, 1e-12*want)

	p = hoe()
	p.HoseLengthM, p.HoseBoreM, p.OrificeM, p.OrificeCd = 100, 0.002, 0.1, 1
	mu := 870 * p.ViscosityMm2PerS() * 1e-6
	want = math.Pi * math.Pow(0.002, 4) * drop / (128 * mu * 100)
	near(t, "hose alone", p.DropFlowM3PerS(), want, 1e-9*want)
}

func TestFlowSolvesItsEquation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tenTo := func(name string, lo, hi float64) float64 {
			return math.Pow(10, rapid.Float64Range(lo, hi).Draw(t, name))
		}
		r := resistance{hose: tenTo("hose", 0, 14), orifice: tenTo("orifice", 6, 20)}
		pa := tenTo("pa", 2, 8)
		q := r.flowM3PerS(pa)
		if got := r.hose*q + r.orifice*q*q; math.Abs(got-pa) > 1e-13*pa {
			t.Fatalf("Q = %g needs %g Pa; given %g", q, got, pa)
		}
	})
}

// Re = v·d/ν: 1 m/s of ISO VG 46 at 40 °C in 8 mm is 1 · 0.008 / 46e-6.
func TestReynolds(t *testing.T) {
	p := with(func(p *Params) { p.OilTempDegC = 40 })
	near(t, "Re", p.Reynolds(math.Pi/4*0.008*0.008), 0.008/46e-6, 1e-6)
}

func TestFlowNeeded(t *testing.T) {
	p := hoe()
	near(t, "12 at 8 L/min", p.FlowNeededM3PerS(12)/litrePerMin, 96, 1e-9)
	near(t, "7 of them on 60 L/min", p.LiftFlowM3PerS(7)/litrePerMin, 8, 1e-9)
	near(t, "12 of them on 60 L/min", p.LiftFlowM3PerS(12)/litrePerMin, 5, 1e-9)
}
