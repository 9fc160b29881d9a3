// A tractor that stops: at rest nothing moves and nothing changes its mind, and
// on starting again it goes on as if it had not stopped.

package sections

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"liftbench/nmea"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// halt is a stop on a straight drive: atM on the way, reached at brakeMps2,
// left at startMps2 after standS at rest.
type halt struct{ atM, brakeMps2, startMps2, standS float64 }

// halting drives north from a point at cruiseMps, with a stop. It is written
// from the formulas of constant acceleration alone.
func halting(east, north, cruiseMps float64, h halt) func(s float64) motion.Pose {
	brakeM := cruiseMps * cruiseMps / (2 * h.brakeMps2)
	startM := cruiseMps * cruiseMps / (2 * h.startMps2)
	t1 := (h.atM - brakeM) / cruiseMps
	t2 := t1 + cruiseMps/h.brakeMps2
	t3 := t2 + h.standS
	t4 := t3 + cruiseMps/h.startMps2
	return func(s float64) motion.Pose {
		var d, v float64
		switch {
		case s < t1:
			d, v = cruiseMps*s, cruiseMps
		case s < t2:
			v = h.brakeMps2 * (t2 - s)
			d = h.atM - v*v/(2*h.brakeMps2)
		case s < t3:
			d = h.atM
		case s < t4:
			v = h.startMps2 * (s - t3)
			d = h.atM + v*v/(2*h.startMps2)
		default:
			d, v = h.atM+startM+cruiseMps*(s-t4), cruiseMps
		}
		return motion.Pose{EastM: east, NorthM: north + d, SpeedMps: v}
	}
}

// restlessly is a receiver whose velocity is off by sigma on each axis, so that
// at rest its course points anywhere; below quietMps it says no course, with
// mute. Positions are off by posM.
func restlessly(rng *rand.Rand, sigmaMps, posM float64, mute bool) func(float64, *nmea.Fix) bool {
	return func(_ float64, f *nmea.Fix) bool {
		sin, cos := math.Sincos(f.CourseDeg * math.Pi / 180)
		ve := f.SpeedMps*sin + sigmaMps*rng.NormFloat64()
		vn := f.SpeedMps*cos + sigmaMps*rng.NormFloat64()
		f.SpeedMps = math.Hypot(ve, vn)
		f.CourseDeg = math.Mod(math.Atan2(ve, vn)*180/math.Pi+360, 360)
		if mute && f.SpeedMps < 0.2 {
			f.CourseDeg = math.NaN()
		}
		f.LatDeg += posM * rng.NormFloat64() / 111e3
		f.LonDeg += posM * rng.NormFloat64() / 68e3
		return true
	}
}

// Whatever the receiver says at rest and however long that lasts, a stop in the
// row changes no setpoint: one drop and one lift of each section.
func TestStopInTheRow(t *testing.T) {
	const n, v = 6, 8 / 3.6
	f := newField(t, body(0, rectangle(-60, 0, 60, 120)))
	for _, tc := range []struct {
		sigmaMps, brake, start, standS float64
		mute                           bool
	}{
		{0, 0.7, 0.4, 20, false},
		{0.02, 0.7, 0.4, 20, false},
		{0.02, 0.7, 0.4, 20, true},
		{0.05, 0.7, 0.7, 1, false},
		{0.05, 2.5, 1.5, 1, true},
		{0.05, 2.5, 1.5, 3600, false},
		{0.05, 2.5, 0.1, 3600, true},
		{0.05, 0.2, 0.1, 60, false},
	} {
		for seed := range uint64(5) {
			t.Run(fmt.Sprintf("%+v/%d", tc, seed), func(t *testing.T) {
				c := newController(t, bar(RearRigid, -2, n, 1), f, func(s *Settings) { s.RowToleranceRad = 10 * math.Pi / 180 })
				rng := rand.New(rand.NewPCG(seed, 1))
				pose := halting(0, -30, v, halt{80, tc.brake, tc.start, tc.standS})
				got := play(c, pose, 190/v+tc.standS+v/tc.brake+v/tc.start+10, restlessly(rng, tc.sigmaMps, 0.005, tc.mute))
				drops, lifts := 0, 0
				for _, s := range got {
					if s.On {
						drops++
					} else {
						lifts++
					}
					if s.Reason != AtBorder {
						t.Errorf("%+v: want none but for the border", s)
					}
				}
				if drops != n || lifts != n {
					t.Errorf("%d drops, %d lifts; want %d and %d: %v", drops, lifts, n, n, got)
				}
			})
		}
	}
}

