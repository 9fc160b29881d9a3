// The page that a diagnosis prints: how late, where, why, what to change.

package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/diagnose"
	"liftbench/replay/diagnose/clock"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
	"liftbench/sim"
)

// WriteDiagnosis prints the answer. Lines stay under 80 columns.
func WriteDiagnosis(d *run.Diagnosis, w io.Writer) error {
	var b strings.Builder
	r := &dayPage{d, catalogue().In(language.English)}
	if d.Suspicion != nil {
		b.WriteString(wording.Wrap("", "", d.Suspicion.Text) + "\n")
	}
	answer := r.strongest()
	if d.Sampling != nil && d.Sampling.Text != "" {
		answer = d.Sampling.Text + ". " + answer
	}
	b.WriteString(wording.Wrap("", "", answer) + "\n")
	wording.KeyLine(&b, "day", "%s", d.Title)
	wording.KeyLine(&b, "machine", "%s", machineText(d.Outcome))
	wording.KeyLine(&b, "drive", "%s", r.drive())
	wording.KeyLine(&b, "work states", "%s", r.states())
	wording.KeyLine(&b, "receiver", "%s", r.reception())
	for _, x := range d.Warnings {
		b.WriteString(wording.Wrap("  drive: ", "    ", x))
	}

	for _, x := range d.ZonesFound {
		b.WriteString(wording.Wrap("  zones: ", "    ", x))
	}

	b.WriteString("\nHow late               lifts                      drops\n")
	for _, x := range r.lateness() {
		fmt.Fprintf(&b, "  %-20s %-26s %s\n", x.What, onTerminal(x.Lifts), onTerminal(x.Drops))
	}
	b.WriteString(wording.Wrap("  ", "  ", r.lineSentence()))

	if list := r.where(); len(list) > 0 {
		b.WriteString("\nWhere\n")
		for _, s := range list {
			b.WriteString(wording.Wrap("  ", "  ", s))
		}
	}

	b.WriteString("\nWhy, and what to change\n")
	if len(d.Causes) == 0 {
		b.WriteString(wording.Wrap("  ", "  ", r.nothing()))
	}
	for i := range d.Causes {
		c := &d.Causes[i]
		fmt.Fprintf(&b, "%d %-36s %s\n", i+1, CauseText(c), SizeText(c.Size, &c.CI95, c.Unit))
		b.WriteString(wording.Wrap("  ", "  ", c.Evidence))
		b.WriteString(wording.Wrap("  > ", "    ", c.Change))
	}
	if len(d.CannotTell) > 0 {
		b.WriteString("\nCannot tell\n")
		for i := range d.CannotTell {
			x := &d.CannotTell[i]
			b.WriteString(wording.Wrap("- ", "  ", x.Why))
			b.WriteString(wording.Wrap("  > ", "    ", x.Drive))
		}
	}
	if r.sendsToMachine() {
		b.WriteString("\n" + wording.Wrap("", "", r.t.Text("why.safety")))
	}
	_, err := io.WriteString(w, onTerminal(b.String()))
	return err
}

// onTerminal is text in characters that every terminal has.
func onTerminal(text string) string {
	return strings.NewReplacer("−", "-", "\u202f", "", "\u00a0", " ").Replace(text)
}

// sendsToMachine reports whether a change to the machine is advised.
func (r *dayPage) sendsToMachine() bool {
	return slices.ContainsFunc(r.Causes, func(f diagnose.Finding) bool {
		return f.Cause != diagnose.ByHand && f.Cause != diagnose.WrongBorder && f.Cause != diagnose.ClockOffset
	})
}

func (r *dayPage) drive() string {
	from := time.Unix(0, r.Reception.FirstNs).UTC()
	return r.t.Text("drive", "day", r.t.Date(from), "time", from.Format("15:04"), "clock", wording.Clock(r.DurationS), "km", r.t.Number(r.DistanceM/1000, 2))
}

func (r *dayPage) states() string {
	t := r.t
	what := t.Text("states.actual")
	switch {
	case r.Setpoint && r.Actual:
		what = t.Text("states.both")
		if s := r.Sampling; s != nil && s.OneClock {
			what = t.Text("states.clock", "states", what)
			if s.Kind != clock.NoGrid {
				what = t.Text("states.steps", "states", what)
			}
		}
	case r.Setpoint:
		what = t.Text("states.setpoint")
	}
	if r.Whole {
		what = t.Text("states.whole", "states", what)
	}
	return what
}

