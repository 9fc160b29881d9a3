// This file computes in closed form how long an undisturbed lift or drop takes.
// The controller's leads and the set-up sheet use these times.

package hydraulics

// LiftTimeNs returns the lift lead with n sections rising together: the dead
// time plus the rise from working depth to effective depth.
func (p *Params) LiftTimeNs(n int) int64 { return p.liftNs(p.effectiveM(), n) }

// FullLiftTimeNs returns the time of a whole lift with n sections rising
// together: the dead time plus the rise from working depth to raised.
func (p *Params) FullLiftTimeNs(n int) int64 { return p.liftNs(p.TravelM(), n) }

// DropTimeNs returns the drop lead: the dead time plus the fall from raised to
// effective depth.
func (p *Params) DropTimeNs() int64 { return p.dropNs(p.TravelM() - p.effectiveM()) }

// FullDropTimeNs returns the time of a whole drop: the dead time plus the fall
// from raised to working depth.
func (p *Params) FullDropTimeNs() int64 { return p.dropNs(p.TravelM()) }

func (p *Params) liftNs(riseM float64, n int) int64 {
	return after(p.LiftDeadNs, riseM/p.toolSpeedMps(p.LiftFlowM3PerS(n)))
}

func (p *Params) dropNs(fallM float64) int64 {
	return after(p.DropDeadNs, fallM/p.toolSpeedMps(p.DropFlowM3PerS()))
}
