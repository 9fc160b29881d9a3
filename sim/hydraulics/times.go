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

// liftNs is the time of a rise of n sections; where they differ that of the slowest of the first n, alone for n = 1.
func (p *Params) liftNs(riseM float64, n int) int64 {
	switch {
	case p.Cylinders != nil && n <= 1:
		return p.slowestNs(func(own *Params) int64 { return own.liftNs(riseM, 1) })
	case p.Cylinders != nil || p.AccumulatorM3 > 0:
		return p.togetherNs(n, riseM < p.TravelM())
	}
	riseM -= p.bottomM()
	if p.Sequence.lifting() && n > 1 {
		riseM += float64(float64(n-1) * (p.TravelM() - p.bottomM()))
		n = 1
	}
	return after(p.LiftDeadNs+p.PumpWakeNs, riseM/p.toolSpeedMps(p.LiftFlowM3PerS(n)))
}

// slowestNs is the longest time of any section alone.
func (p *Params) slowestNs(alone func(*Params) int64) (slowest int64) {
	for i := range p.Cylinders {
		own := p.Of(i)
		slowest = max(slowest, alone(&own))
	}
	return slowest
}

// togetherNs is how long the slowest of n sections needs to come out of work, or to be raised, as a bank
// finds it: for what has no closed form.
func (p *Params) togetherNs(n int, out bool) (slowest int64) {
	few := *p
	if few.Cylinders != nil {
		n = min(n, len(p.Cylinders))
		few.Cylinders = p.Cylinders[:n]
	}
	b, err := New(few, max(n, 1))
	if err != nil {
		return never
	}
	b.Start(0, true)
	b.Record()
	for i := range b.sections {
		b.Command(sections.Setpoint{Section: int16(i)})
	}
	const longestNs = 3600e9 // Validate lets nothing be so slow
	changes := b.Advance(longestNs, nil)
	if out && len(changes) > 0 {
		return changes[len(changes)-1].TimeNs
	}
	for _, p := range b.profiles {
		slowest = max(slowest, p[len(p)-1].TimeNs)
	}
	return slowest
}

// dropNs is the time of a fall; where sections differ that of the slowest.
func (p *Params) dropNs(fallM float64) int64 {
	if p.Cylinders != nil {
		return p.slowestNs(func(own *Params) int64 { return own.dropNs(fallM) })
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

// fromPump cuts the flow of a falling section to what the pump can press it down with, or an accumulator.
func (p *Params) fromPump(flow float64) float64 {
	if ring := p.ring(); ring > 0 && p.AccumulatorM3 == 0 {
		return min(flow, p.PumpFlowM3PerS/ring)
	}
	return flow
}

// dropWakeNs is how long a drop waits for the pump: not at all where weight and spring lower alone.
func (p *Params) dropWakeNs() int64 {
	if p.RodM > 0 && p.AccumulatorM3 == 0 {
		return p.PumpWakeNs
	}
	return 0
}
