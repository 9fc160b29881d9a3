// The table for people that a run prints.

package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/wording"
	"liftbench/nmea"
	"liftbench/sections/score"
	"liftbench/sections/score/rows"
	"liftbench/sim"
)

// WriteTable prints the outcome. Lines stay under 80 columns.
func WriteTable(o *run.Outcome, w io.Writer) error {
	var b strings.Builder
	if o.Suspicion != nil {
		b.WriteString(wording.Wrap("", "", o.Suspicion.Text) + "\n")
	}
	tableHead(o, &b)
	moves(o, &b, "Lifts", func(s *score.Section) *score.Stats { return &s.Lift }, &o.Score.Lift)
	moves(o, &b, "Drops", func(s *score.Section) *score.Stats { return &s.Drop }, &o.Score.Drop)
	b.WriteString("  Actual minus ideal: positive = late. 95 %: so many are no farther off.\n\n")
	areas(o, &b)
	_, err := io.WriteString(w, b.String())
	return err
}

// tableHead says what was run and what the receiver did.
func tableHead(o *run.Outcome, b *strings.Builder) {
	fmt.Fprintf(b, "%s\n\n", o.Title)
	b.WriteString(wording.Wrap("  accuracy         ", strings.Repeat(" ", 19), accuracy(o.Outcome)))
	if o.Typical != nil {
		wording.KeyLine(b, "typical", "%s;\n%19sthe same drive with an ordinary receiver, machine and driver", accuracy(o.Typical), "")
	}
	wording.KeyLine(b, "machine", "%s", machineText(o))
	wording.KeyLine(b, "drive", "%s, %.2f km", wording.Clock(o.DurationS), o.DistanceM/1000)
	states := "recorded"
	if o.Simulated {
		states = "simulated hydraulics"
	}
	wording.KeyLine(b, "work states", "%s", states)

	r := &o.Reception
	wording.KeyLine(b, "receiver", "%s, %d with a position, %s, %s over %g s", wording.Counted(int(r.Epochs), "epoch"), r.Fixes, rateText(r), wording.Counted(int(r.Gaps), "gap"), sim.GapS)
	wording.KeyLine(b, "quality", "%s", qualityText(r))
	if r.Measured > 0 {
		wording.KeyLine(b, "age on arrival", "mean %.0f ms, worst %.0f ms", float64(r.AgeSumNs)/float64(r.Measured)*1e-6, float64(r.AgeMaxNs)*1e-6)
	} else {
		wording.KeyLine(b, "age on arrival", "the log does not say; taken as %g ms", o.Machine.Controller.LatencyMs)
	}
	s := o.Sentences()
	wording.KeyLine(b, "sentences", "%d read; %d bad checksum, %d malformed, %d of other kinds", s.OK, s.BadChecksum, s.Malformed, s.Unknown)
	if t := times(o); t != nil {
		wording.KeyLine(b, "times", "%d out of order, %d not believed, %s; clock set %s", t.OutOfOrder, t.NotBelieved, wording.Counted(int(t.WrongDates), "wrong date"), wording.Counted(int(t.ClockSets), "time"))
	}
	if x := o.Outside; x != nil {
		heardHead(x, b)
	} else {
		c := o.Controller
		wording.KeyLine(b, "controller", "%d fixes used, %d stale, %d of low quality, %d jumps;\n%19s%s", c.Accepted, c.Stale, c.LowQuality, c.Jumped, "", wording.Counted(int(c.FailSafe), "fail-safe"))
		b.WriteString(wording.Wrap("  late             ", strings.Repeat(" ", 19), wording.Late(&c, "command")))
	}
	if len(o.StraightRuns) > 0 {
		b.WriteString(wording.Wrap("  straight run     ", strings.Repeat(" ", 19), run.NeedText(o.Straight)))
	}
	for _, x := range o.Warnings {
		b.WriteString(wording.Wrap("  drive: ", "    ", x))
	}
	b.WriteByte('\n')
}

// accuracy says how close to their ideal places 95 % of lifts and of drops
// came, and how many were missed or extra.
func accuracy(o *sim.Outcome) string {
	within := func(moves string, s *score.Stats) string {
		if s.PlaceErrorM == nil {
			return "no " + moves
		}
		return fmt.Sprintf("95 %% of %s within %.1f cm", moves, 100*s.PlaceErrorM.P95Abs)
	}
	l, d := &o.Score.Lift, &o.Score.Drop
	text := within("lifts", l) + ", " + within("drops", d)
	if l.PlaceErrorM != nil {
		text = within("lifts", l) + ", " + strings.TrimPrefix(within("drops", d), "95 % ")
	}
	if missed, extra := l.Missed+d.Missed, l.Spurious+d.Spurious; missed+extra > 0 {
		text += fmt.Sprintf(", %d missed, %d extra", missed, extra)
	}
	return text
}

