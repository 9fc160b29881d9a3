// The sheet as one HTML file that needs no network and prints on A4.

package acceptance

import (
	_ "embed"
	"io"
	"math"
	"strings"

	"liftbench/cmd/liftbench/acceptance/tolerance"
	"liftbench/cmd/liftbench/figure"
	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/markup"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/version"
)

//go:embed texts.json
var textsFile []byte

//go:embed style.html
var style string

// writer writes one sheet.
type writer struct {
	*Sheet
	markup.Page
	language.Texts
	moves [2]move
}

// move is lifting, or dropping.
type move struct {
	name      string
	crossings []Crossing
	statement tolerance.Statement
}

// Write writes the sheet.
func (s *Sheet) Write(w io.Writer) error {
	p := &writer{Sheet: s, Texts: language.Load(textsFile).In(s.Language)}
	a := &s.Details.Agreed
	for i, m := range []struct {
		name    string
		list    []Crossing
		limitCm float64
	}{{p.Text("lifts"), s.Lifts, a.LiftCm}, {p.Text("drops"), s.Drops, a.DropCm}} {
		bare := make([]tolerance.Crossing, len(m.list))
		for k := range m.list {
			bare[k] = m.list[k].Crossing
		}
		p.moves[i] = move{m.name, m.list, tolerance.Judge(bare, tolerance.Agreed{LimitM: m.limitCm / 100, Share: a.Share / 100, Confidence: a.Confidence / 100})}
	}
	p.head()
	p.who()
	p.timing()
	p.statements()
	p.cautions()
	p.signatures()
	p.crossings()
	p.Page.Fill("\n</main>\n<footer>\n<p class=\"quiet\">liftbench %s.", version.String())
	if s.Command != "" {
		p.Page.Fill(" %s <code>%s</code>", p.Text("again"), s.Command)
	}
	p.HTML("</p>\n</footer>\n</body>\n</html>\n")
	_, err := io.WriteString(w, p.Page.String())
	return err
}

// Text returns a text of the catalogue in the sheet's language.
func (p *writer) Text(key string, values ...any) string { return p.Texts.Text(key, values...) }

// finding is that of both moves together: kept if both are, not kept if one is not.
func (p *writer) finding() tolerance.Finding {
	a, b := p.findingOf(&p.moves[0].statement), p.findingOf(&p.moves[1].statement)
	switch {
	case a == tolerance.Exceeded || b == tolerance.Exceeded:
		return tolerance.Exceeded
	case a == tolerance.Shown && b == tolerance.Shown:
		return tolerance.Shown
	}
	return tolerance.NotShown
}

// findingOf is what a statement shows of the machine: nothing where the input contradicts
// itself, and not that the tolerance is kept where a doubt could hide that it is not.
func (p *writer) findingOf(s *tolerance.Statement) tolerance.Finding {
	if p.Doubts.Contradicted || s.Finding == tolerance.Shown && p.Doubts.hide() {
		return tolerance.NotShown
	}
	return s.Finding
}

// head writes the verdict and what was agreed.
func (p *writer) head() {
	title := p.Text("title")
	p.Page.Fill("<!DOCTYPE html>\n<html lang=\"%s\">\n<head>\n<meta charset=\"utf-8\"/>\n", p.Texts.String())
	p.Page.Fill(`<meta name="viewport" content="width=device-width, initial-scale=1"/>
<meta name="color-scheme" content="light dark"/>
<title>%s</title>
`, title)
	p.HTML(markup.Style + style)
	verdict := p.Text("verdict.open")
	switch p.finding() {
	case tolerance.Shown:
		verdict = p.Text("verdict.shown")
	case tolerance.Exceeded:
		verdict = p.Text("verdict.exceeded")
	}
	switch {
	case p.Doubts.Contradicted:
		verdict = p.Text("verdict.contradicted")
	case p.Doubts.hide() && p.moves[0].statement.Finding == tolerance.Shown && p.moves[1].statement.Finding == tolerance.Shown:
		verdict = p.Text("verdict.doubted")
	case p.Source == Simulated:
		verdict = p.Text("verdict.computed", "verdict", verdict)
	}
	a := &p.Details.Agreed
	share, confidence := p.percents(&p.moves[0].statement)
	p.Page.Fill("</head>\n<body>\n<header>\n<h1>%s</h1>\n<div class=\"verdict\">\n<p class=\"answer\">%s</p>", title, verdict)
	p.Page.Fill("\n<p>%s</p>", p.source())
	p.Page.Fill("\n<p>%s</p>", p.Text("agreed", "share", share, "lift", p.limit(a.LiftCm), "drop", p.limit(a.DropCm), "confidence", confidence))
	for _, x := range []struct {
		holds bool
		text  string
	}{
		{!p.Details.Doc.Has("tolerance"), p.Text("agreed.default")},
		{p.Doubts.Commanded, p.Text("doubt.commanded")},
		{p.Doubts.OneState, p.Text("doubt.onestate")},
		{p.Doubts.BorderFound, p.Text("doubt.border")},
	} {
		if x.holds {
			p.Page.Fill("\n<p>%s</p>", x.text)
		}
	}
	p.HTML("\n</div>\n</header>\n<main>")
}

