// This file is oil that grows warm with the work, as it does in the morning.

package hydraulics

import (
	"fmt"
	"math"
)

// Warming is oil that starts at another temperature than Params say, and comes
// to that with a time constant. The zero value is oil that has it from the
// start.
//
// A Bank needs speeds that are constant between events, so its oil warms in
// equal steps of WarmingStepK at most, each at the temperature halfway: it is
// never off by more than half a step, 0.05 K. That is less than 0.8 % of any
// tool's speed at -30 °C, 0.4 % at 20 °C (TestWarmingStep): at most two
// milliseconds of a stroke of half a second, early and late in turn.
type Warming struct {
	FromDegC      float64 // -30 to 120
	TimeConstantS float64 // up to 1e6; 0 = no warming
}

// WarmingStepK is the largest step in which a bank's oil warms.
const WarmingStepK = 0.1

// warming is a course of Warming in steps.
type warming struct {
	Warming
	toDegC float64
	steps  int // of the whole course; 0 = none
	done   int // steps begun
	fromNs int64
	nextNs int64 // when the next begins
}

// begin starts the course anew at an instant.
func (w *warming) begin(atNs int64) {
	w.fromNs, w.done, w.nextNs = atNs, 0, never
	if w.steps > 0 {
		w.nextNs = atNs
	}
}

// step begins the next step and returns its temperature.
//
// T(t) = T∞ - (T∞ - T₀)·exp(-t/τ) has come k of n equal steps after
// t = τ·ln(n/(n - k)). The last step never ends.
func (w *warming) step() (degC float64) {
	degC = w.FromDegC + (w.toDegC-w.FromDegC)*(float64(w.done)+0.5)/float64(w.steps)
	w.done++
	w.nextNs = never
	if w.done < w.steps {
		w.nextNs = after(w.fromNs, w.TimeConstantS*math.Log(float64(w.steps)/float64(w.steps-w.done)))
	}
	return degC
}

// Warm makes the oil of the bank warm as w says, from now on and from every
// Start on.
func (b *Bank) Warm(w Warming) error {
	if w == (Warming{}) {
		return nil
	}
	if !(w.TimeConstantS > 0 && w.TimeConstantS <= 1e6) {
		return fmt.Errorf("oil warms with a time constant of %.6g s; expected more than 0, at most 1e6", w.TimeConstantS)
	}
	cold := b.params
	cold.OilTempDegC = w.FromDegC
	if err := cold.Validate(); err != nil {
		return fmt.Errorf("at the start: %w", err)
	}
	to := b.params.OilTempDegC
	b.oil = warming{Warming: w, toDegC: to, steps: int(math.Ceil(math.Abs(to-w.FromDegC)/WarmingStepK - 1e-9))}
	b.oil.begin(b.nowNs)
	b.plan()
	return nil
}

// heat takes the oil to its next step.
func (b *Bank) heat() {
	p := b.params
	p.OilTempDegC = b.oil.step()
	b.takeOil(&p)
}

// takeOil sets the flows of a sound section that is as Params say, with the
// oil of p, and those of every section from them.
func (b *Bank) takeOil(p *Params) {
	b.liftCap, b.dropFlow = p.liftCapM3PerS(), p.DropFlowM3PerS()
	for i := range b.sections {
		b.fit(i)
	}
}
