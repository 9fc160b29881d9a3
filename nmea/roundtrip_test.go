// What is written reads back as what it was, to the last decimal written.

package nmea_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"liftbench/nmea"
	"liftbench/nmea/epoch"
)

// drawFix draws a fix of any values that a receiver could say, some missing.
func drawFix(t *rapid.T) nmea.Fix {
	f := nmea.EmptyFix()
	f.Dated = true
	f.TimeNs = rapid.Int64Range(315532800_000, 3471292799_000).Draw(t, "ms") * 1e6 // 1980 to 2079
	f.Quality = nmea.Quality(rapid.IntRange(1, 8).Draw(t, "quality"))
	f.Satellites = uint8(rapid.IntRange(0, 99).Draw(t, "satellites"))
	f.LatDeg = rapid.Float64Range(-90, 90).Draw(t, "lat")
	f.LonDeg = rapid.Float64Range(-180, 180).Draw(t, "lon")
	maybe := func(name string, low, high float64) float64 {
		if rapid.IntRange(0, 4).Draw(t, name+" missing") == 0 {
			return math.NaN()
		}
		return rapid.Float64Range(low, high).Draw(t, name)
	}
	f.HeightM = maybe("height", -500, 9000)
	f.GeoidM = maybe("geoid", -110, 90)
	f.SpeedMps = maybe("speed", 0, 60)
	f.CourseDeg = maybe("course", 0, 359.9999)
	f.HeadingDeg = maybe("heading", 0, 359.9999)
	f.HDOP = float32(maybe("hdop", 0, 99))
	f.AgeS = float32(maybe("age", 0, 900))
	f.SigmaEastM = float32(maybe("sigma east", 0, 50))
	f.SigmaNorthM = float32(maybe("sigma north", 0, 50))
	f.SigmaHeightM = float32(maybe("sigma height", 0, 50))
	return f
}

func appendAll(buf []byte, f *nmea.Fix) []byte {
	buf = nmea.AppendZDA(buf, f)
	buf = nmea.AppendGGA(buf, f)
	buf = nmea.AppendRMC(buf, f)
	buf = nmea.AppendVTG(buf, f)
	buf = nmea.AppendHDT(buf, f)
	return nmea.AppendGST(buf, f)
}

// checkFix compares what was read with what was written, to half a unit of
// each field's last decimal.
func checkFix(t *rapid.T, got, want *nmea.Fix) {
	if got.TimeNs != want.TimeNs || got.Dated != want.Dated || got.Quality != want.Quality || got.Satellites != want.Satellites {
		t.Fatalf("got %+v; expected %+v", *got, *want)
	}
	near := func(name string, got, want, tolerance float64) {
		if math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > tolerance*(1+1e-6) {
			t.Fatalf("%s %v; expected %v", name, got, want)
		}
	}
	near("latitude", got.LatDeg, want.LatDeg, 0.5e-8/60)
	near("longitude", got.LonDeg, want.LonDeg, 0.5e-8/60)
	near("height", got.HeightM, want.HeightM, 0.5e-4)
	near("geoid", got.GeoidM, want.GeoidM, 0.5e-4)
	near("speed", got.SpeedMps, want.SpeedMps, 0.5e-4*1852/3600)
	near("course", got.CourseDeg, want.CourseDeg, 0.5e-4)
	near("heading", got.HeadingDeg, want.HeadingDeg, 0.5e-4)
	near("HDOP", float64(got.HDOP), float64(want.HDOP), 0.5e-2+1e-5)
	near("age", float64(got.AgeS), float64(want.AgeS), 0.5e-1+1e-4)
	near("sigma east", float64(got.SigmaEastM), float64(want.SigmaEastM), 0.5e-4+4e-6)
	near("sigma north", float64(got.SigmaNorthM), float64(want.SigmaNorthM), 0.5e-4+4e-6)
	near("sigma height", float64(got.SigmaHeightM), float64(want.SigmaHeightM), 0.5e-4+4e-6)
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawFix(t)
		rd := epoch.NewReader(strings.NewReader(string(appendAll(nil, &want))))
		if !rd.Next() {
			t.Fatalf("no fix; %+v", rd.Counts())
		}
		got := rd.Fix()
		checkFix(t, &got, &want)
		if c := rd.Counts(); c.OK != 6 || c.Scan.SkippedBytes != 0 || rd.Next() {
			t.Fatalf("%+v; expected 6 sentences and one fix", rd.Counts())
		}
	})
}

func TestNoAllocationToEncode(t *testing.T) {
	f := nmea.EmptyFix()
	f.LatDeg, f.LonDeg, f.SpeedMps, f.CourseDeg, f.Quality, f.Dated = 52, 7, 2, 90, nmea.RTKFixed, true
	buf := make([]byte, 0, 1024)
	if n := testing.AllocsPerRun(100, func() { buf = appendAll(buf[:0], &f) }); n > 0 {
		t.Errorf("%v allocations for six sentences; expected none", n)
	}
}
