// Parts of what is said of the rows, by arithmetic.

package rows

import (
	"math"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
)

const startNs = int64(1_700_000_000e9)

// bar is two sections of 1 m at x.
func bar(xM float64) *sections.Machine {
	return &sections.Machine{Sections: []sections.Section{{XM: xM, YM: -0.5, WidthM: 1}, {XM: xM, YM: 0.5, WidthM: 1}}}
}

// body is 20 m wide, its rows run north.
func body(south, north float64) field.Zone {
	return field.Zone{Name: "body", Polygons: orb.MultiPolygon{{{{-10, south}, {10, south}, {10, north}, {-10, north}, {-10, south}}}}}
}

func newField(t *testing.T, zones ...field.Zone) *field.Field {
	t.Helper()
	f, err := field.New(geodesy.NewPlane(52, 10), nil, zones)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// straight goes so many metres north at 2 m/s, a pose each 0.1 s.
func straight(eastM, northM, lengthM float64) motion.Track {
	var track motion.Track
	for k := 0; float64(k)*0.2 <= lengthM+1e-9; k++ {
		track = append(track, motion.Pose{TimeNs: startNs + int64(k)*100e6, EastM: eastM, NorthM: northM + float64(k)*0.2, SpeedMps: 2})
	}
	return track
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %.12g; want %.12g", what, got, want)
	}
}

// A tool of 38 cm between rows 50 cm apart has 5 cm to either side of it before it cuts the strip
// of 2 cm, and cuts no more than the strip.
func TestCutOfARow(t *testing.T) {
	w := walk{tools: Tools{RowSpacingM: 0.5, WidthM: 0.38, PlantM: 0.02}}
	for offM, want := range map[float64]float64{0: 0, 0.049: 0, 0.06: 0.01, 0.069: 0.019, 0.07: 0.02, 0.2: 0.02} {
		if got := w.cutM(offM); !(math.Abs(got-want) <= 1e-12) {
			t.Errorf("%g m beside its place it cuts %g m; want %g", offM, got, want)
		}
	}
	if w.tools.WidthM = 0; w.cutM(0.2) != 0 {
		t.Errorf("of an unknown width it cuts %g m; want 0", w.cutM(0.2))
	}
}

// Of the rows of neighbouring passes of a drill of four rows those are planted that it did not
// leave out, counted one by one; row 0 is its first, those before it belong to the pass beside.
func TestPlantedRows(t *testing.T) {
	w := walk{tools: Tools{RowSpacingM: 0.5}}
	rapid.Check(t, func(t *rapid.T) {
		out := rapid.SliceOfNDistinct(rapid.IntRange(1, 4), 0, 3, rapid.ID).Draw(t, "left out")
		first, n := rapid.IntRange(-13, 13).Draw(t, "first"), rapid.IntRange(0, 9).Draw(t, "rows")
		want := 0
		for row := -16; row < 24; row++ {
			if row >= first && row < first+n && !slices.Contains(out, (row+16)%4+1) {
				want++
			}
		}
		if got := w.planted(&field.Drill{WidthM: 2, LeftOut: out}, first, n); got != want {
			t.Fatalf("%d of %d rows from %d on are planted without %v; want %d", got, n, first, out, want)
		}
		if got := w.planted(&field.Drill{LeftOut: out}, first, n); got != n {
			t.Fatalf("a drill of unknown width: %d of %d planted", got, n)
		}
	})
}

// Passes count by their way; the worst is the worst of all.
func TestSum(t *testing.T) {
	rmsM, worstM, cropM2 := Sum([]Pass{{WayM: 30, RMSM: 0.03, WorstM: 0.07, CropM2: 2}, {WayM: 10, RMSM: 0.01, WorstM: 0.05, CropM2: 3}})
	near(t, "root mean square", rmsM, math.Sqrt((30*0.0009+10*0.0001)/40), 1e-12)
	near(t, "worst", worstM, 0.07, 0)
	near(t, "crop", cropM2, 5, 1e-12)
	if rmsM, worstM, cropM2 = Sum(nil); rmsM != 0 || worstM != 0 || cropM2 != 0 {
		t.Errorf("of no passes: %g, %g, %g", rmsM, worstM, cropM2)
	}
}

