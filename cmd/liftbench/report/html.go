// report.html: a run with its figures, in one file.

package report

import (
	"fmt"
	"io"
	"math"
	"strconv"

	"liftbench/cmd/liftbench/figure"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/web"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/diagnose"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sim"
)

// reportRow is a line of a table.
type reportRow struct {
	Name  string
	Cells []string
}

// WriteHTML writes the run as a page that needs no network.
func WriteHTML(o *run.Outcome, w io.Writer) error {
	p := newReportPage(o.Title+": lifts and drops", o.Title+": where each section worked", runVerdict(o), runAnswer(o))
	r := o.Score
	columns := []string{"Section", "ideal", "missed", "extra", "mean, ms", "95 %, ms", "worst, ms", "mean, cm", "95 %, cm", "worst, cm"}
	p.html("\n<h2>Lifts</h2>")
	p.numbers("Lifts by section", columns, moveRows(o, func(s *score.Section) *score.Stats { return &s.Lift }, &r.Lift))
	p.html("\n<h2>Drops</h2>")
	p.numbers("Drops by section", columns, moveRows(o, func(s *score.Section) *score.Stats { return &s.Drop }, &r.Drop))
	p.html("\n" + `<p class="quiet">Actual minus ideal: positive = late. 95 %: so many are no farther off.</p>`)
	p.html("\n<h2>Ground, m²</h2>")
	p.numbers("Ground by section", []string{"Section", "to work", "worked", "miss", "overrun", "of it across rows", "repeat"}, groundRows(o))
	p.text("\n"+`<p class="quiet">%s</p>`, workedOnce(o)+" "+toWork)
	p.figures(reportFigures(o))
	p.basis("What was run", runBasis(o))
	if len(o.Warnings) > 0 {
		p.list(o.Warnings)
	}
	p.text(`
<h2>Settings</h2>
<p class="quiet">As a scenario file; what is not named is at its default.</p>
<pre>%s</pre>
<p class="safety">%s</p>`, string(o.Setup.SettingText(strconv.Quote(o.Setup.FieldFile))), web.Safety)
	return p.end(w, o.Command)
}

// runVerdict says whether the scenario's limits hold, and names those that do not.
func runVerdict(o *run.Outcome) []string {
	limits := o.Limits(&o.Setup.Scenario.Limits)
	if len(limits) == 0 {
		return []string{"No limits are stated, so nothing says how good this drive has to be."}
	}
	if o.Wrong() != nil {
		return []string{"Not judged: the input contradicts the drive."}
	}
	var exceeded []string
	for i := range limits {
		if limits[i].Exceeded() {
			exceeded = append(exceeded, limits[i].String())
		}
	}
	switch {
	case exceeded == nil && len(limits) == 1:
		return []string{"Within the limit that the scenario states.", limits[0].String()}
	case exceeded == nil:
		return []string{fmt.Sprintf("Within all %d limits that the scenario states.", len(limits))}
	}
	return append([]string{fmt.Sprintf("Not within its limits: %d of %d exceeded.", len(exceeded), len(limits))}, exceeded...)
}

// runAnswer says the result of the run in a sentence.
func runAnswer(o *run.Outcome) string {
	s := ""
	if o.Suspicion != nil {
		s = o.Suspicion.Text + " "
	}
	for _, m := range []struct {
		name  string
		stats *score.Stats
	}{{"lifts", &o.Score.Lift}, {"drops", &o.Score.Drop}} {
		if m.stats.PlaceErrorM == nil {
			s += fmt.Sprintf("No %s to measure. ", m.name)
			continue
		}
		s += fmt.Sprintf("%d of %d %s within %.1f cm. ", (95*m.stats.Paired+99)/100, m.stats.Count, m.name, m.stats.PlaceErrorM.P95Abs*100)
	}
	a := &o.Score.Area
	return s + fmt.Sprintf("Of %.0f m² worked %.1f m² lie outside what was to be worked; %.1f m² were missed.", a.WorkedM2, a.OverrunM2, a.MissM2)
}

