// This file computes in closed form how long an undisturbed lift or drop takes.
// The controller's leads and the set-up sheet use these times.

package hydraulics

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

func (p *Params) liftNs(riseM float64, n int) int64 {
	riseM -= p.bottomM()
	if p.Sequence.lifting() && n > 1 {
		riseM += float64(n-1) * (p.TravelM() - p.bottomM())
		n = 1
	}
	return after(p.LiftDeadNs+p.PumpWakeNs, riseM/p.toolSpeedMps(p.LiftFlowM3PerS(n)))
}

func (p *Params) dropNs(fallM float64) int64 {
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
