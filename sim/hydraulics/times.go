// This file is the closed forms: what a lift and a drop take when nothing
// disturbs them. The controller's leads and the set-up sheet use them.

package hydraulics

// LiftTimeNs returns the lift lead: dead time + from working depth up to
// effective depth, with n sections rising together.
func (p *Params) LiftTimeNs(n int) int64 { return p.liftNs(p.edgeM(), n) }

// FullLiftTimeNs returns dead time + from working depth up to raised, with n
// sections rising together.
func (p *Params) FullLiftTimeNs(n int) int64 { return p.liftNs(p.TravelM(), n) }

// DropTimeNs returns the drop lead: dead time + from raised down to effective
// depth.
func (p *Params) DropTimeNs() int64 { return p.dropNs(p.TravelM() - p.edgeM()) }

// FullDropTimeNs returns dead time + from raised down to working depth.
func (p *Params) FullDropTimeNs() int64 { return p.dropNs(p.TravelM()) }

func (p *Params) liftNs(riseM float64, n int) int64 {
	return after(p.LiftDeadNs, riseM/p.toolSpeedMps(p.LiftFlowM3PerS(n)))
}

func (p *Params) dropNs(fallM float64) int64 {
	return after(p.DropDeadNs, fallM/p.toolSpeedMps(p.DropFlowM3PerS()))
}
