package bus_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"go.einride.tech/can"

	"liftbench/nmea"
	"liftbench/nmea/bus"
	"liftbench/replay/trace"
)

// drawn returns a fix with numbers in the steps in which a bus carries them, or
// with some of them missing.
func drawn(rng *rand.Rand, missing bool) nmea.Fix {
	f := nmea.EmptyFix()
	f.TimeNs, f.Dated = startNs+rng.Int64N(86400_0000)*100_000, true
	f.LatDeg, f.LonDeg = float64(rng.Int64N(1.7e9)-85e7)/1e7, float64(rng.Int64N(3.5e9)-175e7)/1e7
	f.Quality = []nmea.Quality{nmea.Autonomous, nmea.Differential, nmea.RTKFixed, nmea.RTKFloat}[rng.IntN(4)]
	if missing {
		return f
	}
	f.CourseDeg, f.SpeedMps = float64(rng.IntN(62831))/1e4*180/math.Pi, float64(rng.IntN(3000))/100
	f.HeightM, f.GeoidM = float64(rng.IntN(1e9))/1e6, float64(rng.IntN(8000)-4000)/100
	f.HDOP, f.Satellites = float32(rng.IntN(500))/100, uint8(rng.IntN(40))
	return f
}

// sent returns the frames of a fix.
func sent(f *nmea.Fix, i int) []can.Frame {
	const source = 28
	list := []can.Frame{bus.PositionFrame(f, source), bus.MotionFrame(f, source, uint8(i%250)), bus.TimeFrame(f, source, uint8(i%250))}
	return bus.AppendGNSS(list, f, source, uint8(i%250), uint8(i))
}

// What is written is read as the same numbers, here and by canboatjs.
func TestWritten(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	var log []byte
	var list []trace.Frame
	var want []nmea.Fix
	for i := range 200 {
		f := drawn(rng, i%10 == 9)
		want = append(want, f)
		for k, x := range sent(&f, i) {
			fr := trace.Frame{TimeNs: startNs + int64(i)*second + int64(k)*1e6, Frame: x}
			list = append(list, fr)
			log = trace.AppendCandump(log, "can0", &fr)
		}
	}
	equal := func(a, b, within float64) bool {
		return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= within
	}
	for i, m := range messages(t, list) {
		f := want[i/4]
		ok := true
		switch m.PGN {
		case bus.Position:
			ok = m.LatDeg == f.LatDeg && m.LonDeg == f.LonDeg
		case bus.Motion:
			ok = equal(m.CourseDeg, f.CourseDeg, 1e-9) && equal(m.SpeedMps, f.SpeedMps, 1e-9) && !m.Magnetic
		case bus.SystemTime:
			ok = m.UTCNs == f.TimeNs
		case bus.GNSS:
			ok = m.UTCNs == f.TimeNs && equal(m.LatDeg, f.LatDeg, 1e-13) && equal(m.LonDeg, f.LonDeg, 1e-13) && equal(m.HeightM, f.HeightM, 1e-9) && equal(m.GeoidM, f.GeoidM, 1e-9) &&
				m.Quality == f.Quality && m.Satellites == f.Satellites && equal(float64(m.HDOP), float64(f.HDOP), 1e-6)
		}
		if !ok {
			t.Fatalf("message %d is %+v; sent %+v", i, m.Message, f)
		}
	}

	path := filepath.Join(t.TempDir(), "written.log")
	if err := os.WriteFile(path, log, 0o666); err != nil {
		t.Fatal(err)
	}
	theirs := canboat(t, []string{path})["written.log"]
	ours := messages(t, list)
	if len(theirs) != len(ours) || len(ours) != 800 {
		t.Fatalf("%d messages, canboatjs %d; expected 800", len(ours), len(theirs))
	}
	for i, w := range theirs {
		if ours[i].PGN != w.PGN || !same(t, &ours[i].Message, w.Fields) {
			t.Fatalf("message %d is %+v; canboatjs has %+v", i, ours[i].Message, w)
		}
	}
}

// A fix without a position is sent as not available.
func TestNothingToSay(t *testing.T) {
	f := nmea.EmptyFix()
	for i, want := range []string{"09F8011C#FFFFFF7FFFFFFF7F", "09F8021C#00FCFFFFFFFFFFFF", "0DF0101C#00F0FFFFFFFFFFFF"} {
		if got := sent(&f, 0)[i]; fmt.Sprint(got) != want {
			t.Errorf("%v; expected %s", got, want)
		}
	}
}
