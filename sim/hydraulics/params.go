// This file holds the numbers that describe a machine's lift, and checks them.

package hydraulics

import (
	"fmt"
	"math"
	"strings"
)

// Params describes the lift of one machine. They hold for all its sections;
// Deviation and Fault make single sections differ. All methods but Validate
// expect Params for which Validate returns nil.
type Params struct {
	LiftDeadNs int64 // from a setpoint until oil flows into the cylinder, 0 to 10 s
	DropDeadNs int64 // from a setpoint until oil flows out of it, 0 to 10 s

	BoreM   float64 // cylinder bore; the whole piston area carries the load
	StrokeM float64 // rod travel between working depth and raised

	RaisedM         float64 // height of a raised tool above the ground
	WorkingDepthM   float64 // depth of a lowered tool below the ground
	EffectiveDepthM float64 // a tool this deep or deeper is in work, 0 to WorkingDepthM

	PumpFlowM3PerS  float64 // from the tractor, for all sections together
	ValveFlowM3PerS float64 // limit of each section's flow valve when lifting; 0 = no flow valve
	PressurePa      float64 // available at the valves
	LiftForceN      float64 // on the rod when lifting: weight + friction
	DropForceN      float64 // on the rod when lowering: weight + spring

	HoseLengthM float64 // from valve to cylinder; 0 = none
	HoseBoreM   float64 // inner diameter
	OrificeM    float64 // diameter of the orifice that the oil passes when lifting and dropping
	OrificeCd   float64 // its discharge coefficient, up to 1; about 0.6 when sharp-edged

	OilVG       int     // ISO viscosity grade: 32, 46 or 68
	OilTempDegC float64 // -30 to 120

	// LiftMps and DropMps are how fast a tool rises alone and comes down as it was timed, with oil of
	// MeasuredDegC, in place of what bore, hose, orifice and forces say; those say then only how the
	// speed changes with the oil's temperature. 0 = not timed.
	LiftMps, DropMps, MeasuredDegC float64

	Effects

	cylinders int // of this section, as Of says; 0 = 1
}

// The units of error messages, which are those of the machine file.
const (
	litrePerMin = 1e-3 / 60 // m³/s
	bar         = 1e5       // Pa
	mm          = 1e-3      // m
	ms          = 1e6       // ns
)

// Validate reports the first number that cannot be used, in the user's units:
// "pump flow -3 L/min; expected more than 0, at most 1000". The upper limits lie
// far above any real lift, to catch a number given in the wrong unit.
func (p *Params) Validate() error {
	for _, c := range [...]struct {
		what        string
		value       float64
		unit        float64 // the printed unit, in SI units
		unitName    string
		least, most float64
		withLeast   bool // least itself is allowed
	}{
		{"lift dead time", float64(p.LiftDeadNs), ms, "ms", 0, 10_000 * ms, true},
		{"drop dead time", float64(p.DropDeadNs), ms, "ms", 0, 10_000 * ms, true},
		{"cylinder bore", p.BoreM, mm, "mm", 0, 500 * mm, false},
		{"cylinder stroke", p.StrokeM, mm, "mm", 0, 3000 * mm, false},
		{"raised height", p.RaisedM, mm, "mm", 0, 4000 * mm, false},
		{"working depth", p.WorkingDepthM, mm, "mm", 0, 500 * mm, false},
		{"effective depth", p.EffectiveDepthM, mm, "mm", 0, p.WorkingDepthM, true},
		{"pump flow", p.PumpFlowM3PerS, litrePerMin, "L/min", 0, 1000 * litrePerMin, false},
		{"flow valve", p.ValveFlowM3PerS, litrePerMin, "L/min", 0, 1000 * litrePerMin, true},
		{"available pressure", p.PressurePa, bar, "bar", 0, 700 * bar, false},
		{"lifting force", p.LiftForceN, 1, "N", 0, 1e6, false},
		{"lowering force", p.DropForceN, 1, "N", 0, 1e6, false},
		{"hose length", p.HoseLengthM, 1, "m", 0, 100, true},
		{"hose inner diameter", p.HoseBoreM, mm, "mm", 0, 100 * mm, false},
		{"orifice", p.OrificeM, mm, "mm", 0, 100 * mm, false},
		{"discharge coefficient", p.OrificeCd, 1, "", 0, 1, false},
		{"oil temperature", p.OilTempDegC, 1, "°C", -30, 120, true},
		{"measured lifting speed", p.LiftMps, 1, "m/s", 0, 10, true},
		{"measured lowering speed", p.DropMps, 1, "m/s", 0, 10, true},
		{"oil temperature of the measurement", p.MeasuredDegC, 1, "°C", -30, 120, true},
	} {
		if (c.value > c.least || c.withLeast && c.value == c.least) && c.value <= c.most {
			continue
		}
		found := strings.TrimSpace(fmt.Sprintf("%s %.6g %s", c.what, c.value/c.unit, c.unitName))
		if c.withLeast {
			return fmt.Errorf("%s; expected %.6g to %.6g", found, c.least/c.unit, c.most/c.unit)
		}
		return fmt.Errorf("%s; expected more than %.6g, at most %.6g", found, c.least/c.unit, c.most/c.unit)
	}
	if _, ok := typicalAt100[p.OilVG]; !ok && p.At40Mm2PerS == 0 {
		return fmt.Errorf("oil of grade ISO VG %d; expected 32, 46 or 68", p.OilVG)
	}
	if holds := p.PressurePa * p.pistonM2(); holds <= p.LiftForceN {
		return fmt.Errorf("%.6g bar on a %.6g mm bore lift %.6g N; expected more than the lifting force, %.6g N",
			p.PressurePa/bar, p.BoreM/mm, holds, p.LiftForceN)
	}
	if err := p.validateEffects(); err != nil {
		return err
	}
	// The lift may still be unable to move although each number is in range, as
	// with an orifice of a nanometre.
	v := p.toolSpeedMps(p.LiftFlowM3PerS(1))
	for _, flow := range p.falls(nil, p.heights(), p.lowestPa()) {
		v = min(v, p.toolSpeedMps(flow))
	}
	if !(v > slowestMps) {
		return fmt.Errorf("tools move at %.3g m/s; expected more than %g: check bore, hose, orifice and forces", v, slowestMps)
	}
	return nil
}

// slowestMps is far below the speed of any real tool: it would take most of an
// hour to rise 0.3 m.
const slowestMps = 1e-4

// pistonM2 returns the piston area A.
func (p *Params) pistonM2() float64 { return math.Pi / 4 * p.BoreM * p.BoreM }

// toolSpeedMps returns the speed of a tool at an oil flow into or out of its
// cylinders: the rod's speed v = Q/A times the lever ratio, which is tool travel
// over stroke.
func (p *Params) toolSpeedMps(flowM3PerS float64) float64 {
	return flowM3PerS / (p.count() * p.pistonM2()) * (p.TravelM() / p.StrokeM)
}
