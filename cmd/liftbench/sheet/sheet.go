// The set-up sheet: what follows from a machine, a field and a speed before
// the first pass.

package sheet

import (
	"fmt"
	"io"
	"math"
	"strings"

	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/settings/split"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sections/field"
	"liftbench/sim"
	"liftbench/sim/drive"
	"liftbench/sim/hydraulics"
)

// Sheet is what the set-up sheet is made from.
type Sheet struct {
	Machine         *settings.Machine
	Scenario        *settings.Scenario // nil = the machine alone
	field           *field.Field       // nil = no field
	drive           *drive.Drive       // the drive to be generated; nil = none
	ideal           *sim.Outcome       // that drive with every lift and drop at its ideal instant
	straight        sim.StraightRun    // before a border, of the scenario's driver or of one of whom nothing is said
	wrong           error              // what of the input contradicts the recorded drive; nil = nothing
	headlandM       float64            // width of a computed headland; 0 = zones from the file
	SteeringErrorCm float64            // ±, of tractor and hoe against the rows
	SpeedsKmh       []float64

	Warnings []string
}

// Write prints the sheet. It fails if the input contradicts a recorded drive, too.
func (s *Sheet) Write(w io.Writer) error {
	var b strings.Builder
	m := s.Machine
	title := m.Name
	if title == "" {
		title = m.Doc.File
	}
	if s.Scenario != nil && s.Scenario.Name != "" {
		title += ": " + s.Scenario.Name
	}
	fmt.Fprintf(&b, "Set-up sheet, %s\n", title)
	p := m.Params()
	s.bar(&b)
	s.sections(&b)
	s.lift(&b, &p)
	s.effects(&b, &p)
	s.speeds(&b, &p)
	s.straightRun(&b)
	s.oil(&b, &p)
	s.rate(&b)
	if s.field != nil {
		s.ground(&b)
	}
	s.commonPractice()
	heading(&b, "Warnings")
	if len(s.Warnings) == 0 {
		b.WriteString("  none\n")
	}
	for _, x := range s.Warnings {
		b.WriteString(wording.Wrap("  - ", "    ", x))
	}
	heading(&b, "Before anyone goes near")
	b.WriteString(wording.Wrap("  ", "  ", safetyWords))
	if _, err := io.WriteString(w, b.String()); err != nil {
		return err
	}
	return s.wrong
}

const safetyWords = "This sheet is a bench's figures, not a safety function. A raised tool and stored pressure crush: keep people clear, set the mechanical locks and relieve the pressure before work on the hydraulics. Follow the machine's manual and local law on the road."

// warn adds a plain warning.
func (s *Sheet) warn(format string, args ...any) {
	s.Warnings = append(s.Warnings, fmt.Sprintf(format, args...))
}

func heading(b *strings.Builder, title string) { fmt.Fprintf(b, "\n%s\n", title) }

// bar prints rows, tools and their clearance.
func (s *Sheet) bar(b *strings.Builder) {
	m := s.Machine
	heading(b, "Bar")
	ahead := func(x float64) string {
		if x < 0 {
			return fmt.Sprintf("%.2f m behind the rear axle", -x)
		}
		return fmt.Sprintf("%.2f m ahead of the rear axle", x)
	}
	wording.KeyLine(b, "mount", "%s, bar %s", m.Mount, ahead(m.Tool.ForwardM))
	wording.KeyLine(b, "antenna", "%s, %.2f m right, %.2f m high", ahead(m.Antenna.ForwardM), m.Antenna.RightM, m.Antenna.HeightM)
	wording.KeyLine(b, "rows", "%d of %.2f m: %.2f m", m.Rows.Count, m.Rows.SpacingM, m.WidthM())
	if m.Rows.Units == split.BetweenRows {
		wording.KeyLine(b, "units", "%d between the rows, the outer two half as wide: sections meet on crop rows", m.Rows.Count+1)
	}
	if tool := m.Rows.ToolWidthM; tool > 0 {
		eachCm := (m.Rows.SpacingM - tool - m.Rows.PlantStripM) / 2 * 100
		leftCm := eachCm - s.SteeringErrorCm
		wording.KeyLine(b, "tools", "%.2f m wide beside a plant strip of %s cm", tool, wording.Trim(m.Rows.PlantStripM*100))
		wording.KeyLine(b, "clearance", "%s cm on each side; %s cm left at a steering error of ±%s cm", wording.Trim(eachCm), wording.Trim(leftCm), wording.Trim(s.SteeringErrorCm))
		wording.KeyLine(b, "ground worked", "%.0f %%", 100*tool/m.Rows.SpacingM)
		switch {
		case leftCm < 0:
			s.warn("Tools reach %s cm into the plant strip at a steering error of ±%s cm: narrower tools or better steering.", wording.Trim(-leftCm), wording.Trim(s.SteeringErrorCm))
		case leftCm < 1:
			s.warn("Only %s cm are left between tool and plant strip at a steering error of ±%s cm.", wording.Trim(leftCm), wording.Trim(s.SteeringErrorCm))
		}
	} else {
		wording.KeyLine(b, "tools", "rows.tool_width_m is not given: no clearance")
	}
	wording.KeyLine(b, "shields", "needed beside crop smaller than 7 cm (common practice)")
	if mm := m.Tool.SideShiftTotalMm; mm != nil {
		wording.KeyLine(b, "side shift", "%s mm in all, %s mm each way", wording.Trim(*mm), wording.Trim(*mm/2))
	}
}

