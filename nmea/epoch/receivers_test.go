// Outside check: epochs of six recorded receivers against the decoding that
// gpsd's regression suite expects of them (gpsd, test/daemon/*.log and
// *.log.chk, BSD-2-Clause).

package epoch

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"liftbench/nmea"
)

// recordedData returns the folder of recorded data, or ends the test: skipped,
// or failed where everything is required.
func recordedData(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("LIFTBENCH_DATA")
	if dir == "" {
		missing(t, "LIFTBENCH_DATA is not set; expected the folder of recorded data")
	}
	return dir
}

func missing(t *testing.T, what string) {
	t.Helper()
	if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
		t.Fatal(what)
	}
	t.Skip(what)
}

// tpv is gpsd's report of time, position and velocity. Status 2 is
// differential, 3 RTK fixed, 4 RTK float; mode 1 no fix, 2 2D, 3 3D (gpsd_json(5)).
type tpv struct {
	Class  string
	Mode   int
	Status int
	Time   time.Time
	Lat    *float64
	Lon    *float64
	AltMSL *float64
	Speed  *float64
	Track  *float64
}

// lastTPVs returns gpsd's last report of each time.
func lastTPVs(t *testing.T, jsonLines []byte) map[int64]tpv {
	t.Helper()
	out := map[int64]tpv{}
	for line := range bytes.Lines(jsonLines) {
		if line[0] != '{' {
			continue
		}
		var v tpv
		if err := json.Unmarshal(line, &v); err != nil {
			t.Fatalf("%v in %s", err, line)
		}
		if v.Class == "TPV" && !v.Time.IsZero() {
			out[v.Time.UnixNano()] = v
		}
	}
	return out
}

// gpsdQuality is what gpsd's mode and status say, as a quality.
func gpsdQuality(v *tpv) nmea.Quality {
	if v.Mode < 2 {
		return nmea.NoFix
	}
	switch v.Status {
	case 2:
		return nmea.Differential
	case 3:
		return nmea.RTKFixed
	case 4:
		return nmea.RTKFloat
	}
	return nmea.Autonomous
}

// differences names the fields in which f and gpsd's report differ by more
// than the decimals of the report.
func differences(f *nmea.Fix, v *tpv) (diff []string) {
	if f.Quality != gpsdQuality(v) {
		diff = append(diff, "quality")
	}
	if v.Mode < 2 && f.Quality == nmea.NoFix {
		return diff
	}
	away := func(name string, ours float64, theirs *float64, tolerance float64) {
		if theirs != nil && !(math.Abs(ours-*theirs) <= tolerance) {
			diff = append(diff, name)
		}
	}
	away("lat", f.LatDeg, v.Lat, 0.6e-9)
	away("lon", f.LonDeg, v.Lon, 0.6e-9)
	away("height", f.HeightM, v.AltMSL, 0.6e-4)
	away("speed", f.SpeedMps, v.Speed, 0.6e-3)
	away("track", f.CourseDeg, v.Track, 0.6e-4)
	return diff
}

func readAll(t *testing.T, stream []byte) (fixes []nmea.Fix, counts ReaderCounts) {
	t.Helper()
	rd := NewReader(bytes.NewReader(stream))
	for rd.Next() {
		fixes = append(fixes, rd.Fix())
	}
	if rd.Err() != nil {
		t.Fatal(rd.Err())
	}
	return fixes, rd.Counts()
}

func readFile(t *testing.T, parts ...string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(parts...))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// explained is the epochs that differ, and why.
var explained = []struct {
	receiver    string
	first, last string // time of day, UTC, both included
	epochs      int
	field       string
	why         string
}{
	{"hemi", "19:40:50", "19:40:57", 15, "quality",
		"GGA says quality 1 from 0 satellites: gpsd reports no fix; we pass on what the receiver says, satellites included"},
	{"quectel", "02:20:38", "02:20:38", 1, "quality",
		"the next sentences are RMC with status V and no time: gpsd reports them under the last time it knows; we drop them as untimed"},
}

func TestReceiversAgreeWithGpsd(t *testing.T) {
	dir := recordedData(t)
	for _, want := range []struct {
		receiver string
		compared int
		// before is our epochs before the first that gpsd gives a time. It
		// waits for a fix; we give every time that a receiver gives.
		before int
	}{
		{"haicom-305N", 67, 7},
		{"hemi", 118, 0},
		{"nmea-rtk", 122, 0},
		{"quectel", 34, 0},
		{"rx210", 40, 22},
		{"sirfstarv-nmea", 59, 0},
	} {
		t.Run(want.receiver, func(t *testing.T) {
			tpvs := lastTPVs(t, readFile(t, dir, "receivers", want.receiver+".log.chk"))
			fixes, _ := readAll(t, readFile(t, dir, "receivers", want.receiver+".log"))
			compared, before := 0, 0
			found := make([]int, len(explained))
			for i := range fixes {
				f := &fixes[i]
				at := time.Unix(0, f.TimeNs).UTC()
				v, ok := tpvs[f.TimeNs]
				if !ok {
					if compared > 0 {
						t.Errorf("%v: gpsd has no such epoch", at)
					}
					before++
					continue
				}
				compared++
				delete(tpvs, f.TimeNs)
				for _, field := range differences(f, &v) {
					if !isExplained(want.receiver, at, field, found) {
						t.Errorf("%v: %s differs:\nours   %+v\ngpsd's %+v", at, field, *f, v)
					}
				}
			}
			for _, v := range tpvs {
				t.Errorf("%v: gpsd has an epoch that we do not", v.Time)
			}
			if compared != want.compared || before != want.before {
				t.Errorf("compared %d epochs, %d before gpsd's first; expected %d and %d", compared, before, want.compared, want.before)
			}
			for i, n := range found {
				if explained[i].receiver == want.receiver && n != explained[i].epochs {
					t.Errorf("%d epochs differ in %s; expected %d: %s", n, explained[i].field, explained[i].epochs, explained[i].why)
				}
			}
		})
	}
}

func isExplained(receiver string, at time.Time, field string, found []int) bool {
	clock := at.Format(time.TimeOnly)
	for i, e := range explained {
		if e.receiver == receiver && e.field == field && e.first <= clock && clock <= e.last {
			found[i]++
			return true
		}
	}
	return false
}

// TestTracksReadWhole reads the recorded field operations: every GGA is a fix
// (dev4Agriculture isoxml-dotnet, test data, Apache-2.0).
func TestTracksReadWhole(t *testing.T) {
	dir := recordedData(t)
	for _, name := range []string{"track-05.nmea", "track-20.nmea", "track-25.nmea"} {
		t.Run(name, func(t *testing.T) {
			stream := readFile(t, dir, "tracks", name)
			fixes, counts := readAll(t, stream)
			want := bytes.Count(stream, []byte("$GPGGA"))
			if len(fixes) != want || want == 0 {
				t.Errorf("%d fixes; expected %d", len(fixes), want)
			}
			if counts.OK != int64(2*want) || counts.Scan.SkippedBytes != 0 || counts.Epochs.Undated != 0 {
				t.Errorf("%+v; expected %d sentences, nothing skipped, all dated", counts, 2*want)
			}
			for i := range fixes {
				if !fixes[i].HasPosition() || math.IsNaN(fixes[i].SpeedMps) {
					t.Fatalf("fix %d is not whole: %+v", i, fixes[i])
				}
			}
		})
	}
}
