// Package effects is the block hydraulics.effects of a machine file: what a lift does beside what
// every lift does. A key that is left out changes nothing.
package effects

import "liftbench/sim/hydraulics"

// Effects is the block.
type Effects struct {
	SlotMm        float64             `key:"slot_mm" unit:"mm" min:"0" max:"1000" doc:"way of the rod before it moves the tool: float slot, play of the linkage"`
	Cylinders     []Cylinder          `key:"cylinders" doc:"cylinders of each section from the left, where sections differ"`
	PumpWakeMs    float64             `key:"pump_wake_ms" unit:"ms" min:"0" max:"5000" doc:"from the first section that asks for oil until a load-sensing pump gives it, 100 to 300 usual; 0 = it always gives"`
	BackBar       float64             `key:"back_pressure_bar" unit:"bar" min:"0" max:"700" doc:"pressure in the return line when tools are lowered"`
	WorkingForceN float64             `key:"working_force_n" unit:"N" min:"0" max:"1000000" doc:"lowering force at working depth, where a spring relaxes from drop_force_n when raised; 0 = drop_force_n all the way"`
	RodMm         float64             `key:"rod_mm" unit:"mm" min:"0" max:"500" doc:"rod of a cylinder that oil of the pump presses down too; 0 = weight and spring lower it alone"`
	Throttle      hydraulics.Throttle `key:"throttle" words:"both|lowering|lifting" doc:"which way oil passes the orifice: both ways, or past a check valve the other way"`
	Sequence      hydraulics.Sequence `key:"sequence" words:"none|lifting|lowering|both" doc:"which way sections move one after the other from the left, each when the one before has come to its end"`
	OilAt40Mm2S   float64             `key:"oil_40c_mm2_s" unit:"mm²/s" min:"0" max:"10000" doc:"viscosity at 40 °C of an oil of no ISO VG grade, such as that of a transmission; 0 = hydraulics.oil_vg says it"`
	OilAt100Mm2S  float64             `key:"oil_100c_mm2_s" unit:"mm²/s" min:"0" max:"1000" doc:"its viscosity at 100 °C"`
	SoilForceN    float64             `key:"soil_force_n" unit:"N" min:"0" max:"1000000" doc:"what soil carries of the lowering force at working depth, on each rod; none at the surface"`
	BiteM         float64             `key:"bite_m" unit:"m" min:"0" max:"20" doc:"way that a tool goes ahead from the surface down to working depth, however hard it is pressed; 0 = as fast as it can"`
	Accumulator   Accumulator         `key:"accumulator" doc:"gives oil when sections ask for more than the pump gives"`
	Tank          Tank                `key:"tank" doc:"oil that work warms, in place of spread.oil_start_c in a scenario"`
}

// Accumulator is gas that oil presses together.
type Accumulator struct {
	GasL         float64 `key:"gas_l" unit:"L" min:"0" max:"100" doc:"gas without oil; 0 = there is none"`
	PrechargeBar float64 `key:"precharge_bar" unit:"bar" min:"0" max:"700" doc:"pressure of the gas without oil"`
}

// Tank is the oil that work warms, from hydraulics.oil_c on.
type Tank struct {
	OilL   float64 `key:"oil_l" unit:"L" min:"0" max:"1000" doc:"oil in the circuit; 0 = its temperature stays"`
	LossWK float64 `key:"loss_w_k" unit:"W/K" min:"0" max:"100000" doc:"heat lost for each kelvin above the air"`
	AirC   float64 `key:"air_c" unit:"°C" min:"-30" max:"60" doc:"temperature of the air"`
}

// Cylinder is what lifts one section.
type Cylinder struct {
	Count      int     `key:"count" min:"0" max:"64" doc:"cylinders behind the section's valve, such as one for each unit; 0 = 1"`
	BoreMm     float64 `key:"bore_mm" unit:"mm" min:"0" max:"500" doc:"bore of each; 0 = hydraulics.bore_mm"`
	LiftForceN float64 `key:"lift_force_n" unit:"N" min:"0" max:"1000000" doc:"lifting force on each rod; 0 = hydraulics.lift_force_n"`
	DropForceN float64 `key:"drop_force_n" unit:"N" min:"0" max:"1000000" doc:"lowering force on each rod; 0 = hydraulics.drop_force_n"`
}

// SI returns the block in SI.
func (e *Effects) SI() hydraulics.Effects {
	const mm, bar = 1e-3, 1e5 // m, Pa
	out := hydraulics.Effects{
		SlotM: e.SlotMm * mm, PumpWakeNs: int64(e.PumpWakeMs * 1e6), BackPressurePa: e.BackBar * bar,
		WorkingForceN: e.WorkingForceN, RodM: e.RodMm * mm, Throttle: e.Throttle, Sequence: e.Sequence,
		At40Mm2PerS: e.OilAt40Mm2S, At100Mm2PerS: e.OilAt100Mm2S, SoilForceN: e.SoilForceN, BiteM: e.BiteM,
	}
	out.AccumulatorM3, out.PrechargePa = e.Accumulator.GasL*1e-3, e.Accumulator.PrechargeBar*bar
	out.Tank = hydraulics.Tank{VolumeM3: e.Tank.OilL * 1e-3, LossWPerK: e.Tank.LossWK, AirDegC: e.Tank.AirC}
	for _, c := range e.Cylinders {
		out.Cylinders = append(out.Cylinders, hydraulics.Cylinder{Count: c.Count, BoreM: c.BoreMm * mm, LiftForceN: c.LiftForceN, DropForceN: c.DropForceN})
	}
	return out
}
