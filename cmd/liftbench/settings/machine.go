// The machine file: geometry, rows, depths and hydraulics as a person measures
// them on the machine.

package settings

import (
	"fmt"

	"liftbench/cmd/liftbench/settings/bind"
	"liftbench/cmd/liftbench/settings/split"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sections"
)

// Machine is a machine file.
type Machine struct {
	Name       string           `key:"name" doc:"what the machine is called on the sheet"`
	Mount      sections.Mount   `key:"mount" need:"yes" words:"rear|front|trailed" doc:"how the tool hangs on the tractor: rear, front or trailed"`
	Antenna    antennaConfig    `key:"antenna" doc:"the antenna's place from the turning point, the middle of the rear axle"`
	Tool       toolConfig       `key:"tool" need:"yes" doc:"the bar's place, with key forward_m"`
	Rows       rowsConfig       `key:"rows" need:"yes" doc:"the rows, with keys count and spacing_m"`
	Sections   split.Sections   `key:"sections" need:"yes" doc:"a number of sections of the same size, or the rows of each section from the left as [4, 4, 4]"`
	Places     []SectionPlace   `key:"places" doc:"middle and width of each section from the left, where they do not stand side by side in one line as rows and sections say"`
	Depth      depthConfig      `key:"depth" doc:"heights of the tool"`
	Hydraulics Hydraulics       `key:"hydraulics" doc:"pump, valves, cylinders, hoses and oil"`
	Controller Controller       `key:"controller" doc:"settings of the section controller"`
	Transport  *transportConfig `key:"transport" doc:"size on the road"`

	Doc *bind.Document
}

// DefaultMachine holds what a machine file may leave out: depths and a lift as
// on common row units with parallel linkage (common practice, no source).
func DefaultMachine() *Machine {
	return &Machine{
		Antenna: antennaConfig{HeightM: 3},
		Depth:   depthConfig{WorkingCm: 3, EffectiveCm: 1.5, RaisedCm: 15},
		Hydraulics: Hydraulics{
			PumpLMin: 40, ValveCapLM: 8, PressureBar: 180,
			BoreMm: 32, StrokeMm: 150, LiftForceN: 2500, DropForceN: 1500,
			HoseM: 4, HoseMm: 8, OrificeMm: 2.5, OrificeCd: 0.6,
			OilVG: 46, OilC: 45, LiftDeadMs: 60, DropDeadMs: 60,
		},
		Controller: defaultController(),
	}
}

type antennaConfig struct {
	ForwardM float64 `key:"forward_m" unit:"m" min:"-20" max:"20" doc:"antenna ahead of the rear axle, negative behind"`
	RightM   float64 `key:"right_m" unit:"m" min:"-5" max:"5" doc:"antenna right of the tractor's middle, negative left"`
	HeightM  float64 `key:"height_m" unit:"m" min:"0" max:"10" doc:"antenna above the ground"`
}

type toolConfig struct {
	ForwardM         float64  `key:"forward_m" need:"yes" unit:"m" min:"-30" max:"20" doc:"the bar ahead of the rear axle, negative behind, tractor and tool in line"`
	OffsetM          float64  `key:"offset_m" unit:"m" min:"-10" max:"10" doc:"middle of the bar right of the tractor's middle, negative left"`
	HitchBehindM     *float64 `key:"hitch_behind_m" unit:"m" min:"0" max:"5" doc:"trailed: hitch behind the rear axle"`
	DrawbarM         *float64 `key:"drawbar_m" unit:"m" above:"0" max:"30" doc:"trailed: from the hitch to the tool's axle"`
	SideShiftTotalMm *float64 `key:"side_shift_total_mm" unit:"mm" above:"0" max:"2000" doc:"whole sliding distance of the side-shift frame"`
}

// SectionPlace is where one section is, tractor and tool in line.
type SectionPlace struct {
	ForwardM float64 `key:"forward_m" need:"yes" unit:"m" min:"-30" max:"20" doc:"the section's tools ahead of the rear axle, negative behind"`
	RightM   float64 `key:"right_m" need:"yes" unit:"m" min:"-30" max:"30" doc:"middle of the section right of the tractor's middle, negative left"`
	WidthM   float64 `key:"width_m" need:"yes" unit:"m" above:"0" max:"30" doc:"width that the section works"`
}

type rowsConfig struct {
	Count       int         `key:"count" need:"yes" min:"1" max:"1024" doc:"rows the bar covers"`
	SpacingM    float64     `key:"spacing_m" need:"yes" unit:"m" above:"0" max:"3" doc:"from one crop row to the next"`
	Units       split.Units `key:"units" words:"on rows|between rows" doc:"where units stand: on rows, each working half a gap on either side; or between rows, one more than rows, the outer two half as wide, so that sections meet on crop rows"`
	ToolWidthM  float64     `key:"tool_width_m" unit:"m" above:"0" max:"3" doc:"width worked between two rows"`
	PlantStripM float64     `key:"plant_strip_m" unit:"m" min:"0" max:"1" doc:"width of the crop row itself"`
}

type transportConfig struct {
	WidthM  float64 `key:"width_m" need:"yes" unit:"m" above:"0" max:"20" doc:"folded width"`
	HeightM float64 `key:"height_m" need:"yes" unit:"m" above:"0" max:"20" doc:"folded height"`
}