func (r *dayPage) reception() string {
	c := &r.Reception
	return r.t.Text("reception", "rate", rate(r.t, c), "n", int(c.Gaps), "gap", trimmed(r.t, sim.GapS), "quality", quality(r.t, c))
}

// latenessRow is one figure, for the lifts and for the drops.
type latenessRow struct{ What, Lifts, Drops string }

// lateness says how late the moves were, in the units of the field.
func (r *dayPage) lateness() []latenessRow {
	t := r.t
	stats := func(s *score.Stats) string {
		return t.Text("late.counts", "paired", s.Paired, "missed", s.Missed, "extra", s.Spurious)
	}
	mean := func(s *score.Stats) string {
		if s.TimeErrorS == nil {
			return "-"
		}
		return r.times(true, s.TimeErrorS.Mean)[0] + ", " + r.lengths(true, s.PlaceErrorM.Mean)[0]
	}
	p95 := func(s *score.Stats) string {
		if s.TimeErrorS == nil {
			return "-"
		}
		return r.times(false, s.TimeErrorS.P95Abs)[0] + ", " + r.lengths(false, s.PlaceErrorM.P95Abs)[0]
	}
	both := func(what string, of func(s *score.Stats) string) latenessRow {
		return latenessRow{what, of(&r.Lifts), of(&r.Drops)}
	}
	fit := func(size *float64, ci *diagnose.Interval, unit string) string {
		if size == nil {
			return t.Text("late.untold")
		}
		return r.size(*size, ci, unit)
	}
	return []latenessRow{
		both(t.Text("late.border"), stats),
		both(t.Text("late.mean"), mean),
		both(t.Text("late.p95"), p95),
		{t.Text("late.time"), fit(r.Lift.TimeErrorS, r.Lift.TimeErrorCI, "s"), fit(r.Drop.TimeErrorS, r.Drop.TimeErrorCI, "s")},
		{t.Text("late.place"), fit(r.Lift.PlaceErrorM, r.Lift.PlaceErrorCI, "m"), fit(r.Drop.PlaceErrorM, r.Drop.PlaceErrorCI, "m")},
	}
}

// lineSentence explains the two rows that divide the lateness, by the day's own line of
// lifts, or of drops.
func (r *dayPage) lineSentence() string {
	t := r.t
	text := t.Text("late.signs")
	for way, name := range [...]string{t.Text("moves.lifts"), t.Text("moves.drops")} {
		fit := [...]*diagnose.Fit{&r.Lift, &r.Drop}[way]
		if fit.TimeErrorS == nil || fit.PlaceErrorM == nil {
			continue
		}
		var speeds []float64
		for i := range r.Events {
			if e := &r.Events[i]; e.Kind == score.Paired && e.On == (way == 1) {
				speeds = append(speeds, e.SpeedMps)
			}
		}
		if len(speeds) == 0 {
			continue
		}
		mps := sample.Median(speeds)
		return text + " " + t.Text("late.line", "moves", name, "kmh", t.Number(mps*3.6, 1), "place", t.Signed(*fit.PlaceErrorM*1e2, 1), "mps", t.Number(mps, 2),
			"ms", t.Signed(*fit.TimeErrorS*1e3, 0), "sum", t.Signed((*fit.PlaceErrorM+float64(mps**fit.TimeErrorS))*1e2, 1))
	}
	return text
}

// CauseText names a cause in English, and the part of the machine that it concerns.
func CauseText(f *diagnose.Finding) string {
	return (&dayPage{t: catalogue().In(language.English)}).cause(f)
}

// cause names a cause and the part of the machine that it concerns.
func (r *dayPage) cause(f *diagnose.Finding) string {
	s := r.causeName(f.Cause)
	if f.Section > 0 {
		s = r.t.Text("cause.section", "cause", s, "section", f.Section)
	}
	switch {
	case strings.Contains(string(f.Cause), f.Move): // its name says it, or there is nothing to say
	case f.Move == "lift":
		s = r.t.Text("cause.lifts", "cause", s)
	default:
		s = r.t.Text("cause.drops", "cause", s)
	}
	return s
}

