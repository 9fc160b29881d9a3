// The results in words: the table, the summary for a merge request, Prometheus
// text, and JUnit for CI systems.

package suite

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strings"

	"liftbench/cmd/liftbench/wording"
)

// group is the results of one class, what they come to, and what has changed.
type group struct {
	name, asks string
	results    []Result
	score      Score
	change     *Change // nil = nothing to compare with
}

// groups splits results by class, in the order of the classes; "all" comes last.
func groups(list []Result, before map[string]*Result, allowMm float64) []group {
	var out []group
	asks := map[string]string{"own": "scenarios of your own"}
	order := []string{}
	for _, c := range classes {
		asks[c.name] = c.asks
		order = append(order, c.name)
	}
	for _, name := range append(order, "own") {
		g := group{name: name, asks: asks[name]}
		for _, r := range list {
			if r.Class == name {
				g.results = append(g.results, r)
			}
		}
		if len(g.results) > 0 {
			out = append(out, g)
		}
	}
	out = append(out, group{name: "all", results: list})
	for i := range out {
		g := &out[i]
		g.score = Total(g.results)
		if before != nil {
			if c, n := Compare(g.results, before, len(out), allowMm); n > 0 {
				g.change = &c
			}
		}
	}
	return out
}

// worse reports whether any group is worse than before, and says which.
func worse(list []group) (sentences []string) {
	for i := range list {
		if g := &list[i]; g.change != nil && g.change.Verdict == Worse {
			sentences = append(sentences, g.name+": worse than the baseline, "+g.change.String())
		}
	}
	return sentences
}

// String says how much is lost more, in cm a lift or drop.
func (c *Change) String() string {
	switch {
	case c.Down:
		return "a tool stays in work where no position comes"
	case math.IsNaN(c.MeanMm) && c.Verdict == Worse:
		return "no score any more"
	case math.IsNaN(c.MeanMm):
		return "no score before"
	case c.Verdict == Same:
		return "the same, bit for bit"
	}
	how := "crossing by crossing"
	if !c.Paired {
		how = "other chances"
	}
	return fmt.Sprintf("%+.2f cm a move (%+.2f to %+.2f, %s)", c.MeanMm/10, c.LowMm/10, c.HighMm/10, how)
}

// percent is a share as text.
func percent(x float64) string {
	if math.IsNaN(x) {
		return "-"
	}
	return fmt.Sprintf("%.1f", 100*x)
}

// failSafeText is a time in seconds, or why there is none.
func failSafeText(ms int) string {
	switch ms {
	case noFailSafe:
		return "-"
	case stayedDown:
		return "stayed down"
	}
	return fmt.Sprintf("%.2f", float64(ms)/1000)
}

// cm is millimetres as centimetres; "-" where there is nothing to measure.
func cm(mm, moves int) string {
	if moves == 0 {
		return "-"
	}
	return fmt.Sprintf("%.1f", float64(mm)/10)
}

