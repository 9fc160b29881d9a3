// The leads that a machine's hydraulics call for: what `auto` means in a machine
// file. The controller subtracts them from a crossing in sections/tick.go (command).

package sim

import (
	"liftbench/sections"
	"liftbench/sim/hydraulics"
)

// Leads returns the lift and drop leads of n sections with the hydraulics p:
// lift lead = valve dead time + time from working depth up to effective depth,
// drop lead = valve dead time + time from raised down to effective depth. A
// flow-aware lift lead also knows how many sections the pump feeds at full
// speed; lowering is driven by weight and does not share the pump.
func Leads(p *hydraulics.Params, n int, flowAware bool) (lift, drop sections.Lead) {
	lift = sections.Lead{
		DeadNs: p.LiftDeadNs,
		MoveNs: p.LiftTimeNs(1) - p.LiftDeadNs,

		TravelNs: p.FullLiftTimeNs(1) - p.LiftDeadNs,
	}
	drop = sections.Lead{
		DeadNs: p.DropDeadNs,
		MoveNs: p.DropTimeNs() - p.DropDeadNs,

		TravelNs: p.FullDropTimeNs() - p.DropDeadNs,
	}
	if flowAware {
		if fed := p.PumpFlowM3PerS / p.LiftFlowM3PerS(1); fed < float64(n) {
			lift.FedAtOnce = fed
		}
	}
	return lift, drop
}