// source says where the crossings come from.
func (p *writer) source() string {
	switch p.Source {
	case Outside:
		return p.Text("source.outside")
	case Recorded:
		return p.Text("source.recorded")
	case Measured:
		return p.Text("source.measured")
	}
	return p.Text("source.simulated")
}

// who writes the table of those concerned; what is not known is a line to fill in.
func (p *writer) who() {
	d := p.Details
	p.Page.Fill("\n<h2>%s</h2>\n<div class=\"pair\">", p.Text("who"))
	made := func(m *settings.Made, name string) string {
		parts := []string{}
		if m.Model != "" {
			name = m.Model
		}
		if name != "" {
			parts = append(parts, name)
		}
		if m.Serial != "" {
			parts = append(parts, p.Text("serial", "number", string(m.Serial)))
		}
		if m.Software != "" {
			parts = append(parts, p.Text("software", "version", string(m.Software)))
		}
		return strings.Join(parts, ", ")
	}
	field := d.Field
	if field == "" {
		field = p.Field
	}
	day, err := d.Day()
	if err != nil || day.IsZero() {
		day = p.Day
	}
	date := ""
	if !day.IsZero() {
		date = p.Date(day)
	}
	type row struct{ name, value string }
	for _, half := range [][]row{
		{
			{p.Text("customer"), d.Customer}, {p.Text("supplier"), d.Supplier}, {p.Text("farm"), d.Farm}, {p.Text("field"), field},
			{p.Text("date"), date}, {p.Text("basis"), p.Title},
		},
		{
			{p.Text("machine"), made(&d.Machine, p.Machine)}, {p.Text("tractor"), made(&d.Tractor, "")}, {p.Text("terminal"), made(&d.Terminal, "")}, {p.Text("receiver"), made(&d.Receiver, "")},
			{p.Text("weather"), d.Weather}, {p.Text("soil"), d.Soil}, {p.Text("oil"), d.Oil},
		},
	} {
		p.HTML("\n<table>\n<tbody>")
		for _, r := range half {
			class := ""
			if r.value == "" {
				class = ` class="blank"`
			}
			p.Page.Fill("\n<tr><th scope=\"row\">%s</th><td"+class+">%s</td></tr>", r.name, r.value)
		}
		p.HTML("\n</tbody>\n</table>")
	}
	p.HTML("\n</div>")
}

