// The depth and hydraulics blocks of a machine file, and the parameters that
// they describe.

package settings

import (
	"liftbench/cmd/liftbench/settings/effects"
	"liftbench/cmd/liftbench/settings/measured"
	"liftbench/sim/hydraulics"
)

// depthConfig is how deep the tool works and how high it is lifted.
type depthConfig struct {
	WorkingCm   float64 `key:"working_cm" unit:"cm" above:"0" max:"50" doc:"how deep the tool works"`
	EffectiveCm float64 `key:"effective_cm" unit:"cm" min:"0" max:"50" doc:"depth from which on the tool counts as in work"`
	RaisedCm    float64 `key:"raised_cm" unit:"cm" above:"0" max:"400" doc:"how high the raised tool is above the ground"`
}

// Hydraulics is the lift of one section and what feeds all of them.
type Hydraulics struct {
	PumpLMin    float64 `key:"pump_l_min" unit:"L/min" above:"0" max:"1000" doc:"oil the tractor gives to all sections together"`
	ValveCapLM  float64 `key:"valve_cap_l_min" unit:"L/min" min:"0" max:"1000" doc:"flow valve of each section, lifting only; 0 = none"`
	PressureBar float64 `key:"pressure_bar" unit:"bar" above:"0" max:"700" doc:"pressure at the valves"`
	BoreMm      float64 `key:"bore_mm" unit:"mm" above:"0" max:"500" doc:"bore of the cylinder, whose whole piston area carries the load"`
	StrokeMm    float64 `key:"stroke_mm" unit:"mm" above:"0" max:"3000" doc:"stroke from working depth to raised"`
	LiftForceN  float64 `key:"lift_force_n" unit:"N" above:"0" max:"1000000" doc:"force on the rod when lifting: weight and friction"`
	DropForceN  float64 `key:"drop_force_n" unit:"N" above:"0" max:"1000000" doc:"force on the rod when lowering: weight and spring"`
	HoseM       float64 `key:"hose_m" unit:"m" min:"0" max:"100" doc:"length of the hose from valve to cylinder"`
	HoseMm      float64 `key:"hose_bore_mm" unit:"mm" above:"0" max:"100" doc:"inner diameter of the hose"`
	OrificeMm   float64 `key:"orifice_mm" unit:"mm" above:"0" max:"100" doc:"diameter of the orifice, passed both ways"`
	OrificeCd   float64 `key:"orifice_cd" above:"0" max:"1" doc:"discharge coefficient of the orifice, about 0.6 when sharp-edged"`
	OilVG       int     `key:"oil_vg" min:"32" max:"68" doc:"viscosity grade of the oil, ISO VG 32, 46 or 68"`
	OilC        float64 `key:"oil_c" unit:"°C" min:"-30" max:"120" doc:"temperature of the oil"`
	LiftDeadMs  float64 `key:"lift_dead_ms" unit:"ms" min:"0" max:"10000" doc:"from the command to the first oil into the cylinder"`
	DropDeadMs  float64 `key:"drop_dead_ms" unit:"ms" min:"0" max:"10000" doc:"from the command to the first oil out of it"`

	Effects effects.Effects `key:"effects" doc:"what the lift does beside the usual: slots, unequal sections, springs, the pump and more"`

	Measured *measured.Times `key:"measured" doc:"times taken at standstill, in place of lift_dead_ms, bore, orifice and forces, and with lift_all_s of pump_l_min"`

	liftMps, dropMps, timedC float64 // as Measured says; 0 = not timed
}

// taken checks a machine that was read, and takes what was timed.
func (m *Machine) taken() error {
	if err := m.Check(); err != nil {
		return err
	}
	if err := m.takeMeasured(); err != nil {
		return err
	}
	return m.checkHydraulics()
}

