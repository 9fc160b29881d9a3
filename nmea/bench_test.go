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

func TestNoAllocationPerSentence(t *testing.T) {
	full := EmptyFix()
	full.TimeNs, full.Dated, full.Quality = 1714564800*nsPerSecond, true, RTKFixed
	full.LatDeg, full.LonDeg, full.SpeedMps, full.CourseDeg, full.HeadingDeg = 52, 7, 2, 90, 91
	all := appendAll([]byte("# comment\n1714564800.5 \\s:a*00\\$GPGGA,1$GPTXT,x*00\n\xb5b\x00$GP\n"), &full)
	for _, tt := range []struct {
		name   string
		stream []byte
	}{
		{"GGA, RMC, VTG", mixedStream(3000)},
		{"every kind, and what is dropped", bytes.Repeat(all, 1000)},
	} {
		rd := NewReader(nil)
		read := func() {
			rd.Scanner.src = bytes.NewReader(tt.stream) // the one allocation
			rd.Scanner.ended, rd.flushed = false, false
			for rd.Next() {
			}
		}
		read()
		if n := testing.AllocsPerRun(5, read); n > 1 {
			t.Errorf("%s: %v allocations for %d bytes; expected those of the reader alone", tt.name, n, len(tt.stream))
		}
	}
}

func TestNoAllocationToEncode(t *testing.T) {
	f := EmptyFix()
	f.LatDeg, f.LonDeg, f.SpeedMps, f.CourseDeg, f.Quality, f.Dated = 52, 7, 2, 90, RTKFixed, true
	buf := make([]byte, 0, 1024)
	if n := testing.AllocsPerRun(100, func() { buf = appendAll(buf[:0], &f) }); n > 0 {
		t.Errorf("%v allocations for six sentences; expected none", n)
	}
}

func TestFixIsSmall(t *testing.T) {
	if n := unsafe.Sizeof(Fix{}); n > 120 {
		t.Errorf("a Fix has %d bytes; expected at most 120, as it is copied freely", n)
	}
}
