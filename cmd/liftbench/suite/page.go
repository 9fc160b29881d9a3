// A drive beside the baseline as a page: both runs drawn over each other.

package suite

import (
	"fmt"
	"io"
	"math"
	"sort"

	"liftbench/cmd/liftbench/figure"
	"liftbench/cmd/liftbench/markup"
	"liftbench/cmd/liftbench/version"
	"liftbench/sections/field"
)

// shownClose is how many crossings around the one that differs most are drawn large.
const shownClose = 7

// twins pairs the moves of two results of the same drive by the same chances, crossing by
// crossing. r has been judged in this run, so that its places are known.
func twins(r, old *Result) [][]figure.Twin {
	var out [][]figure.Twin
	at := 0
	for _, n := range r.Crossings {
		c := make([]figure.Twin, n)
		for i := range c {
			c[i] = figure.Twin{NowM: float64(r.PlaceMm[at+i]) / 1000, BeforeM: float64(old.PlaceMm[at+i]) / 1000, At: r.places[at+i]}
		}
		out = append(out, c)
		at += n
	}
	return out
}

// byDifference returns the numbers of crossings, from 0, that which differs most first; all of
// the same difference in their order.
func byDifference(list [][]figure.Twin) []int {
	order, by := make([]int, len(list)), make([]float64, len(list))
	for i, c := range list {
		order[i] = i
		for k := range c {
			by[i] += math.Abs(c[k].NowM - c[k].BeforeM)
		}
	}
	sort.SliceStable(order, func(a, b int) bool { return by[order[a]] > by[order[b]] })
	return order
}

// WritePage writes a drive beside the baseline as a page that needs no network. old is of the
// same drive by the same chances.
func WritePage(w io.Writer, r, old *Result, f *field.Field, c *Change) error {
	var p markup.Page
	p.Fill(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8"/>
<meta name="viewport" content="width=device-width, initial-scale=1"/>
<meta name="color-scheme" content="light dark"/>
<title>%s beside the baseline</title>
`, r.Name)
	p.HTML(markup.Style)
	p.Fill(`</head>
<body>
<header>
<h1>%s: %s</h1>
<div class="verdict">
<p><strong>Beside the baseline: %s</strong></p>
<p>%s</p>
</div>
<p class="answer">Now: %s.</p>
<p class="answer">Baseline: %s.</p>
</header>
<main>
<h2>Both runs, lift by lift</h2>
<div class="figures">`, r.Name, r.Title, c.Verdict.String(), c.String(), r.numbers(), old.numbers())
	pairs := twins(r, old)
	order := byDifference(pairs)
	add := func(title, svg, sentence string) {
		p.Fill("\n<figure aria-label=\"%s\">\n<h3>%s</h3>\n", title, title)
		p.HTML(svg)
		p.Fill("\n<figcaption><p>%s</p></figcaption>\n</figure>", sentence)
	}
	title := "All crossings"
	add(title, figure.Twins(title, pairs, 1), fmt.Sprintf("Place errors of each lift and drop, within a crossing from the left; one that was missed stands at %d cm. A line joins two that differ.", lostMm/10))
	title = "Where they differ"
	add(title, figure.TwinsOnPlan(title, f, pairs), "Each lift and drop where it ought to have been.")
	if len(order) > 0 {
		first := max(0, min(order[0]-shownClose/2, len(pairs)-shownClose))
		last := min(first+shownClose, len(pairs))
		title = fmt.Sprintf("Around crossing %d, which differs most", order[0]+1)
		add(title, figure.Twins(title, pairs[first:last], first+1), fmt.Sprintf("Crossings %d to %d.", first+1, last))
	}
	p.HTML("\n</div>\n<h2>The crossings that differ most</h2>\n<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"The crossings that differ most\">\n" +
		"<table class=\"number\">\n<thead><tr><th scope=\"col\">crossing</th><th scope=\"col\">run</th><th scope=\"col\">place errors from the left, cm, late +</th></tr></thead>\n<tbody>")
	for _, i := range order[:min(len(order), 10)] {
		texts := [2]string{}
		for _, t := range pairs[i] {
			texts[0] += fmt.Sprintf(" %.1f", 100*t.NowM)
			texts[1] += fmt.Sprintf(" %.1f", 100*t.BeforeM)
		}
		if texts[0] == texts[1] {
			break
		}
		p.Fill("\n<tr><th scope=\"row\">%s</th><td>now</td><td>%s</td></tr>\n<tr><th scope=\"row\"></th><td>baseline</td><td>%s</td></tr>", fmt.Sprint(i+1), texts[0], texts[1])
	}
	p.Fill("\n</tbody>\n</table>\n</div>\n</main>\n<footer>\n<p class=\"quiet\">liftbench %s.</p>\n</footer>\n</body>\n</html>\n", version.String())
	_, err := io.WriteString(w, p.String())
	return err
}