// takeMeasured puts what was timed in the place of what is computed: the dead time and, with all
// at once timed, the pump's flow stand in their keys from then on.
func (m *Machine) takeMeasured() error {
	h := &m.Hydraulics
	if h.Measured == nil {
		return nil
	}
	p := m.Params()
	s, key, err := h.Measured.Speeds(p.WorkingDepthM, p.RaisedM, h.DropDeadMs/1000)
	if err != nil {
		key = "hydraulics.measured." + key
		return m.Doc.ErrorAt(key, "%s: %v", key, err)
	}
	h.LiftDeadMs, h.liftMps, h.dropMps, h.timedC = 1000*s.LiftDeadS, s.LiftMps, s.DropMps, h.OilC
	if h.Measured.OilC != nil {
		h.timedC = *h.Measured.OilC
	}
	if s.AllMps > 0 {
		p = m.Params()
		p.OilTempDegC = h.timedC
		// What all take at once at that speed; a pump that feeds them all may be larger.
		flowLMin := p.FlowNeededM3PerS(len(m.RowsOf())) * s.AllMps / s.LiftMps * 60e3
		if s.AllMps < s.LiftMps || flowLMin > h.PumpLMin {
			h.PumpLMin = flowLMin
		}
	}
	return nil
}

// measuredAnew is the block that says what holds now, where settings were changed since it was read.
func (m *Machine) measuredAnew() *measured.Times {
	h := &m.Hydraulics
	if h.Measured == nil {
		return nil
	}
	p := m.Params()
	s := measured.Speeds{LiftDeadS: h.LiftDeadMs / 1000, LiftMps: h.liftMps, DropMps: h.dropMps}
	p.OilTempDegC = h.timedC
	if n := len(m.RowsOf()); h.Measured.LiftAllS != nil {
		s.AllMps = h.liftMps * min(1, p.PumpFlowM3PerS/p.FlowNeededM3PerS(n))
	}
	t := s.Times(p.WorkingDepthM, p.RaisedM, h.DropDeadMs/1000)
	t.OilC = &h.timedC
	return &t
}

// Params returns depth and hydraulics in SI.
func (m *Machine) Params() hydraulics.Params {
	const (
		cm, mm  = 1e-2, 1e-3
		lPerMin = 1e-3 / 60 // m³/s
		bar     = 1e5       // Pa
	)
	h := &m.Hydraulics
	return hydraulics.Params{
		LiftDeadNs:      int64(h.LiftDeadMs * 1e6),
		DropDeadNs:      int64(h.DropDeadMs * 1e6),
		BoreM:           h.BoreMm * mm,
		StrokeM:         h.StrokeMm * mm,
		RaisedM:         m.Depth.RaisedCm * cm,
		WorkingDepthM:   m.Depth.WorkingCm * cm,
		EffectiveDepthM: m.Depth.EffectiveCm * cm,
		PumpFlowM3PerS:  h.PumpLMin * lPerMin,
		ValveFlowM3PerS: h.ValveCapLM * lPerMin,
		PressurePa:      h.PressureBar * bar,
		LiftForceN:      h.LiftForceN,
		DropForceN:      h.DropForceN,
		HoseLengthM:     h.HoseM,
		HoseBoreM:       h.HoseMm * mm,
		OrificeM:        h.OrificeMm * mm,
		OrificeCd:       h.OrificeCd,
		OilVG:           h.OilVG,
		OilTempDegC:     h.OilC,
		LiftMps:         h.liftMps,
		DropMps:         h.dropMps,
		MeasuredDegC:    h.timedC,
		Effects:         h.Effects.SI(),
	}
}

// checkHydraulics reports what prevents the lift from moving.
func (m *Machine) checkHydraulics() error {
	h := &m.Hydraulics
	if d := &m.Depth; d.EffectiveCm > d.WorkingCm {
		return m.Doc.ErrorAt("depth.effective_cm", "depth.effective_cm: found %g; expected at most the working depth of %g cm", d.EffectiveCm, d.WorkingCm)
	}
	if n := len(h.Effects.Cylinders); n > 0 && n != len(m.RowsOf()) {
		return m.Doc.ErrorAt("hydraulics.effects.cylinders", "hydraulics.effects.cylinders: found %d; expected those of each of the %d sections", n, len(m.RowsOf()))
	}
	p := m.Params()
	if err := p.Validate(); err != nil {
		return m.Doc.ErrorAt("hydraulics", "hydraulics: %v", err)
	}
	return nil
}
