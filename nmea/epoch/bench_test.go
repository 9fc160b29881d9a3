// Speed and allocations from bytes to fixes.

package epoch

import (
	"bytes"
	"testing"

	"liftbench/nmea"
)

// mixedStream is epochs × (GGA, RMC, VTG) of a straight drive at 10 Hz.
func mixedStream(epochs int) []byte {
	f := nmea.EmptyFix()
	f.TimeNs, f.Dated = 1714564800*nsPerSecond, true
	f.Quality, f.Satellites, f.HDOP, f.AgeS = nmea.RTKFixed, 17, 0.7, 1.0
	f.HeightM, f.GeoidM, f.SpeedMps, f.CourseDeg = 101.234, 45.1, 2.2222, 33.251
	var buf []byte
	for i := range epochs {
		f.LatDeg = 52.1 + float64(i)*1.9e-6
		f.LonDeg = 7.9 + float64(i)*2.1e-6
		buf = nmea.AppendGGA(buf, &f)
		buf = nmea.AppendRMC(buf, &f)
		buf = nmea.AppendVTG(buf, &f)
		f.TimeNs += nsPerSecond / 10
	}
	return buf
}

// BenchmarkMillion reads fixes out of a million sentences.
func BenchmarkMillion(b *testing.B) {
	stream := mixedStream(1_000_000 / 3)
	b.SetBytes(int64(len(stream)))
	b.ReportAllocs()
	for b.Loop() {
		rd := NewReader(bytes.NewReader(stream))
		n := 0
		for rd.Next() {
			n++
		}
		if n != 1_000_000/3 {
			b.Fatalf("%d fixes; expected %d", n, 1_000_000/3)
		}
	}
}

// However long the stream, what is allocated is the reader alone.
func TestNoAllocationPerSentence(t *testing.T) {
	full := nmea.EmptyFix()
	full.TimeNs, full.Dated, full.Quality = 1714564800*nsPerSecond, true, nmea.RTKFixed
	full.LatDeg, full.LonDeg, full.SpeedMps, full.CourseDeg, full.HeadingDeg = 52, 7, 2, 90, 91
	all := appendAll([]byte("# comment\n1714564800.5 \\s:a*00\\$GPGGA,1$GPTXT,x*00\n\xb5b\x00$GP\n"), &full)
	for _, tt := range []struct {
		name        string
		short, long []byte
	}{
		{"GGA, RMC, VTG", mixedStream(30), mixedStream(3000)},
		{"every kind, and what is dropped", bytes.Repeat(all, 10), bytes.Repeat(all, 1000)},
	} {
		allocations := func(stream []byte) float64 {
			return testing.AllocsPerRun(5, func() {
				rd := NewReader(bytes.NewReader(stream))
				for rd.Next() {
				}
			})
		}
		if short, long := allocations(tt.short), allocations(tt.long); long > short {
			t.Errorf("%s: %v allocations for %d bytes and %v for %d; expected no more", tt.name, short, len(tt.short), long, len(tt.long))
		}
	}
}
