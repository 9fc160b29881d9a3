// Package sim is the bench: it carries fixes to the controller by the
// receiver's clock, lets the hydraulics answer its setpoints, and hands the
// drive and what was worked to the score.
package sim

import (
	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sim/hydraulics"
)

// Bench ticks a controller from fix to fix and moves the hydraulics along.
type Bench struct {
	Controller *sections.Controller
	// Bank answers the setpoints. nil where recorded work states take its
	// place.
	Bank *hydraulics.Bank
	// Setpoints are all that the controller gave, in order of decision.
	Setpoints []sections.Setpoint
	// Changes are the work states that the bank answered with, in order of time.
	Changes []sections.WorkChange

	set   sections.Settings
	nowNs int64 // of the next tick; 0 before the first fix
	tick  []sections.Setpoint
}

// NewBench returns a bench for a controller made with set. bank may be nil.
func NewBench(c *sections.Controller, set sections.Settings, bank *hydraulics.Bank) *Bench {
	return &Bench{Controller: c, Bank: bank, set: set, tick: make([]sections.Setpoint, 0, sections.MaxSections)}
}

// stillNs is how long the bench ticks on through a silence: longer than any
// fail-safe takes. What is left of a longer silence it skips.
const stillNs = 180e9

// Fix lets time pass until the fix arrives, then hands it to the controller.
// Ticks lie at whole multiples of the tick since 1970, so that a drive decides
// the same wherever it is taken up.
func (b *Bench) Fix(f *nmea.Fix) {
	arrivalNs := b.set.ArrivalNs(f)
	b.until(arrivalNs)
	b.Controller.Fix(f)
}

// Finish lets the commands given take effect. Nothing more is decided: a log
// that ends is no lost position.
func (b *Bench) Finish() {
	if b.nowNs != 0 && b.Bank != nil {
		b.Changes = b.Bank.Advance(b.nowNs+finishNs, b.Changes)
	}
}

// finishNs is enough for a lead and a stroke.
const finishNs = 10e9

// until ticks up to, not including, t.
func (b *Bench) until(t int64) {
	step := b.set.TickNs
	first := (t + step - 1) / step * step
	if b.nowNs == 0 {
		b.nowNs = first
		if b.Bank != nil {
			b.Bank.Start(t-step, false)
		}
	}
	for end := min(t, b.nowNs+stillNs); b.nowNs < end; b.nowNs += step {
		b.tick = b.Controller.Tick(b.nowNs, b.tick[:0])
		if b.Bank == nil {
			b.Setpoints = append(b.Setpoints, b.tick...)
			continue
		}
		for _, s := range b.tick {
			b.Setpoints = append(b.Setpoints, s)
			b.Bank.Command(s)
		}
		b.Changes = b.Bank.Advance(b.nowNs+step, b.Changes)
	}
	b.nowNs = max(b.nowNs, first)
}
