// report.html: a run with its figures, in one file.

package report

import (
	_ "embed"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"sync"

	"liftbench/cmd/liftbench/figure"
	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/web"
	"liftbench/cmd/liftbench/wording"
	"liftbench/nmea"
	"liftbench/replay/diagnose"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sections/score/rows"
	"liftbench/sim"
)

// reportRow is a line of a table.
type reportRow struct {
	Name  string
	Cells []string
}

//go:embed texts.json
var textsFile []byte

var catalogue = sync.OnceValue(func() language.Catalogue { return language.Load(textsFile) })

// runPage is the report of a run in the language of the outcome.
type runPage struct {
	*run.Outcome
	t language.Texts
}

// WriteHTML writes the run as a page that needs no network.
func WriteHTML(o *run.Outcome, w io.Writer) error {
	r := &runPage{o, catalogue().In(o.Language)}
	t := r.t
	p := newReportPageIn(t.Language, t.Text("tab", "title", o.Title), t.Text("heading", "title", o.Title), r.verdict(), r.answer())
	columns := []string{t.Text("section"), t.Text("ideal"), t.Text("missed"), t.Text("extra")}
	for _, unit := range []string{"ms", "cm"} {
		columns = append(columns, t.Text("mean", "unit", unit), t.Text("p95", "unit", unit), t.Text("worst", "unit", unit))
	}
	p.text("\n<h2>%s</h2>", t.Text("lifts"))
	p.numbers(t.Text("lifts.table"), columns, r.moveRows(func(s *score.Section) *score.Stats { return &s.Lift }, &o.Score.Lift))
	p.text("\n<h2>%s</h2>", t.Text("drops"))
	p.numbers(t.Text("drops.table"), columns, r.moveRows(func(s *score.Section) *score.Stats { return &s.Drop }, &o.Score.Drop))
	p.text("\n"+`<p class="quiet">%s</p>`, t.Text("signs"))
	p.text("\n<h2>%s</h2>", t.Text("ground"))
	p.numbers(t.Text("ground.table"), []string{t.Text("section"), t.Text("towork"), t.Text("worked"), t.Text("miss"), t.Text("overrun"), t.Text("across"), t.Text("repeat")}, r.groundRows())
	p.text("\n"+`<p class="quiet">%s</p>`, t.Text("once", "zones", r.ha(o.Score.ZoneM2), "once", r.ha(o.Score.WorkedOnceM2-o.Score.OutsideM2), "outside", t.Unit(t.Number(o.Score.OutsideM2, 0), "m²")))
	p.figuresUnder(t.Text("figures"), r.figures())
	p.basis(t.Text("basis"), r.basis())
	if len(o.Warnings) > 0 {
		if t.Language != language.English {
			p.text("\n<p>%s</p>", t.Text("notes"))
		}
		p.list(o.Warnings)
	}
	p.text(`
<h2>%s</h2>
<p class="quiet">%s</p>
<pre>%s</pre>
<p class="safety">%s</p>`, t.Text("settings"), t.Text("settings.text"), string(o.Setup.SettingText(strconv.Quote(filepath.ToSlash(o.Setup.FieldFile)))), t.Text("safety"))
	return p.endAgain(w, t.Text("again"), o.Command)
}

// ha, m2, cm and kmh are quantities with their units.
func (r *runPage) ha(m2 float64) string   { return r.t.Unit(r.t.Number(m2/1e4, 2), "ha") }
func (r *runPage) m2(m2 float64) string   { return r.t.Unit(r.t.Number(m2, 1), "m²") }
func (r *runPage) cm(m float64) string    { return r.t.Unit(r.t.Number(m*100, 1), "cm") }
func (r *runPage) kmh(mps float64) string { return r.t.Unit(r.t.Number(mps*3.6, 1), "km/h") }
func (r *runPage) m(m float64) string     { return r.t.Unit(r.t.Number(m, 1), "m") }
func (r *runPage) signedCm(m float64) string {
	return r.t.Unit(r.t.Signed(m*100, 1), "cm")
}
func (r *runPage) signedMs(s float64) string { return r.t.Unit(r.t.Signed(s*1e3, 0), "ms") }

