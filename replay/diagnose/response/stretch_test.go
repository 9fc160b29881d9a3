// A section that stands still for a stretch, on a machine that misses besides.

package response

import "testing"

// asksOf is a machine of six sections that are asked for a lift a minute; fails says which
// failed.
func asksOf(n int, fails func(section, k int) bool) (list []asked) {
	for k := range n {
		for s := range 6 {
			list = append(list, asked{section: s, ns: int64(k) * 60e9, failed: fails(s, k)})
		}
	}
	return list
}

func TestStretch(t *testing.T) {
	left := []bool{true, true, true, true, true, true}
	// Every sixth ask of each section fails, none at the same time as another's.
	scattered := func(s, k int) bool { return (k+s)%6 == 0 }
	for _, tc := range []struct {
		name          string
		fails         func(s, k int) bool
		run           int
		atOnce, known bool // looks like one stretch; no chance beside the others
	}{
		{"ten in a row, nothing else", func(s, k int) bool { return s == 2 && k >= 10 && k < 20 }, 10, true, true},
		{"ten in a row, and some on all", func(s, k int) bool { return s == 2 && k >= 10 && k < 20 || scattered(s, k) }, 10, true, true},
		{"three in a row", func(s, k int) bool { return s == 2 && k >= 10 && k < 13 }, 3, false, false},
		{"some on all", scattered, 1, false, false},
		{"half of one section's, here and there", func(s, k int) bool { return s == 2 && k%2 == 0 }, 1, false, false},
		{"most of one section's", func(s, k int) bool { return s == 2 && k%5 != 0 }, 4, false, true},
		{"the machine for ten in a row", func(s, k int) bool { return k >= 10 && k < 20 }, 0, false, false},
	} {
		list := asksOf(30, tc.fails)
		run, own, _ := longestRun(list, 2)
		if run != tc.run || own != 30 {
			t.Errorf("%s: %d in a row of %d; want %d of 30", tc.name, run, own, tc.run)
		}
		if got := atOnce(list, 2); got != tc.atOnce {
			t.Errorf("%s: one stretch %v", tc.name, got)
		}
		if p := chanceOfRun(list, 2, left); (p < chance/12) != tc.known {
			t.Errorf("%s: chance of %g", tc.name, p)
		}
	}
}
