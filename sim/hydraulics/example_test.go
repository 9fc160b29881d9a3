package hydraulics_test

import (
	"fmt"

	"liftbench/sections"
	"liftbench/sim/hydraulics"
)

func Example() {
	const litrePerMin = 1e-3 / 60
	p := hydraulics.Params{
		LiftDeadNs: 60e6, DropDeadNs: 50e6,
		BoreM: 0.032, StrokeM: 0.160,
		RaisedM: 0.26, WorkingDepthM: 0.04, EffectiveDepthM: 0.02,
		PumpFlowM3PerS: 60 * litrePerMin, ValveFlowM3PerS: 8 * litrePerMin,
		PressurePa: 180e5, LiftForceN: 1200, DropForceN: 1500,
		HoseLengthM: 6, HoseBoreM: 0.008, OrificeM: 0.0025, OrificeCd: 0.62,
		OilVG: 46, OilTempDegC: 50,
	}
	bank, err := hydraulics.New(p, 12)
	if err != nil {
		fmt.Println(err)
		return
	}
	var changes []sections.WorkChange
	bank.Command(sections.Setpoint{DueNs: 1e9, Section: 3, On: true})
	for tick := int64(0); tick < 5e9; tick += 50e6 {
		changes = bank.Advance(tick, changes)
	}
	for _, c := range changes {
		fmt.Printf("section %d in work %v at %.3f s\n", c.Section+1, c.On, float64(c.TimeNs)/1e9)
	}
	fmt.Printf("drop lead %.3f s\n", float64(p.DropTimeNs())/1e9)
	fmt.Printf("lift lead %.3f s alone, %.3f s with all 12\n", float64(p.LiftTimeNs(1))/1e9, float64(p.LiftTimeNs(12))/1e9)
	fmt.Printf("all at once need %.0f L/min\n", p.FlowNeededM3PerS(12)/litrePerMin)
	// Output:
	// section 4 in work true at 1.705 s
	// drop lead 0.705 s
	// lift lead 0.124 s alone, 0.163 s with all 12
	// all at once need 96 L/min
}