// verdict says whether the scenario's limits hold, and names those that do not.
func (r *runPage) verdict() []string {
	t := r.t
	limits := r.Limits(&r.Setup.Scenario.Limits)
	if len(limits) == 0 {
		return []string{t.Text("verdict.none")}
	}
	if r.Wrong() != nil {
		return []string{t.Text("verdict.contradicted")}
	}
	say := func(c *run.LimitCheck) string {
		// Four digits, as the command prints them.
		number := func(x float64) string {
			s := strings.Replace(strconv.FormatFloat(x, 'g', 4, 64), ".", t.DecimalMark(), 1)
			if c.Unit != "" {
				s = t.Unit(s, c.Unit)
			}
			return s
		}
		if c.Nothing {
			return t.Text("limit.nothing", "key", c.Key, "limit", number(c.Limit))
		}
		return t.Text("limit", "key", c.Key, "found", number(c.Found), "limit", number(c.Limit))
	}
	var exceeded []string
	for i := range limits {
		if limits[i].Exceeded() {
			exceeded = append(exceeded, say(&limits[i]))
		}
	}
	switch {
	case exceeded == nil && len(limits) == 1:
		return []string{t.Text("verdict.kept", "n", 1), say(&limits[0])}
	case exceeded == nil:
		return []string{t.Text("verdict.kept", "n", len(limits))}
	}
	return append([]string{t.Text("verdict.exceeded", "exceeded", len(exceeded), "all", len(limits))}, exceeded...)
}

// answer says the result of the run in a sentence.
func (r *runPage) answer() string {
	t := r.t
	s := ""
	if r.Suspicion != nil {
		s = r.Suspicion.Text + " "
	}
	within := func(x *score.Stats) (within, all int, cm string) {
		return (95*x.Paired + 99) / 100, x.Count, r.cm(x.PlaceErrorM.P95Abs)
	}
	if x := &r.Score.Lift; x.PlaceErrorM == nil {
		s += t.Text("answer.nolifts") + " "
	} else {
		n, all, cm := within(x)
		s += t.Text("answer.lifts", "within", n, "all", all, "cm", cm) + " "
	}
	if x := &r.Score.Drop; x.PlaceErrorM == nil {
		s += t.Text("answer.nodrops") + " "
	} else {
		n, all, cm := within(x)
		s += t.Text("answer.drops", "within", n, "all", all, "cm", cm) + " "
	}
	a := &r.Score.Area
	return s + t.Text("answer.ground", "worked", t.Unit(t.Number(a.WorkedM2, 0), "m²"), "overrun", r.m2(a.OverrunM2), "miss", r.m2(a.MissM2))
}

// moveRows are the figures of lifts or of drops: a row for each section and one
// for all.
func (r *runPage) moveRows(of func(*score.Section) *score.Stats, all *score.Stats) []reportRow {
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
				cells = append(cells, r.t.Number(v*x.perUnit, x.decimals))
			}
		}
		return reportRow{name, cells}
	}
	var rows []reportRow
	for i := range r.Score.Sections {
		rows = append(rows, row(strconv.Itoa(i+1), of(&r.Score.Sections[i])))
	}
	return append(rows, row(r.t.Text("all"), all))
}

// groundRows are the areas: a row for each section and one for all.
func (r *runPage) groundRows() []reportRow {
	row := func(name string, a *score.Areas) reportRow {
		cells := reportRow{Name: name}
		for _, m2 := range []float64{a.PassedM2, a.WorkedM2, a.MissM2, a.OverrunM2, a.AcrossRowsM2, a.RepeatM2} {
			cells.Cells = append(cells.Cells, r.t.Number(m2, 1))
		}
		return cells
	}
	var rows []reportRow
	for i := range r.Score.Sections {
		rows = append(rows, row(strconv.Itoa(i+1), &r.Score.Sections[i].Area))
	}
	return append(rows, row(r.t.Text("all"), &r.Score.Area))
}

