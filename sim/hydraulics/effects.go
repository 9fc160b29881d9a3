// This file names what a lift does beside the usual, and checks its numbers.

package hydraulics

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"liftbench/sections/enum"
)

// Effects is what a lift does beside what every lift does. With the zero value it does none of it.
type Effects struct {
	// SlotM is how far the rod moves before it moves the tool: the float slot or the play of the
	// linkage, 0 to 1 m. When the tool is down the rod goes on to the end of the slot, at the speed that
	// the force at working depth gives it. It costs a lift SlotM/(Q/A).
	SlotM float64

	// Cylinders are those of each section, where sections differ; nil = each has one, as Params say.
	Cylinders []Cylinder

	// PumpWakeNs is how long a pump that senses the load needs until it gives oil, counted from
	// the first valve that asks, 0 to 5 s. It falls asleep when nobody asks.
	PumpWakeNs int64

	// BackPressurePa is the pressure in the return line when tools are lowered.
	BackPressurePa float64

	// WorkingForceN is the force on the rod of a lowered tool at working depth, where a spring relaxes on the
	// way down: raised it is DropForceN, and in between on a straight line. 0 = DropForceN all the way.
	WorkingForceN float64

	// RodM is the diameter of the rod of a cylinder that the pump's oil presses down too, through
	// the area beside the rod; 0 = weight and spring lower it.
	RodM float64

	Throttle Throttle // which way oil passes the orifice
	Sequence Sequence // whether sections wait for each other

	// At40Mm2PerS and At100Mm2PerS are the viscosities of an oil that is of no ISO VG grade, such as
	// that of a tractor's transmission, at 40 and 100 °C; 0 = Params.OilVG says them.
	At40Mm2PerS, At100Mm2PerS float64

	// An accumulator of AccumulatorM3 of gas, filled with it to PrechargePa, gives oil when sections ask
	// more than the pump gives; 0 = none. Gas changes as p·V^1.4 = constant. It is full at PressurePa.
	AccumulatorM3, PrechargePa float64

	// SoilForceN is what soil carries of the lowering force at working depth, on each rod; it
	// carries none at the surface, and in between on a straight line.
	SoilForceN float64

	// BiteM is the way that a tool goes ahead from the surface down to working depth, however hard it is
	// pressed: it sinks at most WorkingDepthM/BiteM times as fast as it goes (Bank.Forward). 0 = as fast as it can.
	BiteM float64

	// Tank lets the oil warm by the work done, beginning at OilTempDegC. Zero = its temperature stays.
	Tank Tank
}

// Cylinder is how the lift of one section differs from Params. Zeroes differ in nothing.
type Cylinder struct {
	Count      int     // cylinders behind the section's valve, each with a hose and an orifice of its own; 0 = 1, up to 64
	BoreM      float64 // of each
	LiftForceN float64 // on each rod
	DropForceN float64 // on each rod; a spring relaxes, and soil carries, in proportion
}

// Throttle is the way in which oil passes the orifice.
type Throttle uint8

const (
	BothWays     Throttle = iota
	WhenLowering          // a check valve lets oil past it when lifting
	WhenLifting           // a check valve lets oil past it when lowering
)

var throttleNames = []string{BothWays: "both", WhenLowering: "lowering", WhenLifting: "lifting"}

func (t Throttle) String() string                { return enum.Name(throttleNames, t) }
func (t Throttle) MarshalText() ([]byte, error)  { return enum.Text(throttleNames, t) }
func (t *Throttle) UnmarshalText(b []byte) error { return enum.Set(t, throttleNames, b) }

// Sequence says which way sections move one after the other, from the left: each gets oil when those before
// it, of all whose valves are open, have come to the end of their stroke.
type Sequence uint8

const (
	Together Sequence = iota
	LiftingInTurn
	LoweringInTurn
	InTurn
)

var sequenceNames = []string{Together: "none", LiftingInTurn: "lifting", LoweringInTurn: "lowering", InTurn: "both"}

