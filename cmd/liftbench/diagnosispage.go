// The page that a diagnosis prints: how late, where, why, what to change.

package main

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"liftbench/replay/diagnose"
	"liftbench/sections/score"
	"liftbench/sim"
)

// writePage prints the answer. Lines stay under 80 columns.
func (d *diagnosis) writePage(w io.Writer) error {
	var b strings.Builder
	b.WriteString(wrap("", "", d.answerText()) + "\n")
	keyLine(&b, "day", "%s", d.title)
	keyLine(&b, "machine", "%s", d.machineText())
	keyLine(&b, "drive", "%s", d.driveText())
	keyLine(&b, "work states", "%s", d.statesText())
	keyLine(&b, "receiver", "%s", d.receptionText())

	b.WriteString("\nHow late               lifts                      drops\n")
	for _, r := range d.lateness() {
		fmt.Fprintf(&b, "  %-20s %-26s %s\n", r.What, r.Lifts, r.Drops)
	}
	b.WriteString("  Positive = late; (95 % interval). error = place error + speed × time error.\n")

	b.WriteString("\nWhere\n")
	for _, s := range d.where() {
		b.WriteString(wrap("  ", "  ", s))
	}

	b.WriteString("\nWhy, and what to change\n")
	if len(d.Causes) == 0 {
		b.WriteString(wrap("  ", "  ", d.nothingText()))
	}
	for i := range d.Causes {
		c := &d.Causes[i]
		fmt.Fprintf(&b, "%d %-36s %s\n", i+1, causeText(c), sizeText(c.Size, &c.CI95, c.Unit))
		b.WriteString(wrap("  ", "  ", c.Evidence))
		b.WriteString(wrap("  > ", "    ", c.Change))
	}
	if len(d.CannotTell) > 0 {
		b.WriteString("\nCannot tell\n")
		for i := range d.CannotTell {
			x := &d.CannotTell[i]
			b.WriteString(wrap("- ", "  ", x.Why))
			b.WriteString(wrap("  > ", "    ", x.Drive))
		}
	}
	if d.sendsToMachine() {
		b.WriteString("\n" + wrap("", "", safetyText))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// sendsToMachine reports whether a change to the machine is advised.
func (d *diagnosis) sendsToMachine() bool {
	return slices.ContainsFunc(d.Causes, func(f diagnose.Finding) bool {
		return f.Cause != diagnose.ByHand && f.Cause != diagnose.WrongBorder
	})
}

// safetyText stands wherever a change to a machine is advised.
const safetyText = "Before work on the machine: lower it or lock it mechanically, relieve the pressure, keep people clear; follow its manual."

func (d *diagnosis) driveText() string {
	day := time.Unix(0, d.Reception.FirstNs).UTC().Format("2 January 2006, 15:04 UTC")
	return fmt.Sprintf("%s, %s, %.2f km", day, clock(d.DurationS), d.DistanceM/1000)
}

func (d *diagnosis) statesText() string {
	what := "actual alone"
	switch {
	case d.setpoint && d.actual:
		what = "setpoint and actual"
	case d.setpoint:
		what = "setpoint alone, judged as if the lead were true"
	}
	if d.whole {
		what += "; one for the whole machine"
	}
	return what
}

func (d *diagnosis) receptionText() string {
	r := &d.Reception
	return fmt.Sprintf("%s, %s over %g s, %s", rateText(r), counted(int(r.Gaps), "gap"), sim.GapS, qualityText(r))
}

// latenessRow is one figure of the lifts and of the drops.
type latenessRow struct{ What, Lifts, Drops string }

// lateness says how late, in the units of the field.
func (d *diagnosis) lateness() []latenessRow {
	stats := func(s *score.Stats) string {
		return fmt.Sprintf("%d, %d missed, %d extra", s.Paired, s.Missed, s.Spurious)
	}
	mean := func(s *score.Stats) string {
		if s.TimeErrorS == nil {
			return "-"
		}
		return signed(s.TimeErrorS.Mean*1e3, 0) + " ms, " + signed(s.PlaceErrorM.Mean*1e2, 1) + " cm"
	}
	p95 := func(s *score.Stats) string {
		if s.TimeErrorS == nil {
			return "-"
		}
		return fmt.Sprintf("%.0f ms, %.1f cm", s.TimeErrorS.P95Abs*1e3, s.PlaceErrorM.P95Abs*1e2)
	}
	both := func(what string, of func(s *score.Stats) string) latenessRow {
		return latenessRow{what, of(&d.lifts), of(&d.drops)}
	}
	fit := func(size *float64, ci *diagnose.Interval, unit string) string {
		if size == nil {
			return "cannot be told"
		}
		return sizeText(*size, ci, unit)
	}
	return []latenessRow{
		both("at a border", stats),
		both("on average", mean),
		both("95 % within", p95),
		{"time error", fit(d.Lift.TimeErrorS, d.Lift.TimeErrorCI, "s"), fit(d.Drop.TimeErrorS, d.Drop.TimeErrorCI, "s")},
		{"place error", fit(d.Lift.PlaceErrorM, d.Lift.PlaceErrorCI, "m"), fit(d.Drop.PlaceErrorM, d.Drop.PlaceErrorCI, "m")},
	}
}

// causeText names a cause and what of the machine it is of.
func causeText(f *diagnose.Finding) string {
	s := string(f.Cause)
	if f.Section > 0 {
		s += fmt.Sprintf(", section %d", f.Section)
	}
	if f.Move != "" && !strings.Contains(s, f.Move) {
		s += ", " + f.Move + "s"
	}
	return s
}

func (d *diagnosis) nothingText() string {
	if len(d.CannotTell) > 0 {
		return "No cause stands out from chance; see below for what the day cannot tell."
	}
	return "Nothing wrong: lifts and drops are as exact as the positions allow."
}

// sizeText is a size, with its interval unless that is nil, in the units of the
// field.
func sizeText(size float64, ci *diagnose.Interval, unit string) string {
	per, name, decimals := 1.0, unit, 2
	switch {
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
	s := signed(size*per, decimals) + " " + name
	if unit == "share" {
		s = strings.TrimPrefix(s, "+") // nothing is late or early here
	}
	if ci != nil {
		s += fmt.Sprintf(" (%s to %s)", appendFixed(nil, ci[0]*per, decimals), appendFixed(nil, ci[1]*per, decimals))
	}
	return s
}

// signed prints a number with its sign; what rounds to zero has none.
func signed(x float64, decimals int) string {
	s := string(appendFixed(nil, x, decimals))
	if strings.Trim(s, "0.") != "" && s[0] != '-' {
		s = "+" + s
	}
	return s
}
