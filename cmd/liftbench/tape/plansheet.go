// The plan: which passes to drive, in words and as a sheet to be printed.

package tape

import (
	_ "embed"
	"fmt"
	"html"
	"io"
	"math"
	"regexp"
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
var planFrame string

// placeOfText is where a text of the catalogue stands on a page.
var placeOfText = regexp.MustCompile(`\{\{text\("([a-z.0-9]+)"\)\}\}`)

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
			_, err := io.WriteString(w, o.planSheet(&p, answer))
			return err
		}}}); err != nil {
			return err
		}
	}
	var b strings.Builder
	b.WriteString(wording.Wrap("", "", answer) + "\n" + wording.Wrap("", "", o.say.Text("plan.measure")))
	if o.out == "" {
		b.WriteString(wording.Wrap("", "", o.say.Text("plan.hint")))
	}
	o.say.safety(&b)
	_, err := io.WriteString(out, b.String())
	return err
}

// planAnswer says in a few sentences what to drive and what that tells.
func (o *options) planAnswer(p *tape.Plan, d tape.Driving) string {
	t, passes := o.say, ""
	for i := range p.Legs {
		l := &p.Legs[i]
		text := t.Text("plan.leg", "n", l.Passes(), "speed", t.kmh(l.SpeedMps))
		if d.BothWays {
			text = t.Text("plan.ways", "passes", text, "there", l.There, "back", l.Back)
		}
		if passes == "" {
			passes = text
		} else {
			passes = t.Text("and", "one", passes, "other", text)
		}
	}
	half := p.HalfS(o.sigmaCm/100, d.BothWays)
	terms := 2
	if d.BothWays {
		terms = 3
	}
	guess := ""
	if df := p.Passes() - terms; df > 0 {
		guess = t.Text("plan.guess", "ms", t.Number(1000*half*regress.Quantile(0.05, df)/sample.Z95, 0))
	}
	return t.Text("plan.answer", "passes", passes, "n", int(math.Round(p.CostS(d)/60)), "cm", t.trim(o.sigmaCm, 2), "ms", t.Number(1000*half, 0), "guess", guess)
}

// planSheet is the sheet to be printed. Slow and fast passes take turns, so that oil that grows warm
// does not look like a speed.
func (o *options) planSheet(p *tape.Plan, answer string) string {
	t := o.say
	var rows strings.Builder
	wayHead := ""
	if o.bothWays {
		wayHead = `<th scope="col">` + t.Text("plan.head.way") + `</th>`
	}
	left := append([]tape.Leg{}, p.Legs...)
	for pass := 1; pass <= p.Passes(); pass++ {
		most := 0
		for i := range left {
			if share(&left[i], &p.Legs[i]) > share(&left[most], &p.Legs[most]) {
				most = i
			}
		}
		l, way := &left[most], t.Text("plan.there")
		if l.Back > l.There || l.There == 0 {
			way = t.Text("plan.back")
			l.Back--
		} else {
			l.There--
		}
		fmt.Fprintf(&rows, "<tr><td>%d</td><td>%s</td>", pass, t.kmh(l.SpeedMps))
		if o.bothWays {
			fmt.Fprintf(&rows, "<td>%s</td>", way)
		}
		rows.WriteString("<td></td><td></td><td></td><td></td><td></td></tr>\n")
	}
	page := strings.NewReplacer("{{lang}}", t.Language.String(), "{{answer}}", answer, "{{safety}}", strings.ReplaceAll(wording.StandClearIn(t.Language), "\n", " "), "{{wayhead}}", wayHead, "{{rows}}", rows.String()).Replace(planFrame)
	return placeOfText.ReplaceAllStringFunc(page, func(place string) string {
		return html.EscapeString(t.Text(placeOfText.FindStringSubmatch(place)[1]))
	})
}

// share is how much of a leg is still to be driven.
func share(left, all *tape.Leg) float64 { return float64(left.Passes()) / float64(all.Passes()) }
