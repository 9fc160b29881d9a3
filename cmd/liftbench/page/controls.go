// The page's controls, and where each stands in the settings.

package page

import (
	"math"
	"slices"

	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/settings/split"
	"liftbench/cmd/liftbench/web"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sections"
	"liftbench/sim/drive"
)

// edgeRules are the words of the edge rules, by value.
var edgeRules = []string{sections.CropFirst.String(), sections.WeedFirst.String(), sections.Even.String()}

// pageSetting is the setting that the controls change.
type pageSetting struct {
	machine  *settings.Machine
	scenario *settings.Scenario
	slantDeg float64 // of the page's own field
}

// Control is a control and its place in the settings.
type Control struct {
	web.Control
	get func(*pageSetting) any
	put func(*pageSetting, any)
	// no says which of the user's files leaves the control without effect: a
	// log (which has its own speed), a field, a machine, or work states.
	no []string
}

// numberControl returns a control for a number that stands in the settings
// unchanged.
func numberControl(c web.Control, at func(*pageSetting) *float64, no ...string) Control {
	c.Kind = web.Number
	return Control{Control: c, no: no,
		get: func(s *pageSetting) any { return *at(s) },
		put: func(s *pageSetting, v any) { *at(s) = v.(float64) },
	}
}

// leadControl returns a control for a lead.
func leadControl(c web.Control, at func(*pageSetting) *settings.LeadTime) Control {
	c.Kind, c.Unit, c.Min, c.Max, c.Step = web.NumberOrAuto, "ms", 0, 3000, 5
	return Control{Control: c, no: []string{"states"},
		get: func(s *pageSetting) any {
			if l := at(s); !l.Auto {
				return l.Ms
			}
			return "auto"
		},
		put: func(s *pageSetting, v any) {
			if ms, ok := v.(float64); ok {
				*at(s) = settings.LeadTime{Ms: ms}
				return
			}
			*at(s) = settings.LeadTime{Auto: true}
		},
	}
}

// velocityNoise is the noise of the velocity in cm/s for each cm of the
// position's noise, as of the RTK receiver.
func velocityNoise(noiseCm float64) float64 {
	r := settings.PresetReceiver(settings.RtkFixed)
	return wording.RoundTo(noiseCm*r.VelocityCmS/r.NoiseCm, 1e-6)
}

