// Recorded tracks of tractors through the whole command.

package main

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"liftbench/nmea/epoch"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
)

// recordings returns the folder of recorded data, or skips (fails, where
// everything is required) when there is none.
func recordings(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("LIFTBENCH_DATA")
	if dir == "" {
		if os.Getenv("LIFTBENCH_REQUIRE_ALL") != "" {
			t.Fatal("LIFTBENCH_DATA does not name the folder of recorded data")
		}
		t.Skip("LIFTBENCH_DATA does not name the folder of recorded data")
	}
	return dir
}

// Three real field operations at 1 Hz (dev4Agriculture isoxml-dotnet, test
// data, Apache-2.0): every epoch is read, our controller's day and the recorded
// one both end in a score that such a field can have.
func TestRecordedTracks(t *testing.T) {
	dir := filepath.Join(recordings(t), "tracks")
	for _, tc := range []struct {
		name         string
		registeredM2 float64 // as registered
	}{{"track-05", 16208}, {"track-20", 43400}, {"track-25", 20254}} {
		t.Run(tc.name, func(t *testing.T) {
			log := filepath.Join(dir, tc.name+".nmea")
			raw, err := os.ReadFile(log)
			if err != nil {
				t.Fatal(err)
			}
			epochs := strings.Count(string(raw), "$GPGGA,")
			for _, states := range []string{"", filepath.Join(dir, tc.name+".states.csv")} {
				out := t.TempDir()
				args := []string{"run", "--machine", "../../testdata/front-12x75.yaml", "--field", filepath.Join(dir, tc.name+".geojson"),
					"--headland", "18", "--out", out, log}
				if states != "" {
					args = append(args, "--states", states)
				}
				var stdout, stderr bytes.Buffer
				if status := execute(args, nil, &stdout, &stderr); status != 0 {
					t.Fatalf("status %d: %s", status, stderr.String())
				}
				var s struct {
					Fixes        int
					SectionCount int     `json:"section_count"`
					DistanceM    float64 `json:"distance_m"`
					Lift, Drop   struct{ Count, Paired, Missed, Spurious int }
					AreaM2       map[string]float64 `json:"area_m2"`
				}
				js, err := os.ReadFile(filepath.Join(out, "summary.json"))
				if err != nil {
					t.Fatal(err)
				}
				if err := json.Unmarshal(js, &s); err != nil {
					t.Fatal(err)
				}
				t.Logf("states %q: %+v", filepath.Base(states), s)
				if s.Fixes != epochs || s.SectionCount != 12 {
					t.Errorf("%d fixes, %d sections; want %d, 12", s.Fixes, s.SectionCount, epochs)
				}
				within := func(name string, got, lo, hi float64) {
					t.Helper()
					if got < lo || got > hi {
						t.Errorf("%s = %.1f; want %.1f to %.1f", name, got, lo, hi)
					}
				}
				a := s.AreaM2
				// The zones are the field; not more is worked than driven over,
				// nor more outside than in.
				within("zone / registered", a["zone"]/tc.registeredM2, 0.93, 1.02)
				within("worked", a["worked"], 0.4*s.DistanceM*9, s.DistanceM*9)
				within("overrun", a["overrun"], 0, 0.25*a["worked"])
				within("across rows", a["across_rows"], 0, a["overrun"])
				within("miss", a["miss"], 0, 0.4*a["worked"])
				within("repeat", a["repeat"], 0, 0.3*a["worked"])
				if s.Lift.Count < 12 || s.Lift.Paired < 12 || s.Lift.Paired+s.Lift.Missed != s.Lift.Count {
					t.Errorf("lifts %+v; want at least one of each section in pairs", s.Lift)
				}
			}
		})
	}
}

// The live estimate and the smoothed track go opposite ways at few fixes, most of them in
// strokes at walking pace: no more than these.
func TestDirectionOfRecordedTracks(t *testing.T) {
	dir := filepath.Join(recordings(t), "tracks")
	for _, tc := range []struct {
		name string
		most int
	}{{"track-05", 74}, {"track-20", 4}, {"track-25", 106}} {
		f, err := os.Open(filepath.Join(dir, tc.name+".nmea"))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		k := motion.Estimator{Antenna: motion.Antenna{XM: 0.8}}
		var plane geodesy.Plane
		var samples []motion.Sample
		var headings []float64 // NaN until the motion is known
		for rd := epoch.NewReader(f); rd.Next(); {
			fix := rd.Fix()
			if !fix.HasPosition() {
				continue
			}
			if len(samples) == 0 {
				plane = geodesy.NewPlane(fix.LatDeg, fix.LonDeg)
			}
			e, n := plane.ToPlane(fix.LatDeg, fix.LonDeg)
			k.Update(&fix, e, n)
			m, ready := k.Motion()
			if !ready {
				m.HeadingRad = math.NaN()
			}
			headings, samples = append(headings, m.HeadingRad), append(samples, motion.SampleOf(&fix, e, n))
		}
		track, cursor, opposite := motion.Smooth(samples, k.Antenna), 0, 0
		for i := range samples {
			if p := track.At(samples[i].TimeNs, &cursor); math.Cos(p.HeadingRad-headings[i]) < 0 {
				opposite++
			}
		}
		t.Logf("%s: opposite at %d of %d fixes", tc.name, opposite, len(samples))
		if opposite > tc.most || len(samples) < 1000 {
			t.Errorf("%s: opposite at %d of %d fixes; want %d at most", tc.name, opposite, len(samples), tc.most)
		}
	}
}
