package sheet

import (
	"strings"
	"testing"

	"liftbench/cmd/liftbench/settings"
)

// Each effect has its row on the sheet, with what it costs.
func TestEffects(t *testing.T) {
	for file, want := range map[string]string{
		"float-slot": "lift +181 ms, drop +0 ms", "unequal-sections": "4 × 32 mm: 261 ms to come out of work", "sleeping-pump": "waits 200 ms",
		"back-pressure": "lift +0 ms, drop +84 ms", "relaxing-spring": "lift +0 ms, drop +80 ms", "pressed-down": "beside a rod of 16 mm",
		"throttled-lowering": "when lowering", "in-turn": "the last of 6 comes out of work after 4.66 s", "transmission-oil": "60 and 9.4 mm²/s",
		"carrying-soil": "carries 300 N", "biting": "0.8 m of way", "accumulator": "0.03 L of gas at 100 bar", "warmed-by-work": "3 L of oil",
	} {
		s, err := Load(&settings.Selection{Arg: "../../../testdata/effects/" + file + ".yaml"})
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		if err := s.Write(&b); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(b.String(), want) {
			t.Errorf("%s: no %q on the sheet:\n%s", file, want, b.String())
		}
	}
}
