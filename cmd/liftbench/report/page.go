// The HTML of the reports. It is written by hand: package html/template calls
// methods by name, for which the linker would have to keep every exported method
// of the program, a third of its size.

package report

import (
	_ "embed"
	"fmt"
	"io"
	"strings"

	"liftbench/cmd/liftbench/version"
)

// reportStyle is the look of every report: on a screen, in the dark, on A4.
//
//go:embed style.html
var reportStyle string

// htmlEscaper escapes text so that a browser shows it as it is, between tags
// and inside a quoted attribute.
var htmlEscaper = strings.NewReplacer("\x00", "\uFFFD", `"`, "&#34;", "&", "&amp;", "'", "&#39;", "+", "&#43;", "<", "&lt;", ">", "&gt;")

// reportPage is a report while it is being written.
type reportPage struct {
	b strings.Builder
}

// html appends markup as it is.
func (p *reportPage) html(markup string) { p.b.WriteString(markup) }

// text appends markup in which each %s is replaced by the next of texts,
// escaped. A per cent sign of the markup is written %%.
func (p *reportPage) text(markup string, texts ...string) {
	escaped := make([]any, len(texts))
	for i, t := range texts {
		escaped[i] = htmlEscaper.Replace(t)
	}
	fmt.Fprintf(&p.b, markup, escaped...)
}

// newReportPage begins a page with its title (the text of the browser's tab),
// its heading and its answer.
func newReportPage(title, heading, answer string) *reportPage {
	p := &reportPage{}
	p.text(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8"/>
<meta name="viewport" content="width=device-width, initial-scale=1"/>
<meta name="color-scheme" content="light dark"/>
<title>%s</title>
`, title)
	p.html(reportStyle)
	p.text(`</head>
<body>
<header>
<h1>%s</h1>
<p class="answer">%s</p>
</header>
<main>`, heading, answer)
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

// figures appends figures, each with the sentence that says what to look for in
// it.
func (p *reportPage) figures(figures []reportFigure) {
	p.html("\n<h2>Figures</h2>\n<div class=\"figures\">")
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
	p.text("\n</main>\n<footer>\n<p class=\"quiet\">liftbench %s.", version.String())
	if command != "" {
		p.text(" The same again: <code>%s</code>", command)
	}
	p.html("</p>\n</footer>\n</body>\n</html>\n")
	_, err := io.WriteString(w, p.b.String())
	return err
}
