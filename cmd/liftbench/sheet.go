// The set-up sheet: what follows from a machine, a field and a speed before
// the first pass.

package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"liftbench/sections/field"
	"liftbench/sim"
	"liftbench/sim/drive"
	"liftbench/sim/hydraulics"
)

// sheet is what the set-up sheet is made from.
type sheet struct {
	machine         *machineConfig
	scenario        *scenarioConfig // nil = the machine alone
	field           *field.Field    // nil = no field
	drive           *drive.Drive    // the drive to be generated; nil = none
	headlandM       float64         // width of a computed headland; 0 = zones from the file
	steeringErrorCm float64         // ±, of tractor and hoe against the rows
	speedsKmh       []float64

	warnings []string
}

// write prints the sheet.
func (s *sheet) write(w io.Writer) error {
	var b strings.Builder
	m := s.machine
	title := m.Name
	if title == "" {
		title = m.doc.file
	}
	if s.scenario != nil && s.scenario.Name != "" {
		title += ": " + s.scenario.Name
	}
	fmt.Fprintf(&b, "Set-up sheet, %s\n", title)
	p := m.params()
	s.bar(&b)
	s.sections(&b)
	s.lift(&b, &p)
	s.speeds(&b, &p)
	s.oil(&b, &p)
	s.rate(&b)
	if s.field != nil {
		s.ground(&b)
	}
	s.commonPractice()
	heading(&b, "Warnings")
	if len(s.warnings) == 0 {
		b.WriteString("  none\n")
	}
	for _, x := range s.warnings {
		b.WriteString(wrap("  - ", "    ", x))
	}
	heading(&b, "Before anyone goes near")
	b.WriteString(wrap("  ", "  ", safetyWords))
	_, err := io.WriteString(w, b.String())
	return err
}

const safetyWords = "This sheet is a bench's figures, not a safety function. A raised tool and stored pressure crush: keep people clear, set the mechanical locks and relieve the pressure before work on the hydraulics. Follow the machine's manual and local law on the road."

// warn adds a plain warning.
func (s *sheet) warn(format string, args ...any) {
	s.warnings = append(s.warnings, fmt.Sprintf(format, args...))
}

func heading(b *strings.Builder, title string) { fmt.Fprintf(b, "\n%s\n", title) }

// bar prints rows, tools and their clearance.
func (s *sheet) bar(b *strings.Builder) {
	m := s.machine
	heading(b, "Bar")
	ahead := func(x float64) string {
		if x < 0 {
			return fmt.Sprintf("%.2f m behind the rear axle", -x)
		}
		return fmt.Sprintf("%.2f m ahead of the rear axle", x)
	}
	keyLine(b, "mount", "%s, bar %s", m.Mount, ahead(m.Tool.ForwardM))
	keyLine(b, "antenna", "%s, %.2f m right, %.2f m high", ahead(m.Antenna.ForwardM), m.Antenna.RightM, m.Antenna.HeightM)
	keyLine(b, "rows", "%d of %.2f m: %.2f m", m.Rows.Count, m.Rows.SpacingM, m.widthM())
	if tool := m.Rows.ToolWidthM; tool > 0 {
		eachCm := (m.Rows.SpacingM - tool - m.Rows.PlantStripM) / 2 * 100
		leftCm := eachCm - s.steeringErrorCm
		keyLine(b, "tools", "%.2f m wide beside a plant strip of %s cm", tool, trim(m.Rows.PlantStripM*100))
		keyLine(b, "clearance", "%s cm on each side; %s cm left at a steering error of ±%s cm", trim(eachCm), trim(leftCm), trim(s.steeringErrorCm))
		keyLine(b, "ground worked", "%.0f %%", 100*tool/m.Rows.SpacingM)
		switch {
		case leftCm < 0:
			s.warn("Tools reach %s cm into the plant strip at a steering error of ±%s cm: narrower tools or better steering.", trim(-leftCm), trim(s.steeringErrorCm))
		case leftCm < 1:
			s.warn("Only %s cm are left between tool and plant strip at a steering error of ±%s cm.", trim(leftCm), trim(s.steeringErrorCm))
		}
	} else {
		keyLine(b, "tools", "rows.tool_width_m is not given: no clearance")
	}
	keyLine(b, "shields", "needed beside crop smaller than 7 cm (common practice)")
	if mm := m.Tool.SideShiftTotalMm; mm != nil {
		keyLine(b, "side shift", "%s mm in all, %s mm each way", trim(*mm), trim(*mm/2))
	}
}

