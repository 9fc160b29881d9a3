// The set-up sheet: what follows from a machine, a field and a speed before
// the first pass.

package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"liftbench/sections"
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

// commonPractice warns of what is outside the trade's usual range. Common
// practice, no source.
func (s *sheet) commonPractice() {
	m := s.machine
	if x := m.Rows.SpacingM; x < 0.25 || x > 0.80 {
		s.warn("Rows of %s m are unusual: 0.25 to 0.80 m is common.", trim(x))
	}
	if w := m.widthM(); w > 12 {
		s.warn("A working width of %s m is unusual: 6, 9 and 12 m are common.", trim(w))
	}
	for _, d := range []struct {
		name string
		cm   float64
	}{{"working", m.Depth.WorkingCm}, {"effective", m.Depth.EffectiveCm}} {
		if math.Abs(d.cm-math.Round(d.cm*2)/2) > 1e-9 {
			s.warn("A %s depth of %s cm cannot be set on most hoes: steps are 0.5 cm.", d.name, trim(d.cm))
		}
	}
	if kmh := s.workKmh(); kmh > 15 {
		s.warn("%s km/h is above the top of hoes, 15 km/h; 5 to 8 are usual.", trim(kmh))
	} else if kmh < 5 || kmh > 8 {
		s.warn("%s km/h is outside the usual 5 to 8 km/h.", trim(kmh))
	}
	if t := m.Transport; t != nil {
		if t.WidthM > 3 {
			s.warn("%s m wide on the road: above the usual 3 m, subject to local law.", trim(t.WidthM))
		}
		if t.HeightM > 4 {
			s.warn("%s m high on the road: above the usual 4 m, subject to local law.", trim(t.HeightM))
		}
	}
	if s.scenario == nil {
		return
	}
	s.cold()
	if s.scenario.Log == "" {
		s.receiver()
	}
}

// ground prints the field's zones, its headland against the machine, and how
// often sections lift.
func (s *sheet) ground(b *strings.Builder) {
	f := s.field
	w := s.machine.widthM()
	heading(b, "Field")
	keyLine(b, "to be worked", "%.2f ha", f.AreaM2()/1e4)
	var bodies []*field.Zone
	strips, stripsM2 := 0, 0.0 // of a headland made from the boundary
	for i := range f.Zones {
		z := &f.Zones[i]
		rows := "rows any way"
		if !math.IsNaN(z.RowBearingRad) {
			rows = fmt.Sprintf("rows %.1f°", bearingDeg(z.RowBearingRad))
		}
		name := z.Name
		if name == "" {
			name = "without a name"
		}
		switch {
		case z.Kind == field.Body:
			bodies = append(bodies, z)
			keyLine(b, "body", "%s: %.2f ha, %s", name, z.AreaM2()/1e4, rows)
		case z.Kind == field.KeepOut:
			keyLine(b, "keep-out", "%s: %.0f m²", name, z.AreaM2())
		case s.headlandM > 0:
			strips++
			stripsM2 += z.AreaM2()
		default:
			keyLine(b, "headland", "%s: %.2f ha, %s%s", name, z.AreaM2()/1e4, rows, s.headlandZone(z, bodies))
		}
	}
	if strips > 0 {
		keyLine(b, "headland", "%.1f m along the boundary: %.2f ha in %s", s.headlandM, stripsM2/1e4, counted(strips, "strip"))
		s.checkHeadland("The headland", s.headlandM)
	}
	need := s.headlandNeededM()
	if s.drive != nil {
		keyLine(b, "headland needed", "%.1f m, from the planned drive", need)
		for _, w := range s.drive.Warnings {
			s.warn("%s.", strings.TrimSuffix(w, "."))
		}
	} else {
		keyLine(b, "headland needed", "about %.0f m: turn of %.1f m radius into a pass %.0f m away, and\n%19sthe bar's swing", need, s.turnRadiusM(), s.passStepM(), "")
	}
	for _, z := range bodies {
		if math.IsNaN(z.RowBearingRad) {
			continue
		}
		across, along := extents(z, z.RowBearingRad)
		passes := math.Ceil(across/w - 0.05) // less than 5 % of a bar is not worth a pass
		ha := z.AreaM2() / 1e4
		n := float64(len(s.machine.rowsOf()))
		keyLine(b, "lifts", "%.0f passes in %q, on average %.0f m long, at most %.0f m:\n%19s%.0f lifts and as many drops per hectare", passes, z.Name, z.AreaM2()/across, along, "", passes*n/ha)
	}
}

