// Positions that contradict speed and course.

package sections

import (
	"math"
	"slices"
	"testing"

	"liftbench/nmea"
)

// A tractor works north through the body at 2 m/s. From 20 s on the fixes lie.
func TestFrozenFix(t *testing.T) {
	steady := northward(-20, [2]float64{99, 2})
	var held nmea.Fix
	freeze := func(s float64, f *nmea.Fix) bool {
		if s < 20 {
			held = *f
		} else {
			f.LatDeg, f.LonDeg = held.LatDeg, held.LonDeg
		}
		return true
	}
	for _, tc := range []struct {
		name  string
		alter func(float64, *nmea.Fix) bool
		want  bool
	}{
		{"the truth", nil, false},
		{"the position stands still", freeze, true},
		{"the speed is 0", func(s float64, f *nmea.Fix) bool {
			if s >= 20 {
				f.SpeedMps = 0
			}
			return true
		}, true},
		{"the course is the opposite", func(s float64, f *nmea.Fix) bool {
			if s >= 20 {
				f.CourseDeg = math.Mod(f.CourseDeg+180, 360)
			}
			return true
		}, true},
		{"the course is a right angle off", func(s float64, f *nmea.Fix) bool {
			if s >= 20 {
				f.CourseDeg = math.Mod(f.CourseDeg+90, 360)
			}
			return true
		}, true},
		{"no speed is told, and the position stands still", func(s float64, f *nmea.Fix) bool {
			f.SpeedMps, f.CourseDeg = math.NaN(), math.NaN()
			return freeze(s, f)
		}, false},
		{"3 m aside for a while, again and again", func(s float64, f *nmea.Fix) bool {
			if m := math.Mod(s, 2.7); s >= 20 && m > 0.3 && m < 0.3+math.Mod(s, 7)/5 {
				f.LatDeg += 3.0 / 111e3
			}
			return true
		}, false},
		{"an offset of 80 cm from then on", func(s float64, f *nmea.Fix) bool {
			if s >= 20 {
				f.LatDeg += 0.8 / 111e3
			}
			return true
		}, false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := newController(t, bar(RearRigid, -2, 1, 2), newField(t, body(0, rectangle(-9, 0, 9, 200))), nil)
			got := play(c, steady, 30, tc.alter)
			if (c.Counts().Frozen > 0) != tc.want || (c.Counts().FailSafeFrozen > 0) != tc.want || c.On(0) == tc.want {
				t.Fatalf("setpoints %+v, counts %+v; want frozen: %v", got, c.Counts(), tc.want)
			}
			// Two ways of 2 m at 2 m/s, the one begun before, and a second of hold time.
			lift := slices.IndexFunc(got, func(s Setpoint) bool { return !s.On })
			if tc.want && float64(got[lift].DueNs-got[0].DueNs)*1e-9 > 14.2 {
				t.Errorf("%+v; want a lift within 4 s", got)
			}
		})
	}
}
