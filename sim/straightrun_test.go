// The straight run that a driver needs, against drives that have it and drives that
// do not.

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
	"liftbench/sim"
	"liftbench/sim/drive"
	"liftbench/sim/receiver"
)

// dropPlaces are the place errors of all drops but those of the first pass, m,
// by the lead alone: when each command was due, and how far the bar went until
// the lead had passed.
func dropPlaces(t *testing.T, o *sim.Outcome, leadNs int64, mps float64) []float64 {
	t.Helper()
	var off []float64
	for _, e := range o.Score.Events {
		if !e.On || e.IdealNs == 0 || e.IdealNs < o.Score.Events[0].TimeNs()+60e9 {
			continue
		}
		least := int64(math.MaxInt64)
		for _, s := range o.Setpoints {
			if s.Section == e.Section && s.On {
				if d := s.DueNs + leadNs - e.IdealNs; max(d, -d) < max(least, -least) {
					least = d
				}
			}
		}
		off = append(off, float64(least)*1e-9*mps)
	}
	if len(off) < 50 {
		t.Fatalf("%d drops; want 50 or more", len(off))
	}
	return off
}

// TestStraightRun: with a perfect receiver every drop is within 5 cm where the
// straight run is what StraightRun says, or more; of those that are up to 3.5 m
// shorter some are beyond that. The bar is in front of the axle, so that the planned straight run is the
// bar's way to the border.
func TestStraightRun(t *testing.T) {
	for _, tc := range []struct {
		leadS, rowM, kmh, turnKmh float64
	}{
		{0.6, 1, 8, 6},     // speeding up decides
		{2.27, 1.5, 8, 8},  // the heading decides
		{2.27, 1.5, 8, 6},  // 9 m of cold oil
		{2.27, 1.5, 12, 6}, // and fast
		{1.2, 1.5, 8, 6},
	} {
		t.Run(fmt.Sprintf("%+v", tc), func(t *testing.T) {
			m := bar(sections.FrontRigid, 3.2, 6, tc.rowM)
			m.AntennaYM = 0
			w := 6 * tc.rowM
			f, err := field.New(plane, nil, []field.Zone{{Name: "body", Polygons: orb.MultiPolygon{{{{0, 0}, {14 * w, 0}, {14 * w, 80}, {0, 80}, {0, 0}}}}}})
			if err != nil {
				t.Fatal(err)
			}
			set := sections.DefaultSettings()
			leadNs := int64(tc.leadS * 1e9)
			set.DropLead = sections.Lead{MoveNs: leadNs}
			v, u := tc.kmh/3.6, tc.turnKmh/3.6
			job := &sim.Job{Machine: m, Field: f, Settings: set, Hydraulics: lift()}
			need := job.StraightRun(sim.Approach{SpeedMps: v, TurnMps: u, AccelMps2: 0.4, RadiusM: 6, SteerTimeS: 2, RateHz: 10})
			short := 0.0
			for _, moreM := range []float64{-3.5, -3, -2.5, -2, 0, 0.5, 1, 2, 5} {
				d, err := drive.Plan(f, m, drive.Params{StartNs: startNs, WorkMps: v, TurnMps: u, StraightBeforeM: need.LineM + moreM})
				if err != nil {
					t.Fatal(err)
				}
				var log bytes.Buffer
				if err := receiver.Write(&log, d.Track, &plane, m, receiver.Params{LatencyNs: 100e6}); err != nil {
					t.Fatal(err)
				}
				job.Truth = d.Track
				o, err := job.Run(epoch.NewReader(&log))
				if err != nil {
					t.Fatal(err)
				}
				worst := 0.0
				for _, x := range dropPlaces(t, o, leadNs, v) {
					worst = max(worst, math.Abs(x))
				}
				t.Logf("straight run %.1f m (%.1f needed): drops off by up to %.1f cm", need.LineM+moreM, need.LineM, 100*worst)
				if moreM < 0 {
					short = max(short, worst)
				} else if worst > 0.05 {
					t.Errorf("%+.1f m: drops are off by up to %.1f cm", moreM, 100*worst)
				}
			}
			if short < 0.08 {
				t.Errorf("with less than %.1f m drops are off by up to %.1f cm only", need.LineM, 100*short)
			}
		})
	}
}

// TestRunsAreMeasured: a straight run that is planned is measured, less than a metre
// longer for the end of the turn before it, and begins where it ought to.
func TestRunsAreMeasured(t *testing.T) {
	m := bar(sections.FrontRigid, 3, 6, 1)
	f, err := field.New(plane, nil, []field.Zone{{Name: "body", Polygons: orb.MultiPolygon{{{{0, 0}, {60, 0}, {60, 80}, {0, 80}, {0, 0}}}}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, straightM := range []float64{2, 7, 15} {
		d, err := drive.Plan(f, m, drive.Params{StartNs: startNs, WorkMps: 2, StraightBeforeM: straightM, SteadyBeforeM: 20})
		if err != nil {
			t.Fatal(err)
		}
		job := &sim.Job{Machine: m, Field: f, Settings: sections.DefaultSettings(), Hydraulics: lift()}
		o, err := job.Ideal(d.Track)
		if err != nil {
			t.Fatal(err)
		}
		const lineM = 10
		runs := o.Runs(&field.Field{}, lineM, sim.OnLineRad)
		if len(runs) != 10 {
			t.Fatalf("%d straight runs; want one before each of 10 passes", len(runs))
		}
		for i, r := range runs {
			if i > 0 && !(r.LineM >= straightM-0.3 && r.LineM < straightM+1.3) || i == 0 && r.LineM < 20 {
				t.Errorf("pass %d: %.2f m on the line; %g m planned", i+1, r.LineM, straightM)
			}
			if way := math.Hypot(r.To[0]-r.From[0], r.To[1]-r.From[1]); math.Abs(way-lineM) > 0.01 || math.Abs(r.To[0]-r.From[0]) > 0.2 {
				t.Errorf("pass %d: drawn from %v to %v; want %d m along the rows", i+1, r.From, r.To, lineM)
			}
		}
	}
}
