// Beside the rows, against arithmetic.

package rows

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
)

// TestBesideTheRows: a bar of 18 rows drives 100 m north, turns aside and comes back,
// each time off by so much to its right. With tools of 38 cm in rows of 50 cm and a
// plant strip of 2 cm there are 5 cm to either side; what is beyond cuts the strip of
// every row in work, but of those that the drill left out.
func TestBesideTheRows(t *testing.T) {
	for _, c := range []struct {
		name                     string
		bearingRad, offM         float64
		leftOut                  []int
		meanM, worstM, cutWidthM float64
		planted                  float64
	}{
		{"on the rows", 0, 0, nil, 0, 0, 0, 18},
		{"4 cm", 0, 0.04, nil, 0.04, 0.04, 0, 18},
		{"6 cm", 0, 0.06, nil, 0.06, 0.06, 0.01, 18},
		{"6 cm the other way", 0, -0.06, nil, -0.06, 0.06, 0.01, 18},
		{"2.6 rows", 0, 1.3, nil, -0.2, 0.2, 0.02, 18},
		{"with tramlines", 0, 0.06, []int{4, 9}, 0.06, 0.06, 0.01, 15},
		{"rows to the south", math.Pi, 0.06, []int{4, 9}, 0.06, 0.06, 0.01, 15},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := &sections.Machine{}
			for i := range 6 {
				m.Sections = append(m.Sections, sections.Section{XM: -2, YM: (float64(i) - 2.5) * 1.5, WidthM: 1.5})
			}
			// Row 1 of a drill pass of 12 lies at 20.25 m: the bar in the middle of 18 rows from there is at 24.5 m.
			row0 := 20.25
			if c.bearingRad != 0 {
				row0 = 28.75 // the rightmost of the 18, seen from the north
			}
			f, err := field.New(geodesy.NewPlane(52, 10), nil, []field.Zone{{
				Name: "body", RowBearingRad: c.bearingRad, Drill: field.Drill{Known: true, At: orb.Point{row0, 50}, WidthM: 6, LeftOut: c.leftOut},
				Polygons: orb.MultiPolygon{{{{0, 0}, {60, 0}, {60, 200}, {0, 200}, {0, 0}}}},
			}})
			if err != nil {
				t.Fatal(err)
			}
			const second = int64(1e9)
			north := 24.5 + c.offM
			south := 24.5 - c.offM
			track := motion.Track{
				{TimeNs: second, EastM: north, NorthM: 20, SpeedMps: 2},
				{TimeNs: 51 * second, EastM: north, NorthM: 120, SpeedMps: 2},
				{TimeNs: 100 * second, EastM: south, NorthM: 124, HeadingRad: math.Pi, ToolHeadingRad: math.Pi, SpeedMps: 2},
				{TimeNs: 150 * second, EastM: south, NorthM: 24, HeadingRad: math.Pi, ToolHeadingRad: math.Pi, SpeedMps: 2},
			}
			var changes []sections.WorkChange
			for _, x := range []struct {
				s  int64
				on bool
			}{{1, true}, {51, false}, {100, true}, {150, false}} {
				for i := range 6 {
					changes = append(changes, sections.WorkChange{TimeNs: x.s * second, Section: int16(i), On: x.on})
				}
			}
			passes := Measure(track, m, f, changes, nil, Tools{RowSpacingM: 0.5, WidthM: 0.38, PlantM: 0.02})
			if len(passes) != 2 {
				t.Fatalf("%d passes, want 2: %+v", len(passes), passes)
			}
			for i, p := range passes {
				near := func(what string, got, want float64) {
					if !(math.Abs(got-want) <= 1e-6*math.Max(1, math.Abs(want))) {
						t.Errorf("pass %d: %s %.6f, want %.6f", i+1, what, got, want)
					}
				}
				near("way", p.WayM, 100)
				near("mean", p.MeanM, c.meanM)
				near("rms", p.RMSM, c.worstM)
				near("worst", p.WorstM, c.worstM)
				near("crop", p.CropM2, c.cutWidthM*c.planted*100)
			}
			if got := Measure(track, m, f, changes, nil, Tools{}); got != nil {
				t.Errorf("without a row spacing: %+v", got)
			}
		})
	}
}
