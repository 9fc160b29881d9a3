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

// resistance returns the resistance between valve and cylinder, free of the orifice where oil passes beside it:
// Δp = 128·μ·l·Q/(π·d⁴) + (ρ/2)·(Q/(C_d·A_o))² (Hagen-Poiseuille for the hose,
// then the orifice equation).
func (p *Params) resistance(free Throttle) resistance {
	d2 := p.HoseBoreM * p.HoseBoreM
	passes := p.OrificeCd * math.Pi / 4 * p.OrificeM * p.OrificeM
	r := resistance{
		hose:    128 * p.viscosityPaS() * p.HoseLengthM / (math.Pi * d2 * d2),
		orifice: oilKgPerM3 / 2 / (passes * passes),
	}
	if p.Throttle == free {
		r.orifice = 0
	}
	return r
}

// flowM3PerS solves Δp = b·Q + a·Q² for Q at a pressure difference in Pa. This
// form of the positive root, 2Δp/(b + √(b² + 4aΔp)), contains no subtraction,
// so it stays precise when one of the two terms is close to 0.
func (r resistance) flowM3PerS(pa float64) float64 {
	return 2 * pa / (r.hose + math.Sqrt(float64(r.hose*r.hose)+float64(4*r.orifice*pa)))
}

// LiftFlowM3PerS returns the oil flow into each section when n sections rise
// together: what its valve, hose and orifice let through, but at most 1/n of
// the pump's flow. n below 1 counts as 1. Where sections differ it is that of one cylinder as Params say.
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
	q := p.count() * p.resistance(WhenLowering).flowM3PerS(p.PressurePa-p.LiftForceN/p.pistonM2())
	if p.ValveFlowM3PerS > 0 {
		q = min(q, p.ValveFlowM3PerS)
	}
	return q
}

// DropFlowM3PerS returns the oil flow that weight and spring press out of a
// dropping section when it begins to. It depends neither on the pump nor on other sections.
func (p *Params) DropFlowM3PerS() float64 {
	return p.dropComputedM3PerS(p.resistance(WhenLifting), p.TravelM(), p.PressurePa) * p.dropTimed()
}

// dropTimed is how much faster tools come down, as they were timed from raised to the surface, than is
// computed for the oil of that day; 1 where they were not timed.
func (p *Params) dropTimed() float64 {
	if p.DropMps == 0 {
		return 1
	}
	then := p.asTimed()
	r := then.resistance(WhenLifting)
	if !p.uneven() {
		return p.DropMps / p.toolSpeedMps(then.dropComputedM3PerS(r, p.TravelM(), p.PressurePa))
	}
	slowness, piece := 0.0, float64(p.RaisedM/piecesOfStroke) // mean of 1/v
	for k := range piecesOfStroke {
		from := p.WorkingDepthM + float64(float64(k)*piece)
		slowness += float64(1 / p.toolSpeedMps(then.meanFallM3PerS(r, from, from+piece, p.PressurePa)) / piecesOfStroke)
	}
	return p.DropMps * slowness
}

// dropComputedM3PerS is what hose and orifice, and the flow valve where the pump presses too, let
// through at a height, with a pressure at the valves.
func (p *Params) dropComputedM3PerS(r resistance, heightM, valvesPa float64) float64 {
	q := p.count() * r.flowM3PerS(p.drivesPa(heightM, valvesPa))
	if ring := p.ring(); ring > 0 && p.ValveFlowM3PerS > 0 {
		q = min(q, p.ValveFlowM3PerS/ring)
	}
	return q
}

// meanFallM3PerS is the flow at which a tool falls from one height to another, which are ends of a piece, in the
// time that it takes: ∫dh/v(h), by Gauss's rule of three points.
func (p *Params) meanFallM3PerS(r resistance, low, high, valvesPa float64) float64 {
	if !p.uneven() || high <= 0 { // in the slot it is the same everywhere
		return p.dropComputedM3PerS(r, low, valvesPa)
	}
	sum, middle, half := 0.0, float64((low+high)/2), float64((high-low)/2)
	for _, g := range [...]struct{ at, weight float64 }{{-0.7745966692414834, 5.0 / 18}, {0, 8.0 / 18}, {0.7745966692414834, 5.0 / 18}} {
		sum += g.weight / p.dropComputedM3PerS(r, middle+float64(g.at*half), valvesPa)
	}
	return 1 / sum
}

// falls appends the flow of a section that is lowered, in each piece of its way between ends.
func (p *Params) falls(flows, ends []float64, valvesPa float64) []float64 {
	timed, r := p.dropTimed(), p.resistance(WhenLifting)
	for k := range len(ends) - 1 {
		flows = append(flows, p.meanFallM3PerS(r, ends[k], ends[k+1], valvesPa)*timed)
	}
	return flows
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
	if p.Cylinders != nil {
		sum := 0.0
		for i := range min(n, len(p.Cylinders)) {
			own := p.Of(i)
			sum += own.liftCapM3PerS()
		}
		return sum
	}
	return float64(n) * p.liftCapM3PerS()
}

// Reynolds returns the Reynolds number in a section's hose at a flow in m³/s,
// such as LiftFlowM3PerS(1) or DropFlowM3PerS(): Re = 4·Q/(π·d·ν).
func (p *Params) Reynolds(flowM3PerS float64) float64 {
	return 4 * flowM3PerS / (math.Pi * p.HoseBoreM * p.ViscosityMm2PerS() * 1e-6)
}
