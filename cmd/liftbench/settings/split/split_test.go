package split

import (
	"math"
	"strings"
	"testing"
)

// TestPlaces lays each unit down by itself, as a person with a tape would: on rows, the unit of row k reaches half a
// spacing to either side of it; between rows, a unit fills a gap, from one row to the next, and the outer two the half
// gap beyond the first and the last row. A section is where its units are.
func TestPlaces(t *testing.T) {
	const spacingM = 0.45
	for _, c := range []struct {
		rows  int
		units Units
		of    []int
	}{
		{12, OnRows, []int{4, 4, 4}}, {7, OnRows, []int{1, 5, 1}}, {1, OnRows, []int{1}},
		{12, BetweenRows, []int{3, 2, 3, 2, 3}}, {12, BetweenRows, []int{13}}, {6, BetweenRows, []int{1, 5, 1}}, {1, BetweenRows, []int{1, 1}}, {1, BetweenRows, []int{2}},
	} {
		rowM := func(k int) float64 { return (float64(k) - float64(c.rows-1)/2) * spacingM } // of row k, from 0, right of the middle
		var units [][2]float64
		if c.units == OnRows {
			for k := range c.rows {
				units = append(units, [2]float64{rowM(k) - spacingM/2, rowM(k) + spacingM/2})
			}
		} else {
			units = append(units, [2]float64{rowM(0) - spacingM/2, rowM(0)})
			for k := 1; k < c.rows; k++ {
				units = append(units, [2]float64{rowM(k - 1), rowM(k)})
			}
			units = append(units, [2]float64{rowM(c.rows - 1), rowM(c.rows-1) + spacingM/2})
		}
		b := Bar{Rows: c.rows, SpacingM: spacingM, Units: c.units}
		if b.Count() != len(units) {
			t.Errorf("%+v: %d units, want %d", b, b.Count(), len(units))
		}
		if err := b.Check(Sections{Rows: c.of}); err != nil {
			t.Errorf("%+v: %v", b, err)
		}
		first := 0
		for i, n := range b.Of(Sections{Rows: c.of}) {
			left, right := units[first][0], units[first+n-1][1]
			rightM, widthM := b.Place(first, n)
			if math.Abs(rightM-(left+right)/2) > 1e-12 || math.Abs(widthM-(right-left)) > 1e-12 {
				t.Errorf("%+v: section %d at %g m, %g m wide; want %g, %g", b, i+1, rightM, widthM, (left+right)/2, right-left)
			}
			inner := []float64{}
			for k := first; k < first+n-1; k++ {
				inner = append(inner, units[k][1])
			}
			if edges := b.Edges(first, n); len(edges) != len(inner) {
				t.Errorf("%+v: section %d: units meet at %v, want %v", b, i+1, edges, inner)
			} else {
				for k := range inner {
					if math.Abs(edges[k]-inner[k]) > 1e-12 {
						t.Errorf("%+v: section %d: units meet at %v, want %v", b, i+1, edges, inner)
					}
				}
			}
			first += n
		}
		for k, y := range b.RowsM() {
			if math.Abs(y-rowM(k)) > 1e-12 {
				t.Errorf("%+v: row %d at %g m, want %g", b, k, y, rowM(k))
			}
		}
	}
}

func TestCheck(t *testing.T) {
	for _, c := range []struct {
		bar  Bar
		s    Sections
		want string
	}{
		{Bar{Rows: 12}, Sections{Count: 5}, "found 5 for 12 rows; expected a number that divides the rows"},
		{Bar{Rows: 12}, Sections{Rows: []int{6, 7}}, "found 13 rows in 2 sections; expected rows.count, 12, in all"},
		{Bar{Rows: 12, Units: BetweenRows}, Sections{Count: 2}, "found 2 for the 13 units of 12 rows; expected the units of each section as a list"},
		{Bar{Rows: 12, Units: BetweenRows}, Sections{Rows: []int{6, 6}}, "found 12 units in 2 sections; expected 13 in all, one more than rows.count"},
	} {
		if err := c.bar.Check(c.s); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v, %+v: %v; want %q", c.bar, c.s, err, c.want)
		}
	}
	if err := (Bar{Rows: 12, Units: BetweenRows}).Check(Sections{Count: 1}); err != nil {
		t.Error(err)
	}
}
