// This file is how much oil passes hose and orifice, and what limits a section.

package hydraulics

import "math"

// LaminarReynolds is the Reynolds number up to which the flow in a hose is
// laminar (textbook value for pipes, from memory). Above it the hose resists
// more than these equations say, so that tools are slower than computed.
const LaminarReynolds = 2300

// resistance of hose and orifice in series: Δp = hose·Q + orifice·Q².
type resistance struct {
	hose    float64 // Pa·s/m³
	orifice float64 // Pa·s²/m⁶
}

// resistance of the way between valve and cylinder:
// Δp = 128·μ·l·Q/(π·d⁴) + (ρ/2)·(Q/(C_d·A_o))² (Hagen-Poiseuille + orifice).
func (p *Params) resistance() resistance {
	d2 := p.HoseBoreM * p.HoseBoreM
	passes := p.OrificeCd * math.Pi / 4 * p.OrificeM * p.OrificeM
	return resistance{
		hose:    128 * p.viscosityPaS() * p.HoseLengthM / (math.Pi * d2 * d2),
		orifice: oilKgPerM3 / 2 / (passes * passes),
	}
}

// flowM3PerS solves Δp = b·Q + a·Q² for Q. 2Δp/(b + √(b² + 4aΔp)) is the
// positive root in the form that subtracts nothing, so it keeps its digits
// when one of the two terms vanishes.
func (r resistance) flowM3PerS(pa float64) float64 {
	return 2 * pa / (r.hose + math.Sqrt(r.hose*r.hose+4*r.orifice*pa))
}

// LiftFlowM3PerS returns the oil each of n sections takes that rise together:
// what its valve, hose and orifice let through, at most the n-th part of the
// pump's flow. n below 1 counts as 1.
func (p *Params) LiftFlowM3PerS(n int) float64 {
	return min(p.liftCapM3PerS(), p.PumpFlowM3PerS/float64(max(n, 1)))
}

// liftCapM3PerS is the most one section can take, however strong the pump.
func (p *Params) liftCapM3PerS() float64 {
	q := p.resistance().flowM3PerS(p.PressurePa - p.LiftForceN/p.pistonM2())
	if p.ValveFlowM3PerS > 0 {
		q = min(q, p.ValveFlowM3PerS)
	}
	return q
}

// DropFlowM3PerS returns the oil that weight and spring press out of a
// lowering section. Neither the pump nor another section has a part in it.
func (p *Params) DropFlowM3PerS() float64 {
	return p.resistance().flowM3PerS(p.DropForceN / p.pistonM2())
}

// FlowNeededM3PerS returns the oil that n sections would take at full speed.
// When it exceeds PumpFlowM3PerS, n sections rising together are slower than
// one.
func (p *Params) FlowNeededM3PerS(n int) float64 {
	return float64(n) * p.liftCapM3PerS()
}

// Reynolds returns the Reynolds number in a section's hose at a flow in m³/s,
// such as LiftFlowM3PerS(1) or DropFlowM3PerS(): Re = 4·Q/(π·d·ν).
func (p *Params) Reynolds(flowM3PerS float64) float64 {
	return 4 * flowM3PerS / (math.Pi * p.HoseBoreM * p.ViscosityMm2PerS() * 1e-6)
}
