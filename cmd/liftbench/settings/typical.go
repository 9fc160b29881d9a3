// Typical conditions: how far an everyday receiver, machine and driver are from
// ideal ones. Every figure is common practice without a source unless it says
// otherwise.

package settings

import "liftbench/sim/receiver"

// The conditions of a drive.
const (
	Ideal   = "ideal"   // what the keys say and nothing else
	Typical = "typical" // keys that the file leaves out are those of typical
)

// typical sets to their usual values the settings that the scenario's file
// leaves out.
func (s *Scenario) typical(m *Machine) {
	given := func(key string) bool { return s.Doc != nil && s.Doc.Has(key) }
	for _, x := range []struct {
		key   string
		value *float64
		is    float64
	}{
		// Solenoid valves of one make and batch, all driven by one terminal, answer
		// within some hundredths of a second of each other.
		{"spread.lift_dead_ms", &s.Spread.LiftDeadMs, 15},
		{"spread.drop_dead_ms", &s.Spread.DropDeadMs, 15},
		// Hoses to the outer sections are up to twice as long as those to the inner
		// ones, and orifices and flow valves are set by hand: some per cent of flow.
		{"spread.flow_percent", &s.Spread.FlowPercent, 8},
		// A driver holds his speed by a gear and the engine's speed; over slopes and
		// patches of soft ground it comes out some per cent faster or slower.
		{"drive.speed_sd_percent", &s.Drive.SpeedSDPercent, 4},
		// Sentences wait for others on a serial line: at 38400 baud one epoch of
		// GGA, RMC and VTG, some 200 bytes of 10 bits, takes 52 ms. Half of that
		// is up to chance.
		{"receiver.jitter_ms", &s.Receiver.JitterMs, 30},
		// Tree lines and gaps of the mobile network: two float spells an hour, as
		// long as the preset has them.
		{"receiver.floats_per_h", &s.Receiver.FloatsPerH, 2},
		// Ambiguities are fixed anew after each, with an offset of the order of the
		// noise between rows: Carballido et al. 2014 (see PresetReceiver), 1.43 cm on
		// each axis, 2 cm in the plane.
		{"receiver.refix_step_cm", &s.Receiver.RefixStepCm, 2},
	} {
		if !given(x.key) {
			*x.value = x.is
		}
	}
	// Without arrival times, jitter in the arrival has no effect.
	if !given("receiver.stamp") {
		s.Receiver.Stamp = receiver.UnixStamp
	}
	// Oil as cold as on a spring morning, unless the machine file's is colder.
	if c := 15.0; !given("spread.oil_start_c") && m.Hydraulics.OilC > c {
		s.Spread.OilStartC = &c
	}
}

// Typical returns the setup of the same drive under typical conditions. The error
// is that the machine's tools do not move with oil so cold.
func (u *Setup) Typical() (*Setup, error) {
	c := u.Copy()
	c.Scenario.Conditions = Typical
	c.Scenario.typical(c.Machine)
	return c, c.Scenario.checkSpread(c.Machine)
}
