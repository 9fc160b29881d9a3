// When the controller commands: borders, rows, guards, and when things go
// wrong.

package sections

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
	"liftbench/sections/worked"
)

const (
	startNs   = int64(1_936_000_000e9) // an instant in 2031
	latencyNs = int64(100e6)
	fixNs     = int64(100e6)
)

var testPlane = geodesy.NewPlane(52.3, 9.8)

// rectangle is a polygon on the plane.
func rectangle(west, south, east, north float64) orb.MultiPolygon {
	return orb.MultiPolygon{{{{west, south}, {east, south}, {east, north}, {west, north}, {west, south}}}}
}

func newField(t testing.TB, zones ...field.Zone) *field.Field {
	t.Helper()
	f, err := field.New(testPlane, nil, zones)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func body(rowBearingRad float64, polygons orb.MultiPolygon) field.Zone {
	return field.Zone{Name: "body", Kind: field.Body, RowBearingRad: rowBearingRad, Polygons: polygons}
}

// bar is n sections of width w side by side, x from the turning point.
func bar(mount Mount, x float64, n int, w float64) *Machine {
	m := &Machine{Mount: mount, AntennaXM: 0.8, AntennaYM: 0.1}
	for i := range n {
		m.Sections = append(m.Sections, Section{XM: x, YM: (float64(i) - float64(n-1)/2) * w, WidthM: w})
	}
	return m
}

// straight drives along a bearing from a point at constant speed.
func straight(east, north, bearingRad, speedMps float64) func(s float64) motion.Pose {
	return func(s float64) motion.Pose {
		sin, cos := math.Sincos(bearingRad)
		return motion.Pose{
			EastM: east + speedMps*s*sin, NorthM: north + speedMps*s*cos,
			HeadingRad: bearingRad, ToolHeadingRad: bearingRad, SpeedMps: speedMps,
		}
	}
}

// circle drives a circle to the right of the given radius, north at the start.
func circle(east, north, radiusM, speedMps float64) func(s float64) motion.Pose {
	return func(s float64) motion.Pose {
		a := speedMps * s / radiusM
		sin, cos := math.Sincos(a)
		return motion.Pose{
			EastM: east + radiusM*(1-cos), NorthM: north + radiusM*sin,
			HeadingRad: a, ToolHeadingRad: a, SpeedMps: speedMps, YawRateRadPerS: speedMps / radiusM,
		}
	}
}

// fixAt is what a perfect receiver on m says s seconds into the drive.
func fixAt(m *Machine, pose func(s float64) motion.Pose, s float64) nmea.Fix {
	p := pose(s)
	sin, cos := math.Sincos(p.HeadingRad)
	e := p.EastM + m.AntennaXM*sin + m.AntennaYM*cos
	n := p.NorthM + m.AntennaXM*cos - m.AntennaYM*sin
	fwd, right := p.SpeedMps-p.YawRateRadPerS*m.AntennaYM, p.YawRateRadPerS*m.AntennaXM
	ve, vn := fwd*sin+right*cos, fwd*cos-right*sin
	nan := math.NaN()
	f := nmea.Fix{
		TimeNs: startNs + int64(math.Round(s*1e9)), Dated: true, Quality: nmea.RTKFixed, Satellites: 14,
		HeightM: nan, GeoidM: nan, HeadingDeg: nan, YawRateDegPerS: nan,
		SpeedMps: math.Hypot(ve, vn), CourseDeg: math.Mod(math.Atan2(ve, vn)*180/math.Pi+360, 360),
		SigmaEastM: float32(nan), SigmaNorthM: float32(nan), SigmaHeightM: float32(nan),
	}
	f.LatDeg, f.LonDeg = testPlane.ToGeodetic(e, n)
	return f
}

// play runs a controller over a drive of so many seconds and returns its
// setpoints. alter may change or withhold (return false) each fix.
func play(c *Controller, pose func(s float64) motion.Pose, seconds float64, alter func(s float64, f *nmea.Fix) bool) []Setpoint {
	var out []Setpoint
	nextFix := startNs
	for now := startNs; now < startNs+int64(seconds*1e9); now += c.set.TickNs {
		for nextFix+latencyNs <= now {
			s := float64(nextFix-startNs) * 1e-9
			f := fixAt(c.gate.Machine, pose, s)
			if alter == nil || alter(s, &f) {
				c.Fix(&f)
			}
			nextFix += fixNs
		}
		out = c.Tick(now, out)
	}
	return out
}

// ideal returns the first instant after fromS, in seconds into the drive, at
// which section i ought to change.
func ideal(g *Gate, pose func(s float64) motion.Pose, i int, fromS float64) float64 {
	at := func(s float64) bool {
		p := pose(s)
		var w Follow
		g.Follow(&w, &p)
		f := g.Machine.Frame(&p)
		return g.Wants(i, g.Share(i, &f, w.Zones))
	}
	was, lo := at(fromS), fromS
	for at(lo+0.01) == was {
		lo += 0.01
	}
	hi := lo + 0.01
	for range 40 {
		if mid := (lo + hi) / 2; at(mid) == was {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

func newController(t testing.TB, m *Machine, f *field.Field, alter func(*Settings)) *Controller {
	t.Helper()
	set := DefaultSettings()
	set.LatencyNs = latencyNs
	if alter != nil {
		alter(&set)
	}
	c, err := New(m, f, set)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// A command at lead before the crossing: |time error| of the compensated
// approach is at most 1 ms on a straight and 10 ms on a circle.
func TestDueTimes(t *testing.T) {
	f := newField(t, body(math.NaN(), orb.MultiPolygon{{{{-60, -20}, {60, -20}, {60, 20}, {-60, 60}, {-60, -20}}}}))
	for _, tc := range []struct {
		name     string
		machine  *Machine
		pose     func(float64) motion.Pose
		withinMs float64
	}{
		{"3 km/h, rear", bar(RearRigid, -2, 6, 1), straight(0, -32, 0, 3/3.6), 1},
		{"8 km/h, rear", bar(RearRigid, -2, 6, 1), straight(0, -50, 0, 8/3.6), 1},
		{"8 km/h, front", bar(FrontRigid, 3.5, 6, 1), straight(0, -60, 0.3, 8/3.6), 1},
		{"15 km/h, front", bar(FrontRigid, 3.5, 24, 0.25), straight(0, -70, 0, 15/3.6), 1},
		{"circle of 40 m, rear", bar(RearRigid, -2, 6, 1), circle(-40, -30, 40, 2), 10},
		{"circle of 25 m, front", bar(FrontRigid, 3.5, 6, 1), circle(-30, -30, 25, 2), 10},
		{"trailed", func() *Machine {
			m := bar(Trailed, -6, 6, 1)
			m.HitchBehindM, m.DrawbarM = 0.8, 4
			return m
		}(), straight(0, -50, 0, 8/3.6), 1},
		{"sections with leads of their own", func() *Machine {
			m := bar(RearRigid, -2, 4, 1)
			for i, t := range []Trim{{}, {LiftNs: 120e6, DropNs: -40e6}, {LiftNs: -50e6}, {DropNs: 300e6}} {
				m.Sections[i].Trim = t
			}
			return m
		}(), straight(0, -50, 0, 8/3.6), 1},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := newController(t, tc.machine, f, func(s *Settings) { s.LiftLead.DeadNs, s.DropLead.DeadNs = 50e6, 40e6 })
			got := play(c, tc.pose, 90, nil)
			if len(got) < 2*len(tc.machine.Sections) {
				t.Fatalf("%d setpoints; want a drop and a lift of each of %d sections", len(got), len(tc.machine.Sections))
			}
			for i := range tc.machine.Sections {
				from := 0.0
				for _, s := range got {
					if int(s.Section) != i {
						continue
					}
					trim := tc.machine.Sections[i].Trim
					lead := c.set.DropLead.AloneNs() + trim.DropNs
					if !s.On {
						lead = c.set.LiftLead.AloneNs() + trim.LiftNs
					}
					want := ideal(&c.gate, tc.pose, i, from)
					from = want + 0.02
					if err := float64(s.DueNs+lead-startNs)*1e-6 - want*1e3; math.Abs(err) > tc.withinMs {
						t.Errorf("section %d on=%v: %.3f ms late at %.3f s", i+1, s.On, err, want)
					}
				}
			}
		})
	}
}

// Sections of a slanting border lift one after another, w·tan α / v apart.
func TestSlantingBorder(t *testing.T) {
	const alpha, v, w = 35 * math.Pi / 180, 8 / 3.6, 1.0
	h := 60 * math.Tan(alpha)
	f := newField(t, body(math.NaN(), orb.MultiPolygon{{{{-60, -100}, {60, -100}, {60, -h}, {-60, h}, {-60, -100}}}}))
	c := newController(t, bar(RearRigid, -2, 6, w), f, nil)
	got := play(c, straight(0, -40, 0, v), 30, nil)
	lifts := slices.DeleteFunc(got, func(s Setpoint) bool { return s.On })
	slices.SortFunc(lifts, func(a, b Setpoint) int { return int(a.DueNs - b.DueNs) })
	if len(lifts) != 6 {
		t.Fatalf("%d lifts; want 6", len(lifts))
	}
	for k := 1; k < 6; k++ {
		if got, want := float64(lifts[k].DueNs-lifts[k-1].DueNs)*1e-9, w*math.Tan(alpha)/v; math.Abs(got-want) > 0.001 {
			t.Errorf("lift %d comes %.4f s after the one before; want %.4f", k+1, got, want)
		}
		if lifts[k].Section != lifts[k-1].Section-1 {
			t.Errorf("lift %d is section %d; the border recedes to the right", k+1, lifts[k].Section+1)
		}
	}
}

// Rows of the headland run across those of the body: a machine that crosses
// the headland stays up there, one that drives along it works it, and a turn
// through the bearing of the headland rows is no work.
func TestRowBearings(t *testing.T) {
	f := newField(t,
		body(0, rectangle(-60, -100, 60, 0)),
		field.Zone{Name: "north", Kind: field.Headland, RowBearingRad: math.Pi / 2, Polygons: rectangle(-60, 0, 60, 24)},
	)
	t.Run("across", func(t *testing.T) {
		got := play(newController(t, bar(RearRigid, -2, 2, 3), f, nil), straight(0, -40, 0, 2), 32, nil)
		if len(got) != 4 || got[3].On {
			t.Errorf("got %v; want two drops, then two lifts", got)
		}
	})
	t.Run("along", func(t *testing.T) {
		got := play(newController(t, bar(RearRigid, -2, 2, 3), f, nil), straight(-40, 12, math.Pi/2, 2), 20, nil)
		if len(got) != 2 || !got[0].On {
			t.Errorf("got %v; want two drops", got)
		}
	})
	t.Run("turn", func(t *testing.T) {
		got := play(newController(t, bar(RearRigid, -2, 2, 3), f, nil), circle(-6, 10, 6, 1.5), 12.5, nil)
		if len(got) != 0 {
			t.Errorf("got %v; want none", got)
		}
	})
}

func TestKeepOut(t *testing.T) {
	f := newField(t, body(0, rectangle(-60, -60, 60, 60)),
		field.Zone{Name: "pylon", Kind: field.KeepOut, RowBearingRad: math.NaN(), Polygons: rectangle(-1, -1, 1, 1)})
	gap := func(bridge bool) []Setpoint {
		c := newController(t, bar(RearRigid, -2, 3, 2), f, func(s *Settings) { s.BridgeGaps = bridge })
		return play(c, straight(0, -50, 0, 3), 30, nil)
	}
	// Only the middle section crosses the pylon: 2 m at 3 m/s take 0.67 s.
	if got := gap(false); len(got) != 5 || got[3].Section != 1 || got[3].On || got[4].Section != 1 || !got[4].On {
		t.Errorf("got %v; want three drops, a lift and a drop of section 2", got)
	}
	if got := gap(true); len(got) != 3 {
		t.Errorf("got %v; want three drops: the gap is shorter than lift and drop lead", got)
	}
}

// A section lifts for a pole of 1 m only where that takes the shortest time, and
// stays up until it has gone as far as the hysteresis from there.
func TestChatterGuards(t *testing.T) {
	f := newField(t, body(0, rectangle(-60, -60, 60, 60)),
		field.Zone{Name: "pole", Kind: field.KeepOut, RowBearingRad: math.NaN(), Polygons: rectangle(-1, -0.5, 1, 0.5)})
	const v, leads = 2.0, 0.3 - 0.6 // s, lift less drop
	for _, tc := range []struct {
		name string
		set  func(*Settings)
		want float64 // s from lift to drop, command to command; 0 = it stays down
	}{
		{"none", func(s *Settings) { s.ShortestUpNs, s.HysteresisM = 0, 0 }, 1/v + leads},
		{"as long as the shortest time up", func(s *Settings) { s.ShortestUpNs, s.HysteresisM = 480e6, 0 }, 1/v + leads},
		{"shortest time up", func(s *Settings) { s.ShortestUpNs, s.HysteresisM = 520e6, 0 }, 0},
		{"a long shortest time up", func(s *Settings) { s.ShortestUpNs, s.HysteresisM = 2e9, 0 }, 0},
		{"hysteresis", func(s *Settings) { s.ShortestUpNs, s.HysteresisM = 0, 5 }, 5/v + 0.3},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got := play(newController(t, bar(RearRigid, -2, 1, 1), f, tc.set), straight(0, -40, 0, v), 35, nil)
			if tc.want == 0 {
				if len(got) != 1 {
					t.Fatalf("got %v; want a drop", got)
				}
				return
			}
			if len(got) != 3 || got[1].On {
				t.Fatalf("got %v; want a drop, a lift and a drop", got)
			}
			if up := float64(got[2].DueNs-got[1].DueNs) * 1e-9; math.Abs(up-tc.want) > 0.051 {
				t.Errorf("up for %.3f s; want %.3f", up, tc.want)
			}
		})
	}
}

// spoken has the fixes said as GGA and RMC and heard again. wrong changes what
// the two say; with bits, one in three bytes of a thousand has a wrong bit.
func spoken(wrong func(s float64, gga, rmc *nmea.Fix), bits *rand.Rand) func(s float64, f *nmea.Fix) bool {
	var a epoch.Assembler
	a.Live = bits == nil // else two epochs may be complete at once
	return func(s float64, f *nmea.Fix) bool {
		one, two := *f, *f
		if wrong != nil {
			wrong(s, &one, &two)
		}
		text := nmea.AppendRMC(nmea.AppendGGA(nil, &one), &two)
		for i := range text {
			if bits != nil && bits.Float64() < 3e-3 {
				text[i] ^= 1 << bits.IntN(8)
			}
		}
		var x nmea.Sentence
		for sc := nmea.NewScanner(bytes.NewReader(text)); sc.Scan(); {
			if nmea.Parse(sc.Bytes(), &x) == nil {
				a.Add(&x)
			}
		}
		heard := false
		for a.Next(f) {
			heard = true
		}
		return heard
	}
}

func TestWhenThingsGoWrong(t *testing.T) {
	all := newField(t, body(math.NaN(), rectangle(-500, -500, 500, 500)))
	ahead := straight(0, 0, 0, 2)
	tests := []struct {
		name   string
		pose   func(float64) motion.Pose
		set    func(*Settings)
		alter  func(s float64, f *nmea.Fix) bool
		lifts  int
		reason Reason
		fromS  float64 // the lifts fall due within this span
		toS    float64
		onEnd  bool

		failSafes int64
		accepted  int64 // fixes of the 249, at least
	}{
		{name: "all well", pose: ahead, onEnd: true},
		{
			name: "silence of 10 s", pose: ahead, failSafes: 1, lifts: 2, reason: LostFix, onEnd: true,
			alter: func(s float64, _ *nmea.Fix) bool { return s < 10 || s > 20 },
			fromS: 9.9 + 1.5 + 1, toS: 9.9 + 1.5 + 1 + 0.11,
		},
		{
			name: "silence of 10 s, hold", pose: ahead, failSafes: 1, onEnd: true,
			set:   func(s *Settings) { s.FailSafe = FailSafeHold },
			alter: func(s float64, _ *nmea.Fix) bool { return s < 10 || s > 20 },
		},
		{
			name: "clock set 10 s back: stale, then old on arrival", pose: ahead, failSafes: 1, lifts: 2, reason: LostFix,
			alter: func(s float64, f *nmea.Fix) bool {
				if s > 9.95 {
					f.TimeNs -= 10e9
				}
				return true
			},
			fromS: 9.9 + 1.5 + 1, toS: 9.9 + 1.5 + 1 + 0.11,
		},
		{
			name: "silence of 2 s: within age and hold", pose: ahead, onEnd: true,
			alter: func(s float64, _ *nmea.Fix) bool { return s < 10 || s > 12 },
		},
		{
			name: "float below the minimum", pose: ahead, failSafes: 1, lifts: 2, reason: LowQuality, onEnd: true,
			set: func(s *Settings) { s.MinQuality = nmea.RTKFixed },
			alter: func(s float64, f *nmea.Fix) bool {
				if s > 10 && s < 20 {
					f.Quality = nmea.RTKFloat
				}
				return true
			},
			fromS: 10.1 + 1, toS: 10.1 + 1 + 0.11,
		},
		{
			name: "float above the minimum", pose: ahead, onEnd: true,
			set:   func(s *Settings) { s.MinQuality = nmea.Differential },
			alter: func(s float64, f *nmea.Fix) bool { f.Quality = nmea.RTKFloat; return true },
		},
		{
			name: "no position", pose: ahead, failSafes: 1, lifts: 2, reason: LowQuality, onEnd: true,
			alter: func(s float64, f *nmea.Fix) bool {
				if s > 10 && s < 20 {
					f.Quality, f.LatDeg = nmea.NoFix, math.NaN()
				}
				return true
			},
			fromS: 10.1 + 1, toS: 10.1 + 1 + 0.11,
		},
		{
			name: "reversing", lifts: 2, reason: Reversed, fromS: 15.375, toS: 15.7, // from -0.15 m/s on; latency 0.1 s
			pose: func(s float64) motion.Pose {
				v, d := 2-0.4*(s-10), 20+2*(s-10)-0.2*(s-10)*(s-10)
				if s < 10 {
					v, d = 2, 2*s
				}
				return motion.Pose{NorthM: d, SpeedMps: v}
			},
		},
		{
			name: "crawling: tools in work stay", onEnd: true,
			pose: func(s float64) motion.Pose {
				u := max(0, min(s-10, 3.9)) // braking at 0.5 m/s² to 0.05 m/s
				v := 2 - 0.5*u
				return motion.Pose{NorthM: 2*min(s, 10) + 2*u - 0.25*u*u + v*max(0, s-13.9), SpeedMps: v}
			},
		},
		{name: "below the least speed nothing drops", pose: straight(0, 0, 0, 0.12)},
		{
			name: "one fix 5 m off, one 5 km off", pose: ahead, onEnd: true,
			alter: func(s float64, f *nmea.Fix) bool {
				if s > 9.95 && s < 10.05 {
					f.LatDeg += 5 / 111e3
				}
				if s > 10.95 && s < 11.05 {
					f.LatDeg += 5 / 111.0
				}
				return true
			},
		},
		{
			name: "position 5 km off for good", pose: ahead, lifts: 2, reason: AtBorder, fromS: 10.5, toS: 11.5,
			alter: func(s float64, f *nmea.Fix) bool {
				if s > 9.95 {
					f.LatDeg += 5 / 111.0
				}
				return true
			},
		},
		{
			name: "one date a year ahead", pose: ahead, onEnd: true, accepted: 240,
			alter: spoken(func(s float64, f, rmc *nmea.Fix) {
				if s > 9.95 && s < 10.05 {
					rmc.TimeNs += 365 * 24 * 3600e9
				}
			}, nil),
		},
		{
			name: "one void sentence a year ahead", pose: ahead, onEnd: true, accepted: 240,
			alter: spoken(func(s float64, f, rmc *nmea.Fix) {
				if s > 9.95 && s < 10.05 {
					rmc.TimeNs += 365 * 24 * 3600e9
					rmc.Quality = nmea.NoFix
				}
			}, nil),
		},
		{
			name: "clock 10 s back for good: believed, and time goes on", pose: ahead, onEnd: true, accepted: 240,
			alter: spoken(func(s float64, f, rmc *nmea.Fix) {
				if s > 9.95 {
					f.TimeNs -= 10e9
					rmc.TimeNs -= 10e9
				}
			}, nil),
		},
		{
			name: "three wrong bits in a thousand bytes", pose: ahead, onEnd: true, accepted: 225,
			alter: spoken(nil, rand.New(rand.NewPCG(55, 1))),
		},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			c := newController(t, bar(RearRigid, -2, 2, 3), all, tc.set)
			lifts := slices.DeleteFunc(play(c, tc.pose, 25, tc.alter), func(s Setpoint) bool { return s.On })
			if len(lifts) != tc.lifts {
				t.Fatalf("lifts %v; want %d", lifts, tc.lifts)
			}
			for _, s := range lifts {
				if at := float64(s.DueNs-startNs) * 1e-9; s.Reason != tc.reason || at < tc.fromS || at > tc.toS {
					t.Errorf("lift at %.2f s for reason %d; want %.2f to %.2f s, reason %d", at, s.Reason, tc.fromS, tc.toS, tc.reason)
				}
			}
			for i := range 2 {
				if c.On(i) != tc.onEnd {
					t.Errorf("section %d ends on=%v; want %v", i+1, c.On(i), tc.onEnd)
				}
			}
			if n := c.Counts().Accepted; n < tc.accepted {
				t.Errorf("%d fixes used; want at least %d", n, tc.accepted)
			}
			if n := c.Counts().FailSafe; n != tc.failSafes {
				t.Errorf("the fail-safe was reached %d times; want %d", n, tc.failSafes)
			}
		})
	}
}

