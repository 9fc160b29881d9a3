// This file computes in closed form how long an undisturbed lift or drop takes.
// The controller's leads and the set-up sheet use these times.

package hydraulics

import "liftbench/sections"

// LiftTimeNs returns the lift lead with n sections rising together: the dead
// time, the pump's time to wake, the way through the slot and the rise from
// working depth to effective depth. In turn, it is that of the last of them.
func (p *Params) LiftTimeNs(n int) int64 { return p.liftNs(p.effectiveM(), n) }

// FullLiftTimeNs returns the time of a whole lift with n sections rising
// together, as LiftTimeNs up to raised.
func (p *Params) FullLiftTimeNs(n int) int64 { return p.liftNs(p.TravelM(), n) }

// DropTimeNs returns the drop lead: the dead time plus the fall from raised to
// effective depth.
func (p *Params) DropTimeNs() int64 { return p.dropNs(p.TravelM() - p.effectiveM()) }

// FullDropTimeNs returns the time of a whole drop: the dead time plus the fall
// from raised to working depth.
func (p *Params) FullDropTimeNs() int64 { return p.dropNs(p.TravelM()) }

// liftNs is the time of a rise; where sections differ that of the slowest of the first n, alone for n = 1.
func (p *Params) liftNs(riseM float64, n int) int64 {
	if p.Cylinders != nil {
		return p.slowestNs(n, func(own *Params) int64 { return own.liftNs(riseM, 1) }, riseM < p.TravelM())
	}
	riseM -= p.bottomM()
	if p.Sequence.lifting() && n > 1 {
		riseM += float64(n-1) * (p.TravelM() - p.bottomM())
		n = 1
	}
	return after(p.LiftDeadNs+p.PumpWakeNs, riseM/p.toolSpeedMps(p.LiftFlowM3PerS(n)))
}

// slowestNs is the longest time of any section alone, or that of n together, which the bank finds: to
// come out of work or to be raised.
func (p *Params) slowestNs(n int, alone func(*Params) int64, out bool) int64 {
	slowest := int64(0)
	if n <= 1 {
		for i := range p.Cylinders {
			own := p.Of(i)
			slowest = max(slowest, alone(&own))
		}
		return slowest
	}
	few := *p
	few.Cylinders = p.Cylinders[:min(n, len(p.Cylinders))]
	b, err := New(few, len(few.Cylinders))
	if err != nil {
		return never
	}
	b.Start(0, true)
	b.Record()
	for i := range few.Cylinders {
		b.Command(sections.Setpoint{Section: int16(i)})
	}
	changes := b.Advance(never, nil)
	if out {
		return changes[len(changes)-1].TimeNs
	}
	for i := range few.Cylinders {
		slowest = max(slowest, b.profiles[i][len(b.profiles[i])-1].TimeNs)
	}
	return slowest
}

// dropNs is the time of a fall; where sections differ that of the slowest.
func (p *Params) dropNs(fallM float64) int64 {
	if p.Cylinders != nil {
		return p.slowestNs(1, func(own *Params) int64 { return own.dropNs(fallM) }, true)
	}
	if !p.uneven() {
		return after(p.DropDeadNs+p.dropWakeNs(), fallM/p.toolSpeedMps(p.fromPump(p.DropFlowM3PerS())))
	}
	ends, seconds := p.heights(), 0.0
	for k, flow := range p.falls(nil, ends, p.PressurePa) {
		if piece := ends[k+1] - max(ends[k], p.TravelM()-fallM); piece > 0 {
			seconds += piece / p.toolSpeedMps(p.fromPump(flow))
		}
	}
	return after(p.DropDeadNs+p.dropWakeNs(), seconds)
}

// fromPump cuts the flow of a falling section to what the pump can press it down with.
func (p *Params) fromPump(flow float64) float64 {
	if ring := p.ring(); ring > 0 {
		return min(flow, p.PumpFlowM3PerS/ring)
	}
	return flow
}

// dropWakeNs is how long a drop waits for the pump: not at all where weight and spring lower alone.
func (p *Params) dropWakeNs() int64 {
	if p.RodM > 0 {
		return p.PumpWakeNs
	}
	return 0
}
