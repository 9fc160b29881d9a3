// Sleep must change nothing, and must last as long as geometry allows.

package sections

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/nmea"
	"liftbench/sections/field"
	"liftbench/sections/motion"
)

// sparse runs a controller over a drive with fixes everyS apart, and calls
// before each tick.
func sparse(c *Controller, pose func(s float64) motion.Pose, seconds, everyS float64, before func()) []Setpoint {
	var out []Setpoint
	next := 0.0
	for now := startNs; now < startNs+int64(seconds*1e9); now += c.set.TickNs {
		for startNs+int64(next*1e9)+latencyNs <= now {
			f := fixAt(c.gate.Machine, pose, next)
			c.Fix(&f)
			next += everyS
		}
		before()
		out = c.Tick(now, out)
	}
	return out
}

// A controller that is woken before every tick commands the same as one that
// sleeps, on random drives in and out of a field with a headland, an island and
// a keep-out zone, with fixes from 10 Hz to one in 1.4 s.
func TestSleepChangesNothing(t *testing.T) {
	f := newField(t,
		body(0, orb.MultiPolygon{{{{-30, -30}, {30, -30}, {30, 20}, {-30, 40}, {-30, -30}}}}),
		field.Zone{Name: "headland", Kind: field.Headland, RowBearingRad: math.Pi / 2, Polygons: rectangle(-30, -42, 30, -30)},
		field.Zone{Name: "east", Kind: field.Body, RowBearingRad: math.NaN(), Polygons: rectangle(45, -30, 70, 30)},
		field.Zone{Name: "pole", Kind: field.KeepOut, RowBearingRad: math.NaN(), Polygons: rectangle(-2, -2, 2, 2)},
	)
	rng := rand.New(rand.NewPCG(21, 22))
	commands := 0
	for n := range 120 {
		m := bar([]Mount{RearRigid, FrontRigid}[n%2], []float64{-2, 3.5}[n%2], 2, []float64{1, 6}[n/2%2])
		v := []float64{0.8, 2, 4, 6}[n%4]
		pose := straight(80*(rng.Float64()-0.5), 90*(rng.Float64()-0.5), 2*math.Pi*rng.Float64(), v)
		if n%3 == 0 {
			pose = circle(100*(rng.Float64()-0.5), 80*(rng.Float64()-0.5), 6+30*rng.Float64(), v)
		}
		every := []float64{0.1, 1.4, 0.7}[n%3]
		set := func(s *Settings) {
			s.LiftLead.MoveNs, s.DropLead.MoveNs = []int64{300e6, 1500e6}[n%2], []int64{600e6, 100e6}[n/3%2]
		}
		run := func(before func(c *Controller)) []Setpoint {
			c := newController(t, m, f, set)
			return sparse(c, pose, 20, every, func() { before(c) })
		}
		got := run(func(*Controller) {})
		want := run(func(c *Controller) { c.s.SleepNs, c.s.Settled = 0, false })
		if !slices.Equal(got, want) {
			t.Errorf("drive %d: asleep in between %v, always awake %v", n, got, want)
		}
		commands += len(want)
	}
	if commands < 150 {
		t.Errorf("%d setpoints in all drives; they show little", commands)
	}
}

