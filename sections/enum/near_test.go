package enum

import (
	"testing"

	"pgregory.net/rapid"
)

func TestMeant(t *testing.T) {
	names := []string{"zone", "row_bearing_deg", "row_a", "work"}
	for found, want := range map[string]string{
		"zone": "zone", "Zone": "zone", "zones": "zone", " zone": "zone", "zoen": "zone", "ozen": "", "note": "", "name": "",
		"rowBearingDeg": "row_bearing_deg", "row-bearing": "row_bearing_deg", "row_baering_deg": "row_bearing_deg",
		"row": "row_a", "rowa": "row_a", "": "", "worked_area": "", "bearing": "",
	} {
		if got := Meant(found, names); got != want {
			t.Errorf("%q: %q; want %q", found, got, want)
		}
	}
}

func TestEditDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"", "abc", 3}, {"mounts", "mount", 1}, {"raer", "rear", 2}, {"kitten", "sitting", 3}} {
		if got := EditDistance(c.a, c.b); got != c.want {
			t.Errorf("%q to %q: %d, want %d", c.a, c.b, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.StringMatching("[a-d]{0,8}").Draw(t, "a"), rapid.StringMatching("[a-d]{0,8}").Draw(t, "b")
		d := EditDistance(a, b)
		if d != EditDistance(b, a) || d > max(len(a), len(b)) || (d == 0) != (a == b) {
			t.Errorf("distance %d", d)
		}
	})
}
