package sections_test

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/nmea"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/schedule"
)

// A bar of two sections of 3 m, 2 m behind the rear axle, drives north at 2 m/s
// into a square of 40 m. The fixes are of ten a second and arrive 100 ms late.
// The bar reaches the border after 22 m and leaves the square after 62 m.
func ExampleController() {
	plane := geodesy.NewPlane(52.3, 9.8)
	square := orb.MultiPolygon{{{{-20, 0}, {20, 0}, {20, 40}, {-20, 40}, {-20, 0}}}}
	f, err := field.New(plane, nil, []field.Zone{{Name: "beet", Kind: field.Body, RowBearingRad: 0, Polygons: square}})
	if err != nil {
		fmt.Println(err)
		return
	}
	m := &sections.Machine{Mount: sections.RearRigid, Sections: []sections.Section{
		{XM: -2, YM: -1.5, WidthM: 3}, {XM: -2, YM: 1.5, WidthM: 3},
	}}
	set := sections.DefaultSettings() // drop lead 600 ms, lift lead 300 ms
	c, err := sections.New(m, f, set)
	if err != nil {
		fmt.Println(err)
		return
	}
	const startNs = int64(1_936_000_000e9)
	when := schedule.New(&set)
	out := make([]sections.Setpoint, 0, len(m.Sections))
	show := func(list []sections.Setpoint) {
		for _, s := range list {
			what := "lift"
			if s.On {
				what = "drop"
			}
			fmt.Printf("%.2f s: %s section %d\n", float64(s.DueNs-startNs)*1e-9, what, s.Section+1)
		}
	}
	for k := range 400 {
		seconds := float64(k) / 10
		fix := nmea.Fix{
			TimeNs: startNs + int64(k)*100e6, Quality: nmea.RTKFixed,
			SpeedMps: 2, CourseDeg: 0, HeadingDeg: math.NaN(),
		}
		fix.LatDeg, fix.LonDeg = plane.ToGeodetic(0, 2*seconds-20)
		at := when.ArrivalNs(&fix)
		for t, ok := when.Next(at); ok; t, ok = when.Next(at) {
			show(c.Tick(t, out[:0]))
		}
		c.Fix(&fix)
		show(c.Tick(when.Take(at), out[:0]))
	}
	// Output:
	// 10.40 s: drop section 1
	// 10.40 s: drop section 2
	// 30.70 s: lift section 1
	// 30.70 s: lift section 2
}

// Three fixes, a second apart, are enough: the bar is in the field, so it drops as soon
// as the motion is known; the border is reached 5 s after the first fix, and the lift is
// due 300 ms, its lead, before that.
func ExampleController_threeFixes() {
	plane := geodesy.NewPlane(52.3, 9.8)
	square := orb.MultiPolygon{{{{-20, -40}, {20, -40}, {20, 8}, {-20, 8}, {-20, -40}}}}
	f, err := field.New(plane, nil, []field.Zone{{Kind: field.Body, RowBearingRad: 0, Polygons: square}})
	if err != nil {
		fmt.Println(err)
		return
	}
	m := &sections.Machine{Sections: []sections.Section{{XM: -2, WidthM: 3}}}
	set := sections.DefaultSettings() // drop lead 600 ms, lift lead 300 ms
	set.MaxAgeNs = 5e9                // nothing comes after the third
	c, err := sections.New(m, f, set)
	if err != nil {
		fmt.Println(err)
		return
	}
	const startNs = int64(1_936_000_000e9)
	var out []sections.Setpoint
	for nowNs := startNs; nowNs < startNs+6e9; nowNs += set.TickNs {
		if k := (nowNs - startNs) / 1e9; nowNs == startNs+k*1e9 && k < 3 {
			fix := nmea.EmptyFix()
			fix.TimeNs, fix.Quality, fix.SpeedMps, fix.CourseDeg = nowNs, nmea.RTKFixed, 2, 0
			fix.LatDeg, fix.LonDeg = plane.ToGeodetic(0, 2*float64(k))
			c.Fix(&fix)
		}
		out = c.Tick(nowNs, out)
	}
	for _, s := range out {
		fmt.Printf("%.2f s: on %v, %s\n", float64(s.DueNs-startNs)*1e-9, s.On, s.Reason)
	}
	// Output:
	// 0.00 s: on true, border
	// 4.70 s: on false, border
}
