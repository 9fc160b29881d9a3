package score

import (
	"fmt"
	"testing"

	"liftbench/sections"
)

func TestCrossings(t *testing.T) {
	const s = int64(1e9)
	drop := func(timeNs int64, section int16) sections.WorkChange {
		return sections.WorkChange{TimeNs: timeNs, Section: section, On: true}
	}
	lift := func(timeNs int64, section int16) sections.WorkChange {
		return sections.WorkChange{TimeNs: timeNs, Section: section}
	}
	for _, c := range []struct {
		name    string
		changes []sections.WorkChange
		want    string // of each crossing its way, first and last second, and changes
	}{
		{"nothing", nil, "[]"},
		{"a slanting border", []sections.WorkChange{drop(0, 0), drop(5*s, 1), drop(10*s, 2)}, "[drop 0-10 [0 1 2]]"},
		{"two borders", []sections.WorkChange{drop(0, 0), drop(5*s+1, 1)}, "[drop 0-0 [0] drop 5-5 [1]]"},
		{"both ways at once", []sections.WorkChange{drop(0, 0), lift(1*s, 1), drop(2*s, 1), lift(3*s, 0)}, "[drop 0-2 [0 2] lift 1-3 [1 3]]"},
		{"the same section again", []sections.WorkChange{lift(0, 0), lift(1*s, 1), lift(2*s, 0)}, "[lift 0-1 [0 1] lift 2-2 [2]]"},
	} {
		got := []string{}
		for _, x := range Crossings(c.changes) {
			way := "lift"
			if x.On {
				way = "drop"
			}
			got = append(got, fmt.Sprintf("%s %d-%d %v", way, x.FromNs/s, x.UntilNs/s, x.Changes))
		}
		if fmt.Sprint(got) != c.want {
			t.Errorf("%s: %v; want %s", c.name, got, c.want)
		}
	}
}
