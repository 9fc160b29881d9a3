package track

import (
	"math"
	"testing"

	"liftbench/nmea"
	"liftbench/sections/geodesy"
)

// TestMotionOnACircle drives a circle of 20 m at 2 m/s, where speed and course are known:
// a chord over an angle a is shorter than its arc by sin(a/2)/(a/2), and points where its
// middle does.
func TestMotionOnACircle(t *testing.T) {
	const radiusM, speedMps = 20.0, 2.0
	for _, rateHz := range []float64{1, 5, 10} {
		var fixes []nmea.Fix
		plane := geodesy.NewPlane(52, 10)
		for i := range 200 {
			if i >= 80 && i < 80+int(5*rateHz) {
				continue // a gap of 5 s
			}
			f := nmea.EmptyFix()
			a := speedMps / radiusM * float64(i) / rateHz
			f.TimeNs, f.Dated, f.Quality = int64(float64(i)/rateHz*1e9), true, nmea.RTKFixed
			f.LatDeg, f.LonDeg = plane.ToGeodetic(radiusM*math.Sin(a), radiusM*math.Cos(a))
			fixes = append(fixes, f)
		}
		given := fixes[50]
		given.SpeedMps, given.CourseDeg = 9, 9
		fixes[50] = given
		Derive(fixes)
		if fixes[50].SpeedMps != 9 || fixes[50].CourseDeg != 9 {
			t.Errorf("a speed that was there is %g m/s now", fixes[50].SpeedMps)
		}
		for i := range fixes {
			f := &fixes[i]
			if i == 50 {
				continue
			}
			a := speedMps / radiusM * float64(f.TimeNs) * 1e-9
			wantDeg := math.Mod(90+a*180/math.Pi, 360)
			offDeg := math.Abs(math.Mod(f.CourseDeg-wantDeg+540, 360) - 180)
			mostDeg := 0.05 // degrees
			if one := i == 0 || i == len(fixes)-1 || fixes[i+1].TimeNs-f.TimeNs > 2e9 || f.TimeNs-fixes[i-1].TimeNs > 2e9; one || rateHz > 1 {
				mostDeg = 180 / math.Pi * speedMps / radiusM * 0.55 // half of a one-sided window, or what a gap cuts off it
			}
			if !(offDeg <= mostDeg && math.Abs(f.SpeedMps-speedMps) <= 0.01) {
				t.Errorf("%g Hz, fix %d at %g s: %g m/s, course off by %g°", rateHz, i, float64(f.TimeNs)*1e-9, f.SpeedMps, offDeg)
			}
		}
	}
}
