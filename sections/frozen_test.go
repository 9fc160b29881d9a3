// Positions that contradict speed and course.

package sections

import (
	"math"
	"math/rand/v2"
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

// A receiver at rest with noise of both, one that creeps without a course, and one
// whose position comes back are believed.
func TestFrozenBelieves(t *testing.T) {
	nan := math.NaN()
	rng := rand.New(rand.NewPCG(1, 1))
	for _, tc := range []struct {
		name string
		at   func(i int) (n float64, f nmea.Fix)
	}{
		{"at rest", func(int) (float64, nmea.Fix) {
			return 0.3 * rng.NormFloat64(), nmea.Fix{SpeedMps: 0.05 + 0.05*rng.Float64(), CourseDeg: 360 * rng.Float64()}
		}},
		{"creeping without a course", func(i int) (float64, nmea.Fix) {
			return 0.02 * float64(i), nmea.Fix{SpeedMps: 0.2, CourseDeg: nan}
		}},
	} {
		var w Frozen
		for i := range 6000 {
			n, f := tc.at(i)
			f.TimeNs = int64(i+1) * 100e6
			if w.add(&f, 0, n) {
				t.Errorf("%s: not believed after %.1f s", tc.name, float64(i)*0.1)
				break
			}
		}
	}
	var w Frozen
	believed, n := true, 0.0
	for i := range 400 {
		if i < 100 || i > 200 {
			n += 0.2
		}
		believed = !w.add(&nmea.Fix{TimeNs: int64(i+1) * 100e6, SpeedMps: 2}, 0, n)
		if i == 150 && believed || i == 50 && !believed {
			t.Errorf("step %d: believed %v", i, believed)
		}
	}
	if !believed {
		t.Error("not believed again after 20 s of agreement")
	}
}