// figures are the page's figures. They do not move.
func (r *runPage) figures() []reportFigure {
	t, l, result := r.t, r.Language, r.Score
	var out []reportFigure
	add := func(title, svg, sentence string) {
		out = append(out, reportFigure{title, svg, sentence})
	}
	title := t.Text("figure.ground")
	add(title, figure.Ground(l, title, r.Field, result.Strips), t.Text("figure.ground.caption", "miss", r.m2(result.Area.MissM2), "overrun", r.m2(result.Area.OverrunM2), "across", r.m2(result.Area.AcrossRowsM2)))
	title = t.Text("figure.plan")
	caption := t.Text("figure.plan.caption", "cm", t.Unit(t.Number(figure.OnTimeM*100, 0), "cm"))
	var runs []figure.Run
	for _, x := range r.StraightRuns {
		runs = append(runs, figure.Run{From: x.From, To: x.To, Short: x.LineM < r.Straight.LineM})
	}
	if runs != nil {
		caption += " " + t.Text("figure.plan.runs", "line", r.m(r.Straight.LineM))
	}
	add(title, figure.OnPlan(l, title, r.Field, result.Events, runs), caption)
	for on, title := range [...]string{t.Text("figure.worst.lift"), t.Text("figure.worst.drop")} {
		if svg, sentence := r.worstCrossing(title, on == 1); svg != "" {
			add(title, svg, sentence)
		}
	}
	lift, drop := diagnose.Line(result.Events)
	for on, title := range [...]string{t.Text("figure.speed.lifts"), t.Text("figure.speed.drops")} {
		fit := [...]*diagnose.Fit{&lift, &drop}[on]
		add(title, figure.ErrorOverSpeed(l, title, result.Events, on == 1, Line(fit)), speedSentence(t, fit))
	}
	for on, title := range [...]string{t.Text("figure.section.lifts"), t.Text("figure.section.drops")} {
		add(title, figure.BySection(l, title, result.Events, on == 1, len(result.Sections)), t.Text("figure.section.caption"))
	}
	return out
}

// speedSentence says what the line over speed shows.
func speedSentence(t language.Texts, f *diagnose.Fit) string {
	if f.TimeErrorS == nil || f.PlaceErrorM == nil {
		return t.Text("line.none")
	}
	cm, ms := t.Unit(t.Number(math.Abs(*f.TimeErrorS)/3.6*100, 1), "cm"), t.Unit(t.Signed(*f.TimeErrorS*1e3, 0), "ms")
	slope := t.Text("line.rises", "cm", cm, "ms", ms)
	if *f.TimeErrorS < 0 {
		slope = t.Text("line.falls", "cm", cm, "ms", ms)
	}
	if holdsZero(f.TimeErrorCI) {
		slope = t.Text("line.level")
	}
	height := t.Text("line.height", "cm", t.Unit(t.Signed(*f.PlaceErrorM*100, 1), "cm"))
	if holdsZero(f.PlaceErrorCI) {
		height = t.Text("line.zero")
	}
	return slope + " " + height
}

// worstCrossing draws the crossing with the largest place error; "" if no
// transition has both an ideal and an actual instant.
func (r *runPage) worstCrossing(title string, on bool) (svg, sentence string) {
	o := r.Outcome
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
	svg = figure.Crossing(o.Language, title, tools, from-beforeNs, until+afterNs, p.WorkingDepthM, p.EffectiveDepthM, p.RaisedM)
	return svg, r.t.Text("figure.worst.caption", "section", int(e.Section)+1, "speed", r.kmh(e.SpeedMps), "cm", r.signedCm(e.PlaceErrorM), "ms", r.signedMs(e.TimeErrorS))
}

