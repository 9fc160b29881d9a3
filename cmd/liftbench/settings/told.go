// The machine file of a machine that a recording tells of.

package settings

import (
	"fmt"
	"math"
	"reflect"
	"strings"

	"liftbench/cmd/liftbench/settings/bind"
	"liftbench/cmd/liftbench/settings/split"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/day"
	"liftbench/sections"
)

// Usual is a value that a recording does not tell and that is taken as on common machines
// (common practice, no source).
type Usual struct {
	Key, Value, What string
}

// UsualText says in a sentence which values are usual ones.
func UsualText(list []Usual) string {
	words := make([]string, len(list))
	for i, u := range list {
		words[i] = u.Key + " " + u.Value
	}
	return "Usual values (common practice, no source), as nothing tells them of this machine: " + strings.Join(words, "; ") + ". Measure them and give them in a machine file, which need hold no more than these keys."
}

// Text returns the machine as a machine file.
func (m *Machine) Text() []byte {
	now := *m
	now.Hydraulics.Measured = m.measuredAnew()
	return bind.AppendGroup(nil, "", reflect.ValueOf(now), reflect.ValueOf(*DefaultMachine()))
}

// MachineText returns a machine file with what is told, usual values for the rest, and
// which those are.
func MachineText(t *day.Machine) ([]byte, []Usual) {
	var usual []Usual
	guess := func(key, value, what string) {
		usual = append(usual, Usual{key, value, what})
	}
	or := func(key string, x, typical float64, unit, what string) float64 {
		if math.IsNaN(x) {
			guess(key, bind.PlainNumber(typical)+" "+unit, what)
			return typical
		}
		return wording.RoundTo(x, 1e-3)
	}
	m := DefaultMachine()
	m.Name, m.Mount = "recorded machine", t.Mount
	m.Antenna.ForwardM = or("antenna.forward_m", t.AntennaXM, 0, "m", "antenna ahead of the rear axle")
	m.Antenna.RightM = or("antenna.right_m", t.AntennaYM, 0, "m", "antenna right of the tractor's middle")
	m.Antenna.HeightM = or("antenna.height_m", t.AntennaZM, 3, "m", "antenna above the ground")
	typicalX := -2.0
	switch t.Mount {
	case sections.FrontRigid:
		typicalX = 3
	case sections.Trailed:
		typicalX = -6
	}
	var sumX float64
	for _, s := range t.Sections {
		sumX += s.XM
	}
	m.Tool.ForwardM = or("tool.forward_m", sumX/float64(len(t.Sections)), typicalX, "m", "the bar ahead of the rear axle, negative behind")
	if t.Mount == sections.Trailed {
		hitch := or("tool.hitch_behind_m", t.HitchBehindM, 0.8, "m", "hitch behind the rear axle")
		// Most tools hang near the axle that they turn about.
		drawbar := or("tool.drawbar_m", t.DrawbarM, max(1, wording.RoundTo(-m.Tool.ForwardM-hitch, 0.1)), "m", "from the hitch to the tool's axle")
		m.Tool.HitchBehindM, m.Tool.DrawbarM = &hitch, &drawbar
	}
	addBar(m, t.Sections, guess)
	m.Controller.LiftLead, m.Controller.DropLead = leadTold(t.LiftLeadMs), leadTold(t.DropLeadMs)
	m.Controller.FlowAware = m.Controller.LiftLead.Auto && m.Controller.DropLead.Auto
	if m.Controller.LiftLead.Auto {
		guess("controller.lift_lead", "from the hydraulics", "what the terminal was set to")
	}
	if m.Controller.DropLead.Auto {
		guess("controller.drop_lead", "from the hydraulics", "what the terminal was set to")
	}
	guess("depth", fmt.Sprintf("working %s cm, raised %s cm", wording.Trim(m.Depth.WorkingCm), wording.Trim(m.Depth.RaisedCm)), "heights of the tool")
	guess("hydraulics", "those of a common lift", "pump, valves, cylinders, oil, dead times")

	var b strings.Builder
	b.WriteString("# What a recording tells of its machine. Values that it does not tell are usual ones (common\n# practice, no source): measure them, and write them here.\n")
	for _, u := range usual {
		fmt.Fprintf(&b, "# usual: %s: %s (%s)\n", u.Key, u.Value, u.What)
	}
	b.Write(m.Text())
	return []byte(b.String()), usual
}

// addBar divides the sections into rows, and writes out their places where rows and sections
// cannot say them.
func addBar(m *Machine, list []sections.Section, guess func(key, value, what string)) {
	const (
		mm      = 1e-3
		widestM = 0.8 // of a row of common crops
	)
	n := len(list)
	narrowest, inLine, alike := math.Inf(1), true, true
	for i, s := range list {
		narrowest = min(narrowest, s.WidthM)
		first := &list[0]
		alike = alike && math.Abs(s.WidthM-first.WidthM) < mm
		inLine = inLine && !(math.Abs(s.XM-first.XM) >= mm) && math.Abs(s.YM-first.YM-float64(i)*first.WidthM) < 2*mm
	}
	spacing := narrowest
	for k := 2; spacing > widestM; k++ {
		spacing = narrowest / float64(k)
	}
	m.Rows.SpacingM = wording.RoundTo(spacing, 1e-6)
	m.Sections = split.Sections{}
	for _, s := range list {
		rows := max(1, int(math.Round(s.WidthM/spacing)))
		m.Sections.Rows = append(m.Sections.Rows, rows)
		m.Rows.Count += rows
	}
	guess("rows.spacing_m", bind.PlainNumber(m.Rows.SpacingM)+" m", "from one crop row to the next")
	if middle := (list[0].YM + list[n-1].YM) / 2; inLine && alike {
		m.Tool.OffsetM = wording.RoundTo(middle, mm)
		return
	}
	for _, s := range list {
		x := s.XM
		if math.IsNaN(x) {
			x = m.Tool.ForwardM
		}
		m.Places = append(m.Places, SectionPlace{wording.RoundTo(x, mm), wording.RoundTo(s.YM, mm), wording.RoundTo(s.WidthM, mm)})
	}
}

// leadTold is a lead that was told, or auto.
func leadTold(ms float64) LeadTime {
	if math.IsNaN(ms) {
		return LeadTime{Auto: true}
	}
	return LeadTime{Ms: ms}
}

// MachineOver reads a machine file that need not be whole: it changes what another file,
// whose text is told, says. With no file it is that machine itself. name names the
// recording in errors.
func MachineOver(name string, told []byte, file string, read Source) (*Machine, error) {
	under, err := LoadMachine(name, Named(func(string, string) ([]byte, error) { return told, nil }))
	if err != nil || file == "" {
		return under, err
	}
	data, err := read.Read(file, "a machine file")
	if err != nil {
		return nil, err
	}
	m := *under
	if m.Doc, err = bind.YAMLOver(under.Doc, file, data, "a machine", &m); err != nil {
		return nil, err
	}
	if m.Doc.Own("rows") || m.Doc.Own("sections") || m.Doc.Own("tool.forward_m") {
		if !m.Doc.Own("places") {
			m.Places = nil
		}
	}
	return &m, m.taken()
}