// checkHeadland warns of a headland that is too narrow for the machine, or not
// a whole number of passes wide.
func (s *sheet) checkHeadland(name string, widthM float64) {
	if need := s.headlandNeededM(); widthM < need-0.5 {
		s.warn("%s is %.1f m wide, the machine needs about %.0f m to turn.", name, widthM, need)
	}
	barM := s.machine.widthM()
	if passes := widthM / barM; math.Abs(passes-math.Round(passes)) > 0.02 {
		s.warn("%s is %.1f m wide, %.1f working widths: whole passes need %s m.", name, widthM, passes, trim(math.Ceil(passes)*barM))
	}
}

// headlandZone says how wide a headland zone with rows is and what its slant
// costs.
func (s *sheet) headlandZone(z *field.Zone, bodies []*field.Zone) string {
	if math.IsNaN(z.RowBearingRad) {
		return ""
	}
	widthM, _ := extents(z, z.RowBearingRad)
	s.checkHeadland(fmt.Sprintf("Headland %q", z.Name), widthM)
	text := fmt.Sprintf(", %.1f m wide", widthM)
	for _, body := range bodies {
		if math.IsNaN(body.RowBearingRad) {
			continue
		}
		// Rows that meet the border square have no slant.
		slant := math.Abs(math.Remainder(body.RowBearingRad-z.RowBearingRad, math.Pi))
		slant = math.Abs(math.Pi/2 - slant)
		text += fmt.Sprintf(", slant %.0f°", slant*180/math.Pi)
		if slant*180/math.Pi > 1 {
			text += fmt.Sprintf("\n%19sper crossing of a section: %.2f m² overrun and miss at best", "", s.slantCostM2(slant))
		}
	}
	return text
}

// slantCostM2 returns overrun plus miss of the widest section crossing a border that slants by rad
// from square: w²·tan α / 4 with edge rule even, w²·tan α / 2 with the others.
func (s *sheet) slantCostM2(rad float64) float64 {
	widest := 0.0
	for _, x := range s.machine.geometry().Sections {
		widest = max(widest, x.WidthM)
	}
	cost := widest * widest * math.Tan(rad) / 2
	if s.machine.Controller.EdgeRule == edgeRuleNames[sections.Even] {
		cost /= 2
	}
	return cost
}

// turnRadiusM is the tightest path of the turning point.
func (s *sheet) turnRadiusM() float64 {
	if s.scenario != nil && s.scenario.Drive.MinRadiusM != nil {
		return *s.scenario.Drive.MinRadiusM
	}
	return 6
}

// passStepM is the distance to the next pass driven.
func (s *sheet) passStepM() float64 {
	if s.scenario == nil {
		return s.machine.widthM()
	}
	return (s.machine.widthM() - s.scenario.Drive.OverlapCm/100) * float64(1+s.scenario.Drive.SkipPasses)
}

// headlandNeededM returns the headland that the planned drive takes; where none
// is planned, an estimate of what a turn takes, square to the rows, from circles of radius R (the time to steer makes a real turn somewhat
// larger):
//
//	into a pass d ≥ 2R away: a half circle, R deep;
//	nearer: a bulb of three circles, √((2R)² − (R + d/2)²) + R deep;
//	beyond the turning point's path the bar's outer end swings to
//	√((R + w/2)² + x²) − R for a bar of width w at x;
//	and a bar behind the axle leaves the zone when the axle is −x beyond it.
func (s *sheet) headlandNeededM() float64 {
	if s.drive != nil {
		return s.drive.HeadlandNeededM
	}
	r, d := s.turnRadiusM(), s.passStepM()
	deep := r
	if d < 2*r {
		deep += math.Sqrt(4*r*r - (r+d/2)*(r+d/2))
	}
	x := s.machine.Tool.ForwardM
	swing := math.Hypot(r+s.machine.widthM()/2+math.Abs(s.machine.Tool.OffsetM), x) - r
	return max(0, -x) + deep + swing
}

// extents returns how far a zone reaches across and along a bearing, in metres.
func extents(z *field.Zone, bearingRad float64) (acrossM, alongM float64) {
	sin, cos := math.Sincos(bearingRad)
	minU, maxU := math.Inf(1), math.Inf(-1)
	minV, maxV := minU, maxU
	for _, polygon := range z.Polygons {
		for _, ring := range polygon {
			for _, p := range ring {
				u, v := p[0]*sin+p[1]*cos, p[0]*cos-p[1]*sin
				minU, maxU = min(minU, u), max(maxU, u)
				minV, maxV = min(minV, v), max(maxV, v)
			}
		}
	}
	return maxV - minV, maxU - minU
}

// wrap breaks text into lines of at most 79 columns.
func wrap(first, rest, text string) string {
	var b strings.Builder
	line := first
	empty := true
	for _, word := range strings.Fields(text) {
		if !empty && len([]rune(line))+1+len([]rune(word)) > 79 {
			b.WriteString(line + "\n")
			line, empty = rest, true
		}
		if !empty {
			line += " "
		}
		line += word
		empty = false
	}
	return b.String() + line + "\n"
}