// sections prints where each section hangs.
func (s *sheet) sections(b *strings.Builder) {
	heading(b, "Sections, from the left in driving direction")
	b.WriteString("  section     rows   middle right of the tractor's     width\n")
	first := 1
	rows := s.machine.rowsOf()
	for i, x := range s.machine.geometry().Sections {
		span := fmt.Sprint(first)
		if rows[i] > 1 {
			span = fmt.Sprintf("%d-%d", first, first+rows[i]-1)
		}
		fmt.Fprintf(b, "  %7d %8s %28s m %7.2f m\n", i+1, span, appendFixed(nil, x.YM, 2), x.WidthM)
		first += rows[i]
	}
}

// lift prints how long a lift and a drop take, and what the controller is set
// to.
func (s *sheet) lift(b *strings.Builder, p *hydraulics.Params) {
	m := s.machine
	n := len(m.rowsOf())
	heading(b, "Lift and drop")
	d := &m.Depth
	keyLine(b, "depth", "working %s cm, in work from %s cm, raised %s cm above ground", trim(d.WorkingCm), trim(d.EffectiveCm), trim(d.RaisedCm))
	seconds := func(ns int64) string { return fmt.Sprintf("%.2f s", float64(ns)*1e-9) }
	if n > 1 {
		keyLine(b, "lift, one alone", "%s to come out of work, %s until raised", seconds(p.LiftTimeNs(1)), seconds(p.FullLiftTimeNs(1)))
		keyLine(b, fmt.Sprintf("lift, all %d", n), "%s to come out of work, %s until raised", seconds(p.LiftTimeNs(n)), seconds(p.FullLiftTimeNs(n)))
	} else {
		keyLine(b, "lift", "%s to come out of work, %s until raised", seconds(p.LiftTimeNs(1)), seconds(p.FullLiftTimeNs(1)))
	}
	keyLine(b, "drop", "%s to come into work, %s until at depth", seconds(p.DropTimeNs()), seconds(p.FullDropTimeNs()))
	c := &m.Controller
	aware := ""
	if c.FlowAware && c.LiftLead.auto {
		aware = ", longer when several lift at once"
	}
	keyLine(b, "leads set", "lift %s%s%s; drop %s%s", c.LiftLead, trimText(c.LiftTrimMs), aware, c.DropLead, trimText(c.DropTrimMs))
	if !m.doc.has("hydraulics") {
		s.warn("The machine file has no hydraulics: times are those of a typical lift. Measure: pump, valve, cylinder, hose, orifice, dead times.")
	}
	for _, l := range []struct {
		name   string
		set    leadTime
		trimMs float64
		needNs int64
	}{{"lift", c.LiftLead, c.LiftTrimMs, p.LiftTimeNs(1)}, {"drop", c.DropLead, c.DropTrimMs, p.DropTimeNs()}} {
		needMs := float64(l.needNs) * 1e-6
		if off := l.set.ms + l.trimMs - needMs; !l.set.auto && math.Abs(off) > leadOffMs {
			late := "early"
			if off < 0 {
				late = "late"
			}
			s.warn("The %s lead is %s%s, the hydraulics need %.0f ms for a section alone: at %s km/h it comes %.0f cm too %s.",
				l.name, l.set, trimText(l.trimMs), needMs, trim(s.workKmh()), math.Abs(off)*1e-3*s.workKmh()/3.6*100, late)
		}
	}
}

// trimText follows a lead.
func trimText(ms float64) string {
	switch {
	case ms > 0:
		return fmt.Sprintf(" plus %g ms", ms)
	case ms < 0:
		return fmt.Sprintf(" less %g ms", -ms)
	}
	return ""
}

// leadOffMs is how far a set lead may be off before the sheet says so.
const leadOffMs = 20

// workKmh is the speed the sheet speaks of where it needs one.
func (s *sheet) workKmh() float64 {
	if s.scenario != nil && s.scenario.Log == "" {
		return s.scenario.Drive.SpeedKmh
	}
	return usualKmh
}

// usualKmh is the top of the usual 5 to 8 km/h (common practice, no source).
const usualKmh = 8