// timing writes the settings before and after.
func (p *writer) timing() {
	old, before, after := &p.Details.Before, p.Before, p.After
	if old.LiftLeadMs != nil {
		before.LiftLeadMs, before.LiftAuto = old.LiftLeadMs, false
	}
	if old.DropLeadMs != nil {
		before.DropLeadMs, before.DropAuto = old.DropLeadMs, false
	}
	if old.AntennaForwardM != nil {
		before.AntennaForwardM = old.AntennaForwardM
	}
	if old.ToolForwardM != nil {
		before.ToolForwardM = old.ToolForwardM
	}
	p.Page.Fill("\n<h2>%s</h2>\n<table>\n<thead><tr><th scope=\"col\">%s</th><th scope=\"col\">%s</th><th scope=\"col\">%s</th></tr></thead>\n<tbody>",
		p.Text("settings"), p.Text("setting"), p.Text("before"), p.Text("after"))
	cell := func(x *float64, decimals int, unit string, auto bool) {
		if x == nil {
			p.HTML(`<td class="blank"></td>`)
			return
		}
		s := p.Unit(p.Number(*x, decimals), unit)
		if auto {
			s = p.Text("auto", "value", s)
		}
		p.Page.Fill("<td>%s</td>", s)
	}
	type row struct {
		name          string
		before, after *float64
		decimals      int
		unit          string
		was, is       bool
	}
	rows := []row{
		{p.Text("lead.lift"), before.LiftLeadMs, after.LiftLeadMs, 0, "ms", before.LiftAuto, after.LiftAuto},
		{p.Text("lead.drop"), before.DropLeadMs, after.DropLeadMs, 0, "ms", before.DropAuto, after.DropAuto},
	}
	if p.After.AntennaToToolM != nil {
		rows = append(rows, row{p.Text("antenna.tool"), before.AntennaToToolM, after.AntennaToToolM, 2, "m", false, false})
	} else {
		rows = append(rows, row{p.Text("antenna"), before.AntennaForwardM, after.AntennaForwardM, 2, "m", false, false},
			row{p.Text("tool"), before.ToolForwardM, after.ToolForwardM, 2, "m", false, false})
	}
	for _, r := range rows {
		p.Page.Fill("\n<tr><th scope=\"row\">%s</th>", r.name)
		cell(r.before, r.decimals, r.unit, r.was)
		cell(r.after, r.decimals, r.unit, r.is)
		p.HTML("</tr>")
	}
	p.HTML("\n</tbody>\n</table>")
}

// percents returns the agreed share and confidence.
func (p *writer) percents(s *tolerance.Statement) (share, confidence string) {
	return p.Percent(s.Share, 1), p.Percent(s.Confidence, 1)
}

// cm returns a length in centimetres.
func (p *writer) cm(m float64) string { return p.Unit(p.Number(m*100, 1), "cm") }

// limit returns an agreed tolerance, without decimals where it has none.
func (p *writer) limit(cm float64) string {
	if math.Abs(cm-math.Round(cm)) < 0.05 {
		return p.Unit(p.Number(cm, 0), "cm")
	}
	return p.cm(cm / 100)
}

// signedCm is cm with a sign.
func (p *writer) signedCm(m float64) string { return p.Unit(p.Signed(m*100, 1), "cm") }

// statements writes what lifts and drops show.
func (p *writer) statements() {
	p.Page.Fill("\n<h2>%s</h2>\n<div class=\"pair\">", p.Text("statements"))
	for i := range p.moves {
		m := &p.moves[i]
		head := p.Text("head.open", "move", m.name)
		switch p.findingOf(&m.statement) {
		case tolerance.Shown:
			head = p.Text("head.shown", "move", m.name)
		case tolerance.Exceeded:
			head = p.Text("head.exceeded", "move", m.name)
		}
		p.Page.Fill("\n<div>\n<h3>%s</h3>\n<p>%s</p>\n</div>", head, strings.Join(p.sentences(&m.statement), " "))
	}
	p.HTML("\n</div>")
	p.Page.Fill("\n<p class=\"quiet\">%s</p>", p.Text("unit"))
	if lo, hi := p.speeds(); hi > 0 {
		p.Page.Fill("\n<p class=\"quiet\">%s</p>", p.Text("holds", "from", p.Number(lo*3.6, 1), "to", p.Number(hi*3.6, 1)))
	}
}

// speeds returns the least and the largest speed of a crossing; 0 if none is known.
func (p *writer) speeds() (lo, hi float64) {
	lo = math.Inf(1)
	for i := range p.moves {
		for _, c := range p.moves[i].crossings {
			if v := math.Abs(c.SpeedMps); v > 0 {
				lo, hi = min(lo, v), max(hi, v)
			}
		}
	}
	return lo, hi
}