// moveRows are the figures of lifts or of drops: a row for each section and one
// for all.
func moveRows(o *run.Outcome, of func(*score.Section) *score.Stats, all *score.Stats) []reportRow {
	row := func(name string, s *score.Stats) reportRow {
		cells := []string{strconv.Itoa(s.Count), strconv.Itoa(s.Missed), strconv.Itoa(s.Spurious)}
		for _, x := range []struct {
			spread   *score.Spread
			perUnit  float64
			decimals int
		}{{s.TimeErrorS, 1e3, 0}, {s.PlaceErrorM, 1e2, 1}} {
			if x.spread == nil {
				cells = append(cells, "–", "–", "–")
				continue
			}
			for _, v := range []float64{x.spread.Mean, x.spread.P95Abs, x.spread.MaxAbs} {
				cells = append(cells, string(wording.AppendFixed(nil, v*x.perUnit, x.decimals)))
			}
		}
		return reportRow{name, cells}
	}
	var rows []reportRow
	for i := range o.Score.Sections {
		rows = append(rows, row(strconv.Itoa(i+1), of(&o.Score.Sections[i])))
	}
	return append(rows, row("all", all))
}

// groundRows are the areas: a row for each section and one for all.
func groundRows(o *run.Outcome) []reportRow {
	row := func(name string, a *score.Areas) reportRow {
		r := reportRow{Name: name}
		for _, m2 := range []float64{a.PassedM2, a.WorkedM2, a.MissM2, a.OverrunM2, a.AcrossRowsM2, a.RepeatM2} {
			r.Cells = append(r.Cells, string(wording.AppendFixed(nil, m2, 1)))
		}
		return r
	}
	var rows []reportRow
	for i := range o.Score.Sections {
		rows = append(rows, row(strconv.Itoa(i+1), &o.Score.Sections[i].Area))
	}
	return append(rows, row("all", &o.Score.Area))
}

// reportFigures are the page's figures. They do not move.
func reportFigures(o *run.Outcome) []reportFigure {
	r := o.Score
	var out []reportFigure
	add := func(title, svg, sentence string) {
		out = append(out, reportFigure{title, svg, sentence})
	}
	title := "Where the sections worked"
	add(title, figure.Ground(title, o.Field, r.Strips), fmt.Sprintf("%.1f m² missed, %.1f m² overrun, of it %.1f m² across the rows.", r.Area.MissM2, r.Area.OverrunM2, r.Area.AcrossRowsM2))
	title = "Where they were late"
	caption := fmt.Sprintf("A mark a lift or drop; on time is within %g cm.", figure.OnTimeM*100)
	var runs []figure.Run
	for _, x := range o.StraightRuns {
		runs = append(runs, figure.Run{From: x.From, To: x.To, Short: x.LineM < o.Straight.LineM})
	}
	if runs != nil {
		caption += fmt.Sprintf(" From the cross-bar on, %.1f m before the bar meets the border, the tractor has to be on its line; a dashed line: it was not.", o.Straight.LineM)
	}
	add(title, figure.OnPlan(title, o.Field, r.Events, runs), caption)
	moves := []struct {
		on         bool
		name, what string
	}{{false, "Lifts", "lift"}, {true, "Drops", "drop"}}
	for _, m := range moves {
		if svg, sentence := worstCrossing(o, m.on); svg != "" {
			add("The worst "+m.what+" in close-up", svg, sentence)
		}
	}
	lift, drop := diagnose.Line(r.Events)
	for i, fit := range [...]*diagnose.Fit{&lift, &drop} {
		title := moves[i].name + ": error over speed"
		add(title, figure.ErrorOverSpeed(title, r.Events, moves[i].on, Line(fit)), speedSentence(fit))
	}
	for _, m := range moves {
		title := m.name + ": error by section"
		add(title, figure.BySection(title, r.Events, m.on, len(r.Sections)), "A box that stands apart is one valve; all boxes off alike are the machine or its settings.")
	}
	return out
}

