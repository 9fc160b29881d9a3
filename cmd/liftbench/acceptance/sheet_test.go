package acceptance

import (
	"fmt"
	"math/rand/v2"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"liftbench/cmd/liftbench/acceptance/tolerance"
	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/settings"
	"liftbench/sections/score"
)

// TestTexts: no text is missing, unused or left in English.
func TestTexts(t *testing.T) {
	for _, fault := range language.Load(textsFile).Faults("page.go") {
		t.Error(fault)
	}
}

// crossingsOf returns n crossings of so many sections, with errors of that deviation.
func crossingsOf(n, sectionCount int, sdM float64) []Crossing {
	r := rand.New(rand.NewPCG(uint64(n), 2))
	list := make([]Crossing, n)
	for i := range list {
		list[i].SpeedMps = 2 + float64(i%2)
		for s := range sectionCount {
			list[i].Readings = append(list[i].Readings, tolerance.Reading{Section: s + 1, ErrorM: sdM * r.NormFloat64()})
		}
	}
	return list
}

// sheets are one of each kind of statement.
func sheets() map[string]*Sheet {
	text := func(lifts, drops []Crossing, source Source) *Sheet {
		return &Sheet{Details: settings.DefaultAcceptance(), Source: source, Title: "two & more", Lifts: lifts, Drops: drops}
	}
	slipped := crossingsOf(12, 1, 0.001)
	slipped[5].Readings[0].ErrorM = 0.09
	missed := crossingsOf(12, 3, 0.01)
	missed[4].Missed, missed[4].Readings = 1, missed[4].Readings[:2]
	extra := crossingsOf(61, 3, 0.01)
	extra[60] = Crossing{Crossing: tolerance.Crossing{Extra: 1}}
	drift := crossingsOf(30, 1, 0.001)
	for i := range drift {
		drift[i].Readings[0].ErrorM += float64(i%15) * 0.003
	}
	bar := crossingsOf(10, 1, 0.005)
	for i := range bar {
		bar[i].Readings[0].Section = 0
	}
	full := text(crossingsOf(59, 2, 0.02), crossingsOf(10, 2, 0.01), Recorded)
	a := full.Details
	a.Customer, a.Supplier, a.Farm, a.Field, a.Weather, a.Soil, a.Oil, a.Date = "A <b>", "B", "C", "D", "E", "F", "G", "2026-05-12"
	a.Machine = settings.Made{Model: "M", Serial: "0047", Software: "1.10"}
	a.Cautions = []string{"the left wheel slips"}
	ms, m := 310.0, 0.9
	a.Before.LiftLeadMs = &ms
	full.After = Timing{LiftLeadMs: &ms, LiftAuto: true, DropLeadMs: &ms, AntennaForwardM: &m, ToolForwardM: &m}
	full.Notes, full.Command = []string{"oil is cold"}, "liftbench run"
	doubted := text(crossingsOf(59, 1, 0.01), crossingsOf(59, 1, 0.01), Recorded)
	doubted.Doubts = Doubts{Commanded: true, OneState: true, BorderFound: true}
	contradicted := text(crossingsOf(59, 1, 0.01), crossingsOf(59, 1, 0.01), Recorded)
	contradicted.Doubts.Contradicted = true
	return map[string]*Sheet{
		"doubted": doubted, "contradicted": contradicted,
		"full":     full,
		"nothing":  text(nil, nil, Simulated),
		"few":      text(crossingsOf(7, 2, 0.01), crossingsOf(7, 2, 0.5), Measured),
		"slipped":  text(slipped, bar, Measured),
		"missed":   text(missed, extra, Outside),
		"drift":    text(drift, crossingsOf(40, 6, 0.06), Recorded),
		"hundreds": text(crossingsOf(300, 6, 0.02), crossingsOf(300, 6, 0.5), Simulated),
		"far":      text(crossingsOf(20, 2, 0.034), crossingsOf(20, 2, 0.034), Measured),
	}
}

var tag = regexp.MustCompile(`<[^>]*>`)

