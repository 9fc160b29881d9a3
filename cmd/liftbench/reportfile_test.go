// The report of a run as one file.

package main

import (
	"io"
	"regexp"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/report"
	"liftbench/cmd/liftbench/version"
	"liftbench/cmd/liftbench/wording"
)

// TestRunReport: one file that needs nothing from anywhere and runs nothing,
// with the table, the figures, the settings, the version and the command.
func TestRunReport(t *testing.T) {
	o := demoOutcome(t)
	o.Command = "liftbench run --machine 'my <hoe>.yaml'"
	page := content(t, func(w io.Writer) error { return report.WriteHTML(o, w) })
	for _, want := range []string{
		"<!DOCTYPE html>", "<title>Quillmark, second hoeing: lifts and drops</title>",
		"liftbench " + version.String(), "liftbench run --machine &#39;my &lt;hoe&gt;.yaml&#39;",
		"Where the sections worked", "Lifts: error over speed", "The worst drop in close-up", "across the rows",
		"straight_before_m: 10", "A bench, not a safety function.", "@page { size: A4",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the report does not hold %q", want)
		}
	}
	if n := strings.Count(page, "<svg "); n != 8 || strings.Count(page, "<title>") != n+1 {
		t.Errorf("%d figures with %d titles; want 8, each with its own, and the page's", n, strings.Count(page, "<title>"))
	}
	outside := regexp.MustCompile(`(?i)<script|<link|<img|<iframe|\son[a-z]+=|@import|url\(|src=|href=|https?://[^"]*`)
	for _, found := range outside.FindAllString(page, -1) {
		if found != "http://www.w3.org/2000/svg" {
			t.Errorf("the report holds %q", found)
		}
	}
	for _, s := range o.Score.Sections {
		cell := "<td>" + string(wording.AppendFixed(nil, s.Area.WorkedM2, 1)) + "</td>"
		if !strings.Contains(page, cell) {
			t.Errorf("no %s in the report", cell)
		}
	}
}

// TestReportOfNothing: a run without a transition is reported as such.
func TestReportOfNothing(t *testing.T) {
	o := demoOutcome(t)
	for i := range o.Score.Events {
		o.Score.Events[i].Kind = 1 // missed
	}
	o.Score.Lift.PlaceErrorM, o.Score.Drop.PlaceErrorM = nil, nil
	if page := content(t, func(w io.Writer) error { return report.WriteHTML(o, w) }); !strings.Contains(page, "No lifts to measure. No drops to measure.") {
		t.Error("the report does not say that there is nothing to measure")
	}
}