// sentences say what a statement rests on.
func (p *writer) sentences(s *tolerance.Statement) []string {
	if s.Crossings == 0 {
		return []string{p.Text("none")}
	}
	share, confidence := p.percents(s)
	list := []string{p.Text("within", "within", s.Within, "n", s.Crossings, "limit", p.limit(s.LimitM*100))}
	if p.Doubts.Contradicted {
		return list
	}
	say := func(text string) { list = append(list, text) }
	switch {
	case s.Finding == tolerance.Exceeded:
		say(p.Text("exceeded", "most", p.Percent(math.Ceil(s.AtMost*1000)/1000, 1), "confidence", confidence, "share", share))
	case s.Basis == tolerance.Counted:
		// Rounded down: 59 of 59 show 95.05 %.
		say(p.Text("counted", "least", p.Percent(math.Floor(s.AtLeast*1000)/1000, 1), "confidence", confidence, "share", share))
	default:
		say(p.Text("fewer", "needed", s.Needed))
	}
	if s.Finding != tolerance.Exceeded {
		switch s.Basis {
		case tolerance.Interval:
			x := &s.Sections[s.Worst]
			of := p.Text("of.section", "section", x.Section)
			if x.Section == 0 {
				of = p.Text("of.bar")
			}
			say(p.Text("interval", "of", of, "mean", p.signedCm(x.MeanM), "factor", p.Number(x.Factor, 2), "sd", p.cm(x.SDM),
				"low", p.signedCm(x.LowM), "high", p.signedCm(x.HighM), "share", share, "confidence", confidence))
			say(p.Text("normal", "p", p.pValue(s)))
		case tolerance.NotNormal:
			say(p.Text("notnormal", "p", p.pValue(s)))
		case tolerance.Incomplete:
			say(p.Text("incomplete"))
		case tolerance.TooFew:
			say(p.Text("toofew", "fewest", tolerance.FewestForNormal))
		}
	}
	switch more, asThese := s.More(); {
	case more > 0 && asThese:
		say(p.Text("more.alike", "n", more))
	case more > 0:
		say(p.Text("more.within", "n", more))
	}
	if s.Alike() {
		say(p.Text("alike", "r", p.Signed(s.Serial, 2)))
	}
	return list
}

// pValue returns the smallest of the sections; 0 where the values of one are all the same.
func (p *writer) pValue(s *tolerance.Statement) string {
	least := 1.0
	for i := range s.Sections {
		if x := s.Sections[i].NormalPValue; x < least || math.IsNaN(x) {
			least = x
		}
	}
	if !(least >= 0.001) {
		return p.Text("p", "n", len(s.Sections), "p", "< "+p.Number(0.001, 3))
	}
	return p.Text("p", "n", len(s.Sections), "p", p.Number(least, 3))
}

// mostListed is how many crossings of a move are listed, so that they fit on one page; of
// more, those outside alone, the first so many.
const mostListed = 35

// crossings writes the figures and the tables of lifts and drops.
func (p *writer) crossings() {
	p.Page.Fill("\n<h2 class=\"annex\">%s</h2>\n<div class=\"figures\">", p.Text("crossings"))
	for i := range p.moves {
		m := &p.moves[i]
		words := &figure.ToleranceWords{
			Title: p.Text("figure.title", "move", m.name), Crossing: p.Text("figure.x"), PlaceError: p.Text("figure.y"),
			Within: p.Text("figure.within"), Outside: p.Text("figure.outside"), Failed: p.Text("figure.failed"), Nothing: p.Text("none"),
		}
		var list []figure.Checked
		for _, c := range m.crossings {
			x := figure.Checked{Failed: c.Missed+c.Extra > 0}
			for _, r := range c.Readings {
				x.ErrorsM = append(x.ErrorsM, r.ErrorM)
			}
			list = append(list, x)
		}
		p.Page.Fill("\n<figure aria-label=\"%s\">\n<h3>%s</h3>\n", words.Title, words.Title)
		p.HTML(figure.Tolerance(p.Texts.Language, words, list, m.statement.LimitM))
		p.Page.Fill("\n<figcaption><p>%s</p></figcaption>\n</figure>", p.Text("figure.caption"))
	}
	p.HTML("\n</div>\n<div class=\"pair\">")
	for i := range p.moves {
		p.list(&p.moves[i])
	}
	p.HTML("\n</div>")
}