// LoadMachine reads a machine file.
func LoadMachine(file string, read Source) (*Machine, error) {
	data, err := read.Read(file, "a machine file")
	if err != nil {
		return nil, err
	}
	m := DefaultMachine()
	doc, err := readKind(file, data, "machine", m)
	if err != nil {
		return nil, err
	}
	m.Doc = doc
	return m, m.taken()
}

// Check reports the first setting that contradicts another.
func (m *Machine) Check() error {
	at := m.Doc.ErrorAt
	if m.Rows.ToolWidthM+m.Rows.PlantStripM > m.Rows.SpacingM {
		return at("rows.tool_width_m", "rows.tool_width_m: found tools of %g m and a plant strip of %g m; expected no more than the row spacing of %g m together", m.Rows.ToolWidthM, m.Rows.PlantStripM, m.Rows.SpacingM)
	}
	if err := m.Bar().Check(m.Sections); err != nil {
		return at("sections", "sections: %v", err)
	}
	if n := len(m.Places); n > 0 && n != len(m.RowsOf()) {
		return at("places", "places: found %d; expected one for each of the %d sections", n, len(m.RowsOf()))
	}
	switch m.Mount {
	case sections.Trailed:
		if m.Tool.DrawbarM == nil {
			return at("tool", "tool: key \"drawbar_m\" is missing; a trailed machine needs its drawbar, from the hitch to the tool's axle")
		}
	default:
		for _, k := range []string{"tool.hitch_behind_m", "tool.drawbar_m"} {
			if m.Doc.Has(k) {
				return at(k, "%s: found on a %s-mounted machine; expected with mount: trailed alone", k, m.Mount)
			}
		}
	}
	if m.Mount == sections.FrontRigid && m.Tool.ForwardM <= 0 {
		return at("tool.forward_m", "tool.forward_m: found %g; expected more than 0 m on a front-mounted machine", m.Tool.ForwardM)
	}
	if m.Mount != sections.FrontRigid && m.Tool.ForwardM >= 0 {
		return at("tool.forward_m", "tool.forward_m: found %g; expected less than 0 m, behind the rear axle, with mount: %s", m.Tool.ForwardM, m.Mount)
	}
	if m.Controller.FlowAware && (!m.Controller.LiftLead.Auto || !m.Controller.DropLead.Auto) && m.Doc.Has("controller.flow_aware") {
		return at("controller.flow_aware", "controller.flow_aware: found true with a lead in milliseconds; expected lift_lead and drop_lead on auto")
	}
	for i, s := range m.Places {
		if (s.ForwardM > 0) != (m.Mount == sections.FrontRigid) {
			key := fmt.Sprintf("places[%d].forward_m", i)
			return at(key, "%s: found %g; expected %s the rear axle as tool.forward_m, with mount: %s", key, s.ForwardM, sideOf(m.Mount), m.Mount)
		}
	}
	if key, err := m.checkTrims(); err != nil {
		return at(key, "%s: %v", key, err)
	}
	g := m.Geometry()
	if err := g.Validate(); err != nil {
		key := "sections"
		if m.Places != nil {
			key = "places"
		}
		return at(key, "%s: %v", key, err)
	}
	return m.checkHydraulics()
}

// sideOf says on which side of the rear axle a mount holds the tool.
func sideOf(m sections.Mount) string {
	if m == sections.FrontRigid {
		return "ahead of"
	}
	return "behind"
}

// RowsOf returns the rows of each section from the left, or its units where these stand between rows.
func (m *Machine) RowsOf() []int { return m.Bar().Of(m.Sections) }

// Bar returns how units stand on the bar, where Places does not say it.
func (m *Machine) Bar() split.Bar {
	return split.Bar{Rows: m.Rows.Count, SpacingM: m.Rows.SpacingM, Units: m.Rows.Units}
}

// WidthM is the working width: every row with its spacing, or from the left edge of
// the first place to the right edge of the last.
func (m *Machine) WidthM() float64 {
	if n := len(m.Places); n > 0 {
		l, r := &m.Places[0], &m.Places[n-1]
		return wording.RoundTo(r.RightM+r.WidthM/2-l.RightM+l.WidthM/2, 1e-6)
	}
	return float64(m.Rows.Count) * m.Rows.SpacingM
}

// Geometry returns the machine as the controller knows it.
func (m *Machine) Geometry() *sections.Machine {
	g := &sections.Machine{
		Mount:     m.Mount,
		AntennaXM: m.Antenna.ForwardM,
		AntennaYM: m.Antenna.RightM,
		AntennaZM: m.Antenna.HeightM,
	}
	if m.Tool.HitchBehindM != nil {
		g.HitchBehindM = *m.Tool.HitchBehindM
	}
	if m.Tool.DrawbarM != nil {
		g.DrawbarM = *m.Tool.DrawbarM
	}
	for _, s := range m.Places {
		g.Sections = append(g.Sections, sections.Section{XM: s.ForwardM, YM: s.RightM, WidthM: s.WidthM})
	}
	if m.Places != nil {
		m.trimmed(g.Sections)
		return g
	}
	first := 0
	for _, units := range m.RowsOf() {
		rightM, widthM := m.Bar().Place(first, units)
		g.Sections = append(g.Sections, sections.Section{XM: m.Tool.ForwardM, YM: m.Tool.OffsetM + rightM, WidthM: widthM})
		first += units
	}
	m.trimmed(g.Sections)
	return g
}
