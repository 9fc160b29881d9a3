// diagnosis.html: the answer with its figures, in one file.

package report

import (
	"fmt"
	"io"
	"math"
	"strings"

	"liftbench/cmd/liftbench/figure"
	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/diagnose"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

// WriteDiagnosisHTML writes the answer as a page that needs no network.
func WriteDiagnosisHTML(d *run.Diagnosis, w io.Writer) error {
	p := newReportPage(d.Title+": diagnosis", d.Title+": why lifts and drops were late", nil, answerOf(d))
	if len(d.Causes) > 0 {
		p.html(`
<h2>Why, and what to change</h2>
<table class="causes">
<thead><tr><th scope="col">Cause</th><th scope="col">Size (95 % interval)</th><th scope="col">Evidence</th><th scope="col">What to change</th></tr></thead>
<tbody>`)
		for i := range d.Causes {
			c := &d.Causes[i]
			p.text("\n"+`<tr><th scope="row">%s</th><td class="size">%s</td><td>%s</td><td>%s</td></tr>`,
				CauseText(c), SizeText(c.Size, &c.CI95, c.Unit), c.Evidence, c.Change)
		}
		p.html("\n</tbody>\n</table>")
		if sendsToMachine(d) {
			p.text("\n"+`<p class="safety">%s</p>`, SafetyText)
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
	if len(d.ZonesFound) > 0 {
		p.html("\n<h2>Zones, found from the track</h2>")
		p.list(d.ZonesFound)
	}
	p.html(`
<h2>How late</h2>
<table>
<thead><tr><td></td><th scope="col">Lifts</th><th scope="col">Drops</th></tr></thead>
<tbody>`)
	for _, r := range lateness(d) {
		p.text("\n"+`<tr><th scope="row">%s</th><td>%s</td><td>%s</td></tr>`, r.What, r.Lifts, r.Drops)
	}
	p.html("\n</tbody>\n</table>")
	p.text("\n"+`<p class="quiet">%s</p>`, lineSentence(d))
	if where := where(d); len(where) > 0 {
		p.html("\n<h2>Where</h2>")
		p.list(where)
	}
	p.figures(diagnosisFigures(d))
	p.basis("What this rests on", diagnosisBasis(d))
	if len(d.Warnings) > 0 {
		p.list(d.Warnings)
	}
	return p.end(w, d.Command)
}

// answerOf is the answer of the page, after what is most likely wrong.
func answerOf(d *run.Diagnosis) string {
	if d.Suspicion != nil {
		return d.Suspicion.Text + " " + diagnosisAnswer(d)
	}
	return diagnosisAnswer(d)
}

// diagnosisAnswer is the answer in a sentence. Where the times are worth little, it says so
// first.
func diagnosisAnswer(d *run.Diagnosis) string {
	times := ""
	if d.Sampling != nil && d.Sampling.Text != "" {
		times = d.Sampling.Text + ". "
	}
	if len(d.Causes) == 0 {
		return times + nothingText(d)
	}
	var parts []string
	for i := range d.Causes {
		c := &d.Causes[i]
		parts = append(parts, CauseText(c)+" "+SizeText(c.Size, nil, c.Unit))
	}
	return times + "Strongest first: " + strings.Join(parts, "; ") + "."
}

// reportFigure is one figure with the sentence that says what to look for in
// it.
type reportFigure struct {
	Title    string
	SVG      string // made by package figure, which escapes what it is given
	Sentence string
}

func diagnosisFigures(d *run.Diagnosis) []reportFigure {
	events := d.Events
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
		add(title, figure.ErrorOverSpeed(language.English, title, events, m.on, Line(m.fit)), speedSentence(m.fit))
	}
	for _, m := range []struct {
		on   bool
		name string
	}{{false, "Lifts"}, {true, "Drops"}} {
		if n == 1 {
			break // nothing to compare
		}
		title := m.name + ": error by section"
		add(title, figure.BySection(language.English, title, events, m.on, n), sectionSentence(d, m.on))
	}
	title := "Where on the field"
	add(title, figure.OnPlan(language.English, title, d.Field, events, nil), planSentence(d))
	title = "Over the day"
	add(title, figure.OverDay(language.English, title, events), daySentence(d))
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

// speedSentence says what the line over speed shows.
func speedSentence(f *diagnose.Fit) string {
	if f.TimeErrorS == nil || f.PlaceErrorM == nil {
		return "No line: the speeds are too much alike, or the transitions too few, to tell a time from a place."
	}
	way := "rises"
	if *f.TimeErrorS < 0 {
		way = "falls"
	}
	slope := fmt.Sprintf("The line %s by %.1f cm for each km/h, late by a time of %s ms", way, math.Abs(*f.TimeErrorS)*100/3.6, signed(*f.TimeErrorS*1e3, 0))
	if holdsZero(f.TimeErrorCI) {
		slope = "The line is level within its band: nothing late by a time"
	}
	height := fmt.Sprintf("at standstill it stands at %s cm, late by a place", signed(*f.PlaceErrorM*100, 1))
	if holdsZero(f.PlaceErrorCI) {
		height = "at standstill it meets zero within its band: nothing late by a place"
	}
	return slope + "; " + height + "."
}

func holdsZero(i *diagnose.Interval) bool { return i != nil && i[0] <= 0 && i[1] >= 0 }

// sectionSentence compares the sections' boxes.
func sectionSentence(d *run.Diagnosis, on bool) string {
	lo, hi, section := math.Inf(1), math.Inf(-1), 0
	of := make([][]float64, len(d.Score.Sections))
	for i := range d.Events {
		if e := &d.Events[i]; e.Kind == score.Paired && e.On == on {
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
		return "Nothing to compare."
	}
	return fmt.Sprintf("Medians lie from %s to %s ms; section %d is the latest. A box that stands apart is one valve, all boxes off alike are the machine or its settings.",
		signed(lo, 0), signed(hi, 0), section)
}

// planSentence says what the plan shows.
func planSentence(d *run.Diagnosis) string {
	var late, early, onTime int
	for i := range d.Events {
		switch e := &d.Events[i]; {
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
		late, early, onTime, figure.OnTimeM*100, d.Lifts.Missed+d.Drops.Missed, d.Lifts.Spurious+d.Drops.Spurious)
}

// daySentence compares the day's beginning with its end, of lifts and of drops.
func daySentence(d *run.Diagnosis) string {
	var ms [2][]float64
	for i := range d.Events {
		if e := &d.Events[i]; e.Kind == score.Paired {
			way := 0
			if e.On {
				way = 1
			}
			ms[way] = append(ms[way], e.TimeErrorS*1e3)
		}
	}
	var parts []string
	for way, name := range [...]string{"lifts", "drops"} {
		if k := len(ms[way]) / 4; k >= fewestForMedian {
			parts = append(parts, fmt.Sprintf("%s from %s to %s ms", name, signed(sample.Median(ms[way][:k]), 0), signed(sample.Median(ms[way][len(ms[way])-k:]), 0)))
		}
	}
	if len(parts) == 0 {
		return "Too few transitions to compare the day's beginning with its end."
	}
	return "From the first quarter of the day's transitions to the last, the median goes for " + strings.Join(parts, ", for ") + ". Lateness that fades with running time is cold oil; a step is a change of speed, setting or reception."
}

// basisRow is one fact or setting on which the answer rests.
type basisRow struct{ Name, Value string }

// diagnosisBasis lists what the diagnosis took to be true.
func diagnosisBasis(d *run.Diagnosis) []basisRow {
	m, c := d.Machine, &d.Machine.Controller
	lead := func(l *sections.Lead, auto bool) string {
		s := fmt.Sprintf("%.0f ms", float64(l.AloneNs())*1e-6)
		if auto {
			s += ", from the hydraulics"
		}
		if l.FedAtOnce > 0 {
			s += fmt.Sprintf("; longer where more than %s sections move at once", wording.Trim(l.FedAtOnce))
		}
		return s
	}
	headland := "as in the field's file"
	switch {
	case d.ZonesFound != nil:
		headland = "found from the track"
	case d.HeadlandM > 0:
		headland = fmt.Sprintf("%s m along the boundary", wording.Trim(d.HeadlandM))
	}
	s := d.Sentences()
	return []basisRow{
		{"Machine", machineText(d.Outcome)},
		{"Antenna", fmt.Sprintf("%s m ahead of the rear axle, %s m right", wording.Trim(m.Antenna.ForwardM), wording.Trim(m.Antenna.RightM))},
		{"Bar", fmt.Sprintf("%s m ahead of the rear axle, mount: %s", wording.Trim(m.Tool.ForwardM), m.Mount)},
		{"Edge rule", c.EdgeRule.String()},
		{"Lift lead", lead(&d.Settings.LiftLead, c.LiftLead.Auto)},
		{"Drop lead", lead(&d.Settings.DropLead, c.DropLead.Auto)},
		{"Row tolerance", fmt.Sprintf("%s°, no work on paths tighter than %s m", wording.Trim(c.RowToleranceDeg), wording.Trim(c.MinWorkRadiusM))},
		{"Headland", headland},
		{"Drive", driveText(d)},
		{"Work states", statesText(d)},
		{"Receiver", receptionText(d)},
		{"Sentences", fmt.Sprintf("%d read; %d bad checksum, %d malformed, %d of other kinds", s.OK, s.BadChecksum, s.Malformed, s.Unknown)},
	}
}