// The controller sleeps until the bar could be at a border: when the way of
// the fastest point of the bar, v + |ω|·reach, with 3 m/s² on top, has used up
// the clearance but for 0.5 m, less the time it looks ahead; for 0.4 s at most,
// and not beyond the greatest age of a fix.
func TestSleepLasts(t *testing.T) {
	f := newField(t, body(math.NaN(), rectangle(-1000, -1000, 1000, 0)))
	for _, tc := range []struct {
		v, yaw     float64
		lift, drop int64
		ageNs      int64
	}{
		{2, 0, 300e6, 600e6, 100e6},
		{2, 0, 600e6, 300e6, 100e6},
		{5, 0, 300e6, 600e6, 100e6},
		{2, 0.4, 300e6, 600e6, 100e6},
		{2, -0.4, 300e6, 600e6, 100e6},
		{-1, 0, 300e6, 600e6, 100e6},
		{0, 0, 300e6, 600e6, 100e6},
		{1, 0, 300e6, 600e6, 1300e6}, // too old in 0.2 s
		{1, 0, 300e6, 600e6, 900e6},
	} {
		t.Run(fmt.Sprint(tc), func(t *testing.T) {
			m := bar(RearRigid, -3, 4, 2)
			c := newController(t, m, f, func(s *Settings) { s.LiftLead.MoveNs, s.DropLead.MoveNs = tc.lift, tc.drop })
			reach := math.Hypot(3, 4)
			asleep, awake := 0, 0
			for south := 4.0; south < 30; south += 0.0625 {
				pose := motion.Motion{Pose: motion.Pose{TimeNs: startNs, NorthM: -south, SpeedMps: tc.v, YawRateRadPerS: tc.yaw}}
				now := startNs + tc.ageNs
				c.s.SettledZones = c.zonesAround(&pose, now, c.gate.Field.At(pose.EastM, pose.NorthM))
				got := c.sleep(&pose, now, false)

				clear := c.gate.Field.ClearanceM(0, -south) - reach - 0.5
				way := func(s float64) float64 { return math.Abs(tc.v)*s + math.Abs(tc.yaw)*reach*s + 1.5*s*s }
				ahead := 0.05 + float64(max(tc.lift, tc.drop))*1e-9
				if want := way(float64(tc.ageNs)*1e-9+ahead) < clear; got != want {
					t.Fatalf("%g m from the border: asleep %v; want %v", south, got, want)
				}
				if !got {
					awake++
					continue
				}
				asleep++
				lo, hi := 0.0, 100.0
				for range 60 {
					if mid := (lo + hi) / 2; way(mid+ahead) < clear {
						lo = mid
					} else {
						hi = mid
					}
				}
				until := min(lo, 1.5, float64(tc.ageNs)*1e-9+0.4)
				if s := float64(c.s.SleepNs-startNs) * 1e-9; !(math.Abs(s-until) <= 1e-6) {
					t.Fatalf("%g m from the border: until %.6f s after the fix; want %.6f", south, s, until)
				}
			}
			if asleep < 20 || awake < 20 {
				t.Errorf("asleep %d times, awake %d: shows little", asleep, awake)
			}
		})
	}
}

// While the position is lost the controller wakes at the latest when the hold
// time is over; and it does not sleep where other zones take part than when
// the sections settled, now or as far ahead as it looks.
func TestSleepWakes(t *testing.T) {
	f := newField(t, body(0, rectangle(-1000, -1000, 1000, 1000)))
	m := bar(RearRigid, -2, 2, 3)
	c := newController(t, m, f, nil)
	at := func(headingDeg, yaw float64) motion.Motion {
		return motion.Motion{Pose: motion.Pose{TimeNs: startNs, HeadingRad: headingDeg * math.Pi / 180, SpeedMps: 10, YawRateRadPerS: yaw}}
	}
	now := startNs + int64(100e6)
	p := at(0, 0)
	c.s.SettledZones = c.zonesAround(&p, now, c.gate.Field.At(p.EastM, p.NorthM))
	if c.s.SettledZones == 0 {
		t.Fatal("no zone takes part along the rows")
	}
	c.s.LostNs = startNs - int64(700e6)
	if !c.sleep(&p, now, false) || c.s.SleepNs != startNs+int64(300e6) {
		t.Errorf("lost since 700 ms, to be held for 1000: asleep until %d ms", (c.s.SleepNs-startNs)/1e6)
	}
	c.s.LostNs = 0
	for _, tc := range []struct {
		heading, yaw float64
		asleep       bool
	}{
		{19, 0, true}, {21, 0, false}, {-19, 0, true}, {-21, 0, false},
		// The fix is 0.1 s old and the controller looks 0.65 s further ahead.
		{19, 0.3, false}, {10, 0.2, true}, {-10, -0.2, true}, {-19, -0.3, false},
		{25, -0.3, false}, {21.5, -0.3, true},
	} {
		p := at(tc.heading, tc.yaw)
		if got := c.sleep(&p, now, false); got != tc.asleep {
			t.Errorf("%g° from the rows, turning by %g rad/s: asleep %v", tc.heading, tc.yaw, got)
		}
	}
}

