// Outside check: gpsdecode (Debian gpsd-clients) decodes what we encode, and
// recorded streams, as we do.

package epoch

import (
	"bytes"
	"math"
	"os/exec"
	"testing"
	"time"

	"liftbench/nmea"
)

// gpsdecode returns gpsd's last report of each time in a stream.
func gpsdecode(t *testing.T, stream []byte) map[int64]tpv {
	t.Helper()
	path, err := exec.LookPath("gpsdecode")
	if err != nil {
		missing(t, "gpsdecode is not installed; expected that of Debian's gpsd-clients")
	}
	cmd := exec.Command(path, "-j")
	cmd.Stdin = bytes.NewReader(stream)
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("gpsdecode: %v", err)
	}
	return lastTPVs(t, out)
}

// curve is a drive along an arc across midnight, in all qualities that gpsd
// reports, south of the equator and west of Greenwich.
func curve(epochs int) (fixes []nmea.Fix) {
	start := time.Date(2024, 12, 31, 23, 59, 50, 0, time.UTC).UnixNano()
	qualities := []nmea.Quality{nmea.Autonomous, nmea.Differential, nmea.RTKFixed, nmea.RTKFloat}
	for i := range epochs {
		f := nmea.EmptyFix()
		f.TimeNs, f.Dated = start+int64(i)*nsPerSecond/10, true
		course := 5.5 + 1.3*float64(i)
		f.CourseDeg = math.Mod(course, 360)
		f.LatDeg = -31.9 + 1e-5*math.Sin(course*math.Pi/180)
		f.LonDeg = -63.7 - 1e-5*math.Cos(course*math.Pi/180)
		f.SpeedMps = 1 + 0.01*float64(i)
		f.HeightM, f.GeoidM = 120.5+0.001*float64(i), 25.25
		f.Quality, f.Satellites, f.HDOP = qualities[i*len(qualities)/epochs], 18, 0.6
		fixes = append(fixes, f)
	}
	return fixes
}

func TestGpsdecodeReadsWhatWeWrite(t *testing.T) {
	want := curve(200)
	var stream []byte
	for i := range want {
		stream = nmea.AppendGGA(stream, &want[i])
		stream = nmea.AppendRMC(stream, &want[i])
	}
	// Two closing epochs make sure that gpsd reports the last one here.
	end := want[len(want)-1]
	for range 2 {
		end.TimeNs += nsPerSecond / 10
		stream = nmea.AppendRMC(nmea.AppendGGA(stream, &end), &end)
	}
	tpvs := gpsdecode(t, stream)
	compared := 0
	for i := range want {
		v, ok := tpvs[want[i].TimeNs]
		if !ok {
			continue
		}
		compared++
		if d := differences(&want[i], &v); len(d) > 0 {
			t.Errorf("%v: %v differ:\nours   %+v\ngpsd's %+v", v.Time, d, want[i], v)
		}
	}
	// gpsd holds the first reports back until it knows the cycle.
	if compared < 198 {
		t.Errorf("compared %d epochs; expected 198 of 200", compared)
	}
}

func TestGpsdecodeReadsRecordingsAsWeDo(t *testing.T) {
	dir := recordedData(t)
	for _, tt := range []struct {
		parts    []string
		compared int
	}{
		{[]string{"receivers", "nmea-rtk.log"}, 121},
		{[]string{"receivers", "sirfstarv-nmea.log"}, 58},
		{[]string{"tracks", "track-20.nmea"}, 1050},
	} {
		stream := readFile(t, dir, tt.parts[0], tt.parts[1])
		tpvs := gpsdecode(t, stream)
		fixes, _ := readAll(t, stream)
		compared := 0
		for i := range fixes {
			v, ok := tpvs[fixes[i].TimeNs]
			if !ok {
				continue
			}
			compared++
			if d := differences(&fixes[i], &v); len(d) > 0 {
				t.Errorf("%s, %v: %v differ:\nours   %+v\ngpsd's %+v", tt.parts[1], v.Time, d, fixes[i], v)
			}
		}
		if compared < tt.compared {
			t.Errorf("%s: compared %d epochs; expected %d", tt.parts[1], compared, tt.compared)
		}
	}
}
