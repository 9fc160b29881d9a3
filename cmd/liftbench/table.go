// The table for people that a run prints.

package main

import (
	"fmt"
	"io"
	"strings"

	"liftbench/nmea"
	"liftbench/sections/score"
	"liftbench/sim"
)

// writeTable prints the outcome. Lines stay under 80 columns.
func (o *outcome) writeTable(w io.Writer) error {
	var b strings.Builder
	o.head(&b)
	o.moves(&b, "Lifts", func(s *score.Section) *score.Stats { return &s.Lift }, &o.Score.Lift)
	o.moves(&b, "Drops", func(s *score.Section) *score.Stats { return &s.Drop }, &o.Score.Drop)
	b.WriteString("  Actual minus ideal: positive = late. 95 %: so many are no farther off.\n\n")
	o.areas(&b)
	_, err := io.WriteString(w, b.String())
	return err
}

// head says what was run and what the receiver did.
func (o *outcome) head(b *strings.Builder) {
	fmt.Fprintf(b, "%s\n\n", o.title)
	keyLine(b, "machine", "%s", o.machineText())
	keyLine(b, "drive", "%s, %.2f km", clock(o.DurationS), o.DistanceM/1000)
	states := "recorded"
	if o.simulated {
		states = "simulated hydraulics"
	}
	keyLine(b, "work states", "%s", states)

	r := &o.Reception
	keyLine(b, "receiver", "%s, %d with a position, %s, %s over %g s", counted(int(r.Epochs), "epoch"), r.Fixes, rateText(r), counted(int(r.Gaps), "gap"), sim.GapS)
	keyLine(b, "quality", "%s", qualityText(r))
	if r.Measured > 0 {
		keyLine(b, "age on arrival", "mean %.0f ms, worst %.0f ms", float64(r.AgeSumNs)/float64(r.Measured)*1e-6, float64(r.AgeMaxNs)*1e-6)
	} else {
		keyLine(b, "age on arrival", "the log does not say; taken as %g ms", o.machine.Controller.LatencyMs)
	}
	s := o.sentences()
	keyLine(b, "sentences", "%d read; %d bad checksum, %d malformed, %d of other kinds", s.OK, s.BadChecksum, s.Malformed, s.Unknown)
	if x := o.outside; x != nil {
		x.head(b)
	} else {
		c := o.Controller
		keyLine(b, "controller", "%d fixes used, %d stale, %d of low quality, %d jumps;\n%19s%s late, %s", c.Accepted, c.Stale, c.LowQuality, c.Jumped, "", counted(int(c.Late), "command"), counted(int(c.FailSafe), "fail-safe"))
	}
	for _, x := range o.warnings {
		b.WriteString(wrap("  drive: ", "    ", x))
	}
	b.WriteByte('\n')
}

// machineText is the machine's name, sections and width.
func (o *outcome) machineText() string {
	name := o.machine.Name
	if name == "" {
		name = o.machine.doc.file
	}
	return fmt.Sprintf("%s, %s, %s m", name, counted(len(o.Score.Sections), "section"), trim(o.machine.widthM()))
}

// rateText is how often a position came.
func rateText(r *sim.Reception) string {
	if s := r.MedianIntervalS(); s > 0 {
		return trim(1/s) + " Hz"
	}
	return "rate not known"
}

// qualityText is the share of the epochs of each quality.
func qualityText(r *sim.Reception) string {
	var mix []string
	for q, count := range r.ByQuality {
		if count > 0 {
			mix = append(mix, fmt.Sprintf("%s %.1f %%", nmea.Quality(q), 100*float64(count)/float64(r.Epochs)))
		}
	}
	return strings.Join(mix, ", ")
}

// moves prints one direction, a line a section.
func (o *outcome) moves(b *strings.Builder, title string, of func(*score.Section) *score.Stats, all *score.Stats) {
	fmt.Fprintf(b, "%-9s                     time error, ms         place error, cm\n", title)
	b.WriteString("section   ideal missed extra |    mean    95 %   worst |    mean    95 %   worst\n")
	line := func(name string, s *score.Stats) {
		fmt.Fprintf(b, "%-9s %5d %6d %5d |%s |%s\n", name, s.Count, s.Missed, s.Spurious,
			spreadCells(s.TimeErrorS, 1e3, 0), spreadCells(s.PlaceErrorM, 1e2, 1))
	}
	for i := range o.Score.Sections {
		line(fmt.Sprint(i+1), of(&o.Score.Sections[i]))
	}
	line("all", all)
	b.WriteByte('\n')
}

// spreadCells prints mean, 95 % and worst in a unit.
func spreadCells(s *score.Spread, perUnit float64, decimals int) string {
	if s == nil {
		return strings.Repeat("       -", 3)
	}
	cell := func(x float64) string {
		return fmt.Sprintf(" %7s", appendFixed(nil, x*perUnit, decimals))
	}
	return cell(s.Mean) + cell(s.P95Abs) + cell(s.MaxAbs)
}

// areas prints the ground, a line a section.
func (o *outcome) areas(b *strings.Builder) {
	b.WriteString("Ground, m²\n")
	b.WriteString("section    to work    worked      miss   overrun  of it across rows    repeat\n")
	line := func(name string, a *score.Areas) {
		fmt.Fprintf(b, "%-9s %8.1f  %8.1f  %8.1f  %8.1f  %17.1f  %8.1f\n", name, a.PassedM2, a.WorkedM2, a.MissM2, a.OverrunM2, a.AcrossRowsM2, a.RepeatM2)
	}
	for i := range o.Score.Sections {
		line(fmt.Sprint(i+1), &o.Score.Sections[i].Area)
	}
	line("all", &o.Score.Area)
	if ha := o.Score.ZoneM2 / 1e4; ha > 0 {
		a := &o.Score.Area
		fmt.Fprintf(b, "%-9s %8s  %8.1f  %8.1f  %8.1f  %17.1f  %8.1f\n", "per ha", "", a.WorkedM2/ha, a.MissM2/ha, a.OverrunM2/ha, a.AcrossRowsM2/ha, a.RepeatM2/ha)
		fmt.Fprintf(b, "  %s\n  %s\n", o.workedOnce(), toWork)
	}
}

// workedOnce compares the ground worked, each piece of it once, with the zones.
func (o *outcome) workedOnce() string {
	r := o.Score
	return fmt.Sprintf("Zones: %.2f ha; worked at least once: %.2f ha of them, %.0f m² outside.", r.ZoneM2/1e4, (r.WorkedOnceM2-r.OutsideM2)/1e4, r.OutsideM2)
}

// toWork says what the ground to work is.
const toWork = "To work: passed over inside the zones whose rows the machine followed."

// head says in a table what was heard.
func (h *heard) head(b *strings.Builder) {
	keyLine(b, "controller", "%s: %s in %s, %d damaged, %d of other kinds;\n%19s%s to it lost", h.name,
		counted(len(h.setpoints), "setpoint"), counted(int(h.lines), "line"), h.damaged, h.others, "", counted(int(h.sent.Dropped), "message"))
	if h.after > 0 {
		keyLine(b, "", "%s came after the instant they were for, by %.1f ms at most", counted(h.after, "setpoint"), float64(h.afterNs)*1e-6)
	}
	keyLine(b, "played", "behind its time by %.1f ms at most", float64(h.late)*1e-6)
}
