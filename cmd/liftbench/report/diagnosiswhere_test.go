// Directions are compared by what their scatter allows.

package report

import (
	"math"
	"testing"

	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/run"
	"liftbench/sections/score"
	"liftbench/sim"
)

// driven is a day of lifts heading north and south, in turns, of so many sections, with these
// place errors.
func driven(sections int, north, south []float64) *run.Diagnosis {
	d := &run.Diagnosis{Outcome: &run.Outcome{Outcome: &sim.Outcome{Score: &score.Result{}}}}
	d.Score.Sections = make([]score.Section, sections)
	for way, errors := range [...][]float64{north, south} {
		for _, e := range errors {
			for s := range sections {
				d.Events = append(d.Events, score.Event{Section: int16(s), Kind: score.Paired, PlaceErrorM: e, HeadingRad: math.Pi * float64(way)})
			}
		}
	}
	return d
}

func TestWhichWay(t *testing.T) {
	for _, tc := range []struct {
		name         string
		sections     int
		north, south []float64
		want         string
	}{
		{"alike", 1, []float64{0.10, 0.11, 0.12}, []float64{0.12, 0.13, 0.14}, "all alike, medians +11.0 cm to +13.0 cm."},
		{"apart", 1, []float64{0.10, 0.11, 0.12}, []float64{0.30, 0.31, 0.32}, "latest heading south, median +31.0 cm; earliest heading north, +11.0 cm."},
		{"less apart than they scatter", 1, []float64{-3, 0.1, 3}, []float64{-3, 0.3, 3}, "all alike, medians +10.0 cm to +30.0 cm."},
		{"sections of a crossing scatter as one", 12, []float64{-3, 0.1, 3}, []float64{-3, 3, 3.3}, "all alike, medians +0.10 m to +3.00 m."},
		{"one way", 1, []float64{0.1, 0.1, 0.1}, nil, ""},
	} {
		r := &dayPage{driven(tc.sections, tc.north, tc.south), catalogue().In(language.English)}
		if got := r.whichWay(false); got != tc.want {
			t.Errorf("%s: %q, want %q", tc.name, got, tc.want)
		}
	}
}