// TestJumpWakes: wherever the tractor was when the sections settled, just before
// or behind the border, a position that is believed 5 km away lifts them.
func TestJumpWakes(t *testing.T) {
	f := newField(t, body(math.NaN(), rectangle(-60, 0, 60, 200)))
	for phase := 0.0; phase < 1; phase += 0.05 {
		c := newController(t, bar(RearRigid, -2, 2, 3), f, nil)
		play(c, straight(0, -20+phase, 0, 6), 15, func(s float64, f *nmea.Fix) bool {
			if s > 9.95 {
				f.LatDeg += 5 / 111.0
			}
			return true
		})
		if c.On(0) || c.On(1) {
			t.Errorf("begun %.2f m further on: in work 5 km from the field", phase)
		}
	}
}

func TestStaleFixes(t *testing.T) {
	f := newField(t, body(math.NaN(), rectangle(-50, -50, 50, 50)))
	m := bar(RearRigid, -2, 2, 3)
	c := newController(t, m, f, nil)
	for _, s := range []float64{0, 0.1, 0.1, 0.2, 0.1, 0.3} {
		fix := fixAt(m, straight(0, 0, 0, 2), s)
		c.Fix(&fix)
	}
	if got := c.Counts(); got.Accepted != 4 || got.Stale != 2 {
		t.Errorf("accepted %d, stale %d; want 4, 2", got.Accepted, got.Stale)
	}
}

