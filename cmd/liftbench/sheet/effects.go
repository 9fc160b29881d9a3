// What a lift does beside the usual, and how many seconds each of it takes.

package sheet

import (
	"fmt"
	"strings"

	"liftbench/cmd/liftbench/wording"
	"liftbench/sim/hydraulics"
)

// effects prints a row for each setting of hydraulics.effects, none where there are none.
func (s *Sheet) effects(b *strings.Builder, p *hydraulics.Params) {
	const litre, litrePerMin, bar = 1e-3, 1e-3 / 60, 1e5
	e := &s.Machine.Hydraulics.Effects
	n := len(s.Machine.RowsOf())
	headed := false
	row := func(label, format string, args ...any) {
		if !headed {
			heading(b, "Lift, beside the usual")
			headed = true
		}
		wording.KeyLine(b, label, format, args...)
	}
	// costs says by how much one section lifts and drops later than without.
	costs := func(without func(*hydraulics.Effects)) string {
		q := *p
		without(&q.Effects)
		ms := func(ns int64) string { return fmt.Sprintf("%+.0f ms", float64(ns)*1e-6) }
		return fmt.Sprintf("lift %s, drop %s", ms(p.LiftTimeNs(1)-q.LiftTimeNs(1)), ms(p.DropTimeNs()-q.DropTimeNs()))
	}
	if e.SlotMm > 0 {
		row("slot", "%s mm of the rod before the tool moves: %s", wording.Trim(e.SlotMm), costs(func(e *hydraulics.Effects) { e.SlotM = 0 }))
	}
	for i, c := range e.Cylinders {
		own := p.Of(i)
		row(fmt.Sprintf("section %d", i+1), "%d × %s mm: %.0f ms to come out of work, %.0f ms into it", max(c.Count, 1), wording.Trim(own.BoreM*1e3), float64(own.LiftTimeNs(1))*1e-6, float64(own.DropTimeNs())*1e-6)
	}
	if len(e.Cylinders) > 0 && s.Machine.Controller.LiftLead.Auto && s.Machine.Controller.SectionTrims == nil {
		s.warn("Sections differ, and lift_lead auto is the mean of what they need: the slowest alone needs %.2f s. Where the terminal has leads for each section, controller.section_trims sets them.", float64(p.LiftTimeNs(1))*1e-9)
	}
	if e.PumpWakeMs > 0 {
		row("pump asleep", "the first section that asks waits %s ms, those that ask while it gives do not", wording.Trim(e.PumpWakeMs))
		s.warn("The pump wakes in %s ms, which no lead on auto counts: the first mover, or all that move at once, come %.0f cm late at %s km/h.", wording.Trim(e.PumpWakeMs), e.PumpWakeMs*1e-3*s.workKmh()/3.6*100, wording.Trim(s.workKmh()))
	}
	if e.BackBar > 0 {
		row("back pressure", "%s bar in the return line: %s", wording.Trim(e.BackBar), costs(func(e *hydraulics.Effects) { e.BackPressurePa = 0 }))
	}
	if e.WorkingForceN > 0 {
		row("spring", "from %s N raised to %s N at depth: %s", wording.Trim(p.DropForceN), wording.Trim(e.WorkingForceN), costs(func(e *hydraulics.Effects) { e.WorkingForceN = 0 }))
	}
	if e.RodMm > 0 {
		row("both ways", "the pump presses tools down beside a rod of %s mm: %s", wording.Trim(e.RodMm), costs(func(e *hydraulics.Effects) { e.RodM = 0 }))
	}
	if e.Throttle != hydraulics.BothWays {
		row("throttle", "oil passes the orifice when %s: %s", e.Throttle, costs(func(e *hydraulics.Effects) { e.Throttle = hydraulics.BothWays }))
	}
	if e.Sequence != hydraulics.Together {
		row("in turn", "%s: the last of %d comes out of work after %.2f s, into work after %.2f s", e.Sequence, n, float64(p.LiftTimeNs(n))*1e-9, float64(s.lastDown(p, n))*1e-9)
		s.warn("Sections move in turn, which no lead counts: the leads are those of a section alone.")
	}
	if a := &e.Accumulator; a.GasL > 0 {
		oil := p.AccumulatorOilM3()
		row("accumulator", "%s L of gas at %s bar hold %.2f L of oil at %s bar, %.1f s of %.1f L/min", wording.Trim(a.GasL), wording.Trim(a.PrechargeBar), oil/litre, wording.Trim(p.PressurePa/bar), oil/p.LiftFlowM3PerS(1), p.LiftFlowM3PerS(1)/litrePerMin)
	}
	if e.SoilForceN > 0 {
		row("soil", "carries %s N at depth: %s", wording.Trim(e.SoilForceN), costs(func(e *hydraulics.Effects) { e.SoilForceN = 0 }))
	}
	if e.BiteM > 0 {
		way := e.BiteM * p.EffectiveDepthM / p.WorkingDepthM
		row("bite", "%s m of way down to depth, %.2f m until in work: %.2f s at %s km/h", wording.Trim(e.BiteM), way, way/(s.workKmh()/3.6), wording.Trim(s.workKmh()))
		s.warn("Tools bite over %s m of way, which no lead counts: use drop_trim_ms.", wording.Trim(e.BiteM))
	}
	if t := &e.Tank; t.OilL > 0 {
		k := p.LiftHeatJ() * float64(n) / p.Tank.JPerK()
		row("tank", "%s L of oil: all sections up and down once warm it by %.3f K; it loses %s W/K to air of %s °C", wording.Trim(t.OilL), k, wording.Trim(t.LossWK), wording.Trim(t.AirC))
	}
}

// lastDown is when the last of n sections comes into work.
func (s *Sheet) lastDown(p *hydraulics.Params, n int) int64 {
	if p.Sequence == hydraulics.LiftingInTurn {
		return p.DropTimeNs()
	}
	return int64(n-1)*(p.FullDropTimeNs()-p.DropDeadNs) + p.DropTimeNs()
}