// speeds prints the length that lift and drop cost at each speed, and the work rate.
func (s *sheet) speeds(b *strings.Builder, p *hydraulics.Params) {
	n := len(s.machine.rowsOf())
	set := s.machine.Controller.settings(p, n)
	heading(b, "Way covered between command and effect, and area an hour")
	fmt.Fprintf(b, "    km/h   lift alone   lift all %-3d   drop   work rate\n", n)
	for _, kmh := range s.speedsKmh {
		cm := func(ns int64) float64 { return kmh / 3.6 * float64(ns) * 1e-9 * 100 }
		fmt.Fprintf(b, "  %6s %9.0f cm %9.0f cm %6.0f cm %6.2f ha/h\n", trim(kmh), cm(p.LiftTimeNs(1)), cm(p.LiftTimeNs(n)), cm(p.DropTimeNs()), workRate(kmh, s.machine.widthM(), typicalEfficiency))
	}
	staleCm := s.workKmh() / 3.6 * float64(set.LatencyNs) * 1e-9 * 100
	fmt.Fprintf(b, "  A fix is taken as %s ms old on arrival: %.0f cm at %s km/h.\n", trim(s.machine.Controller.LatencyMs), staleCm, trim(s.workKmh()))
}

// oil prints what all sections take at once against what the tractor gives.
func (s *sheet) oil(b *strings.Builder, p *hydraulics.Params) {
	const lPerMin = 1e-3 / 60
	n := len(s.machine.rowsOf())
	need, gives := p.FlowNeededM3PerS(n)/lPerMin, p.PumpFlowM3PerS/lPerMin
	heading(b, "Oil")
	keyLine(b, "all at once", "%.1f L/min needed, %s L/min given by the tractor", need, trim(gives))
	keyLine(b, "one section", "%.1f L/min lifting, %.1f L/min flowing back when dropping", p.LiftFlowM3PerS(1)/lPerMin, p.DropFlowM3PerS()/lPerMin)
	keyLine(b, "viscosity", "ISO VG %d at %s °C: %.0f mm²/s", p.OilVG, trim(p.OilTempDegC), p.ViscosityMm2PerS())
	if need > gives*(1+1e-9) {
		lift, _ := sim.Leads(p, n, true)
		s.warn("The tractor feeds %.1f of %d sections at full speed: all at once lift %.1f times as long. A fixed lift lead is wrong for one or the other; controller.flow_aware counts them.", lift.FedAtOnce, n, need/gives)
	}
	if re := max(p.Reynolds(p.LiftFlowM3PerS(1)), p.Reynolds(p.DropFlowM3PerS())); re > hydraulics.LaminarReynolds {
		s.warn("Flow in the hoses is turbulent (Reynolds number %.0f, laminar up to %d): the tools move slower than computed.", re, hydraulics.LaminarReynolds)
	}
}

// Row-crop cultivator in ASABE D497 (from memory): field efficiency typically
// 80 %, 70 to 90 %; speed 5 to 11 km/h.
const (
	typicalEfficiency, leastEfficiency, mostEfficiency = 0.80, 0.70, 0.90
	leastD497Kmh, mostD497Kmh                          = 5, 11
)

// workRate returns the area worked in an hour, ha/h: C = S·W·E/10 with S in
// km/h and W in m (ASABE EP496).
func workRate(kmh, widthM, efficiency float64) float64 { return kmh * widthM * efficiency / 10 }

// rate prints the work rate at the working speed.
func (s *sheet) rate(b *strings.Builder) {
	kmh, w := s.workKmh(), s.machine.widthM()
	heading(b, "Work rate")
	keyLine(b, fmt.Sprintf("at %s km/h", trim(kmh)), "%.2f ha/h at a field efficiency of %.0f %%,\n%19s%.2f to %.2f ha/h at %.0f to %.0f %%", workRate(kmh, w, typicalEfficiency), typicalEfficiency*100,
		"", workRate(kmh, w, leastEfficiency), workRate(kmh, w, mostEfficiency), leastEfficiency*100, mostEfficiency*100)
	fmt.Fprintf(b, "  ASABE EP496; efficiency and %d to %d km/h for row-crop cultivators: D497,\n  from memory.\n", leastD497Kmh, mostD497Kmh)
}