func TestHoldAndManual(t *testing.T) {
	f := newField(t, body(math.NaN(), rectangle(-50, -50, 50, 50)))
	m := bar(RearRigid, -2, 3, 2)
	c := newController(t, m, f, nil)
	c.Hold(0, HoldUp)
	pose := straight(0, -90, 0, 2)
	got := play(c, pose, 30, nil)
	if len(got) != 2 || got[0].Section == 0 || got[1].Section == 0 {
		t.Errorf("got %v; want drops of sections 2 and 3 only", got)
	}
	now := startNs + int64(30e9)
	c.SetAutomatic(false)
	if got := c.Tick(now, nil); len(got) != 0 {
		t.Errorf("manual: got %v; want none", got)
	}
	c.Hold(1, HoldUp)
	c.Hold(0, HoldDown)
	got = c.Tick(now, nil)
	want := []Setpoint{{DueNs: now, Section: 0, On: true, Reason: HeldDown}, {DueNs: now, Section: 1, Reason: HeldUp}}
	if !slices.Equal(got, want) {
		t.Errorf("got %v; want %v", got, want)
	}
}

// A controller restored in mid-drive goes on exactly as the one that was saved.
func TestSaveRestore(t *testing.T) {
	f := newField(t, body(0, rectangle(-50, -50, 50, 0)))
	m := bar(RearRigid, -2, 6, 1)
	pose := straight(0, -70, 0, 2)
	leave := func(s *Settings) { s.WorkedGround, s.RowSpacingM = LeaveWorked, 0.5 }
	whole := newController(t, m, f, leave)
	var state []byte
	next := startNs
	var after, again []Setpoint
	restored := newController(t, m, f, leave)
	for now := startNs; now < startNs+45e9; now += whole.set.TickNs {
		for next+latencyNs <= now {
			fix := fixAt(m, pose, float64(next-startNs)*1e-9)
			whole.Fix(&fix)
			if state != nil {
				restored.Fix(&fix)
			}
			next += fixNs
		}
		after = whole.Tick(now, after)
		if state != nil {
			again = restored.Tick(now, again)
		} else if now >= startNs+20e9 {
			state = whole.AppendState(nil)
			if err := restored.Restore(state); err != nil {
				t.Fatal(err)
			}
			after = nil
		}
	}
	if len(after) != 6 || !slices.Equal(after, again) {
		t.Errorf("saved one gave %v, restored one %v", after, again)
	}
	if a, b := whole.AppendState(nil), restored.AppendState(nil); !bytes.Equal(a, b) {
		t.Error("states differ at the end")
	}
	// 12 rows are worked, from -50 m to the border, for both.
	for _, c := range []*Controller{whole, restored} {
		c.worked.Follow(0, &worked.Line{LeftE: -3, RightE: 3}, 1)
		for _, at := range []struct{ north, left float64 }{{-49.9, 0}, {-0.1, 0}, {-50.1, 1}, {0.1, 1}} {
			l := worked.Line{LeftE: -3, LeftN: at.north, RightE: 3, RightN: at.north}
			if got := c.worked.Left(^field.Mask(0), &l, nil); got != at.left {
				t.Errorf("%g left at %g m north, want %g", got, at.north, at.left)
			}
		}
	}
	if err := newController(t, m, f, nil).Restore(state); !errors.Is(err, ErrState) {
		t.Errorf("a state with worked ground where none is kept: %v", err)
	}
	old := append([]byte{savedVersion - 1}, state[1:]...)
	if err := restored.Restore(old); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("version %d; expected %d", savedVersion-1, savedVersion)) {
		t.Errorf("a state of the version before: %v", err)
	}
	for name, bad := range map[string][]byte{
		"short": state[:20], "long": append(slices.Clone(state), 0), "empty": nil,
		"version": append([]byte{savedVersion + 1}, state[1:]...), "sections": append(append(slices.Clone(state[:4]), 7, 0, 0, 0), state[8:]...),
	} {
		if err := restored.Restore(bad); !errors.Is(err, ErrState) {
			t.Errorf("%s: got %v; want ErrState", name, err)
		}
	}
}