// TestSheets: whatever there is to say, the sheet is whole in every language: no
// placeholder left, every tag closed, every text of the user escaped.
func TestSheets(t *testing.T) {
	for name, s := range sheets() {
		for _, l := range []language.Language{language.English, language.German, language.French} {
			var b strings.Builder
			s.Language = l
			if err := s.Write(&b); err != nil {
				t.Fatal(err)
			}
			page := b.String()
			_, body, _ := strings.Cut(page, "</head>")
			if i := strings.IndexAny(body, "{}"); i >= 0 {
				t.Errorf("%s, %s: a placeholder is left: %s", name, l, body[max(0, i-60):min(len(body), i+40)])
			}
			if strings.Contains(body, "NaN") || strings.Contains(body, "Inf") || strings.Contains(body, "%!") {
				t.Errorf("%s, %s: NaN, Inf or a wrong verb in the text", name, l)
			}
			var open []string
			for _, x := range tag.FindAllString(body, -1) {
				word := strings.Trim(strings.Fields(strings.Trim(x, "<>"))[0], "/")
				switch {
				case strings.HasSuffix(x, "/>"):
				case strings.HasPrefix(x, "</"):
					if word == "html" {
						break
					}
					if len(open) == 0 || open[len(open)-1] != word {
						t.Fatalf("%s, %s: %s closes %v", name, l, x, open)
					}
					open = open[:len(open)-1]
				default:
					open = append(open, word)
				}
			}
			if len(open) > 0 {
				t.Errorf("%s, %s: left open: %v", name, l, open)
			}
			if !strings.Contains(page, `<html lang="`+l.String()+`">`) {
				t.Errorf("%s: not marked as %s", name, l)
			}
			if l != language.English && regexp.MustCompile(`\d\.\d+[\s\x{a0}](cm|%|ms)`).MatchString(tag.ReplaceAllString(body, " ")) {
				t.Errorf("%s, %s: a decimal point", name, l)
			}
		}
	}
}

// TestVerdicts: the first line says what lifts and drops together show.
func TestVerdicts(t *testing.T) {
	all := sheets()
	for _, c := range []struct {
		sheet string
		l     language.Language
		want  []string
	}{
		{"full", language.English, []string{`<p class="answer">Tolerance kept. The crossings below show it.</p>`, "59 of 59 crossings within ± 10\u00a0cm.", "at least 95\u00a0% of all such crossings are within, with 95\u00a0% confidence",
			"A &lt;b&gt;", "12\u00a0May\u00a02026", "M, serial number 0047, software 1.10", "310\u00a0ms, from the hydraulics", "<li>the left wheel slips</li>", "No tolerance was given", "7.2 to 10.8 km/h"}},
		{"full", language.German, []string{"12.05.2026", "59 von 59 Überfahrten innerhalb von ± 10\u00a0cm.", "7,2 bis 10,8 km/h", "Vorlaufzeit Aushub"}},
		{"full", language.French, []string{"12/05/2026", "59 passages sur 59 à ± 10\u00a0cm au plus.", "Anticipation au terrage"}},
		{"nothing", language.English, []string{`<p class="answer">Computed, not driven. Not shown yet.`, "No crossing was measured."}},
		{"doubted", language.English, []string{`<p class="answer">Not shown. The crossings keep`, "Lifts: not shown yet", "Only commands were recorded", "One state was recorded", "The border was found from the track itself"}},
		{"contradicted", language.German, []string{`<p class="answer">Nicht beurteilt.`, "Aushub: noch nicht nachgewiesen"}},
		{"few", language.English, []string{`<p class="answer">Tolerance not kept.`, "Counting alone would need 59 crossings", "each section needs 8 crossings", "52 crossings more would show it, if all of them are within."}},
		{"slipped", language.English, []string{`<p class="answer">Not shown yet.`, "do not look normal", "p = &lt; 0.001", "Drops: kept", "for the whole bar", "47 crossings more"}},
		{"missed", language.English, []string{`<p class="answer">Not shown yet.`, "controller under test was real", "NO: 1 missed", "NO: 1 extra", "no tolerance interval can be stated"}},
		{"drift", language.English, []string{`<p class="answer">Tolerance not kept.`, "Neighbouring crossings resemble each other (correlation &#43;0."}},
		{"hundreds", language.English, []string{"Computed, not driven. Tolerance not kept.", "300 more crossings are within, and not listed.", "more crossings are outside, and not listed."}},
		{"far", language.English, []string{`<p class="answer">Not shown yet.`, "if they turn out as these did."}},
	} {
		s := all[c.sheet]
		s.Language = c.l
		var b strings.Builder
		if err := s.Write(&b); err != nil {
			t.Fatal(err)
		}
		for _, want := range c.want {
			if !strings.Contains(b.String(), want) {
				text := tag.ReplaceAllString(b.String()[strings.Index(b.String(), "<body>"):], " ")
				t.Errorf("%s, %s: lacks %q\n%s", c.sheet, c.l, want, text[:min(len(text), 3000)])
			}
		}
	}
}

