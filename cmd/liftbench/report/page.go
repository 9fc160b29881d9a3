// The parts that every report is made of.

package report

import (
	"io"

	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/markup"
	"liftbench/cmd/liftbench/version"
)

// reportPage is a report while it is being written.
type reportPage struct{ page markup.Page }

// html appends markup as it is, text markup with texts that are escaped.
func (p *reportPage) html(markup string)                  { p.page.HTML(markup) }
func (p *reportPage) text(markup string, texts ...string) { p.page.Fill(markup, texts...) }

// newReportPage begins a page with its title (the text of the browser's tab),
// its heading, its verdict, if one is given, and its answer.
func newReportPage(title, heading string, verdict []string, answer string) *reportPage {
	return newReportPageIn(language.English, title, heading, verdict, answer)
}

// newReportPageIn begins a page in a language.
func newReportPageIn(l language.Language, title, heading string, verdict []string, answer string) *reportPage {
	p := &reportPage{}
	p.text(`<!DOCTYPE html>
<html lang="%s">
<head>
<meta charset="utf-8"/>
<meta name="viewport" content="width=device-width, initial-scale=1"/>
<meta name="color-scheme" content="light dark"/>
<title>%s</title>
`, l.String(), title)
	p.html(markup.Style)
	p.text(`</head>
<body>
<header>
<h1>%s</h1>
`, heading)
	for i, s := range verdict {
		if i == 0 {
			p.text("<div class=\"verdict\">\n<p><strong>%s</strong></p>", s)
			continue
		}
		p.text("\n<p>%s</p>", s)
	}
	if len(verdict) > 0 {
		p.html("\n</div>\n")
	}
	p.text(`<p class="answer">%s</p>
</header>
<main>`, answer)
	return p
}

// numbers appends a table with a row for each section. On a narrow screen it
// scrolls sideways. label names the table for screen readers.
func (p *reportPage) numbers(label string, columns []string, rows []reportRow) {
	p.text("\n"+`<div class="wide" tabindex="0" role="region" aria-label="%s">
<table class="number">
<thead><tr>`, label)
	for _, c := range columns {
		p.text(`<th scope="col">%s</th>`, c)
	}
	p.html("</tr></thead>\n<tbody>")
	for _, r := range rows {
		p.text("\n"+`<tr><th scope="row">%s</th>`, r.Name)
		for _, c := range r.Cells {
			p.text("<td>%s</td>", c)
		}
		p.html("</tr>")
	}
	p.html("\n</tbody>\n</table>\n</div>")
}

// list appends a list.
func (p *reportPage) list(items []string) {
	p.html("\n<ul>")
	for _, item := range items {
		p.text("\n<li>%s</li>", item)
	}
	p.html("\n</ul>")
}

// figures appends figures, in English.
func (p *reportPage) figures(figures []reportFigure) { p.figuresUnder("Figures", figures) }

// figuresUnder appends figures under a heading, each with the sentence that says what to look for in
// it.
func (p *reportPage) figuresUnder(heading string, figures []reportFigure) {
	p.text("\n<h2>%s</h2>\n<div class=\"figures\">", heading)
	for _, f := range figures {
		p.text("\n<figure aria-label=\"%s\">\n<h3>%s</h3>\n", f.Title, f.Title)
		p.html(f.SVG)
		p.text("\n<figcaption><p>%s</p></figcaption>\n</figure>", f.Sentence)
	}
	p.html("\n</div>")
}

// basis appends a table of facts and settings under a heading.
func (p *reportPage) basis(heading string, rows []basisRow) {
	p.text("\n<h2>%s</h2>\n<table>\n<tbody>", heading)
	for _, r := range rows {
		p.text("\n"+`<tr><th scope="row">%s</th><td>%s</td></tr>`, r.Name, r.Value)
	}
	p.html("\n</tbody>\n</table>")
}

// end appends the program's version and, unless it is empty, the command, and
// writes the page.
func (p *reportPage) end(w io.Writer, command string) error {
	return p.endAgain(w, "The same again:", command)
}

// endAgain is end with the words before the command.
func (p *reportPage) endAgain(w io.Writer, again, command string) error {
	p.text("\n</main>\n<footer>\n<p class=\"quiet\">liftbench %s.", version.String())
	if command != "" {
		p.text(" %s <code>%s</code>", again, command)
	}
	p.html("</p>\n</footer>\n</body>\n</html>\n")
	_, err := io.WriteString(w, p.page.String())
	return err
}
