package nmea

// Speed and allocations over a mix of GGA, RMC and VTG.

import (
	"bytes"
	"io"
	"testing"
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
	var src bytes.Reader
	src.Reset(stream)
	sc := NewScanner(&src)
	var s Sentence
	b.SetBytes(int64(len(stream) / (3 * benchEpochs)))
	b.ReportAllocs()
	for b.Loop() {
		if !sc.Scan() {
			src.Reset(stream)
			*sc = Scanner{src: &src, buf: sc.buf, lineStart: true}
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

func BenchmarkScan(b *testing.B) {
	stream := mixedStream(benchEpochs)
	b.SetBytes(int64(len(stream)))
	for b.Loop() {
		sc := NewScanner(bytes.NewReader(stream))
		for sc.Scan() {
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*3*benchEpochs), "ns/sentence")
}

func BenchmarkEncode(b *testing.B) {
	f := EmptyFix()
	f.LatDeg, f.LonDeg, f.Quality = 52.1, 7.9, RTKFixed
	buf := make([]byte, 0, 128)
	b.ReportAllocs()
	for b.Loop() {
		buf = AppendGGA(buf[:0], &f)
	}
	_, _ = io.Discard.Write(buf)
}
