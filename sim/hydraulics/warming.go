// This file lets the oil warm up while the machine works, as in the morning.

package hydraulics

import (
	"errors"
	"fmt"
	"math"

	"liftbench/sections/exact"
)

// Warming lets the oil start at FromDegC and approach Params.OilTempDegC
// exponentially. With the zero value the oil has that temperature from the
// start.
//
// A Bank needs speeds that are constant between events, so its oil warms in
// equal steps of at most WarmingStepK. In each step it has the temperature in
// the middle of the step, so the error is at most half a step, 0.05 K. This
// changes a tool's speed by less than 0.8 % at -30 °C and 0.4 % at 20 °C
// (TestWarmingStep), which makes a stroke of half a second at most two
// milliseconds early or late.
type Warming struct {
	FromDegC      float64 // -30 to 120
	TimeConstantS float64 // up to 1e6; 0 = no warming
}

// WarmingStepK is the largest temperature step of a bank's oil.
const WarmingStepK = 0.1

// warming divides a Warming into steps.
type warming struct {
	Warming
	toDegC float64
	steps  int // in all; 0 = the oil does not warm
	begun  int // steps begun so far
	fromNs int64
	nextNs int64 // when the next step begins
}

// begin starts again with cold oil at atNs.
func (w *warming) begin(atNs int64) {
	w.fromNs, w.begun, w.nextNs = atNs, 0, never
	if w.steps > 0 {
		w.nextNs = atNs
	}
}

// step begins the next step and returns its temperature.
//
// The temperature T(t) = T∞ - (T∞ - T₀)·exp(-t/τ) has passed k of n equal steps
// at t = τ·ln(n/(n - k)). The last step never ends.
func (w *warming) step() (degC float64) {
	degC = w.FromDegC + (w.toDegC-w.FromDegC)*(float64(w.begun)+0.5)/float64(w.steps)
	w.begun++
	w.nextNs = never
	if w.begun < w.steps {
		w.nextNs = after(w.fromNs, w.TimeConstantS*exact.Log(float64(w.steps)/float64(w.steps-w.begun)))
	}
	return degC
}

// Warm makes the bank's oil warm up as w says, beginning now and again at every
// Start.
func (b *Bank) Warm(w Warming) error {
	if w == (Warming{}) {
		return nil
	}
	if b.tank.VolumeM3 > 0 {
		return errors.New("oil that warms by the clock and by work; expected one of them")
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

// heat begins the oil's next temperature step and sets the flows to match.
func (b *Bank) heat() {
	b.takeOil(b.oil.step())
}

// takeOil computes the flows of a normal section at an oil temperature,
// and from them those of every section.
func (b *Bank) takeOil(degC float64) {
	for i := range b.kinds {
		k := &b.kinds[i]
		k.params.OilTempDegC = degC
		if b.gas.fullM3 > 0 {
			k.params.PressurePa = b.gas.pressurePa(b.gas.cell)
		}
		k.lift = k.params.liftCapM3PerS()
		k.falls = k.params.falls(k.falls[:0], b.ends, k.params.PressurePa)
	}
	for i := range b.sections {
		b.fit(i)
	}
}
