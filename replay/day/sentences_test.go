package day

import (
	"io"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"liftbench/nmea"
	"liftbench/nmea/epoch"
)

// TestSentencesReadBack: what the sentences of fixes are read as are those fixes.
func TestSentencesReadBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	for _, stamped := range []bool{false, true} {
		start := time.Date(2026, 5, 11, 23, 59, 30, 0, time.UTC).UnixNano()
		fixes := make([]nmea.Fix, 1000)
		for i := range fixes {
			f := nmea.EmptyFix()
			f.TimeNs, f.Dated = start+int64(i)*100e6, true
			f.LatDeg, f.LonDeg = math.Round((50+rng.Float64()*1e-2)*1e7)/1e7, math.Round((-3+rng.Float64()*1e-2)*1e7)/1e7
			f.Quality, f.Satellites = nmea.RTKFixed, 14
			if i%3 != 0 {
				f.SpeedMps, f.CourseDeg = math.Round(rng.Float64()*5e3)/1e3, math.Round(rng.Float64()*35999)/100
			}
			if i%5 == 0 {
				f.HeadingDeg = math.Round(rng.Float64()*35999) / 100
			}
			if stamped {
				f.ArrivalNs = f.TimeNs + 60e6
			}
			fixes[i] = f
		}
		rd := epoch.NewReader(NewSentences(fixes))
		i := 0
		for ; rd.Next(); i++ {
			got, want := rd.Fix(), fixes[i]
			if got.TimeNs != want.TimeNs || math.Abs(got.LatDeg-want.LatDeg) > 1e-9 || math.Abs(got.LonDeg-want.LonDeg) > 1e-9 ||
				got.ArrivalNs != want.ArrivalNs || got.Quality != want.Quality || got.Satellites != want.Satellites ||
				!same(got.SpeedMps, want.SpeedMps, 1e-4) || !same(got.CourseDeg, want.CourseDeg, 1e-3) || !same(got.HeadingDeg, want.HeadingDeg, 1e-3) {
				t.Fatalf("stamped %v, fix %d is read as %+v; want %+v", stamped, i, got, want)
			}
		}
		if err := rd.Err(); err != nil || i != len(fixes) {
			t.Fatalf("%d of %d fixes are read, %v", i, len(fixes), err)
		}
	}
	if rest, err := io.ReadAll(NewSentences(nil)); len(rest) > 0 || err != nil {
		t.Errorf("no fixes are said as %q, %v", rest, err)
	}
}

// same reports whether two numbers are within tol, or both missing.
func same(a, b, tol float64) bool {
	return math.Abs(a-b) <= tol || math.IsNaN(a) && math.IsNaN(b)
}