func (s Sequence) String() string                { return enum.Name(sequenceNames, s) }
func (s Sequence) MarshalText() ([]byte, error)  { return enum.Text(sequenceNames, s) }
func (s *Sequence) UnmarshalText(b []byte) error { return enum.Set(s, sequenceNames, b) }

func (s Sequence) lifting() bool  { return s == LiftingInTurn || s == InTurn }
func (s Sequence) lowering() bool { return s == LoweringInTurn || s == InTurn }

// Of returns the lift of section i alone, as Cylinders say.
func (p *Params) Of(i int) Params {
	own := *p
	own.Cylinders = nil
	if i >= len(p.Cylinders) {
		return own
	}
	c := p.Cylinders[i]
	own.cylinders = max(c.Count, 1)
	if c.BoreM > 0 {
		own.BoreM = c.BoreM
	}
	if c.LiftForceN > 0 {
		own.LiftForceN = c.LiftForceN
	}
	if c.DropForceN > 0 {
		own.DropForceN = c.DropForceN
		own.WorkingForceN *= c.DropForceN / p.DropForceN
		own.SoilForceN *= c.DropForceN / p.DropForceN
	}
	return own
}

// count is the number of cylinders of a section.
func (p *Params) count() float64 { return float64(max(p.cylinders, 1)) }

// lever is rod travel over tool travel.
func (p *Params) lever() float64 { return p.StrokeM / p.TravelM() }

// bottomM is the lowest height that a tool would have if the rod took it through the slot.
func (p *Params) bottomM() float64 {
	if p.SlotM == 0 {
		return 0
	}
	return -p.SlotM / p.lever()
}

// ring is the area beside the rod over the whole piston area, where oil presses down too; else 0.
func (p *Params) ring() float64 {
	if p.RodM == 0 {
		return 0
	}
	return 1 - p.RodM*p.RodM/(p.BoreM*p.BoreM)
}

// dropForceN is the force on the rod of a tool that is lowered, at a height; in the slot that at working depth.
func (p *Params) dropForceN(heightM float64) float64 {
	if heightM = max(heightM, 0); p.WorkingForceN == 0 {
		return p.DropForceN
	}
	return p.WorkingForceN + (p.DropForceN-p.WorkingForceN)*heightM/p.TravelM()
}

// soilForceN is what soil takes of it; nothing in the slot, where the tool has come to rest.
func (p *Params) soilForceN(heightM float64) float64 {
	if heightM < 0 || heightM > p.WorkingDepthM {
		return 0
	}
	return p.SoilForceN * p.DepthM(heightM) / p.WorkingDepthM
}

// drivesPa is the pressure that drives oil out of a cylinder at a height, with a pressure at the valves.
func (p *Params) drivesPa(heightM, valvesPa float64) float64 {
	return (p.dropForceN(heightM)-p.soilForceN(heightM))/p.pistonM2() - p.BackPressurePa + float64(valvesPa*p.ring())
}

// uneven reports whether a tool is lowered with a force that depends on its height.
func (p *Params) uneven() bool { return p.WorkingForceN > 0 || p.SoilForceN > 0 || p.BiteM > 0 }

// piecesOfStroke is into how many parts of equal force a stroke is cut, above and below the surface each.
const piecesOfStroke = 32

// heights returns the ends of the pieces of a tool's way, rising, between which it moves with the same speed.
func (p *Params) heights() []float64 {
	ends := []float64{0, p.TravelM()}
	if p.uneven() {
		ends = append(ends, p.effectiveM())
		for k := range piecesOfStroke {
			share := float64(k) / piecesOfStroke
			ends = append(ends, share*p.WorkingDepthM, p.WorkingDepthM+float64(share*p.RaisedM))
		}
	}
	if p.SlotM > 0 {
		ends = append(ends, p.bottomM())
	}
	slices.Sort(ends)
	return slices.Compact(ends)
}