// causeName is the name of a cause.
func (r *dayPage) causeName(c diagnose.Cause) string {
	t := r.t
	switch c {
	case diagnose.LiftTiming:
		return t.Text("cause.lift timing")
	case diagnose.DropTiming:
		return t.Text("cause.drop timing")
	case diagnose.LiftGeometry:
		return t.Text("cause.lift geometry")
	case diagnose.DropGeometry:
		return t.Text("cause.drop geometry")
	case diagnose.Geometry:
		return t.Text("cause.geometry")
	case diagnose.CommandTiming:
		return t.Text("cause.command timing")
	case diagnose.MachineSlow:
		return t.Text("cause.machine slow")
	case diagnose.FileLead:
		return t.Text("cause.lead on file")
	case diagnose.SlowSection:
		return t.Text("cause.slow section")
	case diagnose.FlowShortage:
		return t.Text("cause.flow shortage")
	case diagnose.ColdOil:
		return t.Text("cause.cold oil")
	case diagnose.Latency:
		return t.Text("cause.latency")
	case diagnose.HeadingError:
		return t.Text("cause.heading error")
	case diagnose.PoorReception:
		return t.Text("cause.poor reception")
	case diagnose.WrongBorder:
		return t.Text("cause.wrong border")
	case diagnose.DoesNotFollow:
		return t.Text("cause.does not follow")
	case diagnose.SectionOrder:
		return t.Text("cause.section order")
	case diagnose.Erratic:
		return t.Text("cause.erratic")
	case diagnose.Sensor:
		return t.Text("cause.sensor")
	case diagnose.ClockOffset:
		return t.Text("cause.clock offset")
	case diagnose.ByHand:
		return t.Text("cause.worked by hand")
	}
	return string(c)
}

func (r *dayPage) nothing() string {
	t := r.t
	if r.Suspicion != nil {
		return t.Text("why.none")
	}
	if len(r.CannotTell) > 0 {
		text := ""
		for i, c := range r.CannotTell[0].Between {
			if i == 0 {
				text = r.causeName(c)
				continue
			}
			text = t.Text("why.or", "one", text, "other", r.causeName(c))
		}
		return t.Text("why.unsure", "list", text)
	}
	return t.Text("why.nothing")
}

// mostDecimals is how many decimals a size is given at most.
const mostDecimals = 3

// SizeText returns a size in English, on a terminal, with its interval unless that is nil.
func SizeText(size float64, ci *diagnose.Interval, unit string) string {
	return onTerminal((&dayPage{t: catalogue().In(language.English)}).size(size, ci, unit))
}

// size is a size in the units of the field, with its interval unless that is nil.
func (r *dayPage) size(size float64, ci *diagnose.Interval, unit string) string {
	t := r.t
	if unit == "sections" {
		return t.Text("size.sections", "n", int(math.Round(size))) // counted, so without an interval
	}
	per, name, decimals := 1.0, unit, 2
	switch {
	case unit == "s" && math.Abs(size) >= 10: // of a clock
	case unit == "s" || strings.HasPrefix(unit, "s/"):
		per, name, decimals = 1e3, "m"+unit, 0
	case unit == "m":
		per, name, decimals = 1e2, "cm", 1
		if math.Abs(size) >= fromM {
			per, name, decimals = 1, "m", 2
		}
	case unit == "share":
		per, name, decimals = 1e2, "%", 0
	}
	if ci != nil && unit != "share" {
		decimals = ci.Decimals(1/per, decimals)
	}
	if name == "cm" && (ci != nil && ci[1]-ci[0] > 1 || math.Abs(size) > 2) {
		decimals = 0 // millimetres mean nothing here
	}
	if unit == "share" || unit == "s/section" { // a cause that is found is never of size zero
		for decimals < mostDecimals && math.Abs(size*per) < math.Pow(10, -float64(decimals)) {
			decimals++
		}
	}
	number := t.Signed(size*per, decimals)
	if unit == "share" {
		number = strings.TrimPrefix(number, "+") // nothing is late or early here
	}
	s := t.Unit(number, strings.Replace(name, "section", t.Text("unit.section"), 1))
	if ci != nil {
		s = t.Text("size.of", "size", s, "low", t.Number(ci[0]*per, decimals), "high", t.Number(ci[1]*per, decimals))
	}
	return s
}
