package language

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/feature/plural"
	xlanguage "golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

var tags = [...]xlanguage.Tag{English: xlanguage.English, German: xlanguage.German, French: xlanguage.French}

// Which numbers are said in the singular, by the rules of CLDR in golang.org/x/text.
// From a million on CLDR has a third form for French ("un million de passages"), which
// no page needs.
func TestPluralsOfCLDR(t *testing.T) {
	for l, tag := range tags {
		for n := range 3000 {
			want := plural.Cardinal.MatchPlural(tag, n, 0, 0, 0, 0) == plural.One
			if got := Language(l).one(n); got != want {
				t.Errorf("%s: %d is singular: %v; CLDR %v", tag, n, got, want)
			}
		}
	}
}

// Numbers below 10 000, where nothing is grouped, by golang.org/x/text; it writes the
// minus of German and French as a hyphen.
func TestNumbersOfCLDR(t *testing.T) {
	for l, tag := range tags {
		p := message.NewPrinter(tag)
		for _, x := range []float64{0, 0.04, -0.04, 1, -3.25, 7.949, 12.5, 999.95, -1234.56, 9999} {
			for decimals := range 4 {
				want := p.Sprint(number.Decimal(x, number.Scale(decimals), number.NoSeparator()))
				want = strings.ReplaceAll(want, "-", minus)
				if strings.Trim(want, minus+"0.,") == "" {
					want = strings.TrimPrefix(want, minus)
				}
				if got := Language(l).Number(x, decimals); got != want {
					t.Errorf("%s, %g: %q; want %q", tag, x, got, want)
				}
			}
		}
	}
}

func TestNumbersAndDates(t *testing.T) {
	day := time.Date(2026, 5, 2, 23, 0, 0, 0, time.UTC)
	for _, c := range []struct{ got, want string }{
		{English.Number(1234567.5, 1), "1\u202f234\u202f567.5"},
		{German.Number(-12345, 0), "−12\u202f345"},
		{French.Number(9999.5, 1), "9999,5"},
		{German.Signed(3.04, 1), "+3,0"},
		{German.Signed(0.04, 1), "0,0"},
		{French.Signed(-3, 0), "−3"},
		{German.Percent(0.95, 1), "95\u00a0%"},
		{French.Percent(0.9217, 1), "92,2\u00a0%"},
		{English.Percent(1, 0), "100\u00a0%"},
		{English.Unit("3.4", "cm"), "3.4\u00a0cm"},
		{English.Date(day), "2\u00a0May\u00a02026"},
		{German.Date(day), "02.05.2026"},
		{French.Date(day), "02/05/2026"},
	} {
		if c.got != c.want {
			t.Errorf("%q; want %q", c.got, c.want)
		}
	}
	for l, code := range codes {
		if got, err := Parse(code); err != nil || got != Language(l) || got.String() != code {
			t.Errorf("%s: %v, %v", code, got, err)
		}
	}
	if _, err := Parse("DE"); err == nil || err.Error() != `found "DE"; expected en, de or fr` {
		t.Errorf("DE: %v", err)
	}
}

func TestText(t *testing.T) {
	c := Load([]byte(`{"passes": {"en": ["one pass at {speed}", "{n} passes at {speed}"], "de": ["{n} Überfahrt mit {speed}", "{n} Überfahrten mit {speed}"], "fr": ["{n} passage à {speed}", "{n} passages à {speed}"]},
		"farm": {"en": "Farm", "de": "Betrieb", "fr": "Exploitation"}}`))
	for _, s := range []struct{ got, want string }{
		{c.In(English).Text("passes", "n", 1, "speed", "{n}"), "one pass at {n}"},
		{c.In(English).Text("passes", "n", 0, "speed", "8"), "0 passes at 8"},
		{c.In(German).Text("passes", "speed", "8", "n", 12000), "12\u202f000 Überfahrten mit 8"},
		{c.In(French).Text("passes", "n", 0, "speed", "8"), "0 passage à 8"},
		{c.In(French).Text("farm"), "Exploitation"},
		{c.In(French).Text("barn"), "barn"},
	} {
		if s.got != s.want {
			t.Errorf("%q; want %q", s.got, s.want)
		}
	}
}

// Every fault of a catalogue is told, and nothing of a sound one.
func TestFaults(t *testing.T) {
	source := filepath.Join(t.TempDir(), "page.go")
	if err := os.WriteFile(source, []byte(`x.Text("a", "v", 1); text("b"); t.Text("gone")`), 0o644); err != nil {
		t.Fatal(err)
	}
	sound := `"a": {"en": "a {v}", "de": "ein {v}", "fr": "un {v}"}`
	for _, c := range []struct{ b, want string }{
		{`"b": {"en": ["{n} row", "{n} rows"], "de": ["eine Reihe", "{n} Reihen"], "fr": ["{n} rang", "{n} rangs"]}`, ""},
		{`"b": {"en": "row", "de": "Reihe"}`, `"b" is missing in "fr"`},
		{`"b": {"en": "row", "de": "Reihe", "fr": ""}`, `"b" in "fr" is ""; expected text without spaces around it`},
		{`"b": {"en": "row", "de": "Reihe {v}", "fr": "rang"}`, `"b" in "de" has the placeholders [{v}], in English []`},
		{`"b": {"en": ["row", "rows"], "de": "Reihe", "fr": ["rang", "rangs"]}`, `"b" has 1 forms in "de" and 2 in English; expected a text in each, or a list of two`},
		{`"b": {"en": "drive at two speeds", "de": "drive at two speeds", "fr": "rang"}`, `"b" in "de" is English: drive at two speeds`},
		{`"b": {"en": "row", "de": "Reihe", "fr": "rang", "it": "fila"}`, `"b" is written in "it"; expected en, de, fr`},
		{`"b": {"en": "row", "de": "Reihe", "fr": "rang"}, "c": {"en": "row", "de": "Reihe", "fr": "rang"}`, `"c" is used by no source`},
	} {
		want := []string{source + ` uses "gone", which the catalogue lacks`}
		if c.want != "" {
			want = append([]string{c.want}, want...)
		}
		slices.Sort(want)
		if got := Load([]byte("{" + sound + "," + c.b + "}")).Faults(source); !slices.Equal(got, want) {
			t.Errorf("%s:\n got %q\nwant %q", c.b, got, want)
		}
	}
}

// The language is the one with the largest weight, the first of those that are alike, and English where
// none of ours is liked.
func TestAccepted(t *testing.T) {
	for header, want := range map[string]Language{
		"": English, "de": German, "de-AT,de;q=0.9,en;q=0.8": German, "en-GB,de;q=0.9": English, "nl,fr-CH;q=0.5,en;q=0.4": French,
		"fr;q=0.1, de ; q=0.7": German, "de;q=0,fr;q=0.2": French, "de;q=x,fr;q=0.2": French, "*": English, "nl,sv": English, "DE": German, "fr,de": French, "de;q=7": English,
	} {
		if got := Accepted(header); got != want {
			t.Errorf("%q: %v; want %v", header, got, want)
		}
	}
}
