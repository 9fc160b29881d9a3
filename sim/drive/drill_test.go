// Passes on the rows that the drill laid.

package drive

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
)

// hoe is a bar of so many sections of widthM behind the tractor.
func hoe(n int, widthM float64) *sections.Machine {
	m := &sections.Machine{Mount: sections.RearRigid}
	for i := range n {
		m.Sections = append(m.Sections, sections.Section{XM: -2, YM: (float64(i) - float64(n-1)/2) * widthM, WidthM: widthM})
	}
	return m
}

// A pass lies on rows: the middle of a bar of an even number of rows half a spacing
// from one, of an odd number on one. All lie as many whole rows from their neighbours
// as the bar has, but the first and the last, which stay inside the zone.
func TestPassesLieOnRows(t *testing.T) {
	for _, c := range []struct {
		name             string
		acrossM          float64
		n                int     // sections of 3 rows of 0.5 m
		atM              float64 // of the drill's row, across; NaN: not known
		drillM, overlapM float64
		passes           int
		firstM, lastM    float64 // between the first two passes, and the last two
		straddles        bool
	}{
		// 22 passes of 18 rows are 198 m; the rows at 198.25, 198.75 and 199.25 m are left.
		{"199.3 m, 9 m of 0.5 m rows", 199.3, 6, math.NaN(), 0, 0, 23, 9, 1.5, false},
		{"a whole number of passes", 198, 6, math.NaN(), 0, 0, 22, 9, 9, false},
		// Borders are off by a little in every file.
		{"a little more", 198.01, 6, math.NaN(), 0, 0, 22, 9, 9, false},
		{"rows as the drill laid them", 199.3, 6, 7.1, 0, 0, 23, 9, 1.5, false},
		// Rows lie at 0.1 + k/2 m; a drill pass begins at 7.1 - 9 < 0: four of its rows are outside.
		{"as wide a drill", 199.3, 6, 7.1, 9, 0, 23, 7, 3.5, false},
		{"a drill half as wide", 199.3, 6, 7.1, 4.5, 0, 23, 7, 3.5, false},
		{"a drill of 6 m", 199.3, 6, 7.1, 6, 0, 23, 7, 3.5, true},
		{"an overlap of a row and a little", 198, 6, math.NaN(), 0, 0.6, 24, 8.5, 2, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := box(0, orb.Ring{{0, 0}, {c.acrossM, 0}, {c.acrossM, 100}, {0, 100}}, orb.Ring{{-40, -60}, {c.acrossM + 40, -60}, {c.acrossM + 40, 160}, {-40, 160}})
			row0 := 0.25
			if !math.IsNaN(c.atM) {
				f.Zones[0].Drill = field.Drill{Known: true, At: orb.Point{c.atM, 33}, WidthM: c.drillM}
				row0 = c.atM
			}
			m := hoe(c.n, 1.5)
			d, err := Plan(f, m, Params{WorkMps: 2, RowSpacingM: 0.5, OverlapM: c.overlapM, SkipPasses: 2})
			if err != nil {
				t.Fatal(err)
			}
			var at []float64
			for _, p := range d.Passes {
				at = append(at, p.From[0])
			}
			slices.Sort(at)
			if len(at) != c.passes {
				t.Fatalf("%d passes, want %d", len(at), c.passes)
			}
			half := 1.5 * float64(c.n) / 2
			for i, v := range at {
				if off := math.Remainder(v-half+0.25-row0, 0.5); math.Abs(off) > 1e-6 {
					t.Errorf("pass %d lies %.3f m from the rows", i+1, off)
				}
				if v-half < -0.25-rowSlackM || v+half > c.acrossM+0.25+rowSlackM {
					t.Errorf("pass %d reaches from %.2f to %.2f m of %.2f: a row unit runs outside", i+1, v-half, v+half, c.acrossM)
				}
			}
			n := len(at)
			if first, last := at[1]-at[0], at[n-1]-at[n-2]; math.Abs(first-c.firstM) > 1e-6 || math.Abs(last-c.lastM) > 1e-6 {
				t.Errorf("the first two passes are %.2f m apart, the last two %.2f; want %g and %g", first, last, c.firstM, c.lastM)
			}
			if got := strings.Contains(strings.Join(d.Warnings, "\n"), "straddle those of a drill"); got != c.straddles {
				t.Errorf("warned of joins: %v, want %v", got, c.straddles)
			}
		})
	}
}
