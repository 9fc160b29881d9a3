// Package sim is the bench: it carries fixes to the controller by the
// receiver's clock, lets the hydraulics answer its setpoints, and hands the
// drive and what was worked to the score.
package sim

import (
	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sections/schedule"
	"liftbench/sim/hydraulics"
)

// Decider is what a Bench asks: a sections.Controller, or another controller
// that is asked in the same order.
type Decider interface {
	// FixAt takes a fix when it has arrived; a Tick follows at that instant. It
	// must not keep the fix.
	FixAt(f *nmea.Fix, eastM, northM float64)
	// Tick appends to out what is decided at nowNs.
	Tick(nowNs int64, out []sections.Setpoint) []sections.Setpoint
}

// Bench ticks a controller from fix to fix and moves the hydraulics along.
type Bench struct {
	Controller *sections.Controller
	// Decider decides: the Controller, or one from outside in its place.
	Decider Decider
	// Bank answers the setpoints. nil where recorded work states take its
	// place.
	Bank *hydraulics.Bank
	// BehindNs is how far the controller's clock runs behind the receiver's: the
	// true latency minus the one in its settings. It is used where the log has no
	// arrival times. What the controller commands happens that much later.
	BehindNs int64
	// AheadNs is how far the clock that stamped the arrivals ran ahead of the
	// receiver's, where they are known to be wrong. A controller that believes
	// them takes each fix for so much older than it is, and commands early by
	// as much.
	AheadNs int64
	// Setpoints are all that the controller gave, in order of decision.
	Setpoints []sections.Setpoint
	// Changes are the work states that the bank answered with, in order of time.
	Changes []sections.WorkChange

	when    schedule.Schedule
	nowNs   int64 // of the last decision
	started bool
	tick    []sections.Setpoint
}

// NewBench returns a bench for a controller made with set. bank may be nil.
func NewBench(c *sections.Controller, set sections.Settings, bank *hydraulics.Bank) *Bench {
	return &Bench{Controller: c, Decider: c, Bank: bank, when: schedule.New(&set), tick: make([]sections.Setpoint, 0, sections.MaxSections)}
}

// Fix lets time pass until the fix arrives, then hands it to the controller.
func (b *Bench) Fix(f *nmea.Fix) {
	e, n := b.Controller.Gate().Field.Plane.ToPlane(f.LatDeg, f.LonDeg)
	b.fixAt(f, e, n)
}

// fixAt is Fix with the position on the field's plane.
func (b *Bench) fixAt(f *nmea.Fix, eastM, northM float64) {
	at := b.when.ArrivalNs(f)
	for t, ok := b.when.Next(at); ok; t, ok = b.when.Next(at) {
		b.decide(t)
	}
	if b.AheadNs != 0 && f.ReadyNs != 0 {
		b.BehindNs = f.ReadyNs - b.AheadNs - at // when it truly came, less when it is taken to
	}
	if !b.started && b.Bank != nil {
		b.Bank.Start(at+b.BehindNs, false)
	}
	b.started = true
	b.Decider.FixAt(f, eastM, northM)
	b.decide(b.when.Take(at))
	if b.Bank != nil && f.SpeedMps >= 0 { // NaN where none is told
		b.Bank.Forward(f.SpeedMps)
	}
}

// decide lets the controller decide at nowNs, and the bank come that far.
func (b *Bench) decide(nowNs int64) {
	b.tick = b.Decider.Tick(nowNs, b.tick[:0])
	nowNs += b.BehindNs
	for i := range b.tick {
		b.tick[i].DueNs += b.BehindNs
	}
	b.Setpoints = append(b.Setpoints, b.tick...)
	if b.Bank == nil {
		return
	}
	b.Changes = b.Bank.Advance(nowNs, b.Changes)
	for _, s := range b.tick {
		b.Bank.Command(s)
	}
	b.nowNs = b.Bank.NowNs()
}

// Finish lets the commands given take effect. Nothing more is decided: a log
// that ends is no lost position.
func (b *Bench) Finish() {
	if b.started && b.Bank != nil {
		b.Changes = b.Bank.Advance(b.nowNs+finishNs, b.Changes)
	}
}

// finishNs is enough for a lead and a stroke.
const finishNs = 10e9