// What a view ahead says, with its short cuts far from every edge, is what the
// gate says of the pose, for any pose.
func TestViewsBesideTheGate(t *testing.T) {
	open := newField(t, body(math.NaN(), rectangle(-40, -40, 40, 40)),
		field.Zone{Name: "pole", Kind: field.KeepOut, RowBearingRad: math.NaN(), Polygons: rectangle(-2, -2, 2, 2)})
	rows := newField(t, body(0.5, rectangle(-40, -40, 40, 40)))
	rng := rand.New(rand.NewPCG(31, 32))
	for _, mount := range []Mount{RearRigid, Trailed} {
		for _, f := range []*field.Field{open, rows} {
			m := bar(mount, -5, 4, 2)
			m.HitchBehindM, m.DrawbarM = 0.7, 3.5
			c := newController(t, m, f, nil)
			in, out := 0, 0
			for range 3000 {
				mo := motion.Motion{Pose: motion.Pose{
					TimeNs: startNs, EastM: 120 * (rng.Float64() - 0.5), NorthM: 120 * (rng.Float64() - 0.5),
					HeadingRad: 7 * (rng.Float64() - 0.5), SpeedMps: 4 * rng.Float64(), YawRateRadPerS: 0.4 * (rng.Float64() - 0.5),
				}, AccelMps2: rng.Float64() - 0.5}
				c.s.ToolRad = mo.HeadingRad + rng.Float64() - 0.5
				p := c.predict(&mo, startNs+int64(700e6))
				v := viewAt(c, &mo, startNs+int64(700e6))
				var way Follow
				c.gate.Follow(&way, &p)
				frame := m.Frame(&p)
				for i := range m.Sections {
					want := c.gate.Wants(i, c.gate.Share(i, &frame, way.Zones))
					if got := v.inWork(c, i); got != want {
						t.Fatalf("section %d at %+v: in work %v; want %v", i+1, p, got, want)
					}
					if want {
						in++
					} else {
						out++
					}
				}
			}
			if in < 300 || out < 300 {
				t.Errorf("in work %d times, out %d: shows little", in, out)
			}
		}
	}
}

// The tool's heading ahead is the drawbar's equation from what it is now, not
// the tractor's heading.
func TestPredictTrailed(t *testing.T) {
	m := bar(Trailed, -5, 2, 2)
	m.HitchBehindM, m.DrawbarM = 0, 4
	c := newController(t, m, newField(t, body(0, rectangle(-1, -1, 1, 1))), nil)
	c.s.ToolRad = 0.8
	mo := motion.Motion{Pose: motion.Pose{TimeNs: startNs, SpeedMps: 2}}
	p := c.predict(&mo, startNs+int64(3e9))
	// The tractrix: tan(δ/2) decays with e^(-s/L).
	if want := 2 * math.Atan(math.Tan(0.4)*math.Exp(-6.0/4)); !(math.Abs(p.ToolHeadingRad-want) <= 1e-5) {
		t.Errorf("tool at %.6f rad after 6 m; want %.6f", p.ToolHeadingRad, want)
	}
}

// A trailed tool is taken to be in line until the tractor has moved.
func TestToolHeadingAtTheStart(t *testing.T) {
	m := bar(Trailed, -5, 2, 2)
	m.HitchBehindM, m.DrawbarM = 0.9, 4
	c := newController(t, m, newField(t, body(0, rectangle(-1, -1, 1, 1))), nil)
	f := fixAt(m, straight(0, 0, 2.2, 2), 0)
	c.Fix(&f)
	if !(math.Abs(c.s.ToolRad-2.2) <= 1e-6) {
		t.Errorf("tool at %g rad; want that of the tractor, 2.2", c.s.ToolRad)
	}
}

