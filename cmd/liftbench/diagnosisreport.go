// diagnosis.html: the answer with its figures, in one file.

package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"liftbench/cmd/liftbench/figure"
	"liftbench/replay/diagnose"
	"liftbench/sections"
	"liftbench/sections/score"
)

// writeReport writes the answer as a page that needs no network.
func (d *diagnosis) writeReport(w io.Writer) error {
	p := newReportPage(d.title+": diagnosis", d.title+": why lifts and drops were late", d.answerText())
	if len(d.Causes) > 0 {
		p.html(`
<h2>Why, and what to change</h2>
<table class="causes">
<thead><tr><th scope="col">Cause</th><th scope="col">Size (95 % interval)</th><th scope="col">Evidence</th><th scope="col">What to change</th></tr></thead>
<tbody>`)
		for i := range d.Causes {
			c := &d.Causes[i]
			p.text("\n"+`<tr><th scope="row">%s</th><td class="size">%s</td><td>%s</td><td>%s</td></tr>`,
				causeText(c), sizeText(c.Size, &c.CI95, c.Unit), c.Evidence, c.Change)
		}
		p.html("\n</tbody>\n</table>")
		if d.sendsToMachine() {
			p.text("\n"+`<p class="safety">%s</p>`, safetyText)
		}
	}
	if len(d.CannotTell) > 0 {
		var items []string
		for i := range d.CannotTell {
			items = append(items, d.CannotTell[i].Why+" "+d.CannotTell[i].Drive)
		}
		p.html("\n<h2>What this day cannot tell</h2>")
		p.list(items)
	}
	p.html(`
<h2>How late</h2>
<table>
<thead><tr><td></td><th scope="col">Lifts</th><th scope="col">Drops</th></tr></thead>
<tbody>`)
	for _, r := range d.lateness() {
		p.text("\n"+`<tr><th scope="row">%s</th><td>%s</td><td>%s</td></tr>`, r.What, r.Lifts, r.Drops)
	}
	p.html(`
</tbody>
</table>
<p class="quiet">Actual minus ideal: positive = late; 95 % interval in brackets. Error = place error + speed × time error.</p>`)
	if where := d.where(); len(where) > 0 {
		p.html("\n<h2>Where</h2>")
		p.list(where)
	}
	p.figures(d.figures())
	p.basis("What this rests on", d.basis())
	return p.end(w, d.command)
}

// answerText is the answer in a sentence.
func (d *diagnosis) answerText() string {
	if len(d.Causes) == 0 {
		return d.nothingText()
	}
	var parts []string
	for i := range d.Causes {
		c := &d.Causes[i]
		parts = append(parts, causeText(c)+" "+sizeText(c.Size, nil, c.Unit))
	}
	return "Strongest first: " + strings.Join(parts, "; ") + "."
}

// reportFigure is one figure and the sentence that says what to see.
type reportFigure struct {
	Title    string
	SVG      string // made by package figure, which escapes what it is given
	Sentence string
}

func (d *diagnosis) figures() []reportFigure {
	events := d.events
	n := len(d.Score.Sections)
	var out []reportFigure
	add := func(title, svg, sentence string) {
		out = append(out, reportFigure{title, svg, sentence})
	}
	for _, m := range []struct {
		on   bool
		name string
		fit  *diagnose.Fit
	}{{false, "Lifts", &d.Lift}, {true, "Drops", &d.Drop}} {
		title := m.name + ": error over speed"
		add(title, figure.ErrorOverSpeed(title, events, m.on, line(m.fit)), speedSentence(m.fit))
	}
	for _, m := range []struct {
		on   bool
		name string
	}{{false, "Lifts"}, {true, "Drops"}} {
		title := m.name + ": error by section"
		add(title, figure.BySection(title, events, m.on, n), d.sectionSentence(m.on))
	}
	title := "Where on the field"
	add(title, figure.OnPlan(title, d.field, events), d.planSentence())
	title = "Over the day"
	add(title, figure.OverDay(title, events), d.daySentence())
	return out
}

