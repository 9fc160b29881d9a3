package motion_test

import (
	"fmt"
	"math"

	"liftbench/nmea"
	"liftbench/sections/motion"
)

// A tractor drives north at 2 m/s; where is it 1.5 s after the newest fix?
func ExampleEstimator() {
	k := motion.Estimator{Antenna: motion.Antenna{XM: 1.2}}
	fix := nmea.EmptyFix()
	fix.Quality, fix.SpeedMps, fix.CourseDeg = nmea.RTKFixed, 2, 0
	for i := range 50 {
		fix.TimeNs = 1_936_000_000e9 + int64(i)*100e6
		k.Update(&fix, 10, 0.2*float64(i))
	}
	m, _ := k.Motion()
	p := m.Predict(fix.TimeNs + 1500e6)
	fmt.Printf("%.1f m east, %.1f m north, heading %.0f°\n", p.EastM, p.NorthM, p.HeadingRad*180/math.Pi)
	// Output: 10.0 m east, 11.6 m north, heading 0°
}
