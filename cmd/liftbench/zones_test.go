// Zones found from a log, written, and taken by another command as its field.

package main

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"
)

// Three real field operations at 1 Hz (dev4Agriculture isoxml-dotnet, test data,
// Apache-2.0), a machine of 9 m: two with headland rounds, whose outermost tells the
// boundary as it is registered; one without.
func TestZonesOfRecordedTracks(t *testing.T) {
	dir := filepath.Join(recordings(t), "tracks")
	for _, tc := range []struct{ name, headland string }{
		{"track-05", "3 rounds were driven"}, {"track-20", "no round was driven"}, {"track-25", "rounds were driven"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			machine, out := "../../testdata/front-12x75.yaml", t.TempDir()
			log, states := filepath.Join(dir, tc.name+".nmea"), filepath.Join(dir, tc.name+".states.csv")
			var stdout, stderr bytes.Buffer
			if status := execute([]string{"zones", "--machine", machine, "--boundary", filepath.Join(dir, tc.name+".geojson"), "--states", states, "--out", out, log}, nil, &stdout, &stderr); status != 0 {
				t.Fatalf("status %d: %s", status, stderr.String())
			}
			t.Log(stdout.String())
			if text := strings.Join(strings.Fields(stdout.String()), " "); !strings.Contains(text, tc.headland) || !strings.Contains(text, "sure to ±") {
				t.Errorf("want %q and how sure the body's border is", tc.headland)
			}
			stdout.Reset()
			if status := execute([]string{"run", "--machine", machine, "--field", filepath.Join(out, "zones.geojson"), "--states", states, log}, nil, &stdout, &stderr); status != 0 {
				t.Fatalf("run with the zones found: status %d: %s", status, stderr.String())
			}
			stdout.Reset()
			if status := execute([]string{"diagnose", "--machine", machine, "--states", states, log}, nil, &stdout, &stderr); status != 0 {
				t.Fatalf("diagnose without a field: status %d: %s", status, stderr.String())
			}
			if !strings.Contains(stdout.String(), "found from the track") {
				t.Errorf("the diagnosis does not say where its zones come from:\n%s", stdout.String())
			}
		})
	}
}
