// The controller block of a machine or scenario file, and the settings that it
// describes.

package settings

import (
	"fmt"
	"math"

	"github.com/goccy/go-yaml/ast"

	"liftbench/cmd/liftbench/settings/bind"
	"liftbench/cmd/liftbench/wording"
	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sim"
	"liftbench/sim/hydraulics"
)

// Controller is the controller's settings as people set them in the field:
// times in milliseconds, speeds in km/h, angles in degrees.
type Controller struct {
	EdgeRule        sections.EdgeRule     `key:"edge_rule" words:"crop-first|weed-first|even" doc:"which part of a section decides at a slanting border: crop-first lifts when the first part would leave, weed-first when the last part leaves, even at half"`
	LiftLead        LeadTime              `key:"lift_lead" unit:"ms" doc:"how long before the crossing a lift is commanded; auto takes it from the hydraulics"`
	DropLead        LeadTime              `key:"drop_lead" unit:"ms" doc:"how long before the crossing a drop is commanded; auto takes it from the hydraulics"`
	LiftTrimMs      float64               `key:"lift_trim_ms" unit:"ms" min:"-2000" max:"2000" doc:"added to the lift lead, as where an automatic one is found to be off"`
	DropTrimMs      float64               `key:"drop_trim_ms" unit:"ms" min:"-2000" max:"2000" doc:"added to the drop lead"`
	SectionTrims    []SectionTrim         `key:"section_trims" doc:"sections whose leads are longer or shorter than those of the others, where the terminal has leads for each (DDI 205 and 206)"`
	FlowAware       bool                  `key:"flow_aware" doc:"whether leads grow with the number of sections about to move at once; needs both leads on auto"`
	TickMs          float64               `key:"tick_ms" unit:"ms" min:"1" max:"1000" doc:"time between two runs of the controller"`
	RowToleranceDeg float64               `key:"row_tolerance_deg" unit:"°" min:"0" max:"90" doc:"greatest angle between heading and crop rows at which a zone with rows takes part"`
	MinWorkRadiusM  float64               `key:"min_work_radius_m" unit:"m" min:"0" max:"1000" doc:"tightest path that still counts as work in a zone with rows"`
	SlackCm         float64               `key:"slack_cm" unit:"cm" min:"0" max:"100" doc:"how much of a section's width may hang over a border with crop-first, or reach in with weed-first, before it decides: along a border the bar strays by as much as the steering"`
	WorkedGround    sections.WorkedGround `key:"worked_ground" words:"again|leave" doc:"what is done over rows that an earlier pass has worked: again works them again, leave keeps a section up while all of its rows are worked already, as where the last pass overlaps by whole rows; needs the direction of the rows"`
	HysteresisCm    float64               `key:"hysteresis_cm" unit:"cm" min:"0" max:"1000" doc:"distance a section travels after a command at a border before the opposite one may be given"`
	ShortestUpMs    float64               `key:"shortest_up_ms" unit:"ms" min:"0" max:"60000" doc:"shortest time that a gap must take to cross for a section to lift for it"`
	ShortestDownMs  float64               `key:"shortest_down_ms" unit:"ms" min:"0" max:"60000" doc:"shortest time that a strip between two gaps must take to cross for a section to drop for it"`
	BridgeGaps      bool                  `key:"bridge_gaps" doc:"whether a section stays down over a gap it would cross in less than its lift lead plus its drop lead"`
	MinSpeedKmh     float64               `key:"min_speed_kmh" unit:"km/h" min:"0" max:"36" doc:"speed below which nothing drops"`
	LatencyMs       float64               `key:"latency_ms" unit:"ms" min:"0" max:"5000" doc:"age of a fix on arrival, where the log has no arrival times"`
	MaxAgeMs        float64               `key:"max_age_ms" unit:"ms" min:"1" max:"60000" doc:"oldest fix that still counts as a position"`
	HoldMs          float64               `key:"hold_ms" unit:"ms" min:"0" max:"60000" doc:"how long sections keep their state once position is lost"`
	FailSafe        sections.FailSafe     `key:"fail_safe" words:"lift|hold" doc:"what follows once position has been lost for longer"`
	MinQuality      int                   `key:"min_quality" min:"1" max:"8" doc:"least accurate solution that counts as a position, as the GGA quality number"`
	MaxSpeedKmh     float64               `key:"max_speed_kmh" unit:"km/h" min:"0.36" max:"360" doc:"speed that bounds how far the position may move between two fixes"`
	JumpM           float64               `key:"jump_m" unit:"m" min:"0" max:"1000" doc:"noise allowed on top of it before a fix is rejected"`
	JumpFixes       int                   `key:"jump_fixes" min:"1" max:"1000" doc:"consistent fixes in a row after which a jump is accepted"`
}

