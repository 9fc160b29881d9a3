package drive

import (
	"math"
	"os"
	"testing"

	"liftbench/sections"
	"liftbench/sections/exact"
	"liftbench/sections/field"
)

// Along rows that bend each leg begins where the one before it ends, to a millimetre and a
// hundredth of a degree, and no pass is tighter than its row.
func TestBentPathIsUnbroken(t *testing.T) {
	for _, c := range []struct {
		name      string
		headlandM float64
		headland  HeadlandPasses
	}{{"contour", 0, NoHeadland}, {"clothoid", 0, NoHeadland}, {"constant-radius", 0, NoHeadland}, {"pivot", 0, NoHeadland}, {"round-headland", 24, HeadlandLast}, {"round-headland", 24, HeadlandFirst}} {
		t.Run(c.name+" "+c.headland.String(), func(t *testing.T) {
			t.Parallel()
			file, err := os.Open("../../testdata/curved/" + c.name + ".geojson")
			if err != nil {
				t.Fatal(err)
			}
			defer file.Close()
			opt := field.Options{HeadlandM: c.headlandM}
			if bearing := 30.0; c.headlandM > 0 {
				opt.RowBearingDeg = &bearing
			}
			f, err := field.Read(file, c.name, opt)
			if err != nil {
				t.Fatal(err)
			}
			m := &sections.Machine{Mount: sections.RearRigid}
			for i := range 6 {
				m.Sections = append(m.Sections, sections.Section{XM: -2.2, YM: float64(i) - 2.5, WidthM: 1})
			}
			s, err := Params{WorkMps: 2.2, TurnMps: 2.2, StraightBeforeM: 8, Headland: c.headland, RowSpacingM: 0.5}.Complete(m)
			if err != nil {
				t.Fatal(err)
			}
			pl := newPlanner(f, m, s)
			around := func() {
				if err := pl.workHeadland(); err != nil {
					t.Fatal(err)
				}
			}
			if c.headland == HeadlandFirst {
				around()
			}
			for i := range f.Zones {
				if f.Zones[i].Kind == field.Body {
					pl.workZone(i)
				}
			}
			if c.headland == HeadlandLast {
				around()
			}
			pl.finish()
			p := pl.path
			for i := 1; i < len(p); i++ {
				a, b := p[i-1].end(), p[i].start
				if m, rad := exact.Hypot(a.eastM-b.eastM, a.northM-b.northM), math.Abs(a.headingRad-b.headingRad); !(m < 1e-3) || !(rad < 2e-4) {
					t.Fatalf("leg %d of %d begins %.4f m and %.5f rad off the end of the one before: %+v, %+v", i, len(p), m, rad, p[i-1], p[i])
				}
			}
			t.Logf("%d legs, %d passes; %q", len(p), len(pl.out.Passes), pl.out.Warnings)
		})
	}
}

// A bow ends where it is to, as it is to: against places of a clothoid that a leg integrates.
func TestBow(t *testing.T) {
	for _, k0 := range []float64{-0.1, -0.01, 0, 0.03} {
		for _, k1 := range []float64{-0.08, 0, 0.002, 0.1} {
			want := leg{start: place{3, -4, 1}, lengthM: 5, k0: k0, k1: k1}
			got := bow(want.start, want.end(), 2)
			if math.Abs(got.lengthM-5) > 1e-9 || math.Abs(got.k0-k0) > 1e-6 || math.Abs(got.k1-k1) > 1e-6 {
				t.Errorf("from %g to %g: %+v", k0, k1, got)
			}
		}
	}
}