// TestCrossings: sections that change together are one crossing, one that is missed or
// extra fails it, and a section that starts wrong is none.
func TestCrossings(t *testing.T) {
	const s = int64(time.Second)
	at := func(section int16, on bool, kind score.Kind, second int64, errorM float64) score.Event {
		e := score.Event{Section: section, On: on, Kind: kind, IdealNs: second * s, PlaceErrorM: errorM, SpeedMps: 2}
		if kind == score.Spurious || kind == score.Start {
			e.IdealNs, e.ActualNs = 0, second*s
		}
		return e
	}
	lifts, drops := Crossings([]score.Event{
		at(0, true, score.Start, 1, 0),
		at(1, false, score.Paired, 100, 0.03), at(0, false, score.Paired, 101, -0.01), at(2, false, score.Missed, 102, 0),
		at(0, true, score.Paired, 120, 0.02), at(1, true, score.Paired, 120, 0.04),
		at(1, false, score.Spurious, 200, 0),
	})
	got := fmt.Sprint(lifts, drops)
	want := "[{{[{1 -0.01} {2 0.03}] 1 0} 2} {{[] 0 1} 2}] [{{[{1 0.02} {2 0.04}] 0 0} 2}]"
	if got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

func TestWanted(t *testing.T) {
	t.Chdir(t.TempDir())
	for name, text := range map[string]string{"s.yaml": "date: 12.5.2026\n", "k.yaml": "custumer: A\n", "t.yaml": "tolerance: {share_percent: 100}\n", "v.yaml": "terminal: {software: [1]}\n", "ok.yaml": "terminal: {software: 1.10, serial_number: 0047}\ndate: 2026-05-12\n"} {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		w    Wanted
		want string
	}{
		{Wanted{Lang: "it"}, `--lang: found "it"; expected en, de or fr`},
		{Wanted{Lang: "de", FromFile: "s.yaml"}, "--sheet-file: expected it with --sheet"},
		{Wanted{Lang: "de", File: "s.html", FromFile: "s.yaml"}, `s.yaml:1:7: date: found "12.5.2026"; expected a day as 2026-05-12`},
		{Wanted{Lang: "de", File: "s.html", FromFile: "k.yaml"}, `k.yaml:1:1: unknown key "custumer"; did you mean "customer"?`},
		{Wanted{Lang: "de", File: "s.html", FromFile: "t.yaml"}, "t.yaml:1:28: tolerance.share_percent: found 100; expected a number from 50 to 99.9"},
		{Wanted{Lang: "de", File: "s.html", FromFile: "v.yaml"}, "v.yaml:1:22: terminal.software: found a list; expected text on one line"},
		{Wanted{Lang: "de", File: "s.html", FromFile: "none.yaml"}, "none.yaml: no such file; expected a sheet file"},
	} {
		if err := c.w.Check(); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%+v:\n got %v\nwant %s", c.w, err, c.want)
		}
	}
	w := Wanted{Lang: "fr", File: "s.html", FromFile: "ok.yaml"}
	if err := w.Check(); err != nil {
		t.Fatal(err)
	}
	if err := w.Write(&Sheet{}); err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile("s.html")
	if err != nil || !strings.Contains(string(page), "n° de série 0047, logiciel 1.10") || !strings.Contains(string(page), "12/05/2026") {
		t.Errorf("%v: %s", err, page)
	}
	none := Wanted{Lang: "en"}
	if err := none.WriteOf(func() *Sheet { t.Error("a sheet is made that nobody wants"); return nil }); err != nil {
		t.Error(err)
	}
}