// A fix that turns the tractor moves the tool by the drawbar's equation too:
// after many turns on a circle it trails at the angle of the steady turn.
func TestToolHeadingFollowsFixes(t *testing.T) {
	m := bar(Trailed, -5, 2, 2)
	m.HitchBehindM, m.DrawbarM = 0.9, 4
	c := newController(t, m, newField(t, body(0, rectangle(-1, -1, 1, 1))), nil)
	const r, v = 12.0, 2.0
	pose := circle(0, 0, r, v)
	for i := range 900 {
		f := fixAt(m, pose, float64(i)*0.1)
		c.Fix(&f)
	}
	k, _ := c.s.Estimator.Motion()
	want := math.Atan(0.9/r) + math.Asin(4/math.Hypot(r, 0.9))
	if got := k.HeadingRad - c.s.ToolRad; !(math.Abs(got-want) <= 0.01) {
		t.Errorf("the tool trails by %.4f rad; want %.4f", got, want)
	}
	if got, want := c.s.OdometerM, 2*89.8; !(math.Abs(got-want) <= 0.5) {
		t.Errorf("odometer %.2f m; want about %.1f", got, want)
	}
}

// The tractor's antenna swings through a turn; none of its fixes is a jump
// though next to nothing is allowed beside what the motion explains.
func TestPlausibleThroughATurn(t *testing.T) {
	for _, lever := range []struct{ x, y float64 }{{3, 0}, {0, 2}, {-2, -2}} {
		for _, bearing := range []float64{0, 1, 2.5, 4, 5.5} {
			m := bar(RearRigid, -2, 2, 3)
			m.AntennaXM, m.AntennaYM = lever.x, lever.y
			c := newController(t, m, newField(t, body(0, rectangle(-1, -1, 1, 1))), func(s *Settings) { s.JumpM = 0.12 })
			pose := func(s float64) motion.Pose {
				p := straight(3, -4, bearing, 2)(s)
				p.HeadingRad += 0.2 * max(s-3, 0)
				if s > 3 {
					r := 2 / 0.2
					from := straight(3, -4, bearing, 2)(3)
					p.EastM = from.EastM + r*(math.Cos(bearing)-math.Cos(p.HeadingRad))
					p.NorthM = from.NorthM + r*(math.Sin(p.HeadingRad)-math.Sin(bearing))
					p.YawRateRadPerS = 0.2
				}
				return p
			}
			for i := range 120 {
				f := fixAt(m, pose, float64(i)*0.1)
				c.Fix(&f)
			}
			if n := c.Counts(); n.Jumped != 0 || n.Accepted != 120 {
				t.Errorf("antenna at %+v, bearing %g: %+v; want no jump", lever, bearing, n)
			}
		}
	}
}

