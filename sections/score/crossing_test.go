package score

import (
	"fmt"
	"testing"
)

func TestCrossings(t *testing.T) {
	const s = int64(1e9)
	for _, c := range []struct {
		name    string
		changes []Change
		want    string // of each crossing its way, first and last second, and changes
	}{
		{"nothing", nil, "[]"},
		{"a slanting border", []Change{{0, 0, true}, {5 * s, 1, true}, {10 * s, 2, true}}, "[drop 0-10 [0 1 2]]"},
		{"two borders", []Change{{0, 0, true}, {5*s + 1, 1, true}}, "[drop 0-0 [0] drop 5-5 [1]]"},
		{"both ways at once", []Change{{0, 0, true}, {1 * s, 1, false}, {2 * s, 1, true}, {3 * s, 0, false}}, "[drop 0-2 [0 2] lift 1-3 [1 3]]"},
		{"the same section again", []Change{{0, 0, false}, {1 * s, 1, false}, {2 * s, 0, false}}, "[lift 0-1 [0 1] lift 2-2 [2]]"},
	} {
		got := []string{}
		for _, x := range Crossings(len(c.changes), func(i int) Change { return c.changes[i] }) {
			way := "lift"
			if x.On {
				way = "drop"
			}
			got = append(got, fmt.Sprintf("%s %d-%d %v", way, x.FromNs/s, x.UntilNs/s, x.Of))
		}
		if fmt.Sprint(got) != c.want {
			t.Errorf("%s: %v; want %s", c.name, got, c.want)
		}
	}
}
