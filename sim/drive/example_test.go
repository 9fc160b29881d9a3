package drive_test

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sim/drive"
)

// A field of 36 m by 200 m with rows to the north and headlands of 18 m.
func ExamplePlan() {
	f, err := field.New(geodesy.NewPlane(52, 10), orb.MultiPolygon{{{{-6, -18}, {42, -18}, {42, 218}, {-6, 218}, {-6, -18}}}}, []field.Zone{{
		Name: "beet", Kind: field.Body, RowBearingRad: 0,
		Polygons: orb.MultiPolygon{{{{0, 0}, {36, 0}, {36, 200}, {0, 200}, {0, 0}}}},
	}})
	if err != nil {
		fmt.Println(err)
		return
	}
	m := &sections.Machine{Mount: sections.RearRigid, Sections: []sections.Section{
		{XM: -2.5, YM: -1.5, WidthM: 3}, {XM: -2.5, YM: 1.5, WidthM: 3},
	}}
	d, err := drive.Plan(f, m, drive.Params{WorkMps: 8 / 3.6, Turn: drive.Fishtail, PauseS: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	last := d.Track[len(d.Track)-1]
	fmt.Printf("%d passes in %.0f s, headland needed %.1f m\n", len(d.Passes), float64(last.TimeNs)*1e-9, d.HeadlandNeededM)
	for _, w := range d.Warnings {
		fmt.Println(w)
	}
	// Output:
	// 6 passes in 724 s, headland needed 14.0 m
}

// A quarter circle to the right at 2 m/s.
func ExampleArc() {
	track := drive.Arc(0, 0, 0, 0, 2, math.Pi/2*20, 20)
	p := track[len(track)-1]
	fmt.Printf("east %.3f m, north %.3f m, heading %.1f°\n", p.EastM, p.NorthM, p.HeadingRad*180/math.Pi)
	// Output:
	// east 20.000 m, north 20.000 m, heading 90.0°
}