// What is up when the tractor stops stays up, though it stands in a zone whose
// rows it does not follow, and drops where its own rows begin.
func TestStopOnTheHeadland(t *testing.T) {
	f := newField(t, body(0, rectangle(-60, 0, 60, 120)),
		field.Zone{Name: "south", Kind: field.Headland, RowBearingRad: math.Pi / 2, Polygons: rectangle(-60, -24, 60, 0)})
	for seed := range uint64(10) {
		c := newController(t, bar(RearRigid, -2, 2, 3), f, nil)
		pose := halting(0, -40, 2, halt{28, 1, 0.5, 30})
		got := play(c, pose, 60, restlessly(rand.New(rand.NewPCG(seed, 2)), 0.05, 0.005, false))
		if len(got) != 2 || !got[0].On || !got[1].On {
			t.Fatalf("seed %d: %v; want one drop of each section", seed, got)
		}
		for _, s := range got {
			if at := pose(float64(s.DueNs+c.set.DropLead.AloneNs()-startNs) * 1e-9).NorthM; math.Abs(at-2) > 0.1 {
				t.Errorf("seed %d: in work %.2f m behind the border", seed, at-2)
			}
		}
	}
}

// Position that is lost at rest is held, and said; the fail-safe waits until
// the tractor moves without one. With a position it goes on as before.
func TestPositionLostAtRest(t *testing.T) {
	f := newField(t, body(0, rectangle(-60, 0, 60, 220)))
	pose := halting(0, -30, 2, halt{80, 0.7, 0.4, 120}) // at rest from about 41.5 s to 161.5 s
	none := func(from, to float64) func(float64, *nmea.Fix) bool {
		return func(s float64, f *nmea.Fix) bool {
			if s > from && s < to {
				f.Quality, f.LatDeg, f.LonDeg = nmea.NoFix, math.NaN(), math.NaN()
			}
			return true
		}
	}
	silent := func(from, to float64) func(float64, *nmea.Fix) bool {
		return func(s float64, _ *nmea.Fix) bool { return s < from || s > to }
	}
	for _, tc := range []struct {
		name  string
		alter func(float64, *nmea.Fix) bool
		lifts int
	}{
		{"back before it starts", none(60, 150), 0},
		{"silence, back before it starts", silent(60, 150), 0},
		{"starts without", none(60, 190), 2},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := newController(t, bar(RearRigid, -2, 2, 3), f, nil)
			said, standing := false, false
			got := play(c, pose, 185, func(s float64, f *nmea.Fix) bool {
				if s > 100 && s < 140 {
					_, _, lost := c.Lost()
					said, standing = said || lost, standing || c.Standing()
				}
				return tc.alter(s, f)
			})
			lifts := 0
			for _, s := range got {
				if !s.On {
					lifts++
					if at := float64(s.DueNs-startNs) * 1e-9; at < 161 || at > 165 || s.Reason != LowQuality {
						t.Errorf("%+v at %.1f s; want the fail-safe after it starts at 161.5 s", s, at)
					}
				}
			}
			if lifts != tc.lifts {
				t.Errorf("%d lifts; want %d: %v", lifts, tc.lifts, got)
			}
			if n := c.Counts().HeldAtRest; n != 1 {
				t.Errorf("held at rest %d times; want once", n)
			}
			if tc.name != "silence, back before it starts" && !standing || !said && tc.lifts > 0 {
				t.Errorf("standing %v, lost %v while it stands without a position", standing, said)
			}
		})
	}
}

// A machine that stands before its first move knows no heading yet. A single position
// elsewhere moves nothing, however long it has stood; what it is allowed goes by the newest
// position, not by the first.
func TestJumpBeforeTheFirstMove(t *testing.T) {
	m := bar(RearRigid, -2, 6, 1)
	for _, standS := range []float64{0.5, 2, 4.7, 9.9, 60} {
		for _, byM := range []float64{3, 18, 50} {
			c := newController(t, m, newField(t, body(0, rectangle(-50, 10, 50, 200))), nil)
			stands := func(float64) motion.Pose { return motion.Pose{NorthM: -10} }
			jumps := func(s float64, f *nmea.Fix) bool {
				f.SpeedMps, f.CourseDeg = 0, math.NaN()
				if math.Abs(s-standS) < 1e-6 {
					f.LatDeg += byM / 111e3
				}
				return true
			}
			if got := play(c, stands, standS+3, jumps); len(got) > 0 || c.Counts().Jumped != 1 {
				t.Errorf("%g m after %g s: %d jumps, %+v", byM, standS, c.Counts().Jumped, got)
			}
		}
	}
}