// No allocation once constructed, awake or asleep.
func TestControllerAllocatesNothing(t *testing.T) {
	f := newField(t, body(0, rectangle(-50, -50, 50, 0)))
	m := bar(RearRigid, -2, 24, 0.25)
	c := newController(t, m, f, func(s *Settings) { s.WorkedGround, s.RowSpacingM = LeaveWorked, 0.25 })
	pose := straight(0, -70, 0, 2)
	fixes := make([]nmea.Fix, 500)
	for i := range fixes {
		fixes[i] = fixAt(m, pose, float64(i)*0.1)
	}
	out := make([]Setpoint, 0, MaxSections)
	i := 0
	if n := testing.AllocsPerRun(len(fixes)-2, func() {
		c.Fix(&fixes[i])
		for k := range int64(2) {
			out = c.Tick(fixes[i].TimeNs+latencyNs+k*c.set.TickNs, out[:0])
		}
		i++
	}); n != 0 {
		t.Errorf("%v allocations a fix and two ticks; want 0", n)
	}
	if !c.s.Estimator.State.Ready || c.section[0].DueNs == 0 || len(c.AppendState(nil)) < 24*50 {
		t.Error("the drive gave no command; the test shows nothing")
	}
}

func BenchmarkTick(b *testing.B) {
	f := newField(b, body(0, rectangle(-50, -500, 50, 0)))
	for _, bm := range []struct {
		name     string
		sections int
		northM   float64
		leave    bool
	}{
		{"near a border", 24, -1.0, false},
		{"near a border, 12 sections", 12, -1.0, false},
		{"near a border, 96 sections", 96, -1.0, false},
		{"asleep", 24, -100, false},
		{"near a border, over worked ground", 24, -1.0, true},
	} {
		b.Run(bm.name, func(b *testing.B) {
			m := bar(RearRigid, -2, bm.sections, 0.25)
			c := newController(b, m, f, func(s *Settings) {
				if bm.leave {
					s.WorkedGround, s.RowSpacingM = LeaveWorked, 0.125
				}
			})
			if bm.leave { // two of three rows, from end to end
				for k := range 48 {
					if k%3 < 2 {
						x := -3 + 0.125*float64(k)
						c.worked.Mark(^field.Mask(0), &worked.Line{LeftE: x, LeftN: -500, RightE: x + 0.125, RightN: -500}, &worked.Line{LeftE: x, LeftN: 0, RightE: x + 0.125, RightN: 0})
					}
				}
				c.worked.Follow(^field.Mask(0), &worked.Line{LeftE: -3, RightE: 3}, 0)
				c.worked.Follow(0, &worked.Line{LeftE: -3, RightE: 3}, 0)
			}
			pose := straight(0, bm.northM-10, 0, 2)
			play(c, pose, 4.75, nil)
			now := startNs + int64(4.75e9)
			out := make([]Setpoint, 0, MaxSections)
			b.ReportAllocs()
			for b.Loop() {
				out = c.Tick(now, out[:0])
			}
		})
	}
}
