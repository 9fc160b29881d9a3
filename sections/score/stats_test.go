// Means, percentiles and what there is without a pair.

package score

import (
	"encoding/json"
	"testing"
)

func TestSpread(t *testing.T) {
	var twenty []float64
	for i := range 20 {
		twenty = append(twenty, float64(i+1))
	}
	for _, c := range []struct {
		name   string
		errors []float64
		want   Spread
	}{
		{"one", []float64{-2}, Spread{-2, 2, 2}},
		{"signs cancel in the mean alone", []float64{-3, 3}, Spread{0, 3, 3}},
		{"19 of 20 are 95 %", twenty, Spread{10.5, 19, 20}},
		{"of 19 it is the last", twenty[:19], Spread{10, 19, 19}},
		{"of 21 it is the 20th", append(twenty[:20:20], -21), Spread{9, 20, 21}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := *spread(c.errors); got != c.want {
				t.Errorf("got %+v, want %+v", got, c.want)
			}
		})
	}
}

// Without pairs the errors are null in JSON, never 0.
func TestNoPairsIsNull(t *testing.T) {
	out, err := json.Marshal((&tally{missed: 2, spurious: 1}).stats())
	if err != nil {
		t.Fatal(err)
	}
	const want = `{"count":2,"paired":0,"missed":2,"spurious":1,"time_error_s":null,"place_error_m":null}`
	if string(out) != want {
		t.Errorf("got  %s\nwant %s", out, want)
	}
}