// SectionTrim is what one section's leads are longer than those of the others.
type SectionTrim struct {
	Section int     `key:"section" min:"1" max:"256" need:"yes" doc:"its number, from 1 on the left"`
	LiftMs  float64 `key:"lift_ms" unit:"ms" min:"-2000" max:"2000" doc:"added to the lift lead of this section; it may take off no more than the dead time"`
	DropMs  float64 `key:"drop_ms" unit:"ms" min:"-2000" max:"2000" doc:"added to its drop lead"`
}

// trimmed gives sections their own leads.
func (m *Machine) trimmed(list []sections.Section) {
	for _, t := range m.Controller.SectionTrims {
		list[t.Section-1].Trim = sections.Trim{LiftNs: int64(math.Round(t.LiftMs * 1e6)), DropNs: int64(math.Round(t.DropMs * 1e6))}
	}
}

// checkTrims reports a trim of no section, a second one of a section, or one that the leads cannot have.
func (m *Machine) checkTrims() (key string, err error) {
	if m.Controller.SectionTrims == nil {
		return "", nil
	}
	p := m.Params()
	set, n := m.Settings(&p), len(m.RowsOf())
	seen := map[int]bool{}
	for i, t := range m.Controller.SectionTrims {
		key = fmt.Sprintf("controller.section_trims[%d]", i)
		if t.Section > n || seen[t.Section] {
			return key, fmt.Errorf("found section %d; expected each of the %d sections once at most", t.Section, n)
		}
		seen[t.Section] = true
	}
	list := make([]sections.Section, n)
	m.trimmed(list)
	for i, t := range m.Controller.SectionTrims {
		if err := list[t.Section-1].Trim.Validate(&set.LiftLead, &set.DropLead); err != nil {
			return fmt.Sprintf("controller.section_trims[%d]", i), err
		}
	}
	return "", nil
}

// defaultController is sections.DefaultSettings in the units of the file, with
// leads taken from the hydraulics.
func defaultController() Controller {
	s := sections.DefaultSettings()
	ms := func(ns int64) float64 { return float64(ns) * 1e-6 }
	return Controller{
		EdgeRule:        s.Rule,
		LiftLead:        LeadTime{Auto: true},
		DropLead:        LeadTime{Auto: true},
		FlowAware:       true,
		TickMs:          ms(s.TickNs),
		RowToleranceDeg: wording.RoundTo(s.RowToleranceRad*180/math.Pi, 1e-6),
		MinWorkRadiusM:  s.MinWorkRadiusM,
		SlackCm:         wording.RoundTo(s.SlackM*100, 1e-6),
		WorkedGround:    s.WorkedGround,
		HysteresisCm:    wording.RoundTo(s.HysteresisM*100, 1e-6),
		ShortestUpMs:    ms(s.ShortestUpNs),
		ShortestDownMs:  ms(s.ShortestDownNs),
		BridgeGaps:      s.BridgeGaps,
		MinSpeedKmh:     wording.RoundTo(s.MinSpeedMps*3.6, 1e-6),
		LatencyMs:       ms(s.LatencyNs),
		MaxAgeMs:        ms(s.MaxAgeNs),
		HoldMs:          ms(s.HoldNs),
		FailSafe:        s.FailSafe,
		MinQuality:      int(s.MinQuality),
		MaxSpeedKmh:     wording.RoundTo(s.MaxSpeedMps*3.6, 1e-6),
		JumpM:           s.JumpM,
		JumpFixes:       s.JumpFixes,
	}
}