// basis lists the settings of the run.
func (r *runPage) basis() []basisRow {
	t, m := r.t, r.Machine
	set := run.Job(r.Setup).Settings
	lead := func(l *sections.Lead, auto bool) string {
		s := t.Unit(t.Number(float64(l.AloneNs())*1e-6, 0), "ms")
		if auto {
			s = t.Text("auto", "value", s)
		}
		return s
	}
	states := t.Text("states.recorded")
	if r.Simulated {
		states = t.Text("states.simulated")
	}
	rate := t.Text("rate.none")
	if x := r.Rate(m.WidthM()); x.HaPerH > 0 {
		rate = t.Text("rate", "rate", t.Number(x.HaPerH, 2), "share", t.Percent(x.Efficiency, 0), "width", r.width(), "speed", t.Unit(t.Number(x.SpeedKmh, 1), "km/h"))
	}
	return []basisRow{
		{t.Text("basis.machine"), r.machine()},
		{t.Text("basis.edge"), r.edge()},
		{t.Text("basis.lift"), lead(&set.LiftLead, m.Controller.LiftLead.Auto)},
		{t.Text("basis.drop"), lead(&set.DropLead, m.Controller.DropLead.Auto)},
		{t.Text("basis.drive"), wording.Clock(r.DurationS) + ", " + t.Unit(t.Number(r.DistanceM/1000, 2), "km")},
		{t.Text("basis.rate"), rate},
		{t.Text("basis.straight"), r.straight()},
		{t.Text("basis.rows"), r.rows()},
		{t.Text("basis.states"), states},
		{t.Text("basis.receiver"), r.receiver()},
		{t.Text("basis.sentences"), r.sentences()},
	}
}

// machine names the machine.
func (r *runPage) machine() string {
	name := r.Machine.Name
	if name == "" {
		name = r.Machine.Doc.File
	}
	return r.t.Text("basis.machine.text", "name", name, "n", len(r.Score.Sections), "width", r.width())
}

// edge names the edge rule.
func (r *runPage) edge() string {
	t := r.t
	return [...]string{sections.CropFirst: t.Text("edge.crop"), sections.WeedFirst: t.Text("edge.weed"), sections.Even: t.Text("edge.even")}[r.Machine.Controller.EdgeRule]
}

// width is the working width, with the decimals that it needs.
func (r *runPage) width() string { return r.t.Unit(trimmed(r.t, r.Machine.WidthM()), "m") }

// trimmed is a number with at most two decimals, without those that are zero.
func trimmed(t language.Texts, x float64) string {
	return strings.Replace(strings.Replace(wording.Trim(x), "-", "−", 1), ".", t.DecimalMark(), 1)
}

// straight says how long the straight run has to be.
func (r *runPage) straight() string {
	need := &r.Straight
	switch {
	case len(r.StraightRuns) == 0:
		return r.t.Text("unknown")
	case math.Abs(need.LineM-need.SteadyM) > 0.1:
		return r.t.Text("straight.steady", "line", r.m(need.LineM), "speed", r.kmh(need.SpeedMps), "steady", r.m(need.SteadyM))
	}
	return r.t.Text("straight", "line", r.m(need.LineM))
}

// rows says how far the tools ran beside the rows.
func (r *runPage) rows() string {
	if len(r.Rows) == 0 {
		return r.t.Text("rows.unknown")
	}
	rms, worst, crop := rows.Sum(r.Rows)
	return r.t.Text("rows", "n", len(r.Rows), "rms", r.cm(rms), "worst", r.cm(worst), "crop", r.m2(crop))
}

// receiver says what the receiver did.
func (r *runPage) receiver() string {
	t, c := r.t, &r.Reception
	return t.Text("receiver", "epochs", int(c.Epochs), "fixes", int(c.Fixes), "rate", rate(t, c), "gaps", int(c.Gaps), "gap", t.Unit(t.Number(sim.GapS, 1), "s"), "quality", quality(t, c))
}

// rate says how often a position arrived.
func rate(t language.Texts, c *sim.Reception) string {
	if s := c.MedianIntervalS(); s > 0 {
		return t.Unit(trimmed(t, 1/s), "Hz")
	}
	return t.Text("unknown")
}

// quality is the share of the epochs of each quality.
func quality(t language.Texts, c *sim.Reception) string {
	var mix []string
	for q, count := range c.ByQuality {
		if count > 0 {
			mix = append(mix, nmea.Quality(q).String()+" "+t.Percent(float64(count)/float64(c.Epochs), 1))
		}
	}
	return strings.Join(mix, ", ")
}

// sentences counts the sentences of the log.
func (r *runPage) sentences() string {
	c := r.Sentences()
	return r.t.Text("sentences", "read", int(c.OK), "bad", int(c.BadChecksum), "malformed", int(c.Malformed), "other", int(c.Unknown))
}