// line is the fit as a figure draws it; nil where the data give none.
func line(f *diagnose.Fit) *figure.Line {
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

// speedSentence says what the line over speed shows.
func speedSentence(f *diagnose.Fit) string {
	if f.TimeErrorS == nil || f.PlaceErrorM == nil {
		return "No line: the speeds are too much alike, or the transitions too few, to part time from place."
	}
	way := "rises"
	if *f.TimeErrorS < 0 {
		way = "falls"
	}
	slope := fmt.Sprintf("The line %s by %.1f cm for each km/h, a time error of %s ms", way, math.Abs(*f.TimeErrorS)*100/3.6, signed(*f.TimeErrorS*1e3, 0))
	if holdsZero(f.TimeErrorCI) {
		slope = "The line is level within its band: no time error"
	}
	height := fmt.Sprintf("at standstill it stands at %s cm, a place error", signed(*f.PlaceErrorM*100, 1))
	if holdsZero(f.PlaceErrorCI) {
		height = "at standstill it meets zero within its band: no place error"
	}
	return slope + "; " + height + "."
}

func holdsZero(i *diagnose.Interval) bool { return i != nil && i[0] <= 0 && i[1] >= 0 }

// sectionSentence compares the sections' boxes.
func (d *diagnosis) sectionSentence(on bool) string {
	lo, hi, section := math.Inf(1), math.Inf(-1), 0
	of := make([][]float64, len(d.Score.Sections))
	for i := range d.events {
		if e := &d.events[i]; e.Kind == score.Paired && e.On == on {
			of[e.Section] = append(of[e.Section], e.TimeErrorS*1e3)
		}
	}
	for i, ms := range of {
		if len(ms) == 0 {
			continue
		}
		m := medianOf(ms)
		lo = min(lo, m)
		if m > hi {
			hi, section = m, i+1
		}
	}
	if section == 0 {
		return "Nothing to compare."
	}
	return fmt.Sprintf("Medians lie from %s to %s ms; section %d is the latest. A box that stands apart is one valve, all boxes off alike are the machine or its settings.",
		signed(lo, 0), signed(hi, 0), section)
}

// planSentence says what stands on the plan.
func (d *diagnosis) planSentence() string {
	var late, early, onTime int
	for i := range d.events {
		switch e := &d.events[i]; {
		case e.Kind != score.Paired:
		case e.PlaceErrorM > figure.OnTimeM:
			late++
		case e.PlaceErrorM < -figure.OnTimeM:
			early++
		default:
			onTime++
		}
	}
	return fmt.Sprintf("%d late, %d early, %d within %g cm, %d missed, %d extra. Large marks that lie together along one border speak against that piece of it; spread over all borders, against the machine.",
		late, early, onTime, figure.OnTimeM*100, d.lifts.Missed+d.drops.Missed, d.lifts.Spurious+d.drops.Spurious)
}

// daySentence compares the day's beginning with its end.
func (d *diagnosis) daySentence() string {
	var ms []float64
	for i := range d.events {
		if e := &d.events[i]; e.Kind == score.Paired {
			ms = append(ms, e.TimeErrorS*1e3)
		}
	}
	k := len(ms) / 4
	if k < fewestForMedian {
		return "Too few transitions to compare the day's beginning with its end."
	}
	first, last := medianOf(ms[:k]), medianOf(ms[len(ms)-k:])
	return fmt.Sprintf("The first quarter of the transitions has a median of %s ms, the last %s ms. Lateness that fades with running time is cold oil; a step is a change of speed, setting or reception.",
		signed(first, 0), signed(last, 0))
}

// basisRow is a fact or a setting that the answer rests on.
type basisRow struct{ Name, Value string }

// basis lists what was taken for true.
func (d *diagnosis) basis() []basisRow {
	m, c := d.machine, &d.machine.Controller
	lead := func(l *sections.Lead, auto bool) string {
		s := fmt.Sprintf("%.0f ms", float64(l.AloneNs())*1e-6)
		if auto {
			s += ", from the hydraulics"
		}
		if l.FedAtOnce > 0 {
			s += fmt.Sprintf("; longer where more than %s sections move at once", trim(l.FedAtOnce))
		}
		return s
	}
	headland := "as in the field's file"
	if d.headlandM > 0 {
		headland = fmt.Sprintf("%s m along the boundary", trim(d.headlandM))
	}
	s := d.sentences()
	return []basisRow{
		{"Machine", d.machineText()},
		{"Antenna", fmt.Sprintf("%s m ahead of the rear axle, %s m right", trim(m.Antenna.ForwardM), trim(m.Antenna.RightM))},
		{"Bar", fmt.Sprintf("%s m ahead of the rear axle, mount: %s", trim(m.Tool.ForwardM), m.Mount)},
		{"Edge rule", c.EdgeRule},
		{"Lift lead", lead(&d.settings.LiftLead, c.LiftLead.auto)},
		{"Drop lead", lead(&d.settings.DropLead, c.DropLead.auto)},
		{"Row tolerance", fmt.Sprintf("%s°, no work on paths tighter than %s m", trim(c.RowToleranceDeg), trim(c.MinWorkRadiusM))},
		{"Headland", headland},
		{"Drive", d.driveText()},
		{"Work states", d.statesText()},
		{"Receiver", d.receptionText()},
		{"Sentences", fmt.Sprintf("%d read; %d bad checksum, %d malformed, %d of other kinds", s.OK, s.BadChecksum, s.Malformed, s.Unknown)},
	}
}