// Jumps are measured against JumpM + what steering explains, 3 m/s², or against
// the top speed while the motion is not known; they are believed once JumpFixes
// in a row agree with each other.
func TestPlausible(t *testing.T) {
	nan := math.NaN()
	type place struct{ s, e, n float64 }
	line := func(n int, e float64) (out []place) {
		for i := range n {
			out = append(out, place{float64(i) * 0.1, e, 300 + float64(i)*0.2})
		}
		return out
	}
	known := line(50, 200) // at 2 m/s north
	then := func(more ...place) []place { return append(slices.Clone(known), more...) }
	for _, tc := range []struct {
		name   string
		places []place
		course bool
		jumped int64
	}{
		{"standing, motion unknown", []place{{0, 200, 300}, {0.1, 200, 300}, {0.2, 200, 300.3}}, false, 0},
		{"10 m/s from standing, motion unknown", []place{{0, 200, 300}, {1, 200, 310}}, false, 0},
		{"13 m/s from standing, motion unknown", []place{{0, 200, 300}, {1, 200, 313}}, false, 1},
		{"22 m in 2 s from standing, motion unknown", []place{{0, 200, 300}, {2, 200, 322}}, false, 0},
		{"24 m in 2 s from standing, motion unknown", []place{{0, 200, 300}, {2, 200, 324}}, false, 1},
		{"1.02 m to the side in 0.1 s", then(place{5, 201.02, 310}), true, 0},
		{"1.04 m to the side in 0.1 s", then(place{5, 201.04, 310}), true, 1},
		{"3.9 m to the side in a second", then(place{5.9, 203.9, 311.8}), true, 0},
		{"4.1 m to the side in a second", then(place{5.9, 204.1, 311.8}), true, 1},
		{"4.1 m ahead in a second", then(place{5.9, 200, 315.9}), true, 1},
		{"57 m in 4.9 s: slower than the top speed but not steered", then(place{9.8, 200, 319.6 + 56}), true, 1},
		{"believed on the fifth that agrees", then(place{5, 250, 310}, place{5.1, 250, 310}, place{5.2, 250, 310}, place{5.3, 250, 310}, place{5.4, 250, 310}), true, 4},
		{"places that do not agree", then(place{5, 250, 310}, place{5.1, 150, 310}, place{5.2, 250, 310}, place{5.3, 150, 310}, place{5.4, 250, 310}, place{5.5, 150, 310}), true, 6},
		{"a good one between", then(place{5, 250, 310}, place{5.1, 250, 310}, place{5.2, 200, 310.4}, place{5.3, 250, 310}, place{5.4, 250, 310}, place{5.5, 250, 310}), true, 5},
		{"moving at 10 m/s there", then(place{5, 250, 310}, place{5.1, 251, 310}, place{5.2, 252, 310}, place{5.3, 253, 310}, place{5.4, 254, 310}), true, 4},
		{"moving at 22 m/s there", then(place{5, 250, 310}, place{5.1, 252.2, 310}, place{5.2, 254.4, 310}, place{5.3, 256.6, 310}, place{5.4, 258.8, 310}), true, 5},
	} {
		t.Run(tc.name, func(t *testing.T) {
			m := &Machine{Sections: []Section{{XM: -2, WidthM: 1}}}
			c := newController(t, m, newField(t, body(0, rectangle(-1, -1, 1, 1))), nil)
			for _, p := range tc.places {
				f := fixAt(m, straight(p.e, p.n, 0, 0), 0)
				f.TimeNs = startNs + int64(math.Round(p.s*1e9))
				f.SpeedMps, f.CourseDeg = nan, nan
				if tc.course {
					f.SpeedMps, f.CourseDeg = 2, 0
				}
				c.Fix(&f)
			}
			if got := c.Counts(); got.Jumped != tc.jumped || got.Accepted+got.Jumped != int64(len(tc.places)) {
				t.Errorf("%+v; want %d jumped of %d", got, tc.jumped, len(tc.places))
			}
		})
	}
}

// The fail-safe is counted, and those for low quality are.
func TestFailSafeCounts(t *testing.T) {
	all := newField(t, body(math.NaN(), rectangle(-500, -500, 500, 500)))
	for _, tc := range []struct {
		name  string
		alter func(f *nmea.Fix) bool
		low   int64
	}{
		{"silence", func(*nmea.Fix) bool { return false }, 0},
		{"quality", func(f *nmea.Fix) bool { f.Quality = nmea.NoFix; return true }, 1},
	} {
		c := newController(t, bar(RearRigid, -2, 2, 3), all, nil)
		play(c, straight(0, 0, 0, 2), 25, func(s float64, f *nmea.Fix) bool { return s < 10 || s > 20 || tc.alter(f) })
		if n := c.Counts(); n.FailSafe != 1 || n.FailSafeLowQuality != tc.low {
			t.Errorf("%s: %+v; want 1 fail-safe, %d for quality", tc.name, n, tc.low)
		}
	}
}
