// This file is the machine's hydraulics as numbers, and what makes them usable.

package hydraulics

import (
	"fmt"
	"math"
	"strings"
)

// Params describes the lift of one machine; all its sections are alike.
// Everything but Validate expects valid Params.
type Params struct {
	LiftDeadNs int64 // from the setpoint to the first oil into the cylinder, 0 to 10 s
	DropDeadNs int64 // from the setpoint to the first oil out of it, 0 to 10 s

	BoreM   float64 // cylinder bore; the whole piston area carries the load
	StrokeM float64 // rod travel between working depth and raised

	RaisedM         float64 // raised tool above the ground
	WorkingDepthM   float64 // lowered tool below the ground
	EffectiveDepthM float64 // a tool this deep or deeper is in work, 0 to WorkingDepthM

	PumpFlowM3PerS  float64 // what the tractor gives to all sections together
	ValveFlowM3PerS float64 // flow valve of each section, lifting only; 0 = none
	PressurePa      float64 // available at the valves
	LiftForceN      float64 // on the rod when lifting: weight + friction
	DropForceN      float64 // on the rod when lowering: weight + spring

	HoseLengthM float64 // from valve to cylinder; 0 = none
	HoseBoreM   float64 // inner diameter
	OrificeM    float64 // diameter of the orifice, passed both ways
	OrificeCd   float64 // its discharge coefficient, up to 1; about 0.6 when sharp-edged

	OilVG       int     // ISO viscosity grade: 32, 46 or 68
	OilTempDegC float64 // -30 to 120
}

// What one litre per minute, bar, mm, ms is in SI: errors speak the user's units.
const (
	litrePerMin = 1e-3 / 60 // m³/s
	bar         = 1e5       // Pa
	mm          = 1e-3      // m
	ms          = 1e6       // ns
)

// Validate reports the first number that cannot be used, in the units users
// read: "pump flow -3 L/min; expected more than 0, at most 1000". The upper
// limits are far above any lift and catch a wrong unit.
func (p *Params) Validate() error {
	for _, c := range [...]struct {
		what        string
		value       float64
		unit        float64 // size of the printed unit
		name        string  // of that unit
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
	} {
		if (c.value > c.least || c.withLeast && c.value == c.least) && c.value <= c.most {
			continue
		}
		found := strings.TrimSpace(fmt.Sprintf("%s %.6g %s", c.what, c.value/c.unit, c.name))
		if c.withLeast {
			return fmt.Errorf("%s; expected %.6g to %.6g", found, c.least/c.unit, c.most/c.unit)
		}
		return fmt.Errorf("%s; expected more than %.6g, at most %.6g", found, c.least/c.unit, c.most/c.unit)
	}
	if _, ok := typicalAt100[p.OilVG]; !ok {
		return fmt.Errorf("oil of grade ISO VG %d; expected 32, 46 or 68", p.OilVG)
	}
	if holds := p.PressurePa * p.pistonM2(); holds <= p.LiftForceN {
		return fmt.Errorf("%.6g bar on a %.6g mm bore lift %.6g N; expected more than the lifting force, %.6g N",
			p.PressurePa/bar, p.BoreM/mm, holds, p.LiftForceN)
	}
	// Each number may be in range and the whole still not move, as through an
	// orifice of a nanometre.
	if v := min(p.toolSpeedMps(p.LiftFlowM3PerS(1)), p.toolSpeedMps(p.DropFlowM3PerS())); !(v > slowestMps) {
		return fmt.Errorf("tools move at %.3g m/s; expected more than %g: check bore, hose, orifice and forces", v, slowestMps)
	}
	return nil
}

// slowestMps is below any tool that is of use: raised after an hour.
const slowestMps = 1e-4

// pistonM2 is A, which the oil pushes on.
func (p *Params) pistonM2() float64 { return math.Pi / 4 * p.BoreM * p.BoreM }

// toolSpeedMps is the speed of a tool whose cylinder takes or gives flow
// (m³/s): the rod's v = Q/A times the lever ratio, tool travel over stroke.
func (p *Params) toolSpeedMps(flow float64) float64 {
	return flow / p.pistonM2() * (p.TravelM() / p.StrokeM)
}