// list writes the crossings of a move.
func (p *writer) list(m *move) {
	p.Page.Fill("\n<div>\n<h3>%s</h3>", m.name)
	if len(m.crossings) == 0 {
		p.Page.Fill("\n<p>%s</p>\n</div>", p.Text("none"))
		return
	}
	p.HTML("\n<table class=\"number\">\n<thead><tr>")
	for _, name := range []string{p.Text("number"), p.Text("speed"), p.Text("mean"), p.Text("worst"), p.Text("worst.section"), p.Text("result")} {
		p.Page.Fill(`<th scope="col">%s</th>`, name)
	}
	p.HTML("</tr></thead>\n<tbody>")
	within, outside, listed := 0, 0, 0 // the first two: not listed
	for i := range m.crossings {
		c := &m.crossings[i]
		kept := c.Within(m.statement.LimitM)
		switch {
		case kept && len(m.crossings) > mostListed:
			within++
			continue
		case listed == mostListed:
			outside++
			continue
		}
		listed++
		speed, mean, worst, section := "–", "–", "–", "–"
		if v := math.Abs(c.SpeedMps); v > 0 {
			speed = p.Number(v*3.6, 1)
		}
		if len(c.Readings) > 0 {
			sum, at := 0.0, c.Readings[0]
			for _, r := range c.Readings {
				sum += r.ErrorM
				if math.Abs(r.ErrorM) > math.Abs(at.ErrorM) {
					at = r
				}
			}
			mean, worst, section = p.Signed(sum/float64(len(c.Readings))*100, 1), p.Signed(at.ErrorM*100, 1), p.Number(float64(at.Section), 0)
			if at.Section == 0 {
				section = p.Text("bar")
			}
		}
		result := p.Text("no")
		switch {
		case kept:
			result = p.Text("yes")
		case c.Missed > 0:
			result = p.Text("missed", "count", c.Missed)
		case c.Extra > 0:
			result = p.Text("extra", "count", c.Extra)
		}
		p.Page.Fill("\n<tr><th scope=\"row\">%s</th><td>%s</td><td>%s</td><td>%s</td><td>%s</td><td>%s</td></tr>", p.Number(float64(i+1), 0), speed, mean, worst, section, result)
	}
	p.HTML("\n</tbody>\n</table>")
	if within > 0 {
		p.Page.Fill("\n<p class=\"quiet\">%s</p>", p.Text("unlisted.within", "n", within))
	}
	if outside > 0 {
		p.Page.Fill("\n<p class=\"quiet\">%s</p>", p.Text("unlisted.outside", "n", outside))
	}
	p.HTML("\n</div>")
}

// cautions writes the safety words and what else is to be known.
func (p *writer) cautions() {
	p.Page.Fill("\n<h2>%s</h2>\n<p class=\"safety\">%s</p>", p.Text("cautions"), p.Text("safety"))
	items := func(list []string, attribute string) {
		p.HTML("\n<ul" + attribute + ">")
		for _, s := range list {
			p.Page.Fill("\n<li>%s</li>", s)
		}
		p.HTML("\n</ul>")
	}
	if len(p.Details.Cautions) > 0 {
		items(p.Details.Cautions, "")
	}
	if len(p.Remarks) > 0 {
		items(p.Remarks, "")
	}
	if len(p.Notes) > 0 {
		p.Page.Fill("\n<p>%s</p>", p.Text("notes"))
		items(p.Notes, ` lang="en"`)
	}
}

// signatures writes the lines on which both sides sign.
func (p *writer) signatures() {
	p.Page.Fill("\n<h2>%s</h2>\n<table class=\"sign\">\n<thead><tr><td></td>", p.Text("signatures"))
	p.Page.Fill("<th scope=\"col\">%s</th><th scope=\"col\">%s</th></tr></thead>\n<tbody>", p.Text("supplier"), p.Text("customer"))
	for _, r := range [][3]string{{p.Text("name"), p.Details.Supplier, p.Details.Customer}, {p.Text("place"), "", ""}, {p.Text("signature"), "", ""}} {
		p.Page.Fill("\n<tr><th scope=\"row\">%s</th><td>%s</td><td>%s</td></tr>", r[0], r[1], r[2])
	}
	p.HTML("\n</tbody>\n</table>")
}
