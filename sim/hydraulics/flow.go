// This file computes how much oil flows through a section's hose and orifice,
// and what limits that flow.

package hydraulics

import "math"

// LaminarReynolds is the Reynolds number up to which the flow in a hose is
// laminar (textbook value for pipes, from memory). Above it a hose has more
// resistance than this package computes, so real tools are slower.
const LaminarReynolds = 2300

// resistance is that of hose and orifice in series: Δp = hose·Q + orifice·Q².
type resistance struct {
	hose    float64 // Pa·s/m³
	orifice float64 // Pa·s²/m⁶
}

// resistance returns the resistance between valve and cylinder:
// Δp = 128·μ·l·Q/(π·d⁴) + (ρ/2)·(Q/(C_d·A_o))² (Hagen-Poiseuille for the hose,
// then the orifice equation).
func (p *Params) resistance() resistance {
	d2 := p.HoseBoreM * p.HoseBoreM
	passes := p.OrificeCd * math.Pi / 4 * p.OrificeM * p.OrificeM
	return resistance{
		hose:    128 * p.viscosityPaS() * p.HoseLengthM / (math.Pi * d2 * d2),
		orifice: oilKgPerM3 / 2 / (passes * passes),
	}
}

// flowM3PerS solves Δp = b·Q + a·Q² for Q at a pressure difference in Pa. This
// form of the positive root, 2Δp/(b + √(b² + 4aΔp)), contains no subtraction,
// so it stays precise when one of the two terms is close to 0.
func (r resistance) flowM3PerS(pa float64) float64 {
	return 2 * pa / (r.hose + math.Sqrt(float64(r.hose*r.hose)+float64(4*r.orifice*pa)))
}

// LiftFlowM3PerS returns the oil flow into each section when n sections rise
// together: what its valve, hose and orifice let through, but at most 1/n of
// the pump's flow. n below 1 counts as 1.
func (p *Params) LiftFlowM3PerS(n int) float64 {
	return min(p.liftCapM3PerS(), p.PumpFlowM3PerS/float64(max(n, 1)))
}

// liftCapM3PerS returns the most oil one section takes from a pump of any size.
func (p *Params) liftCapM3PerS() float64 {
	q := p.liftComputedM3PerS()
	if p.LiftMps > 0 {
		then := p.asTimed()
		q *= p.LiftMps / p.toolSpeedMps(then.liftComputedM3PerS())
	}
	return q
}

// liftComputedM3PerS is what valve, hose and orifice let through.
func (p *Params) liftComputedM3PerS() float64 {
	q := p.resistance().flowM3PerS(p.PressurePa - p.LiftForceN/p.pistonM2())
	if p.ValveFlowM3PerS > 0 {
		q = min(q, p.ValveFlowM3PerS)
	}
	return q
}

// DropFlowM3PerS returns the oil flow that weight and spring press out of a
// dropping section. It depends neither on the pump nor on other sections.
func (p *Params) DropFlowM3PerS() float64 {
	q := p.dropComputedM3PerS()
	if p.DropMps > 0 {
		then := p.asTimed()
		q *= p.DropMps / p.toolSpeedMps(then.dropComputedM3PerS())
	}
	return q
}

// dropComputedM3PerS is what hose and orifice let through.
func (p *Params) dropComputedM3PerS() float64 {
	return p.resistance().flowM3PerS(p.DropForceN / p.pistonM2())
}

// asTimed are the parameters with the oil of the measurement. A measured speed over the one that is
// computed for that oil is the factor by which flows in any oil differ from those computed.
func (p *Params) asTimed() Params {
	then := *p
	then.OilTempDegC = p.MeasuredDegC
	return then
}

// FlowNeededM3PerS returns the oil flow that n sections need to rise together at
// full speed. If it exceeds PumpFlowM3PerS, they rise more slowly than one
// section alone.
func (p *Params) FlowNeededM3PerS(n int) float64 {
	return float64(n) * p.liftCapM3PerS()
}

// Reynolds returns the Reynolds number in a section's hose at a flow in m³/s,
// such as LiftFlowM3PerS(1) or DropFlowM3PerS(): Re = 4·Q/(π·d·ν).
func (p *Params) Reynolds(flowM3PerS float64) float64 {
	return 4 * flowM3PerS / (math.Pi * p.HoseBoreM * p.ViscosityMm2PerS() * 1e-6)
}
