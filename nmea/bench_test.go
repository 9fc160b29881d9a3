// Speed and allocations over a mix of GGA, RMC and VTG.

package nmea

import (
	"bytes"
	"testing"
	"unsafe"
)

// mixedStream is epochs × (GGA, RMC, VTG) of a straight drive at 10 Hz.
func mixedStream(epochs int) []byte {
	f := EmptyFix()
	f.TimeNs, f.Dated = 1714564800*nsPerSecond, true
	f.Quality, f.Satellites, f.HDOP, f.AgeS = RTKFixed, 17, 0.7, 1.0
	f.HeightM, f.GeoidM, f.SpeedMps, f.CourseDeg = 101.234, 45.1, 2.2222, 33.251
	var buf []byte
	for i := range epochs {
		f.LatDeg = 52.1 + float64(i)*1.9e-6
		f.LonDeg = 7.9 + float64(i)*2.1e-6
		buf = AppendGGA(buf, &f)
		buf = AppendRMC(buf, &f)
		buf = AppendVTG(buf, &f)
		f.TimeNs += nsPerSecond / 10
	}
	return buf
}

const benchEpochs = 4000

// BenchmarkSentence is one sentence scanned, checked and decoded.
func BenchmarkSentence(b *testing.B) {
	stream := mixedStream(benchEpochs)
	src := bytes.NewReader(stream)
	sc := NewScanner(src)
	var s Sentence
	b.SetBytes(int64(len(stream) / (3 * benchEpochs)))
	b.ReportAllocs()
	for b.Loop() {
		if !sc.Scan() {
			src.Reset(stream)
			sc.ended = false
			sc.Scan()
		}
		if err := Parse(sc.Bytes(), &s); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkEncode is one GGA sentence.
func BenchmarkEncode(b *testing.B) {
	f := EmptyFix()
	f.LatDeg, f.LonDeg, f.Quality = 52.1, 7.9, RTKFixed
	buf := make([]byte, 0, 128)
	b.ReportAllocs()
	for b.Loop() {
		buf = AppendGGA(buf[:0], &f)
	}
}

func TestFixIsSmall(t *testing.T) {
	if n := unsafe.Sizeof(Fix{}); n > 120 {
		t.Errorf("a Fix has %d bytes; expected at most 120, as it is copied freely", n)
	}
}
