// From bytes to score, against what arithmetic says.

package sim_test

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/nmea/epoch"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
	"liftbench/sections/score"
	"liftbench/sim"
	"liftbench/sim/drive"
	"liftbench/sim/hydraulics"
	"liftbench/sim/receiver"
)

// Drives whose score is known in closed form, noise free, all the way from
// bytes: a drive of constant speed and radius, written as NMEA by a receiver
// with 100 ms of latency, read back, decided, lifted and scored.

const startNs = int64(1_936_000_000e9)

var plane = geodesy.NewPlane(52.3, 9.8)

// lift is a lift whose pump feeds 200 sections at full speed.
func lift() hydraulics.Params {
	return hydraulics.Params{
		LiftDeadNs: 60e6, DropDeadNs: 50e6,
		BoreM: 0.032, StrokeM: 0.16,
		RaisedM: 0.26, WorkingDepthM: 0.04, EffectiveDepthM: 0.02,
		PumpFlowM3PerS: 800e-3 / 60, ValveFlowM3PerS: 4e-3 / 60, PressurePa: 180e5,
		LiftForceN: 1200, DropForceN: 1500,
		HoseLengthM: 6, HoseBoreM: 0.008, OrificeM: 0.0025, OrificeCd: 0.62,
		OilVG: 46, OilTempDegC: 50,
	}
}

func bar(mount sections.Mount, x float64, n int, w float64) *sections.Machine {
	m := &sections.Machine{Mount: mount, AntennaXM: 0.8, AntennaYM: 0.1, AntennaZM: 3}
	for i := range n {
		m.Sections = append(m.Sections, sections.Section{XM: x, YM: (float64(i) - float64(n-1)/2) * w, WidthM: w})
	}
	return m
}

