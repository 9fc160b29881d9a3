// The acceptance sheet of what was measured.

package tape

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/language"
	"liftbench/replay/tape"
)

// Two passes at 310 ms, then three with what they asked for, two sections read off on each; one row says nothing.
const handedOver = `pass;move;section;speed_kmh;late_cm;lead_ms;antenna_m
1;lift;1;4;16;310;3,1
1;lift;2;4;18;;
2;lift;1;10;40;;
2;lift;2;10;42;;
3;lift;1;8;2;450;
3;lift;2;8;-1;;
4;lift;1;8;1;;
4;lift;2;8;1,5;;
5;lift;1;8;-2;;
5;lift;2;8;0;;
5;lift;3;8;far;;
`

// On the sheet are the passes that were driven with what was set last, each one crossing with its sections; before
// and after say what was set; what does not count is said.
func TestAcceptance(t *testing.T) {
	s, err := tape.Read(strings.NewReader(handedOver), "x", tape.Defaults{})
	if err != nil {
		t.Fatal(err)
	}
	r := &result{options: &options{machineName: "Greenmole"}, words: in(language.English), sheet: s, answer: tape.Find(s.Readings, tape.DefaultWish())}
	got := r.acceptance(tape.Defaults{}, "liftbench tape x")
	if len(got.Lifts) != 3 || len(got.Drops) != 0 || got.Machine != "Greenmole" {
		t.Fatalf("%+v; want three lifts", got)
	}
	if c := got.Lifts[0]; len(c.Readings) != 2 || c.Readings[1].Section != 2 || c.Readings[1].ErrorM != -0.01 || c.SpeedMps != 8/3.6 {
		t.Errorf("first crossing %+v; want pass 3 with both sections", c)
	}
	if *got.Before.LiftLeadMs != 310 || *got.After.LiftLeadMs != 450 || got.After.DropLeadMs != nil || *got.After.AntennaToToolM != 3.1 {
		t.Errorf("before %+v, after %+v; want 310 and 450 ms, 3.1 m", got.Before, got.After)
	}
	for _, want := range []string{"4 readings were made with other settings", "1 row could not be read", "What all readings ask for: lift lead 450 → "} {
		if !strings.Contains(strings.Join(got.Remarks, "\n"), want) {
			t.Errorf("remarks %q; want %q", got.Remarks, want)
		}
	}
}

// The command writes it, in each language, and says nothing of it in another.
func TestSheetFlag(t *testing.T) {
	for lang, want := range map[string]string{"en": "Measured in the field: by tape", "de": "Auf dem Schlag gemessen: mit dem Maßband", "fr": "Mesuré dans la parcelle"} {
		file := filepath.Join(t.TempDir(), "sheet.html")
		if _, err := call(t, handedOver, "--sheet", file, "--lang", lang); err != nil {
			t.Fatal(err)
		}
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		page := string(data)
		if !strings.Contains(page, want) || !strings.Contains(page, `<html lang="`+lang+`">`) {
			t.Errorf("%s: no %q on the sheet", lang, want)
		}
		if lang != "en" && regexp.MustCompile(`\b(readings|lift lead|crossings)\b`).MatchString(regexp.MustCompile(`<code>.*</code>|<style>(?s:.*)</style>`).ReplaceAllString(page, "")) {
			t.Errorf("%s: English is left on the sheet", lang)
		}
	}
	for _, args := range [][]string{{"--plan", "--sheet", "x.html"}, {"--page", "p.html", "--sheet", "x.html"}, {"--sheet-file", "x.yaml"}, {"--lang", "nl"}} {
		if _, err := call(t, handedOver, args...); err == nil || !strings.Contains(err.Error(), "expected") {
			t.Errorf("%v: %v; want a word on what was expected", args, err)
		}
	}
}

// In every language the answer is said, the plan has no place open, and a terminal is asked in it: heben and
// relevage are understood.
func TestLanguages(t *testing.T) {
	for lang, want := range map[string][]string{
		"de": {"Vorlaufzeit Aushub 310 → 449 ms (± 19)\nAbstand Antenne–Werkzeug: so lassen (+0,3 cm, −3,8 bis +4,4: nicht mehr als Zufall)\n", "Niemand steht an der Fähnchenlinie"},
		"fr": {"anticipation au relevage 310 → 449 ms (± 19)\ndistance antenne–outil\u00a0: la laisser (+0,3 cm, de −3,8 à +4,4\u00a0: pas plus que le hasard)\n", "Personne à la ligne de jalons"},
	} {
		out, err := call(t, tenNumbers, "--lang", lang)
		if err != nil || !strings.HasPrefix(out, want[0]) || !strings.Contains(out, want[1]) {
			t.Errorf("%s: %v\n%s", lang, err, out)
		}
		out, _ = call(t, tenNumbers+"drop;x;3;\n", "--lang", lang)
		if read := map[string]string{"de": `Zeile 12: speed_kmh: gefunden "x"; erwartet eine Zahl von 0,1 bis 40`, "fr": "ligne 12\u00a0: speed_kmh\u00a0: trouvé \"x\"\u00a0; attendu un nombre de 0,1 à 40"}[lang]; !strings.Contains(out, read) {
			t.Errorf("%s: no %q in\n%s", lang, read, out)
		}
		l, err := language.Parse(lang)
		if err != nil {
			t.Fatal(err)
		}
		var asked strings.Builder
		word := map[string]string{"de": "heben", "fr": "relevage"}[lang]
		s, err := ask(strings.NewReader("310\n\n"+word+" 4 15,5\n\n"), &asked, in(l), tape.Defaults{}, tape.DefaultWish())
		if err != nil || len(s.Readings) != 1 || s.Readings[0].Move != tape.Lift || !strings.Contains(asked.String(), want[1]) {
			t.Errorf("%s: %v, %+v\n%s", lang, err, s, asked.String())
		}
		dir := t.TempDir()
		if _, err := call(t, "", "--plan", "--both-ways", "--out", dir, "--lang", lang); err != nil {
			t.Fatal(err)
		}
		data, err := os.ReadFile(filepath.Join(dir, "plan.html"))
		if err != nil {
			t.Fatal(err)
		}
		if page := string(data); strings.Contains(page, "{{") || !strings.Contains(page, want[1]) || !strings.Contains(page, `<html lang="`+lang+`">`) || regexp.MustCompile(`\b(flag line|undisturbed|section)\b`).MatchString(page) {
			t.Errorf("%s: the plan is\n%s", lang, page)
		}
	}
}
