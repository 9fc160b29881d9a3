// diagnosis.html: the answer with its figures, in one file.

package report

import (
	"io"
	"math"
	"strings"

	"liftbench/cmd/liftbench/figure"
	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/sentence"
	"liftbench/replay/diagnose"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

// dayPage writes what a diagnosis says, in a language.
type dayPage struct {
	*run.Diagnosis
	t language.Texts
}

// WriteDiagnosisHTML writes the answer as a page that needs no network, in the language of the outcome.
func WriteDiagnosisHTML(d *run.Diagnosis, w io.Writer) error {
	r := &dayPage{d, catalogue().In(d.Language)}
	t := r.t
	before, answer := r.answerOf()
	p := newReportPageIn(t.Language, t.Text("why.tab", "title", d.Title), t.Text("why.heading", "title", d.Title), nil, answer)
	for _, s := range before {
		p.text("\n"+`<p>%s <span lang="en">%s</span></p>`, t.Text("why.english"), s)
	}
	if len(d.Causes) > 0 {
		p.text(`
<h2>%s</h2>
<table class="causes">
<thead><tr><th scope="col">%s</th><th scope="col">%s</th><th scope="col">%s</th><th scope="col">%s</th></tr></thead>
<tbody>`, t.Text("why"), t.Text("why.cause"), t.Text("why.size"), t.Text("why.evidence"), t.Text("why.change"))
		for i := range d.Causes {
			c := &d.Causes[i]
			p.text("\n"+`<tr><th scope="row">%s</th><td class="size">%s</td>`, r.cause(c), r.size(c.Size, &c.CI95, c.Unit))
			for _, sentence := range []string{c.Evidence, c.Change} {
				r.said(p, "td", sentence)
			}
			p.html("</tr>")
		}
		p.html("\n</tbody>\n</table>")
		if r.sendsToMachine() {
			p.text("\n"+`<p class="safety">%s</p>`, t.Text("why.safety"))
		}
	}
	if len(d.CannotTell) > 0 {
		var items []string
		for i := range d.CannotTell {
			items = append(items, d.CannotTell[i].Why+" "+d.CannotTell[i].Drive)
		}
		p.text("\n<h2>%s</h2>", t.Text("why.cannot"))
		r.list(p, items)
	}
	if len(d.ZonesFound) > 0 {
		p.text("\n<h2>%s</h2>", t.Text("why.zones"))
		r.list(p, d.ZonesFound)
	}
	p.text(`
<h2>%s</h2>
<table>
<thead><tr><td></td><th scope="col">%s</th><th scope="col">%s</th></tr></thead>
<tbody>`, t.Text("why.late"), t.Text("lifts"), t.Text("drops"))
	for _, x := range r.lateness() {
		p.text("\n"+`<tr><th scope="row">%s</th><td>%s</td><td>%s</td></tr>`, x.What, x.Lifts, x.Drops)
	}
	p.html("\n</tbody>\n</table>")
	p.text("\n"+`<p class="quiet">%s</p>`, r.lineSentence())
	if where := r.where(); len(where) > 0 {
		p.text("\n<h2>%s</h2>", t.Text("why.where"))
		p.list(where)
	}
	p.figuresUnder(t.Text("figures"), r.figures())
	p.basis(t.Text("why.basis"), r.basis())
	if len(d.Warnings) > 0 {
		r.list(p, d.Warnings)
	}
	return p.endAgain(w, t.Text("again"), d.Command)
}

// said writes sentences of the diagnosis as an element; those that are not known in its language stay English.
func (r *dayPage) said(p *reportPage, tag, english string) {
	lang := ""
	text, ok := sentence.In(r.t.Language, english)
	if !ok {
		lang = ` lang="en"`
	}
	p.text("<"+tag+lang+">%s</"+tag+">", text)
}

// list writes sentences of the diagnosis as a list.
func (r *dayPage) list(p *reportPage, sentences []string) {
	p.html("\n<ul>")
	for _, s := range sentences {
		p.html("\n")
		r.said(p, "li", s)
	}
	p.html("\n</ul>")
}

// answerOf is the answer of the page, after what is most likely wrong and what the times are worth. Where that is
// not known in the page's language it stands before it, in English.
func (r *dayPage) answerOf() (english []string, answer string) {
	if r.Suspicion != nil {
		english = append(english, r.Suspicion.Text)
	}
	if r.Sampling != nil && r.Sampling.Text != "" {
		english = append(english, r.Sampling.Text+".")
	}
	before := strings.Join(append(english, ""), " ")
	if said, ok := sentence.In(r.t.Language, strings.TrimSpace(before)); ok {
		return nil, strings.TrimSpace(said + " " + r.strongest())
	}
	return english, r.strongest()
}

// strongest is the answer in a sentence.
func (r *dayPage) strongest() string {
	if len(r.Causes) == 0 {
		return r.nothing()
	}
	var parts []string
	for i := range r.Causes {
		c := &r.Causes[i]
		parts = append(parts, r.cause(c)+" "+r.size(c.Size, nil, c.Unit))
	}
	return r.t.Text("why.strongest", "list", strings.Join(parts, "; "))
}

// reportFigure is one figure with the sentence that says what to look for in
// it.
type reportFigure struct {
	Title    string
	SVG      string // made by package figure, which escapes what it is given
	Sentence string
}

// figures are the page's figures.
func (r *dayPage) figures() []reportFigure {
	events, t, l := r.Events, r.t, r.t.Language
	n := len(r.Score.Sections)
	var out []reportFigure
	add := func(title, svg, sentence string) {
		out = append(out, reportFigure{title, svg, sentence})
	}
	for on, title := range [...]string{t.Text("figure.speed.lifts"), t.Text("figure.speed.drops")} {
		fit := [...]*diagnose.Fit{&r.Lift, &r.Drop}[on]
		add(title, figure.ErrorOverSpeed(l, title, events, on == 1, Line(fit)), speedSentence(t, fit))
	}
	for on, title := range [...]string{t.Text("figure.section.lifts"), t.Text("figure.section.drops")} {
		if n == 1 {
			break // nothing to compare
		}
		add(title, figure.BySection(l, title, events, on == 1, n), r.sectionSentence(on == 1))
	}
	title := t.Text("why.plan")
	add(title, figure.OnPlan(l, title, r.Field, events, nil), r.planSentence())
	title = t.Text("why.day")
	add(title, figure.OverDay(l, title, events), r.daySentence())
	return out
}

// Line returns the fitted line as a figure draws it; nil if the data give none.
func Line(f *diagnose.Fit) *figure.Line {
	if f.TimeErrorS == nil || f.PlaceErrorM == nil {
		return nil
	}
	return &figure.Line{
		PlaceErrorM: *f.PlaceErrorM, TimeErrorS: *f.TimeErrorS,
		HalfWidthM: func(v float64) float64 {
			_, ci, ok := f.Band(v)
			if !ok {
				return 0
			}
			return (ci[1] - ci[0]) / 2
		},
	}
}

func holdsZero(i *diagnose.Interval) bool { return i != nil && i[0] <= 0 && i[1] >= 0 }

// sectionSentence compares the sections' boxes.
func (r *dayPage) sectionSentence(on bool) string {
	lo, hi, section := math.Inf(1), math.Inf(-1), 0
	of := make([][]float64, len(r.Score.Sections))
	for i := range r.Events {
		if e := &r.Events[i]; e.Kind == score.Paired && e.On == on {
			of[e.Section] = append(of[e.Section], e.TimeErrorS*1e3)
		}
	}
	for i, ms := range of {
		if len(ms) == 0 {
			continue
		}
		m := sample.Median(ms)
		lo = min(lo, m)
		if m > hi {
			hi, section = m, i+1
		}
	}
	if section == 0 {
		return r.t.Text("why.section.none")
	}
	return r.t.Text("why.section", "low", r.t.Signed(lo, 0), "high", r.t.Signed(hi, 0), "section", section, "caption", r.t.Text("figure.section.caption"))
}

// planSentence says what the plan shows.
func (r *dayPage) planSentence() string {
	var late, early, onTime int
	for i := range r.Events {
		switch e := &r.Events[i]; {
		case e.Kind != score.Paired:
		case e.PlaceErrorM > figure.OnTimeM:
			late++
		case e.PlaceErrorM < -figure.OnTimeM:
			early++
		default:
			onTime++
		}
	}
	return r.t.Text("why.plan.caption", "late", late, "early", early, "ontime", onTime, "cm", r.t.Number(figure.OnTimeM*100, 0),
		"missed", r.Lifts.Missed+r.Drops.Missed, "extra", r.Lifts.Spurious+r.Drops.Spurious)
}

// daySentence compares the day's beginning with its end, of lifts and of drops.
func (r *dayPage) daySentence() string {
	var ms [2][]float64
	for i := range r.Events {
		if e := &r.Events[i]; e.Kind == score.Paired {
			way := 0
			if e.On {
				way = 1
			}
			ms[way] = append(ms[way], e.TimeErrorS*1e3)
		}
	}
	t, text := r.t, ""
	for way := range ms {
		k := len(ms[way]) / 4
		if k < fewestForMedian {
			continue
		}
		from, to := t.Signed(sample.Median(ms[way][:k]), 0), t.Signed(sample.Median(ms[way][len(ms[way])-k:]), 0)
		one := t.Text("why.day.lifts", "from", from, "to", to)
		if way == 1 {
			one = t.Text("why.day.drops", "from", from, "to", to)
		}
		if text == "" {
			text = one
		} else {
			text = t.Text("why.and.for", "one", text, "other", one)
		}
	}
	if text == "" {
		return t.Text("why.day.few")
	}
	return t.Text("why.day.caption", "list", text)
}

// basisRow is one fact or setting on which the answer rests.
type basisRow struct{ Name, Value string }

// basis lists what the diagnosis took to be true.
func (r *dayPage) basis() []basisRow {
	t, m, c := r.t, r.Machine, &r.Machine.Controller
	lead := func(l *sections.Lead, auto bool) string {
		s := t.Unit(t.Number(float64(l.AloneNs())*1e-6, 0), "ms")
		if auto {
			s = t.Text("auto", "value", s)
		}
		if l.FedAtOnce > 0 {
			s = t.Text("basis.fed", "lead", s, "count", trimmed(t, l.FedAtOnce))
		}
		return s
	}
	headland := t.Text("headland.file")
	switch {
	case r.ZonesFound != nil:
		headland = t.Text("headland.found")
	case r.HeadlandM > 0:
		headland = t.Text("headland.width", "m", trimmed(t, r.HeadlandM))
	}
	run := &runPage{Outcome: r.Outcome, t: t}
	mount := [...]string{sections.RearRigid: t.Text("mount.rear"), sections.FrontRigid: t.Text("mount.front"), sections.Trailed: t.Text("mount.trailed")}[m.Mount]
	return []basisRow{
		{t.Text("basis.machine"), run.machine()},
		{t.Text("basis.antenna"), t.Text("basis.antenna.text", "forward", trimmed(t, m.Antenna.ForwardM), "right", trimmed(t, m.Antenna.RightM))},
		{t.Text("basis.bar"), t.Text("basis.bar.text", "forward", trimmed(t, m.Tool.ForwardM), "mount", mount)},
		{t.Text("basis.edge"), run.edge()},
		{t.Text("basis.lift"), lead(&r.Settings.LiftLead, c.LiftLead.Auto)},
		{t.Text("basis.drop"), lead(&r.Settings.DropLead, c.DropLead.Auto)},
		{t.Text("basis.tolerance"), t.Text("basis.tolerance.text", "deg", trimmed(t, c.RowToleranceDeg), "radius", trimmed(t, c.MinWorkRadiusM))},
		{t.Text("basis.headland"), headland},
		{t.Text("basis.drive"), r.drive()},
		{t.Text("basis.states"), r.states()},
		{t.Text("basis.receiver"), r.reception()},
		{t.Text("basis.sentences"), run.sentences()},
	}
}