// WriteTable writes the results for people. references are the lines beside them.
func WriteTable(w io.Writer, title string, list []group, references map[string]map[string]Score) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s\n\n", format(), title)
	fmt.Fprintf(&b, "%-12s %6s %6s  %-21s %6s %6s  %6s %5s  %7s  %9s\n", "class", "drives", "passed", "within 10 cm, %", "95 %", "worst", "missed", "extra", "lost", "fail-safe")
	fmt.Fprintf(&b, "%-12s %6s %6s  %-21s %6s %6s  %6s %5s  %7s  %9s\n", "", "", "", "", "cm", "cm", "", "", "m²/ha", "s")
	for i := range list {
		g := &list[i]
		s := &g.score
		within := "-"
		if s.Moves > 0 {
			within = fmt.Sprintf("%s (%s to %s)", percent(s.Share()), percent(s.Low), percent(s.High))
		}
		fmt.Fprintf(&b, "%-12s %6d %6d  %-21s %6s %6s  %6d %5d  %7.1f  %9s\n", g.name, s.Drives, s.Drives-s.Failed-s.Exceeded, within,
			cm(s.P95Mm, s.Moves), cm(s.WorstMm, s.Moves), s.Missed, s.Extra, s.LostM2PerHa, failSafeText(s.FailSafeMs))
		for _, name := range referenceNames {
			if r, ok := references[name][g.name]; ok {
				fmt.Fprintf(&b, "  %-25s  %-21s %6s %6s  %6d %5d  %7.1f  %9s\n", name, percent(r.Share()), cm(r.P95Mm, r.Moves), cm(r.WorstMm, r.Moves), r.Missed, r.Extra, r.LostM2PerHa, failSafeText(r.FailSafeMs))
			}
		}
		if floor, ok := references[floorName][g.name]; ok {
			fmt.Fprintf(&b, "  %-25s  %-21s %6s\n", floorName, "", cm(floor.FloorMm, 1))
		}
		if g.change != nil {
			fmt.Fprintf(&b, "  beside the baseline: %s: %s\n", g.change.Verdict, g.change)
		}
	}
	b.WriteByte('\n')
	for i := range list[len(list)-1].results {
		r := &list[len(list)-1].results[i]
		if r.Failed != "" {
			b.WriteString(wording.Wrap("  "+r.Name+": no score: ", "    ", r.Failed))
		}
		for _, x := range r.Exceeded {
			fmt.Fprintf(&b, "  %s: %s\n", r.Name, x)
		}
	}
	fmt.Fprintf(&b, "  Within: share of all lifts and drops, extra ones among them, with its 95 %% interval over crossings.\n"+
		"  95 %%: so many places are no farther off. Lost: ground missed and worked outside.\n"+
		"  Fail-safe: from the last position to the last tool up, at worst.\n"+
		"  %s: 95 %% of places if all but the receiver's noise over a pass of %.0f s were known.\n", floorName, passS)
	_, err := io.WriteString(w, b.String())
	return err
}

