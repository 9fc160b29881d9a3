// This file computes the viscosity of the oil at its temperature.

package hydraulics

import (
	"math"

	"liftbench/sections/exact"
)

// oilKgPerM3 is a typical density of mineral hydraulic oil at 15 °C (from
// memory: 860 to 880). It changes by less than 1 % per 10 K; that is neglected,
// because the flow through the orifice depends only on its square root.
const oilKgPerM3 = 870.0

// typicalAt100 is the kinematic viscosity at 100 °C, mm²/s, of an oil of each
// ISO viscosity grade with a viscosity index of about 100 (typical values, from
// memory). The viscosity at 40 °C is the number of the grade itself (ISO 3448).
var typicalAt100 = map[int]float64{32: 5.4, 46: 6.8, 68: 8.7}

// ViscosityMm2PerS returns the kinematic viscosity of the oil at OilTempDegC.
func (p *Params) ViscosityMm2PerS() float64 {
	// ASTM D341: log10 log10 (ν + 0.7) = A − B·log10 T, ν in mm²/s, T in K,
	// for ν above 2 mm²/s. A and B follow from the viscosities at 40 and 100 °C.
	const t40, t100 = 40 + 273.15, 100 + 273.15
	at40, at100 := float64(p.OilVG), typicalAt100[p.OilVG]
	if p.At40Mm2PerS > 0 {
		at40, at100 = p.At40Mm2PerS, p.At100Mm2PerS
	}
	w40, w100 := doubleLog(at40), doubleLog(at100)
	b := (w40 - w100) / (exact.Log10(t100) - exact.Log10(t40))
	a := w40 + float64(b*exact.Log10(t40))
	w := a - float64(b*exact.Log10(p.OilTempDegC+273.15))
	return exact.Exp(math.Ln10*exact.Exp(math.Ln10*w)) - 0.7
}

func doubleLog(mm2PerS float64) float64 { return exact.Log10(exact.Log10(mm2PerS + 0.7)) }

// viscosityPaS returns the dynamic viscosity μ = ρ·ν, in Pa·s.
func (p *Params) viscosityPaS() float64 { return oilKgPerM3 * p.ViscosityMm2PerS() * 1e-6 }
