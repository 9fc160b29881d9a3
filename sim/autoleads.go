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
// speed; lowering is driven by weight and does not share the pump. Where sections differ, their leads are the mean of
// what each needs. The time that a pump needs to wake is left out, as only the first mover waits for it.
func Leads(p *hydraulics.Params, n int, flowAware bool) (lift, drop sections.Lead) {
	if p.Cylinders != nil {
		return meanLeads(p, flowAware)
	}
	awake := *p
	awake.PumpWakeNs = 0
	lift = sections.Lead{
		DeadNs: p.LiftDeadNs,
		MoveNs: awake.LiftTimeNs(1) - p.LiftDeadNs,

		TravelNs: awake.FullLiftTimeNs(1) - p.LiftDeadNs,
	}
	drop = sections.Lead{
		DeadNs: p.DropDeadNs,
		MoveNs: awake.DropTimeNs() - p.DropDeadNs,

		TravelNs: awake.FullDropTimeNs() - p.DropDeadNs,
	}
	if flowAware {
		if fed := p.PumpFlowM3PerS / p.LiftFlowM3PerS(1); fed < float64(n) {
			lift.FedAtOnce = fed
		}
	}
	return lift, drop
}

// meanLeads are the leads where sections differ.
func meanLeads(p *hydraulics.Params, flowAware bool) (lift, drop sections.Lead) {
	n := len(p.Cylinders)
	for i := range n {
		own := p.Of(i)
		l, d := Leads(&own, 1, false)
		lift.DeadNs, drop.DeadNs = l.DeadNs, d.DeadNs
		lift.MoveNs += l.MoveNs
		lift.TravelNs += l.TravelNs
		drop.MoveNs += d.MoveNs
		drop.TravelNs += d.TravelNs
	}
	for _, l := range []*sections.Lead{&lift, &drop} {
		l.MoveNs /= int64(n)
		l.TravelNs /= int64(n)
	}
	if need := p.FlowNeededM3PerS(n); flowAware && need > p.PumpFlowM3PerS {
		lift.FedAtOnce = float64(n) * p.PumpFlowM3PerS / need
	}
	return lift, drop
}
