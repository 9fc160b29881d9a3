// The page that a diagnosis prints: how late, where, why, what to change.

package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

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
	if d.Suspicion != nil {
		b.WriteString(wording.Wrap("", "", d.Suspicion.Text) + "\n")
	}
	b.WriteString(wording.Wrap("", "", diagnosisAnswer(d)) + "\n")
	wording.KeyLine(&b, "day", "%s", d.Title)
	wording.KeyLine(&b, "machine", "%s", machineText(d.Outcome))
	wording.KeyLine(&b, "drive", "%s", driveText(d))
	wording.KeyLine(&b, "work states", "%s", statesText(d))
	wording.KeyLine(&b, "receiver", "%s", receptionText(d))
	for _, x := range d.Warnings {
		b.WriteString(wording.Wrap("  drive: ", "    ", x))
	}

	for _, x := range d.ZonesFound {
		b.WriteString(wording.Wrap("  zones: ", "    ", x))
	}

	b.WriteString("\nHow late               lifts                      drops\n")
	for _, r := range lateness(d) {
		fmt.Fprintf(&b, "  %-20s %-26s %s\n", r.What, r.Lifts, r.Drops)
	}
	b.WriteString(wording.Wrap("  ", "  ", lineSentence(d)))

	if list := where(d); len(list) > 0 {
		b.WriteString("\nWhere\n")
		for _, s := range list {
			b.WriteString(wording.Wrap("  ", "  ", s))
		}
	}

	b.WriteString("\nWhy, and what to change\n")
	if len(d.Causes) == 0 {
		b.WriteString(wording.Wrap("  ", "  ", nothingText(d)))
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
	if sendsToMachine(d) {
		b.WriteString("\n" + wording.Wrap("", "", SafetyText))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// sendsToMachine reports whether a change to the machine is advised.
func sendsToMachine(d *run.Diagnosis) bool {
	return slices.ContainsFunc(d.Causes, func(f diagnose.Finding) bool {
		return f.Cause != diagnose.ByHand && f.Cause != diagnose.WrongBorder && f.Cause != diagnose.ClockOffset
	})
}

// SafetyText stands wherever a change to a machine is advised.
const SafetyText = "Before work on the machine: lower it or lock it mechanically, relieve the pressure, keep people clear; follow its manual."

func driveText(d *run.Diagnosis) string {
	day := time.Unix(0, d.Reception.FirstNs).UTC().Format("2 January 2006, 15:04 UTC")
	return fmt.Sprintf("%s, %s, %.2f km", day, wording.Clock(d.DurationS), d.DistanceM/1000)
}

func statesText(d *run.Diagnosis) string {
	what := "actual alone"
	switch {
	case d.Setpoint && d.Actual:
		what = "setpoint and actual"
		if s := d.Sampling; s != nil && s.OneClock {
			what += ", by one clock: the time from one to the other is exact"
			if s.Kind != clock.NoGrid {
				what += " but for the steps of their times"
			}
		}
	case d.Setpoint:
		what = "setpoint alone, judged as if the lead were true"
	}
	if d.Whole {
		what += "; one for the whole machine"
	}
	return what
}

func receptionText(d *run.Diagnosis) string {
	r := &d.Reception
	return fmt.Sprintf("%s, %s over %g s, %s", rateText(r), wording.Counted(int(r.Gaps), "gap"), sim.GapS, qualityText(r))
}

// latenessRow is one figure, for the lifts and for the drops.
type latenessRow struct{ What, Lifts, Drops string }

// lateness says how late the moves were, in the units of the field.
func lateness(d *run.Diagnosis) []latenessRow {
	stats := func(s *score.Stats) string {
		return fmt.Sprintf("%d, %d missed, %d extra", s.Paired, s.Missed, s.Spurious)
	}
	mean := func(s *score.Stats) string {
		if s.TimeErrorS == nil {
			return "-"
		}
		return signed(s.TimeErrorS.Mean*1e3, 0) + " ms, " + placeText(s.PlaceErrorM.Mean)
	}
	p95 := func(s *score.Stats) string {
		if s.TimeErrorS == nil {
			return "-"
		}
		return fmt.Sprintf("%.0f ms, %s", s.TimeErrorS.P95Abs*1e3, strings.TrimPrefix(placeText(s.PlaceErrorM.P95Abs), "+"))
	}
	both := func(what string, of func(s *score.Stats) string) latenessRow {
		return latenessRow{what, of(&d.Lifts), of(&d.Drops)}
	}
	fit := func(size *float64, ci *diagnose.Interval, unit string) string {
		if size == nil {
			return "cannot be told"
		}
		return SizeText(*size, ci, unit)
	}
	return []latenessRow{
		both("at a border", stats),
		both("lateness, mean", mean),
		both("95 % of it within", p95),
		{"part by a time", fit(d.Lift.TimeErrorS, d.Lift.TimeErrorCI, "s"), fit(d.Drop.TimeErrorS, d.Drop.TimeErrorCI, "s")},
		{"part by a place", fit(d.Lift.PlaceErrorM, d.Lift.PlaceErrorCI, "m"), fit(d.Drop.PlaceErrorM, d.Drop.PlaceErrorCI, "m")},
	}
}

// lineSentence explains the two rows that divide the lateness, by the day's own line of
// lifts, or of drops.
func lineSentence(d *run.Diagnosis) string {
	text := "Positive = late, 95 % interval in brackets."
	for _, m := range []struct {
		on   bool
		name string
		fit  *diagnose.Fit
	}{{false, "lifts", &d.Lift}, {true, "drops", &d.Drop}} {
		if m.fit.TimeErrorS == nil || m.fit.PlaceErrorM == nil {
			continue
		}
		var speeds []float64
		for i := range d.Events {
			if e := &d.Events[i]; e.Kind == score.Paired && e.On == m.on {
				speeds = append(speeds, e.SpeedMps)
			}
		}
		if len(speeds) == 0 {
			continue
		}
		mps := sample.Median(speeds)
		return text + fmt.Sprintf(" One part of the lateness is the same length at every speed (by a place), the other grows with the speed (by a time): place + speed × time. Here %s at %.1f km/h: %s cm + %.2f m/s × %s ms = %s cm. The means also hold what single sections and moments add.",
			m.name, mps*3.6, signed(*m.fit.PlaceErrorM*1e2, 1), mps, signed(*m.fit.TimeErrorS*1e3, 0), signed((*m.fit.PlaceErrorM+float64(mps**m.fit.TimeErrorS))*1e2, 1))
	}
	return text
}

// CauseText names a cause and the part of the machine that it concerns.
func CauseText(f *diagnose.Finding) string {
	s := string(f.Cause)
	if f.Section > 0 {
		s += fmt.Sprintf(", section %d", f.Section)
	}
	if f.Move != "" && !strings.Contains(s, f.Move) {
		s += ", " + f.Move + "s"
	}
	return s
}

func nothingText(d *run.Diagnosis) string {
	if d.Suspicion != nil {
		return "No cause is named."
	}
	if len(d.CannotTell) > 0 {
		var names []string
		for _, c := range d.CannotTell[0].Between {
			names = append(names, string(c))
		}
		return "No cause is sure. In doubt: " + strings.Join(names, " or ") + "; what tells stands below."
	}
	return "Nothing wrong: lifts and drops are as exact as the positions allow."
}

// mostDecimals is how many decimals a size is given at most.
const mostDecimals = 3

// SizeText returns a size in the units of the field, with its interval unless
// that is nil.
func SizeText(size float64, ci *diagnose.Interval, unit string) string {
	if unit == "sections" {
		return fmt.Sprintf("%.0f %s", size, unit) // counted, so without an interval
	}
	per, name, decimals := 1.0, unit, 2
	switch {
	case unit == "s" && math.Abs(size) >= 10: // of a clock
	case unit == "s" || strings.HasPrefix(unit, "s/"):
		per, name, decimals = 1e3, "m"+unit, 0
	case unit == "m":
		per, name, decimals = 1e2, "cm", 1
	case unit == "share":
		per, name, decimals = 1e2, "%", 0
	}
	if ci != nil && unit != "share" {
		decimals = ci.Decimals(1/per, decimals)
	}
	if unit == "m" && (ci != nil && ci[1]-ci[0] > 1 || math.Abs(size) > 2) {
		decimals = 0 // millimetres mean nothing here
	}
	if unit == "share" || unit == "s/section" { // a cause that is found is never of size zero
		for decimals < mostDecimals && math.Abs(size*per) < math.Pow(10, -float64(decimals)) {
			decimals++
		}
	}
	s := signed(size*per, decimals) + " " + name
	if unit == "share" {
		s = strings.TrimPrefix(s, "+") // nothing is late or early here
	}
	if ci != nil {
		s += fmt.Sprintf(" (%s to %s)", wording.AppendFixed(nil, ci[0]*per, decimals), wording.AppendFixed(nil, ci[1]*per, decimals))
	}
	return s
}

// signed prints a number with its sign. A number that rounds to zero has no
// sign.
func signed(x float64, decimals int) string {
	s := string(wording.AppendFixed(nil, x, decimals))
	if strings.Trim(s, "0.") != "" && s[0] != '-' {
		s = "+" + s
	}
	return s
}