// Settings returns the controller's settings. Leads on auto are computed from the
// hydraulics p.
func (m *Machine) Settings(p *hydraulics.Params) sections.Settings {
	c, n := &m.Controller, len(m.RowsOf())
	ns := func(ms float64) int64 { return int64(math.Round(ms * 1e6)) }
	lift, drop := sim.Leads(p, n, c.FlowAware)
	if !c.LiftLead.Auto {
		lift = lead(ns(c.LiftLead.Ms), &lift)
	}
	if !c.DropLead.Auto {
		drop = lead(ns(c.DropLead.Ms), &drop)
	}
	lengthen(&lift, ns(c.LiftTrimMs))
	lengthen(&drop, ns(c.DropTrimMs))
	s := sections.Settings{
		LiftLead:        lift,
		DropLead:        drop,
		TickNs:          ns(c.TickMs),
		RowToleranceRad: c.RowToleranceDeg * math.Pi / 180,
		MinWorkRadiusM:  c.MinWorkRadiusM,
		SlackM:          c.SlackCm / 100,
		WorkedGround:    c.WorkedGround,
		RowSpacingM:     m.Rows.SpacingM,
		HysteresisM:     c.HysteresisCm / 100,
		ShortestUpNs:    ns(c.ShortestUpMs),
		ShortestDownNs:  ns(c.ShortestDownMs),
		BridgeGaps:      c.BridgeGaps,
		MinSpeedMps:     c.MinSpeedKmh / 3.6,
		LatencyNs:       ns(c.LatencyMs),
		MaxAgeNs:        ns(c.MaxAgeMs),
		HoldNs:          ns(c.HoldMs),
		MinQuality:      nmea.Quality(c.MinQuality),
		MaxSpeedMps:     c.MaxSpeedKmh / 3.6,
		JumpM:           c.JumpM,
		JumpFixes:       c.JumpFixes,
		Rule:            c.EdgeRule,
		FailSafe:        c.FailSafe,
	}
	return s
}

// lead divides a fixed lead into dead time and stroke in the proportion that
// the hydraulics have. The part that is not dead time is the stroke up to the
// effective depth, and the whole stroke is longer in proportion.
func lead(ns int64, auto *sections.Lead) sections.Lead {
	l := sections.Lead{DeadNs: min(auto.DeadNs, ns)}
	l.MoveNs = ns - l.DeadNs
	if auto.MoveNs > 0 {
		l.TravelNs = int64(float64(auto.TravelNs) * float64(l.MoveNs) / float64(auto.MoveNs))
	}
	return l
}

// lengthen makes a lead longer, or shorter down to zero.
func lengthen(l *sections.Lead, byNs int64) {
	l.DeadNs += byNs
	if l.DeadNs < 0 {
		l.MoveNs = max(l.MoveNs+l.DeadNs, 1)
		l.DeadNs = 0
	}
}

// LeadTime is a lead in milliseconds, or auto: taken from the hydraulics.
type LeadTime struct {
	Auto bool
	Ms   float64
}

// maxLeadMs bounds how far ahead the controller looks.
const maxLeadMs = 10000

func (l *LeadTime) Bind(n ast.Node) error {
	if word, ok := bind.TextOf(n); ok && word == "auto" {
		*l = LeadTime{Auto: true}
		return nil
	}
	ms, ok := bind.NumberOf(n)
	if !ok || !(ms >= 0 && ms <= maxLeadMs) {
		return fmt.Errorf("found %s; expected auto, or a number from 0 to %d ms", bind.Describe(n), maxLeadMs)
	}
	*l = LeadTime{Ms: ms}
	return nil
}

func (l *LeadTime) Schema() map[string]any {
	s := map[string]any{"anyOf": []any{
		map[string]any{"const": "auto"},
		map[string]any{"type": "number", "minimum": 0, "maximum": maxLeadMs},
	}}
	if l.Auto {
		s["default"] = "auto"
	}
	return s
}

func (l LeadTime) String() string {
	if l.Auto {
		return "auto"
	}
	return fmt.Sprintf("%g ms", l.Ms)
}
