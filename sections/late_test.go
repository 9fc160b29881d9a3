// Why commands come late: one cause to each.

package sections

import (
	"math"
	"testing"

	"liftbench/nmea"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// northward drives north along 0 E with a speed that is constant in each of
// several spells, from so far north of the border.
func northward(fromM float64, spells ...[2]float64) func(s float64) motion.Pose {
	return func(s float64) motion.Pose {
		p := motion.Pose{NorthM: fromM}
		for _, x := range spells {
			t := min(s, x[0])
			p.NorthM, p.SpeedMps = p.NorthM+x[1]*t, x[1]
			if s -= t; s <= 0 {
				break
			}
		}
		return p
	}
}

// Every command that comes after its due time is counted under what held it up.
// The bar is 2 m behind the axle, the body begins at 0 m; a lift takes 0.3 s, a
// drop 0.6 s.
func TestLateCauses(t *testing.T) {
	gap := func(loM, hiM float64) field.Zone {
		return field.Zone{Name: "ditch", Kind: field.KeepOut, RowBearingRad: math.NaN(), Polygons: rectangle(-9, loM, 9, hiM)}
	}
	quarter := func(s float64) motion.Pose { // round with 8 m at 2 m/s, and north from 1 m before the border
		if left := math.Pi/2 - s/4; left > 0 {
			sin, cos := math.Sincos(left)
			return motion.Pose{EastM: 8 - 8*cos, NorthM: 1 - 8*sin, HeadingRad: -left, SpeedMps: 2, YawRateRadPerS: 0.25}
		}
		return northward(1, [2]float64{99, 2})(s - 2*math.Pi)
	}
	silent := func(fromS, toS float64) func(float64, *nmea.Fix) bool {
		return func(s float64, _ *nmea.Fix) bool { return s < fromS || s > toS }
	}
	steady := northward(-20, [2]float64{99, 2})
	for _, tc := range []struct {
		name  string
		pose  func(float64) motion.Pose
		alter func(float64, *nmea.Fix) bool
		zones []field.Zone
		set   func(*Settings)
		cause LateCause
		late  int64
	}{
		{"nothing", steady, nil, nil, nil, EstimateMoved, 0},
		{"a jolt forward", northward(-20, [2]float64{20.5, 1}, [2]float64{99, 3}), nil, nil, nil, EstimateMoved, 1},
		{"the turn ends 1 m before", quarter, nil, nil, nil, ShortRun, 1},
		{"silence of 3 s before the border", steady, silent(9, 12), nil, nil, LateFix, 1},
		{"three fixes missing and a jolt", northward(-20, [2]float64{20.5, 1}, [2]float64{99, 3}), silent(20.45, 20.95), nil, nil, LateFix, 1},
		{"stands 20 cm before and leaps off", halting(0, -20, 2, halt{21.8, 0.7, 5, 20}), nil, nil, nil, Stood, 1},
		{"creeps over the border", northward(-6, [2]float64{8, 0.8}, [2]float64{20, 0.1}, [2]float64{99, 1}), nil, nil, nil, TooSlow, 1},
		{"a gap too short to lift for", steady, nil, []field.Zone{gap(20, 24)}, func(s *Settings) { s.ShortestUpNs = 5e9 }, EstimateMoved, 0},
		{"a strip too short to drop for", steady, nil, []field.Zone{gap(10, 20)}, func(s *Settings) { s.ShortestDownNs = 9e9 }, EstimateMoved, 0},
		{"3 m between changes", steady, nil, []field.Zone{gap(20, 22)}, func(s *Settings) { s.HysteresisM = 3 }, HysteresisHeld, 1},
		{"backs 3 m in the row", northward(-20, [2]float64{20, 2}, [2]float64{1, 0}, [2]float64{3, -1}, [2]float64{1, 0}, [2]float64{99, 1}), nil, nil, nil, Backed, 1},
		{"begins at the border", northward(1.8, [2]float64{99, 2}), nil, nil, nil, NoMotionYet, 1},
	} {
		t.Run(tc.name, func(t *testing.T) {
			f := newField(t, append(tc.zones, body(0, rectangle(-9, 0, 9, 60)))...)
			c := newController(t, bar(RearRigid, -2, 1, 2), f, tc.set)
			play(c, tc.pose, 60, tc.alter)
			var want [LateCauses]int64
			want[tc.cause] = tc.late
			if got := c.Counts().Late; got != want {
				for cause, n := range got {
					if n > 0 {
						t.Logf("%d × %v", n, LateCause(cause))
					}
				}
				t.Errorf("want %d × %v", tc.late, tc.cause)
			}
		})
	}
	t.Run("up for 5 s at least after the operator let go", func(t *testing.T) {
		c := newController(t, bar(RearRigid, -2, 1, 2), newField(t, body(0, rectangle(-9, 0, 9, 60))), func(s *Settings) { s.ShortestUpNs = 5e9 })
		play(c, steady, 35, func(s float64, _ *nmea.Fix) bool {
			switch {
			case s > 20:
				c.Hold(0, Released)
			case s > 19:
				c.Hold(0, HoldUp)
			}
			return true
		})
		if n := c.Counts().Late; n[ShortestTime] != 1 || c.s.Counts.AllLate() != 1 {
			t.Errorf("late %v; want 1 for the shortest time", n)
		}
	})
	t.Run("held up by the operator", func(t *testing.T) {
		c := newController(t, bar(RearRigid, -2, 1, 2), newField(t, body(0, rectangle(-9, 0, 9, 60))), nil)
		c.Hold(0, HoldUp)
		play(c, steady, 25, func(s float64, _ *nmea.Fix) bool {
			if s > 20 {
				c.Hold(0, Released)
			}
			return true
		})
		if n := c.Counts().Late; n[Operated] != 1 || c.s.Counts.AllLate() != 1 {
			t.Errorf("late %v; want 1 for the operator", n)
		}
	})
}