// Controls returns the controls in the order of the page. Usual ranges are
// common practice, no source.
func Controls() []Control {
	return []Control{
		numberControl(web.Control{Key: "speed_kmh", Label: "Speed", Unit: "km/h", Usual: "4 to 12", Min: 1, Max: 20, Step: 0.5,
			What: "How fast the tractor works; a timing error becomes speed times as many metres."},
			func(s *pageSetting) *float64 { return &s.scenario.Drive.SpeedKmh }, "log"),
		leadControl(web.Control{Key: "lift_lead_ms", Label: "Lift lead", Usual: "150 to 500",
			What: "How long before the border a lift is commanded; auto is what these hydraulics need."},
			func(s *pageSetting) *settings.LeadTime { return &s.machine.Controller.LiftLead }),
		leadControl(web.Control{Key: "drop_lead_ms", Label: "Drop lead", Usual: "300 to 1000",
			What: "How long before the border a drop is commanded; auto is what these hydraulics need."},
			func(s *pageSetting) *settings.LeadTime { return &s.machine.Controller.DropLead }),
		{Control: web.Control{Key: "flow_aware", Label: "Count the sections that move at once", Kind: web.Switch,
			What: "Whether an automatic lead grows with the number of sections that share the pump."},
			no:  []string{"states"},
			get: func(s *pageSetting) any { return s.machine.Controller.FlowAware },
			put: func(s *pageSetting, v any) { s.machine.Controller.FlowAware = v.(bool) }},
		{Control: web.Control{Key: "valve_dead_ms", Label: "Valve dead time", Kind: web.Number, Unit: "ms", Usual: "30 to 150", Min: 0, Max: 1000, Step: 5,
			What: "From the command to the first oil that moves, lifting and lowering alike."},
			no:  []string{"states"},
			get: func(s *pageSetting) any { return s.machine.Hydraulics.LiftDeadMs },
			put: func(s *pageSetting, v any) {
				s.machine.Hydraulics.LiftDeadMs, s.machine.Hydraulics.DropDeadMs = v.(float64), v.(float64)
			}},
		numberControl(web.Control{Key: "oil_c", Label: "Oil temperature", Unit: "°C", Usual: "-5 to 70", Min: -20, Max: 90, Step: 1,
			What: "Cold oil is thick: weight and spring press it out of the cylinder more slowly."},
			func(s *pageSetting) *float64 { return &s.machine.Hydraulics.OilC }, "states"),
		numberControl(web.Control{Key: "pump_l_min", Label: "Pump flow", Unit: "L/min", Usual: "20 to 100", Min: 2, Max: 200, Step: 1,
			What: "Oil that the tractor gives to all sections together; those that lift at once share it."},
			func(s *pageSetting) *float64 { return &s.machine.Hydraulics.PumpLMin }, "states"),
		numberControl(web.Control{Key: "rate_hz", Label: "Receiver rate", Unit: "Hz", Usual: "5 to 20", Min: 1, Max: 20, Step: 1,
			What: "Positions a second; between two of them the controller carries the motion on."},
			func(s *pageSetting) *float64 { return &s.scenario.Receiver.RateHz }, "log"),
		numberControl(web.Control{Key: "latency_ms", Label: "Receiver latency", Unit: "ms", Usual: "20 to 200", Min: 0, Max: 1000, Step: 5,
			What: "From the instant of a position to its arrival, as it truly is."},
			func(s *pageSetting) *float64 { return &s.scenario.Receiver.LatencyMs }, "log"),
		numberControl(web.Control{Key: "latency_told_ms", Label: "Latency the controller is told", Unit: "ms", Usual: "as the receiver's", Min: 0, Max: 1000, Step: 5,
			What: "The age that the controller takes a position to have on arrival; what it is off by becomes a timing error."},
			func(s *pageSetting) *float64 { return &s.machine.Controller.LatencyMs }, "states"),
		{Control: web.Control{Key: "noise_cm", Label: "Position noise", Kind: web.Number, Unit: "cm", Usual: "1 to 3 with RTK", Min: 0, Max: 100, Step: 0.1,
			What: "Standard deviation of the position on each axis; the velocity's noise grows with it."},
			no:  []string{"log"},
			get: func(s *pageSetting) any { return s.scenario.Receiver.NoiseCm },
			put: func(s *pageSetting, v any) {
				s.scenario.Receiver.NoiseCm, s.scenario.Receiver.VelocityCmS = v.(float64), velocityNoise(v.(float64))
			}},
		{Control: web.Control{Key: "tool_m", Label: "Antenna to tool", Kind: web.Number, Unit: "m", Usual: "2 to 8", Min: 1, Max: 15, Step: 0.05,
			What: "How far the tool works behind the antenna."},
			no: []string{"machine"},
			get: func(s *pageSetting) any {
				return wording.RoundTo(s.machine.Antenna.ForwardM-s.machine.Tool.ForwardM, 1e-6)
			},
			put: func(s *pageSetting, v any) {
				s.machine.Tool.ForwardM = wording.RoundTo(s.machine.Antenna.ForwardM-v.(float64), 1e-6)
			}},
		{Control: web.Control{Key: "antenna_wrong_cm", Label: "Antenna measured wrong", Kind: web.Number, Unit: "cm", Usual: "0 to 30", Min: -100, Max: 100, Step: 1,
			What: "How far ahead of its true place the controller believes the antenna to be."},
			no: []string{"log"},
			get: func(s *pageSetting) any {
				if told := s.scenario.Measured.AntennaForwardM; told != nil {
					return wording.RoundTo((*told-s.machine.Antenna.ForwardM)*100, 1e-6)
				}
				return 0.0
			},
			put: func(s *pageSetting, v any) {
				s.scenario.Measured.AntennaForwardM = nil
				if cm := v.(float64); cm != 0 {
					told := wording.RoundTo(s.machine.Antenna.ForwardM+cm/100, 1e-6)
					s.scenario.Measured.AntennaForwardM = &told
				}
			}},
		{Control: web.Control{Key: "headland_deg", Label: "Slant of the north headland", Kind: web.Number, Unit: "°", Usual: "0 to 45", Min: -45, Max: 45, Step: 1,
			What: "Angle between the north border and a line square to the rows."},
			no:  []string{"field", "log"},
			get: func(s *pageSetting) any { return s.slantDeg },
			put: func(s *pageSetting, v any) { s.slantDeg = v.(float64) }},
		{Control: web.Control{Key: "section_m", Label: "Section width", Kind: web.Choice, Unit: "m", Usual: "0.5 to 3", Choices: []float64{0.5, 1, 1.5, 2, 3, 6},
			What: "Width lifted by one valve; the bar of 6 m keeps its twelve rows."},
			no: []string{"machine", "states"},
			get: func(s *pageSetting) any {
				n := max(len(s.machine.RowsOf()), 1)
				return wording.RoundTo(s.machine.WidthM()/float64(n), 1e-3)
			},
			put: func(s *pageSetting, v any) {
				s.machine.Sections = split.Sections{Count: int(math.Round(s.machine.WidthM() / v.(float64)))}
			}},
		{Control: web.Control{Key: "edge_rule", Label: "Edge rule", Kind: web.Word, Words: edgeRules,
			What: "Which part of a section decides at a slanting border: crop-first spares the headland rows, weed-first leaves no weeds, even halves both."},
			get: func(s *pageSetting) any { return s.machine.Controller.EdgeRule.String() },
			put: func(s *pageSetting, v any) {
				s.machine.Controller.EdgeRule = sections.EdgeRule(slices.Index(edgeRules, v.(string)))
			}},
		{Control: web.Control{Key: "work_headland", Label: "Work the headland rows too", Kind: web.Switch,
			What: "Whether the headland is worked along its own rows after the body."},
			no:  []string{"log"},
			get: func(s *pageSetting) any { return s.scenario.Drive.Headland != drive.NoHeadland },
			put: func(s *pageSetting, v any) {
				s.scenario.Drive.Headland = drive.NoHeadland
				if v.(bool) {
					s.scenario.Drive.Headland = drive.HeadlandLast
				}
			}},
		{Control: web.Control{Key: "seed", Label: "Seed", Kind: web.Number, Usual: "any", Min: 1, Max: 9999, Step: 1,
			What: "Chooses the random numbers of receiver and steering; the same seed gives the same drive."},
			no:  []string{"log"},
			get: func(s *pageSetting) any { return float64(s.scenario.Drive.Seed) },
			put: func(s *pageSetting, v any) { s.scenario.Drive.Seed = int(v.(float64)) }},
	}
}