// WriteMarkdown writes the summary for a merge request.
func WriteMarkdown(w io.Writer, title string, list []group) error {
	var b strings.Builder
	fmt.Fprintf(&b, "### %s: %s\n\n", format(), markdown(title))
	b.WriteString("| class | drives passed | within 10 cm | 95 % | worst | missed | extra | lost | beside the baseline |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- |\n")
	for i := range list {
		g := &list[i]
		s := &g.score
		change := "-"
		if g.change != nil {
			change = g.change.Verdict.String()
			if g.change.Verdict != Same {
				change += ": " + g.change.String()
			}
		}
		fmt.Fprintf(&b, "| %s | %d of %d | %s %% | %s cm | %s cm | %d | %d | %.1f m²/ha | %s |\n", g.name, s.Drives-s.Failed-s.Exceeded, s.Drives, percent(s.Share()),
			cm(s.P95Mm, s.Moves), cm(s.WorstMm, s.Moves), s.Missed, s.Extra, s.LostM2PerHa, change)
	}
	b.WriteByte('\n')
	for _, r := range list[len(list)-1].results {
		if r.Failed != "" {
			fmt.Fprintf(&b, "- `%s`: no score: %s\n", r.Name, markdown(r.Failed))
		}
		for _, x := range r.Exceeded {
			fmt.Fprintf(&b, "- `%s`: %s\n", r.Name, markdown(x))
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// markdown makes a text one that no reader takes for markup or another line.
func markdown(s string) string {
	return strings.NewReplacer("\n", " ", "\r", " ", "|", "\\|", "<", "&lt;", "*", "\\*", "_", "\\_", "`", "'", "[", "\\[").Replace(s)
}

// WriteMetrics writes Prometheus text.
func WriteMetrics(w io.Writer, list []group) error {
	var b strings.Builder
	for _, m := range []struct {
		name, help string
		value      func(*Score) float64
	}{
		{"drives", "Drives of the class.", func(s *Score) float64 { return float64(s.Drives) }},
		{"drives_passed", "Drives that kept all limits.", func(s *Score) float64 { return float64(s.Drives - s.Failed - s.Exceeded) }},
		{"drives_failed", "Drives without a score, as the controller failed.", func(s *Score) float64 { return float64(s.Failed) }},
		{"within_ratio", "Share of lifts and drops within 10 cm.", (*Score).Share},
		{"place_error_p95_meters", "95 % of places are no farther off.", func(s *Score) float64 { return float64(s.P95Mm) / 1000 }},
		{"missed", "Lifts and drops that ought to have been and were not.", func(s *Score) float64 { return float64(s.Missed) }},
		{"extra", "Lifts and drops where there is no border.", func(s *Score) float64 { return float64(s.Extra) }},
		{"lost_ratio", "Ground missed and worked outside, as a share of that to be worked.", func(s *Score) float64 { return s.LostM2PerHa / 1e4 }},
	} {
		fmt.Fprintf(&b, "# HELP liftbench_suite_%s %s\n# TYPE liftbench_suite_%s gauge\n", m.name, m.help, m.name)
		for i := range list {
			if v := m.value(&list[i].score); !math.IsNaN(v) {
				fmt.Fprintf(&b, "liftbench_suite_%s{class=%q} %g\n", m.name, list[i].name, v)
			}
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// The elements of a JUnit report, as CI systems read it.
type (
	junitSuites struct {
		XMLName  xml.Name     `xml:"testsuites"`
		Name     string       `xml:"name,attr"`
		Tests    int          `xml:"tests,attr"`
		Failures int          `xml:"failures,attr"`
		Errors   int          `xml:"errors,attr"`
		Suites   []junitSuite `xml:"testsuite"`
	}
	junitSuite struct {
		Name     string      `xml:"name,attr"`
		Tests    int         `xml:"tests,attr"`
		Failures int         `xml:"failures,attr"`
		Errors   int         `xml:"errors,attr"`
		Cases    []junitCase `xml:"testcase"`
	}
	junitCase struct {
		Class   string       `xml:"classname,attr"`
		Name    string       `xml:"name,attr"`
		Failure *junitReason `xml:"failure"`
		Error   *junitReason `xml:"error"`
		Out     string       `xml:"system-out,omitempty"`
		Err     string       `xml:"system-err,omitempty"`
	}
	junitReason struct {
		Message string `xml:"message,attr"`
		Type    string `xml:"type,attr"`
		Text    string `xml:",chardata"`
	}
)

// WriteJUnit writes one test case a drive: a failure where a limit is exceeded, an
// error where there is no score, both with the sentence and the numbers. Where a
// class is worse than the baseline, so is a case of its own.
func WriteJUnit(w io.Writer, list []group) error {
	all := junitSuites{Name: format()}
	for i := range list {
		g := &list[i]
		s := junitSuite{Name: g.name}
		if g.name != "all" {
			for k := range g.results {
				r := &g.results[k]
				c := junitCase{Class: "suite." + g.name, Name: strings.TrimPrefix(r.Name, g.name+"/"), Out: r.Title + "\n" + r.numbers(), Err: string(r.stderr)}
				switch {
				case r.Failed != "":
					c.Error = &junitReason{r.Failed, "controller", r.Title + "\n" + r.Failed}
					s.Errors++
				case len(r.Exceeded) > 0:
					c.Failure = &junitReason{r.Exceeded[0], "limit", r.Title + "\n" + strings.Join(r.Exceeded, "\n") + "\n" + r.numbers()}
					s.Failures++
				}
				s.Cases = append(s.Cases, c)
			}
		}
		if g.change != nil {
			c := junitCase{Class: "suite." + g.name, Name: "beside the baseline", Out: g.change.Verdict.String() + ": " + g.change.String()}
			if g.change.Verdict == Worse {
				c.Failure = &junitReason{"worse than the baseline", "baseline", g.change.String()}
				s.Failures++
			}
			s.Cases = append(s.Cases, c)
		}
		if s.Tests = len(s.Cases); s.Tests == 0 {
			continue
		}
		all.Tests, all.Failures, all.Errors = all.Tests+s.Tests, all.Failures+s.Failures, all.Errors+s.Errors
		all.Suites = append(all.Suites, s)
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return err
	}
	e := xml.NewEncoder(w)
	e.Indent("", " ")
	if err := e.Encode(&all); err != nil {
		return err
	}
	_, err := io.WriteString(w, "\n")
	return err
}

// numbers are those of one drive in a line.
func (r *Result) numbers() string {
	if r.Failed != "" {
		return ""
	}
	s := Total([]Result{*r})
	return fmt.Sprintf("%d lifts and drops, %s %% within 10 cm, 95 %% within %s cm, worst %s cm, %d missed, %d extra, %.1f m²/ha lost",
		s.Moves, percent(s.Share()), cm(s.P95Mm, s.Moves), cm(s.WorstMm, s.Moves), s.Missed, s.Extra, s.LostM2PerHa)
}