// A way is along the rows up to 10° to either side of them, in both directions.
func TestAlongRows(t *testing.T) {
	m := bar(-2)
	for _, bearingRad := range []float64{0, 1.1, -2.5} {
		z := field.Zone{RowBearingRad: bearingRad}
		for offDeg, want := range map[float64]bool{0: true, 9.9: true, -9.9: true, 10.1: false, -10.1: false, 90: false, 169.9: false, 170.1: true, 180: true, 190.1: false} {
			headingRad := bearingRad + offDeg*math.Pi/180
			frame := m.Frame(&motion.Pose{HeadingRad: headingRad, ToolHeadingRad: headingRad})
			if got := along(&frame, &z); got != want {
				t.Errorf("%g° beside rows at %g rad: along %v", offDeg, bearingRad, got)
			}
		}
	}
}

// A pass lasts as long as any section works along the rows: it is measured over the way of the
// sections in work, and at the changes of single ones it goes on.
func TestRowPasses(t *testing.T) {
	m := bar(0)
	drilled := body(0, 100)
	drilled.Drill = field.Drill{Known: true, At: orb.Point{0.25, 0}}
	f := newField(t, body(-200, -100), drilled)
	// 90 m north, 3 cm to the right of the rows 50 cm apart; then a jump.
	track := straight(0.03, 5, 90)
	change := func(s float64, section int16, on bool) sections.WorkChange {
		return sections.WorkChange{TimeNs: startNs + int64(s*1e9), Section: section, On: on}
	}
	changes := []sections.WorkChange{change(5, 0, true), change(10.05, 1, true), change(20, 0, false), change(30, 1, false), change(35, 1, true)}
	passes := Measure(track, m, f, changes, nil, Tools{RowSpacingM: 0.5, WidthM: 0.44, PlantM: 0.02})
	if len(passes) != 2 {
		t.Fatalf("%d passes, want 2: %+v", len(passes), passes)
	}
	for i, want := range []Pass{
		// 15 s of the first section and 19.95 s of the second at 2 m/s cut 1 cm of two rows each.
		{Zone: 1, FromNs: startNs + 5e9, UntilNs: startNs + 30e9, WayM: 50, CropM2: 0.01 * 2 * 2 * (15 + 19.95)},
		{Zone: 1, FromNs: startNs + 35e9, UntilNs: startNs + 45e9, WayM: 20, CropM2: 0.01 * 2 * 2 * 10},
	} {
		got := passes[i]
		if got.Zone != want.Zone || got.FromNs != want.FromNs || got.UntilNs != want.UntilNs {
			t.Errorf("pass %d: %+v; want %+v", i, got, want)
		}
		near(t, "way", got.WayM, want.WayM, 1e-9)
		near(t, "mean", got.MeanM, 0.03, 1e-9)
		near(t, "root mean square", got.RMSM, 0.03, 1e-9)
		near(t, "worst", got.WorstM, 0.03, 1e-9)
		near(t, "crop", got.CropM2, want.CropM2, 1e-9)
	}
	// Sections in work from the start, without any change.
	passes = Measure(track, m, f, nil, []bool{true, false}, Tools{RowSpacingM: 0.5})
	if len(passes) != 1 || passes[0].FromNs != startNs || passes[0].CropM2 != 0 {
		t.Errorf("in work all the way: %+v", passes)
	}
	for name, got := range map[string][]Pass{
		"no spacing": Measure(track, m, f, nil, []bool{true, true}, Tools{}),
		"no track":   Measure(nil, m, f, nil, []bool{true, true}, Tools{RowSpacingM: 0.5}),
		"no drill":   Measure(track, m, newField(t, body(0, 100)), nil, []bool{true, true}, Tools{RowSpacingM: 0.5}),
		"up":         Measure(track, m, f, nil, []bool{false, false}, Tools{RowSpacingM: 0.5}),
	} {
		if got != nil {
			t.Errorf("%s: %+v; want no passes", name, got)
		}
	}
}

// A pass begins where a section in work is over a zone whose rows are known; one that is up there
// begins none.
func TestPassBeginsUnderASectionInWork(t *testing.T) {
	m := bar(-2)
	f := newField(t, field.Zone{
		Name: "body", Drill: field.Drill{Known: true, At: orb.Point{0.25, 0}},
		Polygons: orb.MultiPolygon{{{{0, 0}, {10, 0}, {10, 100}, {0, 100}, {0, 0}}}},
	})
	track := straight(0, 5, 20) // the right section over the zone, the left beside it
	for _, tc := range []struct {
		initial []bool
		passes  int
	}{{[]bool{true, false}, 0}, {[]bool{false, true}, 1}, {[]bool{true, true}, 1}} {
		if got := Measure(track, m, f, nil, tc.initial, Tools{RowSpacingM: 0.5}); len(got) != tc.passes {
			t.Errorf("in work %v: %+v; want %d passes", tc.initial, got, tc.passes)
		}
	}
}