// sections prints where each section hangs.
func (s *Sheet) sections(b *strings.Builder) {
	heading(b, "Sections, from the left in driving direction")
	counted := "rows"
	if s.Machine.Rows.Units == split.BetweenRows {
		counted = "units"
	}
	fmt.Fprintf(b, "  section %8s   middle right of the tractor's     width\n", counted)
	first := 1
	rows := s.Machine.RowsOf()
	for i, x := range s.Machine.Geometry().Sections {
		span := fmt.Sprint(first)
		if rows[i] > 1 {
			span = fmt.Sprintf("%d-%d", first, first+rows[i]-1)
		}
		fmt.Fprintf(b, "  %7d %8s %28s m %7.2f m\n", i+1, span, wording.AppendFixed(nil, x.YM, 2), x.WidthM)
		first += rows[i]
	}
}

// lift prints how long a lift and a drop take, and what the controller is set
// to.
func (s *Sheet) lift(b *strings.Builder, p *hydraulics.Params) {
	m := s.Machine
	n := len(m.RowsOf())
	heading(b, "Lift and drop")
	d := &m.Depth
	wording.KeyLine(b, "depth", "working %s cm, in work from %s cm, raised %s cm above ground", wording.Trim(d.WorkingCm), wording.Trim(d.EffectiveCm), wording.Trim(d.RaisedCm))
	seconds := func(ns int64) string { return fmt.Sprintf("%.2f s", float64(ns)*1e-9) }
	if n > 1 {
		wording.KeyLine(b, "lift, one alone", "%s to come out of work, %s until raised", seconds(p.LiftTimeNs(1)), seconds(p.FullLiftTimeNs(1)))
		wording.KeyLine(b, fmt.Sprintf("lift, all %d", n), "%s to come out of work, %s until raised", seconds(p.LiftTimeNs(n)), seconds(p.FullLiftTimeNs(n)))
	} else {
		wording.KeyLine(b, "lift", "%s to come out of work, %s until raised", seconds(p.LiftTimeNs(1)), seconds(p.FullLiftTimeNs(1)))
	}
	wording.KeyLine(b, "drop", "%s to come into work, %s until at depth", seconds(p.DropTimeNs()), seconds(p.FullDropTimeNs()))
	if t := m.Hydraulics.Measured; t != nil {
		wording.KeyLine(b, "measured", "these times, by hydraulics.measured, in place of bore, orifice and forces")
		if t.DropS == nil {
			s.warn("hydraulics.measured has no drop_s: the drop is computed from bore, orifice and force. Time it: command to the ground.")
		}
		if n > 1 && t.LiftAllS == nil {
			s.warn("hydraulics.measured has no lift_all_s: what the pump feeds is computed from pump_l_min and bore. Time all sections at once.")
		}
	}
	c := &m.Controller
	aware := ""
	if c.FlowAware && c.LiftLead.Auto {
		aware = ", longer when several lift at once"
	}
	wording.KeyLine(b, "leads set", "lift %s%s%s; drop %s%s", c.LiftLead, trimText(c.LiftTrimMs), aware, c.DropLead, trimText(c.DropTrimMs))
	for _, t := range c.SectionTrims {
		wording.KeyLine(b, fmt.Sprintf("section %d", t.Section), "leads lift %+g ms, drop %+g ms against the others", t.LiftMs, t.DropMs)
	}
	if !m.Doc.Has("hydraulics") {
		s.warn("The machine file has no hydraulics: times are those of a typical lift. Measure: pump, valve, cylinder, hose, orifice, dead times.")
	}
	for _, l := range []struct {
		name   string
		set    settings.LeadTime
		trimMs float64
		needNs int64
	}{{"lift", c.LiftLead, c.LiftTrimMs, p.LiftTimeNs(1)}, {"drop", c.DropLead, c.DropTrimMs, p.DropTimeNs()}} {
		needMs := float64(l.needNs) * 1e-6
		if off := l.set.Ms + l.trimMs - needMs; !l.set.Auto && math.Abs(off) > leadOffMs {
			late := "early"
			if off < 0 {
				late = "late"
			}
			s.warn("The %s lead is %s%s, the hydraulics need %.0f ms for a section alone: at %s km/h it comes %.0f cm too %s.",
				l.name, l.set, trimText(l.trimMs), needMs, wording.Trim(s.workKmh()), math.Abs(off)*1e-3*s.workKmh()/3.6*100, late)
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
func (s *Sheet) workKmh() float64 {
	if s.Scenario != nil && s.Scenario.Log == "" {
		return s.Scenario.Drive.SpeedKmh
	}
	return usualKmh
}

// usualKmh is the top of the usual 5 to 8 km/h (common practice, no source).
const usualKmh = 8

// speeds prints the length that lift and drop cost at each speed, and the work rate.
func (s *Sheet) speeds(b *strings.Builder, p *hydraulics.Params) {
	n := len(s.Machine.RowsOf())
	set := s.Machine.Settings(p)
	heading(b, "Way covered between command and effect, and area an hour")
	fmt.Fprintf(b, "    km/h   lift alone   lift all %-3d   drop   work rate\n", n)
	for _, kmh := range s.SpeedsKmh {
		cm := func(ns int64) float64 { return kmh / 3.6 * float64(ns) * 1e-9 * 100 }
		fmt.Fprintf(b, "  %6s %9.0f cm %9.0f cm %6.0f cm %6.2f ha/h\n", wording.Trim(kmh), cm(p.LiftTimeNs(1)), cm(p.LiftTimeNs(n)), cm(p.DropTimeNs()), s.rateAt(kmh))
	}
	if s.ideal != nil {
		// TestWorkRateAtOtherSpeeds.
		b.WriteString("  Work rate: the planned drive with the time that its turns take; from 4 to\n  12 km/h within 5 % of a drive planned at that speed.\n")
	}
	staleCm := s.workKmh() / 3.6 * float64(set.LatencyNs) * 1e-9 * 100
	fmt.Fprintf(b, "  A fix is taken as %s ms old on arrival: %.0f cm at %s km/h.\n", wording.Trim(s.Machine.Controller.LatencyMs), staleCm, wording.Trim(s.workKmh()))
}

// oil prints what all sections take at once against what the tractor gives.
func (s *Sheet) oil(b *strings.Builder, p *hydraulics.Params) {
	const lPerMin = 1e-3 / 60
	n := len(s.Machine.RowsOf())
	need, gives := p.FlowNeededM3PerS(n)/lPerMin, p.PumpFlowM3PerS/lPerMin
	heading(b, "Oil")
	wording.KeyLine(b, "all at once", "%.1f L/min needed, %s L/min given by the tractor", need, wording.Trim(gives))
	wording.KeyLine(b, "one section", "%.1f L/min lifting, %.1f L/min flowing back when dropping", p.LiftFlowM3PerS(1)/lPerMin, p.DropFlowM3PerS()/lPerMin)
	if m := s.Machine.Hydraulics.Measured; m != nil {
		wording.KeyLine(b, "", "these flows are those of the measured speeds, through the bore that is given")
	}
	oil := fmt.Sprintf("ISO VG %d", p.OilVG)
	if p.At40Mm2PerS > 0 {
		oil = fmt.Sprintf("%s and %s mm²/s at 40 and 100 °C,", wording.Trim(p.At40Mm2PerS), wording.Trim(p.At100Mm2PerS))
	}
	wording.KeyLine(b, "viscosity", "%s at %s °C: %.0f mm²/s", oil, wording.Trim(p.OilTempDegC), p.ViscosityMm2PerS())
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

// WorkRate returns the area worked in an hour, ha/h: C = S·W·E/10 with S in
// km/h and W in m (ASABE EP496).
func WorkRate(kmh, widthM, efficiency float64) float64 { return kmh * widthM * efficiency / 10 }

// rateAt returns the work rate at a working speed: that of the planned drive with
// as much time for turns, or, where none is planned, at the typical efficiency.
func (s *Sheet) rateAt(kmh float64) float64 {
	if s.ideal != nil {
		return s.ideal.AtPace(kmh / s.workKmh())
	}
	return WorkRate(kmh, s.Machine.WidthM(), typicalEfficiency)
}

// rate prints the work rate at the working speed.
func (s *Sheet) rate(b *strings.Builder) {
	kmh, w := s.workKmh(), s.Machine.WidthM()
	heading(b, "Work rate")
	typical := fmt.Sprintf("%.2f ha/h at a field efficiency of %.0f %%,\n%19s%.2f to %.2f ha/h at %.0f to %.0f %%", WorkRate(kmh, w, typicalEfficiency), typicalEfficiency*100,
		"", WorkRate(kmh, w, leastEfficiency), WorkRate(kmh, w, mostEfficiency), leastEfficiency*100, mostEfficiency*100)
	if s.ideal == nil {
		wording.KeyLine(b, fmt.Sprintf("at %s km/h", wording.Trim(kmh)), "%s", typical)
	} else {
		r := s.ideal.Rate(w)
		wording.KeyLine(b, "planned drive", "%.2f ha/h: %.2f ha in %s, turns included", r.HaPerH, s.ideal.WorkedHa(), wording.Clock(s.ideal.DurationS))
		wording.KeyLine(b, "efficiency", "%.0f %% of %s m at %.1f km/h; %.0f s with all sections up", 100*r.Efficiency, wording.Trim(w), r.SpeedKmh, s.ideal.DurationS-s.ideal.WorkS)
		wording.KeyLine(b, "usual", "%s", typical)
	}
	fmt.Fprintf(b, "  ASABE EP496; efficiency and %d to %d km/h for row-crop cultivators: D497,\n  from memory.\n", leastD497Kmh, mostD497Kmh)
}
