// The report of a run as one file.

package main

import (
	"io"
	"regexp"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/report"
	"liftbench/cmd/liftbench/settings"
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

// TestReportVerdict: what stands first is whether the limits hold, not how good the
// drive looks.
func TestReportVerdict(t *testing.T) {
	o := demoOutcome(t)
	f := func(x float64) *float64 { return &x }
	none := 0
	for _, c := range []struct {
		name   string
		limits settings.Limits
		want   string
	}{
		{"none", settings.Limits{}, "<p><strong>No limits are stated, so nothing says how good this drive has to be.</strong></p>"},
		{"one kept", settings.Limits{MaxPlaceCm: f(100)}, "<p><strong>Within the limit that the scenario states.</strong></p>\n<p>max_place_error_cm: found "},
		{"kept", settings.Limits{MaxPlaceCm: f(100), Missed: &none}, "<p><strong>Within all 2 limits that the scenario states.</strong></p>"},
		{"exceeded", settings.Limits{MaxPlaceCm: f(1), Missed: &none, LiftPlaceP95Cm: f(0.5)}, "<p><strong>Not within its limits: 2 of 3 exceeded.</strong></p>\n<p>lift_place_error_p95_cm: found "},
	} {
		o.Setup.Scenario.Limits = c.limits
		page := content(t, func(w io.Writer) error { return report.WriteHTML(o, w) })
		_, head, _ := strings.Cut(page, "</h1>\n<div class=\"verdict\">\n")
		if !strings.HasPrefix(head, c.want) || !strings.Contains(head, "</div>\n<p class=\"answer\">") {
			t.Errorf("%s: the report begins %.300s\nwant %s", c.name, head, c.want)
		}
	}
}

// TestReportLanguages: the report is whole in each language, and nothing of its own words
// is left in English, nor a placeholder.
func TestReportLanguages(t *testing.T) {
	o := demoOutcome(t)
	for _, c := range []struct {
		l    language.Language
		want []string
	}{
		{language.German, []string{`<html lang="de">`, "Alle 4 Grenzwerte des Szenarios sind eingehalten.", "Aushubvorgängen innerhalb von 3,8\u00a0cm", "<th scope=\"col\">davon quer zu Reihen</th>", ">zu spät<", ">Fahrgeschwindigkeit, km/h<", "Vorlaufzeit Absenken", "Ein Prüfstand, keine Sicherheitsfunktion."}},
		{language.French, []string{`<html lang="fr">`, "Les 4 limites du scénario sont toutes respectées.", "relevages sur", "à moins de 3,8\u00a0cm", ">vitesse d’avancement, km/h<", "Anticipation au terrage", "Un banc d’essai"}},
	} {
		o.Language = c.l
		page := content(t, func(w io.Writer) error { return report.WriteHTML(o, w) })
		for _, want := range c.want {
			if !strings.Contains(page, want) {
				t.Errorf("%s: lacks %q", c.l, want)
			}
		}
		// The scenario file and the program's messages stay as they are.
		own := regexp.MustCompile(`(?s)<style>.*</style>|<footer>.*</footer>|<pre>.*</pre>|<code>.*</code>|<ul>.*?</ul>`).ReplaceAllString(page, "")
		text := regexp.MustCompile(`<[^>]*>`).ReplaceAllString(own, " ")
		for _, english := range regexp.MustCompile(`[{}]|(?i)\b(the|lifts?|drops?|late|missed|worked|overrun|speed|north|with|within|over|mean|worst|settings)\b|\d\.\d`).FindAllString(text, -1) {
			t.Errorf("%s: %q is left", c.l, english)
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
