// One gap in the field, and one strip between two gaps, of every width: when the
// tool leaves work and when it is back, in closed form.

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
	"liftbench/sections/score"
	"liftbench/sim"
	"liftbench/sim/drive"
	"liftbench/sim/hydraulics"
	"liftbench/sim/receiver"
)

// banded is a body between -100 m and 100 m north, worked whatever the heading,
// with keep-out bands from one of these places to the next.
func banded(t testing.TB, northM ...float64) *field.Field {
	t.Helper()
	band := func(south, north float64) orb.MultiPolygon {
		return orb.MultiPolygon{{{{-60, south}, {60, south}, {60, north}, {-60, north}, {-60, south}}}}
	}
	zones := []field.Zone{{Name: "body", RowBearingRad: math.NaN(), Polygons: band(-100, 100)}}
	for k := 0; k+1 < len(northM); k += 2 {
		if northM[k+1] > northM[k] {
			zones = append(zones, field.Zone{Name: fmt.Sprint("ditch ", k/2+1), Kind: field.KeepOut, RowBearingRad: math.NaN(), Polygons: band(northM[k], northM[k+1])})
		}
	}
	return fieldOf(t, zones)
}

// across drives north over a field from -60 m to 60 m and returns what happened.
func across(t testing.TB, m *sections.Machine, f *field.Field, h hydraulics.Params, mps float64, shortestNs int64) *sim.Outcome {
	t.Helper()
	set := sections.DefaultSettings()
	set.LiftLead, set.DropLead = sim.Leads(&h, len(m.Sections), true)
	set.ShortestUpNs, set.ShortestDownNs, set.HysteresisM = shortestNs, shortestNs, 0
	track := drive.Straight(startNs, 0, -60, 0, mps, 120)
	var log bytes.Buffer
	if err := receiver.Write(&log, track, &plane, m, receiver.Params{LatencyNs: 100e6}); err != nil {
		t.Fatal(err)
	}
	job := sim.Job{Machine: m, Field: f, Settings: set, Hydraulics: h, Truth: track, Heights: true}
	out, err := job.Run(epoch.NewReader(&log))
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// gapLifts are lifts with speeds up and down that differ either way, and a pump
// that feeds half of six sections.
func gapLifts() map[string]hydraulics.Params {
	slowDown := lift()
	slowDown.DropForceN = 500
	shared := lift()
	shared.PumpFlowM3PerS = 3 * shared.LiftFlowM3PerS(1)
	return map[string]hydraulics.Params{"fast down": lift(), "slow down": slowDown, "three fed": shared}
}

// rates are the speeds of a tool up, with n sections lifting at once, and down, in m/s.
func rates(h *hydraulics.Params, n int) (up, down float64) {
	up = h.TravelM() / (float64(h.FullLiftTimeNs(n)-h.LiftDeadNs) * 1e-9)
	down = h.TravelM() / (float64(h.FullDropTimeNs()-h.DropDeadNs) * 1e-9)
	return up, down
}

// A gap of g seconds, however short: the tool passes the effective depth upward as
// the gap begins and downward as it ends. Rising at u, it must turn after
// g·d/(u + d) to come down at d in time, and so rises to
// effective depth + g·u·d/(u + d), or all the way, from which it falls in
// time as after any lift.
func TestGapOfEveryWidth(t *testing.T) {
	m := bar(sections.FrontRigid, 3.4, 6, 1)
	for name, h := range gapLifts() {
		up, down := rates(&h, 6)
		for _, kmh := range []float64{4, 8, 12} {
			for widthM := 0.0; widthM <= 10; widthM += 0.25 {
				t.Run(fmt.Sprintf("%s, %g km/h, %g m", name, kmh, widthM), func(t *testing.T) {
					out := across(t, m, banded(t, 0, widthM), h, kmh/3.6, 0)
					want := 6
					if widthM == 0 {
						want = 0
					}
					drops := 0
					for _, e := range out.Score.Events {
						if e.Kind == score.Start {
							continue
						}
						if e.Kind != score.Paired || math.Abs(e.TimeErrorS) > 0.001 {
							t.Fatalf("section %d on=%v: %v, time error %.4f s; want a pair within 1 ms", e.Section+1, e.On, e.Kind, e.TimeErrorS)
						}
						if e.On {
							drops++
						}
					}
					if drops != want || out.Score.Lift.Paired != want {
						t.Fatalf("%d lifts, %d drops; want %d of each", out.Score.Lift.Paired, drops, want)
					}
					g := widthM / (kmh / 3.6)
					wantM := min(h.TravelM(), h.WorkingDepthM-h.EffectiveDepthM+g*up*down/(up+down))
					peakM := 0.0
					mid := startNs + int64((60-3.4)/(kmh/3.6)*1e9)
					for ns := mid - 1e9; ns < mid+int64(g*1e9)+1e9; ns += 1e6 {
						peakM = max(peakM, out.Heights[2].AtM(ns))
					}
					if widthM > 0 && math.Abs(peakM-wantM) > 0.001*max(up, down)+1e-6 {
						t.Errorf("the tool rises to %.4f m; want %.4f", peakM, wantM)
					}
				})
			}
		}
	}
}

// A strip of s seconds between two ditches: the tool passes the effective depth
// downward as the strip begins and upward as it ends, however little it goes
// deeper in between.
func TestStripOfEveryWidth(t *testing.T) {
	m := bar(sections.FrontRigid, 3.4, 6, 1)
	for name, h := range gapLifts() {
		for _, kmh := range []float64{4, 8, 12} {
			for widthM := 0.25; widthM <= 5; widthM += 0.25 {
				t.Run(fmt.Sprintf("%s, %g km/h, %g m", name, kmh, widthM), func(t *testing.T) {
					out := across(t, m, banded(t, 0, 15, 15+widthM, 30), h, kmh/3.6, 0)
					for _, e := range out.Score.Events {
						if e.Kind != score.Start && (e.Kind != score.Paired || math.Abs(e.TimeErrorS) > 0.001) {
							t.Fatalf("section %d on=%v: %v, time error %.4f s; want a pair within 1 ms", e.Section+1, e.On, e.Kind, e.TimeErrorS)
						}
					}
					if out.Score.Lift.Paired != 12 || out.Score.Drop.Paired != 12 {
						t.Fatalf("lifts %+v, drops %+v; want 12 pairs of each", out.Score.Lift, out.Score.Drop)
					}
				})
			}
		}
	}
}

// What is crossed in less than the shortest time is no gap and no strip: nothing
// moves for it, and nothing is missed there.
func TestShorterThanTheShortest(t *testing.T) {
	m := bar(sections.FrontRigid, 3.4, 6, 1)
	const shortestNs, mps = 500e6, 8 / 3.6
	for _, widthM := range []float64{0.1, 0.4, 0.7, 1.0, 1.05, 1.2, 1.5, 2, 3} {
		lifts := 0
		if widthM/mps > 0.5 {
			lifts = 6
		}
		gap := across(t, m, banded(t, 0, widthM), lift(), mps, shortestNs).Score
		strip := across(t, m, banded(t, 0, 15, 15+widthM, 30), lift(), mps, shortestNs).Score
		for _, c := range []struct {
			what  string
			res   *score.Result
			lifts int
		}{{"gap", gap, lifts}, {"strip", strip, 6 + lifts}} {
			if c.res.Lift.Paired != c.lifts || c.res.Drop.Paired != c.lifts {
				t.Errorf("%s of %g m: lifts %+v, drops %+v; want %d of each", c.what, widthM, c.res.Lift, c.res.Drop, c.lifts)
			}
			for _, e := range c.res.Events {
				if e.Kind != score.Start && (e.Kind != score.Paired || math.Abs(e.TimeErrorS) > 0.001) {
					t.Errorf("%s of %g m, section %d on=%v: %v, time error %.4f s; want a pair within 1 ms", c.what, widthM, e.Section+1, e.On, e.Kind, e.TimeErrorS)
				}
			}
		}
	}
}

// A strip that takes less time than the shortest time down, and then a gap: the drop
// after both is in time, although the strip lies within the lead before it.
func TestDropBehindABriefStrip(t *testing.T) {
	m := bar(sections.FrontRigid, 3.4, 6, 1)
	for _, kmh := range []float64{4, 8, 12} {
		for _, gapM := range []float64{0.3, 0.5, 0.8} {
			stripM := 0.45 * kmh / 3.6
			out := across(t, m, banded(t, 0, 10, 10+stripM, 10+stripM+gapM), lift(), kmh/3.6, 500e6)
			drops := 0
			for _, e := range out.Score.Events {
				if !e.On || e.Kind != score.Paired || e.NorthM < 5 {
					continue
				}
				if drops++; math.Abs(e.TimeErrorS) > 0.001 {
					t.Errorf("%g km/h, gap of %g m: section %d drops %.3f s late; want 1 ms at most", kmh, gapM, e.Section+1, e.TimeErrorS)
				}
			}
			if drops != 6 {
				t.Errorf("%g km/h, gap of %g m: %d drops in time to be a pair; want 6", kmh, gapM, drops)
			}
		}
	}
}