// validateEffects reports the first effect that cannot be used. The other Params are known to be.
func (p *Params) validateEffects() error {
	e := &p.Effects
	for _, c := range [...]struct {
		what  string
		value float64
		unit  float64
		name  string
		most  float64
	}{
		{"slot", e.SlotM, mm, "mm", 1000 * mm},
		{"time until the pump wakes", float64(e.PumpWakeNs), ms, "ms", 5000 * ms},
		{"back pressure", e.BackPressurePa, bar, "bar", 700 * bar},
		{"lowering force at working depth", e.WorkingForceN, 1, "N", 1e6},
		{"piston rod", e.RodM, mm, "mm", 500 * mm},
		{"accumulator", e.AccumulatorM3, 1e-3, "L", 0.1},
		{"filling pressure of the accumulator", e.PrechargePa, bar, "bar", 700 * bar},
		{"force that soil carries", e.SoilForceN, 1, "N", 1e6},
		{"way over which a tool bites", e.BiteM, 1, "m", 20},
		{"tank", e.Tank.VolumeM3, 1e-3, "L", 1},
		{"loss of the tank", e.Tank.LossWPerK, 1, "W/K", 1e5},
	} {
		if !(c.value >= 0 && c.value <= c.most) {
			return fmt.Errorf("%s %.6g %s; expected 0 to %.6g", c.what, c.value/c.unit, c.name, c.most/c.unit)
		}
	}
	if e.RodM > 0 && e.RodM >= p.BoreM {
		return fmt.Errorf("piston rod %.6g mm; expected less than the bore, %.6g mm", e.RodM/mm, p.BoreM/mm)
	}
	if (e.At40Mm2PerS > 0) != (e.At100Mm2PerS > 0) || e.At40Mm2PerS < 0 || e.At40Mm2PerS > 0 && !(e.At100Mm2PerS >= 2 && e.At40Mm2PerS > e.At100Mm2PerS && e.At40Mm2PerS <= 1e4) {
		return fmt.Errorf("oil of %.6g mm²/s at 40 °C and %.6g at 100 °C; expected both, from 2 to 10000, and less at 100 °C", e.At40Mm2PerS, e.At100Mm2PerS)
	}
	if e.AccumulatorM3 > 0 && !(e.PrechargePa > 0 && e.PrechargePa < p.PressurePa) {
		return fmt.Errorf("accumulator filled to %.6g bar; expected more than 0, less than the pressure at the valves, %.6g bar", e.PrechargePa/bar, p.PressurePa/bar)
	}
	if e.AccumulatorM3 > 0 && e.PrechargePa*p.pistonM2() <= p.LiftForceN {
		return fmt.Errorf("accumulator filled to %.6g bar, which lifts %.6g N; expected more than the lifting force, %.6g N", e.PrechargePa/bar, e.PrechargePa*p.pistonM2(), p.LiftForceN)
	}
	if t := &e.Tank; t.VolumeM3 > 0 && !(t.AirDegC >= -30 && t.AirDegC <= 60) {
		return fmt.Errorf("air of %.6g °C around the tank; expected -30 to 60", t.AirDegC)
	}
	if p.HoseLengthM == 0 && e.Throttle != BothWays {
		return errors.New("oil that passes the orifice one way and no hose; expected a hose, as nothing else slows it the other way")
	}
	for i := range e.Cylinders {
		c := &e.Cylinders[i]
		if c.Count < 0 || c.Count > 64 {
			return fmt.Errorf("%d cylinders of section %d; expected 1 to 64", c.Count, i+1)
		}
		own := p.Of(i)
		if err := own.Validate(); err != nil {
			return fmt.Errorf("section %d: %w", i+1, err)
		}
	}
	least := math.Inf(1)
	for _, h := range p.heights() {
		least = min(least, p.drivesPa(h, p.lowestPa()))
	}
	if !(least > 0) {
		return fmt.Errorf("a tool is left with %.3g bar to lower it; expected more than 0: check lowering force, spring, soil and back pressure", least/bar)
	}
	return nil
}

// lowestPa is the least pressure at the valves: that of an empty accumulator.
func (p *Params) lowestPa() float64 {
	if p.AccumulatorM3 > 0 {
		return p.PrechargePa
	}
	return p.PressurePa
}