// worstCrossing draws the crossing with the largest place error; "" if no
// transition has both an ideal and an actual instant.
func worstCrossing(o *run.Outcome, on bool) (svg, sentence string) {
	events := o.Score.Events
	worst := -1
	for i := range events {
		if e := &events[i]; e.Kind == score.Paired && e.On == on && (worst < 0 || math.Abs(e.PlaceErrorM) > math.Abs(events[worst].PlaceErrorM)) {
			worst = i
		}
	}
	if worst < 0 {
		return "", ""
	}
	var tools []figure.Tool
	from, until := events[worst].IdealNs, events[worst].IdealNs
	for _, k := range web.Together(events, worst) {
		e := &events[k]
		t := figure.Tool{Event: e, CommandNs: web.CommandNs(o.Setpoints, e)}
		if o.Heights != nil {
			profile := o.Heights[e.Section]
			t.HeightM = profile.AtM
		}
		tools = append(tools, t)
		for _, ns := range [...]int64{e.IdealNs, e.ActualNs, t.CommandNs} {
			if ns != 0 {
				from, until = min(from, ns), max(until, ns)
			}
		}
	}
	// Section by section from the left.
	for i := range tools {
		for j := i; j > 0 && tools[j].Event.Section < tools[j-1].Event.Section; j-- {
			tools[j], tools[j-1] = tools[j-1], tools[j]
		}
	}
	const beforeNs, afterNs = 500e6, 1400e6 // room for the errors' text
	p := o.Machine.Params()
	e := &events[worst]
	title := "The worst drop in close-up"
	if !on {
		title = "The worst lift in close-up"
	}
	svg = figure.Crossing(title, tools, from-beforeNs, until+afterNs, p.WorkingDepthM, p.EffectiveDepthM, p.RaisedM)
	return svg, fmt.Sprintf("Section %d at %.1f km/h, %s cm and %s ms. Dot: the command reaches the valve; dashed: ideal; thick: actual; line: height of the tool, in work below the dotted one.",
		e.Section+1, e.SpeedMps*3.6, signed(e.PlaceErrorM*100, 1), signed(e.TimeErrorS*1e3, 0))
}

// runBasis lists the settings of the run.
func runBasis(o *run.Outcome) []basisRow {
	m := o.Machine
	set := run.Job(o.Setup).Settings
	lead := func(l *sections.Lead, auto bool) string {
		s := fmt.Sprintf("%.0f ms", float64(l.AloneNs())*1e-6)
		if auto {
			s += ", from the hydraulics"
		}
		return s
	}
	states := "recorded"
	if o.Simulated {
		states = "simulated hydraulics"
	}
	r, c := &o.Reception, o.Sentences()
	rate := "nothing worked"
	if x := o.Rate(o.Machine.WidthM()); x.HaPerH > 0 {
		rate = rateOfWork(o, &x)
	}
	return []basisRow{
		{"Machine", machineText(o)},
		{"Edge rule", m.Controller.EdgeRule.String()},
		{"Lift lead", lead(&set.LiftLead, m.Controller.LiftLead.Auto)},
		{"Drop lead", lead(&set.DropLead, m.Controller.DropLead.Auto)},
		{"Drive", fmt.Sprintf("%s, %.2f km", wording.Clock(o.DurationS), o.DistanceM/1000)},
		{"Work rate", rate},
		{"Straight run", straightRow(o)},
		{"Rows", rowsRow(o)},
		{"Work states", states},
		{"Receiver", fmt.Sprintf("%s, %d with a position, %s, %s over %g s, %s", wording.Counted(int(r.Epochs), "epoch"), r.Fixes, rateText(r), wording.Counted(int(r.Gaps), "gap"), sim.GapS, qualityText(r))},
		{"Sentences", fmt.Sprintf("%d read; %d bad checksum, %d malformed, %d of other kinds", c.OK, c.BadChecksum, c.Malformed, c.Unknown)},
	}
}

// straightRow says how long the straight run has to be.
func straightRow(o *run.Outcome) string {
	if len(o.StraightRuns) == 0 {
		return "not known"
	}
	return run.NeedText(o.Straight)
}

// rowsRow says how far the tools ran beside the rows.
func rowsRow(o *run.Outcome) string {
	if len(o.Rows) == 0 {
		return "the field does not say where they lie"
	}
	return besideRows(o)
}
