// The demo's drive, by a driver who brakes for the turn, with every real lift or
// drop later or earlier by a known time.

package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/replay/diagnose"
	"liftbench/sections"
	"liftbench/sim/campaign"
	"liftbench/sim/receiver"
)

// drivenDemo writes the demo's drive as a log to dir, at speeds that differ from
// pass to pass by a standard deviation of sdPercent. It returns what a sound
// machine did, and the arguments that diagnose the day.
func drivenDemo(t *testing.T, dir string, sdPercent float64) ([]sections.WorkChange, []string) {
	t.Helper()
	if err := settings.WriteDemo(dir); err != nil {
		t.Fatal(err)
	}
	at := func(name string) string { return filepath.Join(dir, name) }
	u, err := new(settings.Selection).Load()
	if err != nil {
		t.Fatal(err)
	}
	u.Scenario.Drive.SpeedSDPercent = sdPercent
	o, err := run.Drive(u, nil, io.Discard, true)
	if err != nil {
		t.Fatal(err)
	}
	m := u.Machine.Geometry()
	driven, err := run.Plan(u, m)
	if err != nil {
		t.Fatal(err)
	}
	var log bytes.Buffer
	if err := receiver.Write(&log, driven.Track, &u.Field.Plane, m, run.ReceiverParams(u)); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(at("day.nmea"), log.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return o.Changes, []string{"diagnose", "--machine", at("machine.yaml"), "--field", at("field.geojson"), "--states", at("states.csv"), "--out", at("out"), at("day.nmea")}
}

// TestLateOnTheDemo: the time that was put in comes out as the one cause. The
// driver drives 8 km/h in the rows and 6 km/h in the turns, and begins to brake
// when the last section has left the field. All his drops are at 8 km/h, at which
// nothing tells a time from a place; so those are looked at on a day of several
// speeds. Without LIFTBENCH_CAMPAIGN one lateness in four is tried.
func TestLateOnTheDemo(t *testing.T) {
	for _, on := range []bool{false, true} {
		dir := t.TempDir()
		at := func(name string) string { return filepath.Join(dir, name) }
		sdPercent := 0.0
		if on {
			sdPercent = 15
		}
		changes, args := drivenDemo(t, dir, sdPercent)
		for k, lateS := range []float64{-9.5, -6, -3, -1.6, -0.8, -0.4, 0.2, 0.4, 0.6, 0.8, 1, 1.2, 1.4, 1.6, 3, 6, 9.5} {
			if k%campaign.Times(4, 1, 1) != 0 {
				continue
			}
			want := diagnose.LiftTiming
			if on {
				want = diagnose.DropTiming
			}
			t.Run(fmt.Sprintf("%s %g s", want, lateS), func(t *testing.T) {
				moved := slices.Clone(changes)
				for i := range moved {
					if moved[i].On == on {
						moved[i].TimeNs += int64(lateS * 1e9)
					}
				}
				slices.SortStableFunc(moved, func(a, b sections.WorkChange) int { return cmp.Compare(a.TimeNs, b.TimeNs) })
				if err := os.WriteFile(at("states.csv"), run.AppendStates(nil, nil, moved), 0o644); err != nil {
					t.Fatal(err)
				}
				status, _, stderr := command("", args...)
				if status != 0 {
					t.Fatal(stderr)
				}
				js, err := os.ReadFile(at("out/diagnosis.json"))
				if err != nil {
					t.Fatal(err)
				}
				var d diagnose.Diagnosis
				if err := json.Unmarshal(js, &d); err != nil {
					t.Fatal(err)
				}
				if len(d.Causes) != 1 || len(d.CannotTell) != 0 {
					t.Fatalf("causes %+v, doubts %+v; want %s alone", d.Causes, d.CannotTell, want)
				}
				// The sound drive itself is within 10 ms of no error, on average (TestSoundDay).
				if c := d.Causes[0]; c.Cause != want || math.Abs(c.Size-lateS) > 0.02 || c.CI95[0] > lateS+0.01 || c.CI95[1] < lateS-0.01 {
					t.Errorf("%s %.3f s, %.3f; want %s %g s", c.Cause, c.Size, c.CI95, want, lateS)
				}
			})
		}
	}
}
