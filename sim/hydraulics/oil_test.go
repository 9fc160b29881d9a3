// Viscosity against ISO 3448, common charts and the straight line of ASTM D341.

package hydraulics

import (
	"math"
	"testing"
)

// ISO 3448: the grade is the viscosity at 40 °C in mm²/s. The values at other
// temperatures are those of the table in oil.go and, for oils of viscosity
// index 100, of common charts (from memory).
func TestViscosity(t *testing.T) {
	for _, c := range []struct {
		vg              int
		tempDegC        float64
		lowest, highest float64
	}{
		{32, 40, 32 - 1e-9, 32 + 1e-9},
		{46, 40, 46 - 1e-9, 46 + 1e-9},
		{68, 40, 68 - 1e-9, 68 + 1e-9},
		{32, 100, 5.4 - 1e-9, 5.4 + 1e-9},
		{46, 100, 6.8 - 1e-9, 6.8 + 1e-9},
		{68, 100, 8.7 - 1e-9, 8.7 + 1e-9},
		{46, 0, 450, 650},
		{46, 20, 115, 140},
		{46, 50, 28, 32},
		{46, 70, 13, 16.5},
	} {
		p := hoe()
		p.OilVG, p.OilTempDegC = c.vg, c.tempDegC
		if got := p.ViscosityMm2PerS(); got < c.lowest || got > c.highest {
			t.Errorf("VG %d at %g °C: %.6g mm²/s; expected %g to %g", c.vg, c.tempDegC, got, c.lowest, c.highest)
		}
	}
}

// ASTM D341 is a straight line of log log (ν + 0.7) over log T whatever the
// base, so interpolation with natural logarithms must give the same.
func TestViscosityIsStraightOnTheChart(t *testing.T) {
	w := func(nu float64) float64 { return math.Log(math.Log(nu + 0.7)) }
	for temp := -30.0; temp <= 120; temp += 10 {
		u := math.Log((temp+273.15)/313.15) / math.Log(373.15/313.15)
		want := math.Exp(math.Exp(w(46)+u*(w(6.8)-w(46)))) - 0.7
		p := with(func(p *Params) { p.OilTempDegC = temp })
		near(t, "mm²/s", p.ViscosityMm2PerS(), want, 1e-9*want)
	}
}

func TestColdOilIsSlow(t *testing.T) {
	// Without flow valve and with a strong pump the oil alone decides.
	for _, vg := range []int{32, 46, 68} {
		last := Params{}
		for temp := -30.0; temp <= 120; temp += 5 {
			p := with(func(p *Params) {
				p.OilVG, p.OilTempDegC, p.ValveFlowM3PerS = vg, temp, 0
				p.PumpFlowM3PerS = 1000 * litrePerMin
			})
			if err := p.Validate(); err != nil {
				t.Fatal(err)
			}
			if temp > -30 && (p.LiftTimeNs(1) >= last.LiftTimeNs(1) || p.DropTimeNs() >= last.DropTimeNs()) {
				t.Errorf("VG %d at %g °C: lift %d drop %d ns; 5 K colder: %d %d", vg, temp,
					p.LiftTimeNs(1), p.DropTimeNs(), last.LiftTimeNs(1), last.DropTimeNs())
			}
			last = p
		}
	}
}