// between is a field whose one zone lies between two parallel borders: one
// square to north at southM, one at the angle slantRad from square that cuts
// the axis of east = 0 at northM.
func between(t testing.TB, southM, northM, slantRad float64) *field.Field {
	t.Helper()
	const half = 80
	h := half * math.Tan(slantRad)
	ring := orb.Ring{{-half, southM}, {half, southM}, {half, northM - h}, {-half, northM + h}, {-half, southM}}
	f, err := field.New(plane, nil, []field.Zone{{Name: "body", RowBearingRad: math.NaN(), Polygons: orb.MultiPolygon{{ring}}}})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// run takes a true track from bytes to score. Leads are the machine's unless
// alter changes them.
func run(t testing.TB, m *sections.Machine, f *field.Field, track motion.Track, h hydraulics.Params, alter func(*sections.Settings)) *score.Result {
	t.Helper()
	set := sections.DefaultSettings()
	set.LiftLead, set.DropLead = sim.Leads(&h, len(m.Sections), true)
	if alter != nil {
		alter(&set)
	}
	var log bytes.Buffer
	if err := receiver.Write(&log, track, &plane, m, receiver.Params{LatencyNs: 100e6}); err != nil {
		t.Fatal(err)
	}
	job := sim.Job{Machine: m, Field: f, Settings: set, Hydraulics: h, Truth: track}
	out, err := job.Run(epoch.NewReader(&log))
	if err != nil {
		t.Fatal(err)
	}
	return out.Score
}

// paired returns the events, all of which must be pairs, n lifts and n drops.
func paired(t testing.TB, r *score.Result, n int) []score.Event {
	t.Helper()
	if r.Lift.Paired != n || r.Drop.Paired != n || r.Lift.Missed+r.Lift.Spurious+r.Drop.Missed+r.Drop.Spurious != 0 {
		t.Fatalf("lifts %+v, drops %+v; want %d pairs each and nothing else", r.Lift, r.Drop, n)
	}
	return r.Events
}

// Without a lead a tool is late by what the lift takes: place error = v·lead.
func TestUncompensatedStraight(t *testing.T) {
	h := lift()
	for _, kmh := range []float64{3, 8, 15} {
		t.Run(fmt.Sprintf("%g km/h", kmh), func(t *testing.T) {
			v := kmh / 3.6
			m := bar(sections.RearRigid, -2.2, 6, 1)
			track := drive.Straight(startNs, 0, -90, 0, v, 180)
			r := run(t, m, between(t, -40, 40, 0), track, h, func(s *sections.Settings) {
				s.LiftLead, s.DropLead = sections.Lead{}, sections.Lead{}
			})
			for _, e := range paired(t, r, 6) {
				want := v * float64(h.LiftTimeNs(1)) * 1e-9
				if e.On {
					want = v * float64(h.DropTimeNs()) * 1e-9
				}
				if math.Abs(e.PlaceErrorM-want) > 0.001 {
					t.Errorf("section %d on=%v: place error %.5f m; want v·lead = %.5f", e.Section+1, e.On, e.PlaceErrorM, want)
				}
			}
		})
	}
}

// around is a drive at 8 km/h on a circle around the origin, clockwise, from one
// heading to another.
func around(radiusM, fromRad, toRad float64) motion.Track {
	sin, cos := math.Sincos(fromRad)
	return drive.Arc(startNs, -radiusM*cos, radiusM*sin, fromRad, 8/3.6, radiusM*(toRad-fromRad), radiusM)
}

// With its lead a tool is in time: within 1 ms on a straight, 10 ms on a circle.
func TestCompensated(t *testing.T) {
	trailed := bar(sections.Trailed, -6, 6, 1)
	trailed.HitchBehindM, trailed.DrawbarM = 0.8, 4
	for _, tc := range []struct {
		name     string
		machine  *sections.Machine
		track    motion.Track
		withinMs float64
	}{
		{"3 km/h", bar(sections.RearRigid, -2.2, 6, 1), drive.Straight(startNs, 0, -90, 0, 3/3.6, 180), 1},
		{"8 km/h", bar(sections.FrontRigid, 3.4, 6, 1), drive.Straight(startNs, 0, -90, 0, 8/3.6, 180), 1},
		{"15 km/h", bar(sections.RearRigid, -2.2, 12, 0.5), drive.Straight(startNs, 0, -90, 0, 15/3.6, 180), 1},
		{"8 km/h, trailed", trailed, drive.Straight(startNs, 0, -90, 0, 8/3.6, 180), 1},
		{"circle of 60 m, rear", bar(sections.RearRigid, -2.2, 6, 1), around(60, -0.7, 0.7), 10},
		{"circle of 30 m, front", bar(sections.FrontRigid, 3.4, 6, 1), around(30, -1, 0.9), 10},
	} {
		t.Run(tc.name, func(t *testing.T) {
			r := run(t, tc.machine, between(t, -10, 10, 0), tc.track, lift(), nil)
			events := r.Events
			if len(events) < 2*len(tc.machine.Sections) {
				t.Fatalf("%d events; want at least a lift and a drop of each section", len(events))
			}
			for _, e := range events {
				if e.Kind != score.Paired || math.Abs(e.TimeErrorS)*1e3 > tc.withinMs {
					t.Errorf("section %d on=%v: %v, time error %.3f ms; want %g at most", e.Section+1, e.On, e.Kind, e.TimeErrorS*1e3, tc.withinMs)
				}
			}
		})
	}
}

// At a border α from square each section of width w costs w²·tan α / 2 with
// crop-first or weed-first, w²·tan α / 4 with even. So halving the width
// halves the total: the trend of Zandonadi et al. 2011 (Trans. ASABE
// 54(1):41-49). With a slack s the first two cost ((w - s)² + s²)·tan α / 2: what
// hangs over is let be, to both sides of where the section lifts.
func TestSlantingBorder(t *testing.T) {
	for _, alphaDeg := range []float64{15, 30, 45} {
		for _, c := range []struct{ w, slackM float64 }{{3, 0}, {1.5, 0}, {0.75, 0}, {0.75, 0.05}} {
			w := c.w
			for rule, share := range map[sections.EdgeRule]float64{sections.CropFirst: 2, sections.WeedFirst: 2, sections.Even: 4} {
				n := int(6 / w)
				alpha := alphaDeg * math.Pi / 180
				m := bar(sections.RearRigid, -2.2, n, w)
				// In work from before the start until the one slanting border.
				r := run(t, m, between(t, -300, 40, alpha), drive.Straight(startNs, 0, -100, 0, 5/3.6, 240), lift(),
					func(s *sections.Settings) { s.Rule, s.SlackM = rule, c.slackM })
				cost := 0.0
				lifts := 0
				for _, e := range r.Events {
					if !e.On && e.Kind == score.Paired {
						lifts++
					}
				}
				if lifts != n {
					t.Fatalf("%g°, %g m, rule %d: %d lifts; want %d", alphaDeg, w, rule, lifts, n)
				}
				// What the first seconds cost, before the bar was down, is
				// w·v·t, the same for a square border.
				square := run(t, m, between(t, -300, 40, 0), drive.Straight(startNs, 0, -100, 0, 5/3.6, 240), lift(), nil)
				cost = r.Area.OverrunM2 + r.Area.MissM2 - square.Area.OverrunM2 - square.Area.MissM2
				want := float64(n) * w * w * math.Tan(alpha) / share
				if rule != sections.Even {
					want = float64(n) * ((w-c.slackM)*(w-c.slackM) + c.slackM*c.slackM) * math.Tan(alpha) / share
				}
				if math.Abs(cost-want) > 0.01*want {
					t.Errorf("%g°, %g m, rule %d: overrun + miss %.4f m²; want %.4f within 1 %%", alphaDeg, w, rule, cost, want)
				}
			}
		}
	}
}

// N sections that rise together on a saturated pump take N times as long: a
// lead made for one alone is then late by (N-1) strokes, one that counts them
// is in time.
func TestSaturatedPump(t *testing.T) {
	h := lift()
	h.PumpFlowM3PerS = h.LiftFlowM3PerS(1) // as much as one section takes
	alone := float64(h.LiftTimeNs(1)-h.LiftDeadNs) * 1e-9
	track := drive.Straight(startNs, 0, -90, 0, 8/3.6, 180)
	for _, n := range []int{1, 2, 4, 8} {
		m := bar(sections.RearRigid, -2.2, n, 0.5)
		fixed := run(t, m, between(t, -40, 40, 0), track, h, func(s *sections.Settings) { s.LiftLead.FedAtOnce = 0 })
		for _, e := range paired(t, fixed, n) {
			if want := float64(n-1) * alone; !e.On && math.Abs(e.TimeErrorS-want) > 0.001 {
				t.Errorf("%d together, fixed lead: %.4f s late; want %.4f", n, e.TimeErrorS, want)
			}
		}
		aware := run(t, m, between(t, -40, 40, 0), track, h, nil)
		for _, e := range paired(t, aware, n) {
			if !e.On && math.Abs(e.TimeErrorS) > 0.001 {
				t.Errorf("%d together, flow-aware lead: %.4f s late; want 0", n, e.TimeErrorS)
			}
		}
	}
}

// One after another at a slanting border, strokes overlap in part: there the
// flow-aware lead is an estimate. It stays within 80 ms where a fixed lead is
// four times as far off.
func TestSaturatedPumpAtASlant(t *testing.T) {
	h := lift()
	h.PumpFlowM3PerS = 2 * h.LiftFlowM3PerS(1)
	m := bar(sections.RearRigid, -2.2, 8, 0.75)
	track := drive.Straight(startNs, 0, -90, 0, 8/3.6, 180)
	worst := func(alter func(*sections.Settings)) float64 {
		r := run(t, m, between(t, -40, 40, 20*math.Pi/180), track, h, alter)
		paired(t, r, 8)
		return r.Lift.TimeErrorS.MaxAbs
	}
	aware := worst(nil)
	fixed := worst(func(s *sections.Settings) { s.LiftLead.FedAtOnce = 0 })
	t.Logf("worst lift: %.0f ms flow-aware, %.0f ms with a fixed lead", aware*1e3, fixed*1e3)
	if aware > 0.08 || fixed < 4*aware {
		t.Errorf("worst lift %.3f s flow-aware, %.3f s fixed; want 0.080 at most, and a quarter", aware, fixed)
	}
}

// A controller that was told of an antenna 30 cm too far ahead believes every
// tool 30 cm too far back: late by 30 cm at every speed.
func TestAntennaMeasuredWrong(t *testing.T) {
	h := lift()
	for _, kmh := range []float64{4, 8, 12} {
		v := kmh / 3.6
		truth := bar(sections.RearRigid, -2.2, 6, 1)
		told := *truth
		told.AntennaXM += 0.3
		set := sections.DefaultSettings()
		set.LiftLead, set.DropLead = sim.Leads(&h, 6, true)
		track := drive.Straight(startNs, 0, -90, 0, v, 180)
		var log bytes.Buffer
		if err := receiver.Write(&log, track, &plane, truth, receiver.Params{LatencyNs: 100e6}); err != nil {
			t.Fatal(err)
		}
		job := sim.Job{Machine: &told, TrueMachine: truth, Field: between(t, -40, 40, 0), Settings: set, Hydraulics: h, Truth: track, Heights: true}
		out, err := job.Run(epoch.NewReader(&log))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range paired(t, out.Score, 6) {
			if math.Abs(e.PlaceErrorM-0.3) > 0.002 {
				t.Errorf("%g km/h, section %d on=%v: place error %.4f m; want 0.3", kmh, e.Section+1, e.On, e.PlaceErrorM)
			}
		}
		middle := track[0].TimeNs + int64(90/v*1e9)
		if len(out.Heights) != 6 || out.Heights[0].AtM(middle) != 0 || out.Heights[0].AtM(track[0].TimeNs) != h.TravelM() {
			t.Errorf("heights %v; want 6, raised at first and down in the middle", out.Heights)
		}
	}
}

// A controller that was told a latency 150 ms too short comes 150 ms late at
// every speed.
func TestLatencyToldWrong(t *testing.T) {
	h := lift()
	for _, kmh := range []float64{4, 8, 12} {
		m := bar(sections.RearRigid, -2.2, 6, 1)
		set := sections.DefaultSettings()
		set.LiftLead, set.DropLead = sim.Leads(&h, 6, true)
		track := drive.Straight(startNs, 0, -90, 0, kmh/3.6, 180)
		var log bytes.Buffer
		if err := receiver.Write(&log, track, &plane, m, receiver.Params{LatencyNs: 250e6}); err != nil {
			t.Fatal(err)
		}
		job := sim.Job{Machine: m, Field: between(t, -40, 40, 0), Settings: set, Hydraulics: h, Truth: track, ClockBehindNs: 250e6 - set.LatencyNs}
		out, err := job.Run(epoch.NewReader(&log))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range paired(t, out.Score, 6) {
			if math.Abs(e.TimeErrorS-0.15) > 0.001 {
				t.Errorf("%g km/h, section %d on=%v: %.4f s late; want 0.15", kmh, e.Section+1, e.On, e.TimeErrorS)
			}
		}
	}
}
