// The spread block of a scenario file: how the true tools differ from those
// that were measured.

package settings

import "liftbench/sim/hydraulics"

// Spread is what no machine file tells: how the sections differ from each
// other, and how cold the oil is in the morning.
type Spread struct {
	LiftDeadMs  float64  `key:"lift_dead_ms" unit:"ms" min:"0" max:"2000" doc:"standard deviation of hydraulics.lift_dead_ms from section to section"`
	DropDeadMs  float64  `key:"drop_dead_ms" unit:"ms" min:"0" max:"2000" doc:"standard deviation of hydraulics.drop_dead_ms from section to section"`
	FlowPercent float64  `key:"flow_percent" unit:"%" min:"0" max:"30" doc:"standard deviation of the flow both ways from section to section"`
	OilStartC   *float64 `key:"oil_start_c" unit:"°C" min:"-30" max:"120" doc:"temperature of the oil when the drive begins, from which it comes to hydraulics.oil_c; as warm from the start when absent"`
	// 20 minutes: common practice, no source.
	OilWarmingMin float64 `key:"oil_warming_min" unit:"min" above:"0" max:"600" doc:"time in which 63 % of that way is done"`
}

// Spread returns the differences between sections in SI.
func (c *Spread) Spread(seed uint64) hydraulics.Spread {
	return hydraulics.Spread{
		LiftDeadNs: int64(c.LiftDeadMs * 1e6),
		DropDeadNs: int64(c.DropDeadMs * 1e6),
		Flow:       c.FlowPercent / 100,
		Seed:       seed,
	}
}

// Warming returns how the oil grows warm.
func (c *Spread) Warming() hydraulics.Warming {
	if c.OilStartC == nil {
		return hydraulics.Warming{}
	}
	return hydraulics.Warming{FromDegC: *c.OilStartC, TimeConstantS: c.OilWarmingMin * 60}
}

// checkSpread reports oil so cold that the machine's tools do not move.
func (s *Scenario) checkSpread(m *Machine) error {
	if s.Spread.OilStartC == nil {
		return nil
	}
	if m.Hydraulics.Effects.Tank.OilL > 0 {
		return s.Doc.ErrorAt("spread.oil_start_c", "spread.oil_start_c: found on a machine with hydraulics.effects.tank; expected one of them, as oil warms by the clock or by work")
	}
	p := m.Params()
	p.OilTempDegC = *s.Spread.OilStartC
	if err := p.Validate(); err != nil {
		return s.Doc.ErrorAt("spread.oil_start_c", "spread.oil_start_c: %v", err)
	}
	return nil
}