// machineText is the machine's name, sections and width.
func machineText(o *run.Outcome) string {
	name := o.Machine.Name
	if name == "" {
		name = o.Machine.Doc.File
	}
	return fmt.Sprintf("%s, %s, %s m", name, wording.Counted(len(o.Score.Sections), "section"), wording.Trim(o.Machine.WidthM()))
}

// rateText says how often a position arrived.
func rateText(r *sim.Reception) string {
	if s := r.MedianIntervalS(); s > 0 {
		return wording.Trim(1/s) + " Hz"
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

// moves prints the figures of lifts or of drops, a line for each section.
func moves(o *run.Outcome, b *strings.Builder, title string, of func(*score.Section) *score.Stats, all *score.Stats) {
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
		return fmt.Sprintf(" %7s", wording.AppendFixed(nil, x*perUnit, decimals))
	}
	return cell(s.Mean) + cell(s.P95Abs) + cell(s.MaxAbs)
}

// areas prints the areas, a line for each section.
func areas(o *run.Outcome, b *strings.Builder) {
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
		fmt.Fprintf(b, "  %s\n  %s\n", workedOnce(o), toWork)
	}
	if len(o.Rows) > 0 {
		b.WriteString(wording.Wrap("  ", "  ", besideRows(o)))
	}
	if r := o.Rate(o.Machine.WidthM()); r.HaPerH > 0 {
		fmt.Fprintf(b, "  Work rate: %s.\n  %s.\n", rateOfWork(o, &r), wording.LiftsPerHa(r.LiftsPerHa, r.DropsPerHa))
	}
}

// besideRows says how far the tools ran beside the rows, and where they ran on the
// crop.
func besideRows(o *run.Outcome) string {
	rms, worst, crop := rows.Sum(o.Rows)
	passes := "1 pass"
	if n := len(o.Rows); n > 1 {
		passes = fmt.Sprintf("%d passes", n)
	}
	text := fmt.Sprintf("Beside the rows: %.1f cm (rms) in %s, %.1f cm at worst; %.1f m² of crop strip hoed", 100*rms, passes, 100*worst, crop)
	most := 0
	for i := range o.Rows {
		if o.Rows[i].CropM2 > o.Rows[most].CropM2 {
			most = i
		}
	}
	if p := &o.Rows[most]; p.CropM2 > 0.05 {
		side := "right"
		if p.MeanM < 0 {
			side = "left"
		}
		text += fmt.Sprintf(", most in pass %d: %.1f m², %.1f cm to the %s on average", most+1, p.CropM2, 100*math.Abs(p.MeanM), side)
	}
	return text + "."
}

// rateOfWork says the work rate and how it was lost or gained (field
// efficiency: ASABE EP496).
func rateOfWork(o *run.Outcome, r *sim.Rate) string {
	return fmt.Sprintf("%.2f ha/h, field efficiency %.0f %% of %s m at %.1f km/h", r.HaPerH, 100*r.Efficiency, wording.Trim(o.Machine.WidthM()), r.SpeedKmh)
}

// workedOnce compares the ground that was worked, counting each piece of it
// once, with the area of the zones.
func workedOnce(o *run.Outcome) string {
	r := o.Score
	return fmt.Sprintf("Zones: %.2f ha; worked at least once: %.2f ha of them, %.0f m² outside.", r.ZoneM2/1e4, (r.WorkedOnceM2-r.OutsideM2)/1e4, r.OutsideM2)
}

// toWork says how much ground is to be worked, and which.
const toWork = "To work: passed over inside the zones whose rows the machine followed."

// heardHead prints what was heard of an outside controller.
func heardHead(h *run.Heard, b *strings.Builder) {
	wording.KeyLine(b, "controller", "%s: %s in %s, %d damaged, %d of other kinds;\n%19s%s to it lost", h.Name,
		wording.Counted(len(h.Setpoints), "setpoint"), wording.Counted(int(h.Lines), "line"), h.Damaged, h.Others, "", wording.Counted(int(h.Sent.Dropped), "message"))
	for _, d := range h.Damages {
		wording.KeyLine(b, "", "damaged: %s: %s", wording.Counted(int(d.Lines), "line"), d.What)
	}
	if h.TooFar > 0 {
		wording.KeyLine(b, "", "%s named an instant more than 10 s ahead and changed nothing", wording.Counted(int(h.TooFar), "line"))
	}
	if h.After > 0 {
		wording.KeyLine(b, "", "%s came after the instant they were for, by %.1f ms at most", wording.Counted(h.After, "setpoint"), float64(h.AfterNs)*1e-6)
	}
	if x := h.ClockWarning(); x != "" {
		b.WriteString(wording.Wrap("  its clock: ", "    ", x))
	}
	if h.Lockstep {
		wording.KeyLine(b, "played", "in lockstep; %s to an instant that was over", wording.Counted(int(h.Stale), "answer"))
		return
	}
	wording.KeyLine(b, "played", "behind its time by %.1f ms at most", float64(h.Late)*1e-6)
}
