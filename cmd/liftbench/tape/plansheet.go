// The plan: which passes to drive, in words and as a sheet to be printed.

package tape

import (
	_ "embed"
	"fmt"
	"io"
	"math"
	"strings"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/tape"
	"liftbench/sections/score/sample"
)

// planSheet is the sheet, with places for what differs.
//
//go:embed plan.html
var planSheet string

// writePlan prints the plan, and writes its sheet where a directory is named.
func (o *options) writePlan(out io.Writer) error {
	d := tape.DefaultDriving()
	d.BothWays = o.bothWays
	w := o.wish()
	p, ok := tape.BestPlan(w.WantS, w, d)
	if !ok {
		most := tape.Plan{Legs: []tape.Leg{{SpeedMps: w.SlowMps, There: 30}, {SpeedMps: w.FastMps, There: 30}}}
		return &failure.Usage{Msg: fmt.Sprintf("--want %g: 60 passes at %g and %g km/h tell a lead to ± %.0f ms, with readings that scatter by %g cm; expected a wider precision, or speeds farther apart (--slow, --fast)",
			o.wantMs, o.slowKmh, o.fastKmh, math.Ceil(1000*most.HalfS(w.SigmaM, false)), o.sigmaCm)}
	}
	answer := o.planAnswer(&p, d)
	if o.out != "" {
		if err := files.WriteDir(o.out, []files.File{{Name: "plan.html", Write: func(w io.Writer) error {
			_, err := io.WriteString(w, o.sheet(&p, answer))
			return err
		}}}); err != nil {
			return err
		}
	}
	var b strings.Builder
	b.WriteString(wording.Wrap("", "", answer))
	b.WriteString("\nMeasure after each pass, along the row, from the flag line to the edge of the\nundisturbed soil: + = beyond the line in driving direction, late.\n")
	if o.out == "" {
		b.WriteString("With --out DIR this is a sheet with empty boxes and a drawing: plan.html.\n")
	}
	b.WriteString("\nBefore anyone goes near\n" + wording.Wrap("  ", "  ", wording.StandClear))
	_, err := io.WriteString(out, b.String())
	return err
}

// planAnswer says in a few sentences what to drive and what that tells.
func (o *options) planAnswer(p *tape.Plan, d tape.Driving) string {
	var parts []string
	for i := range p.Legs {
		l := &p.Legs[i]
		text := fmt.Sprintf("%d passes at %s km/h", l.Passes(), wording.Trim(3.6*l.SpeedMps))
		if d.BothWays {
			text += fmt.Sprintf(" (%d one way, %d back)", l.There, l.Back)
		}
		parts = append(parts, text)
	}
	half := p.HalfS(o.sigmaCm/100, d.BothWays)
	terms := 2
	if d.BothWays {
		terms = 3
	}
	text := fmt.Sprintf("Drive %s: about %.0f minutes. Readings that scatter by %s cm then tell a lead to ± %.0f ms (95 %%)", strings.Join(parts, " and "), p.CostS(d)/60, wording.Trim(o.sigmaCm), 1000*half)
	if df := p.Passes() - terms; df > 0 {
		text += fmt.Sprintf(", or ± %.0f ms where the readings themselves are to tell how they scatter", 1000*half*regress.Quantile(0.05, df)/sample.Z95)
	}
	return text + "."
}

// sheet is the sheet to be printed. Slow and fast passes take turns, so that oil that grows warm does
// not look like a speed.
func (o *options) sheet(p *tape.Plan, answer string) string {
	var rows strings.Builder
	wayHead := ""
	if o.bothWays {
		wayHead = `<th scope="col">way</th>`
	}
	left := append([]tape.Leg{}, p.Legs...)
	for pass := 1; pass <= p.Passes(); pass++ {
		most := 0
		for i := range left {
			if share(&left[i], &p.Legs[i]) > share(&left[most], &p.Legs[most]) {
				most = i
			}
		}
		l, way := &left[most], "there"
		if l.Back > l.There || l.There == 0 {
			way = "back"
			l.Back--
		} else {
			l.There--
		}
		fmt.Fprintf(&rows, "<tr><td>%d</td><td>%s</td>", pass, wording.Trim(3.6*l.SpeedMps))
		if o.bothWays {
			fmt.Fprintf(&rows, "<td>%s</td>", way)
		}
		rows.WriteString("<td></td><td></td><td></td><td></td><td></td></tr>\n")
	}
	return strings.NewReplacer("{{answer}}", answer, "{{safety}}", terminalText(wording.StandClear), "{{wayhead}}", wayHead, "{{rows}}", rows.String()).Replace(planSheet)
}

// share is how much of a leg is still to be driven.
func share(left, all *tape.Leg) float64 { return float64(left.Passes()) / float64(all.Passes()) }
