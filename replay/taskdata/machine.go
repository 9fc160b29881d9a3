package taskdata

import (
	"fmt"
	"math"

	"liftbench/sections"
)

// Machine returns the geometry that the controller needs, as far as the file has it, and a
// sentence for each thing that is taken to be or that the file does not tell. Hydraulics and depths are
// never in task data.
func (d *Day) Machine() (sections.Machine, []string) {
	g := &d.Geometry
	unsure := append([]string(nil), g.Unsure...)
	say := func(format string, a ...any) { unsure = append(unsure, fmt.Sprintf(format, a...)) }
	m := sections.Machine{AntennaXM: g.AntennaXM, AntennaYM: g.AntennaYM, AntennaZM: g.AntennaZM}
	var middle float64
	noWidth := 0
	for _, s := range g.Sections {
		m.Sections = append(m.Sections, sections.Section{XM: s.XM, YM: s.YM, WidthM: s.WidthM})
		middle += s.XM / float64(len(g.Sections))
		if s.WidthM <= 0 {
			noWidth++
		}
	}
	if noWidth > 0 {
		say("%d of %d sections have no width (DDI 67, 70)", noWidth, len(g.Sections))
	}
	switch {
	case g.Hitch.Trailed() && middle < g.HitchXM:
		m.Mount, m.HitchBehindM, m.DrawbarM = sections.Trailed, -g.HitchXM, g.PivotM
		if m.HitchBehindM < 0 {
			m.HitchBehindM = 0
			say("the hitch of the trailed machine is %.2f m ahead of the rear axle; 0 is taken", g.HitchXM)
		}
		if !(m.DrawbarM > 0) {
			m.DrawbarM = math.Round(100*(g.HitchXM-middle)) / 100
			say("how far behind the hitch the axle of the trailed machine is is not told (DDI 264); taken is %.2f m, where its sections are", m.DrawbarM)
		}
	case middle > 0:
		m.Mount = sections.FrontRigid
	default:
		m.Mount = sections.RearRigid
		if g.Hitch == 0 {
			say("the kind of hitch is not told (DDI 157); taken is a machine mounted behind")
		}
	}
	return m, unsure
}
