// This file lets an accumulator give oil when sections ask for more than the pump gives.

package hydraulics

import "liftbench/sections/exact"

// cells is into how many parts an accumulator's oil is divided, in each of which the pressure is that of its
// middle: speeds are constant between events. A part without extent on either side stands for full and for empty.
const cells = 128

// accumulator holds oil under gas, p·V^1.4 = constant.
type accumulator struct {
	gasM3, prechargePa float64 // without oil
	fullM3             float64 // of oil, at the pressure of the pump; 0 = there is no accumulator
	cell               int     // which part the oil ends in, 0 to cells-1; cells when full, -1 when empty
	sinceNs            int64
	sinceM3            float64
	netM3PerS          float64 // into it
	nextNs             int64   // when the oil comes to the end of its part
}

// begin starts full at atNs.
func (a *accumulator) begin(atNs int64) {
	a.sinceNs, a.sinceM3, a.netM3PerS, a.nextNs, a.cell = atNs, a.fullM3, 0, never, cells
}

// newAccumulator returns that of p.
func newAccumulator(p *Params) accumulator {
	if p.AccumulatorM3 == 0 {
		return accumulator{nextNs: never}
	}
	return accumulator{gasM3: p.AccumulatorM3, prechargePa: p.PrechargePa, fullM3: p.AccumulatorOilM3()}
}

// AccumulatorOilM3 is the oil that an accumulator holds when it is full, at the pressure of the pump.
func (p *Params) AccumulatorOilM3() float64 {
	if p.AccumulatorM3 == 0 {
		return 0
	}
	return p.AccumulatorM3 * (1 - exact.Exp(exact.Log(p.PrechargePa/p.PressurePa)/1.4))
}

// pressurePa is the pressure in the middle of a part.
func (a *accumulator) pressurePa(cell int) float64 {
	oil := float64((a.edgeM3(cell) + a.edgeM3(cell+1)) / 2)
	return a.prechargePa * exact.Exp(1.4*exact.Log(a.gasM3/(a.gasM3-oil)))
}

// oilM3 is what it holds at t.
func (a *accumulator) oilM3(t int64) float64 {
	low, high := a.edgeM3(a.cell), a.edgeM3(a.cell+1)
	if t >= a.nextNs {
		if a.netM3PerS > 0 {
			return high
		}
		return low
	}
	return min(max(a.sinceM3+float64(a.netM3PerS*float64(t-a.sinceNs)*1e-9), low), high)
}

// edgeM3 is where a part begins.
func (a *accumulator) edgeM3(cell int) float64 {
	return float64(a.fullM3 * float64(min(max(cell, 0), cells)) / cells)
}

// set lets oil flow in from t on, and finds when it comes to the end of its part.
func (a *accumulator) set(t int64, oilM3, netM3PerS float64) {
	a.sinceM3, a.sinceNs, a.netM3PerS, a.nextNs = oilM3, t, netM3PerS, never
	switch {
	case netM3PerS > 0:
		a.nextNs = after(t, (a.edgeM3(a.cell+1)-oilM3)/netM3PerS)
	case netM3PerS < 0:
		a.nextNs = after(t, (oilM3-a.edgeM3(a.cell))/-netM3PerS)
	}
}

// discharge lets an accumulator give at t what sections ask beyond the pump's flow, or take what they leave. It
// reports whether they get all they ask; if not, it is empty, and the pump alone feeds them.
//
// At the end of a part, where the sections ask more than the pump gives at the pressure above it and less
// at that below, the oil stays there: they get what they ask at a pressure in between.
func (b *Bank) discharge(t int64) (all bool) {
	a := &b.gas
	oil, gives := a.oilM3(t), b.pump.gives()
	for went := 0; ; {
		net, to := gives-b.asked(), 0
		switch {
		case net < 0 && oil <= a.edgeM3(a.cell):
			to = -1
		case net > 0 && oil >= a.edgeM3(a.cell+1):
			to = 1
		}
		switch {
		case to == 0:
			a.set(t, oil, net)
			return true
		case a.cell+to < -1:
			a.set(t, oil, 0)
			return false
		case a.cell+to > cells:
			a.set(t, oil, 0)
			return true
		case to == -went:
			b.blend(t, a.cell+to, gives)
			a.set(t, oil, 0)
			return true
		}
		b.fill(t, a.cell+to)
		went = to
	}
}

// asked is what all sections ask for.
func (b *Bank) asked() (sum float64) {
	for i := range b.sections {
		sum += b.sections[i].asks
	}
	return sum
}

// fill takes the pressure of another part of the accumulator.
func (b *Bank) fill(t int64, cell int) {
	b.gas.cell = cell
	b.takeOil(b.kinds[0].params.OilTempDegC)
	b.find(t)
}

// blend goes to the part beside, and lets the sections ask what they do between the two, so that it adds up to
// what the pump gives.
func (b *Bank) blend(t int64, cell int, gives float64) {
	here := b.asked()
	for i := range b.sections {
		s := &b.sections[i]
		s.flowBeside, s.asksBeside = s.flow, s.asks
	}
	b.fill(t, cell)
	share := (here - gives) / (here - b.asked())
	for i := range b.sections {
		s := &b.sections[i]
		s.flow = s.flowBeside + float64(share*(s.flow-s.flowBeside))
		s.asks = s.asksBeside + float64(share*(s.asks-s.asksBeside))
	}
}
