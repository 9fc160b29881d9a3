package nmea

// Whatever the bytes: no panic, the next good sentence is found, and read
// sizes do not matter.

import (
	"bytes"
	"math"
	"testing"
)

func FuzzScanner(f *testing.F) {
	f.Add([]byte(goodGGA+"\r\n"+goodRMC), byte(3))
	f.Add([]byte("$GPGGA,1234$GPRMC,1\x00*00\\s:a*48\\1714564800 "), byte(1))
	f.Add([]byte("#!AIVDM\r#$\n\xb5b\x01\x07\xd3\x00$GPG*"), byte(7))
	f.Fuzz(func(t *testing.T, noise []byte, size byte) {
		if bytes.HasPrefix(noise, []byte("\x1f\x8b\x08")) {
			t.Skip("gzip has a test of its own")
		}
		in := append(append(bytes.Clone(noise), '\n'), goodGGA...)
		checkReadSize(t, in, int(size)+1)
		sc := NewScanner(bytes.NewReader(in))
		var last []byte
		total := int64(0)
		for sc.Scan() {
			last = sc.Bytes()
			total += int64(len(last))
			n := len(last) - 3
			if want, ok := hexByte(last[n+1], last[n+2]); last[n] != '*' || !ok || want != sumOf(last[1:n]) {
				t.Fatalf("%q has no or a wrong checksum", last)
			}
		}
		if string(last) != goodGGA || sc.Err() != nil {
			t.Fatalf("after noise %q the last sentence is %q, %v", noise, last, sc.Err())
		}
		if total+sc.Counts().SkippedBytes > int64(len(in)) {
			t.Fatalf("%d bytes of sentences and %d skipped out of %d", total, sc.Counts().SkippedBytes, len(in))
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{goodGGA, goodRMC, goodVTG, "$GPZDA,,,,,,", "$GNGNS,,,,,,AN,,,,,,", "$GPGLL,,,,,,V,N", "$GNGSA,A,3,,,,,,,,,,,,,1,1,1",
		"$GPGST,,,2,1,30,,,", "$HEROT,-1,A", "$GPTHS,1,A", "$GPHDT,1,T", "$GPHDT,1.5"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		var s, again Sentence
		err := Parse(raw, &s)
		if err2 := Parse(append(bytes.Clone(raw), "9999999999"...)[:len(raw)], &again); err2 != err || err == nil && sameSentence(s, again) != "" {
			t.Fatalf("%q: %v with room behind it, %v without; %s", raw, err2, err, sameSentence(s, again))
		}
		if err != nil {
			return
		}
		for _, x := range []float64{s.LatDeg, s.LonDeg, s.HeightM, s.GeoidM, s.SpeedMps, s.CourseDeg, s.HeadingDeg, s.YawRateDegPerS,
			s.HDOP, s.SigmaEastM, s.SigmaNorthM, s.SigmaHeightM, s.AgeS} {
			if math.IsInf(x, 0) {
				t.Fatalf("%q: %+v is not finite", raw, s)
			}
		}
		// A comparison with NaN is false: empty fields pass.
		if math.Abs(s.LatDeg) > 90 || math.Abs(s.LonDeg) > 180 || s.SpeedMps < 0 || s.CourseDeg < 0 || s.CourseDeg >= 360 ||
			s.HeadingDeg < 0 || s.HeadingDeg >= 360 || s.Quality > Simulator ||
			s.HasTime() && (s.TimeOfDayNs < 0 || s.TimeOfDayNs >= nsPerDay+nsPerSecond) || s.HasDate() && s.DateNs%nsPerDay != 0 {
			t.Fatalf("%q: %+v is out of range", raw, s)
		}
	})
}

func FuzzLineHead(f *testing.F) {
	f.Add([]byte("2024-05-01T12:00:00.5+02:00 $"))
	f.Add([]byte("1714564800.25;!"))
	f.Add([]byte("\\s:r1,c:1714564800*0F\\$"))
	f.Fuzz(func(t *testing.T, head []byte) {
		ns, n, r := parseHostTime(head)
		if r == present && (n < 1 || n >= len(head) || ns < 0) {
			t.Fatalf("%q: time %d, %d bytes", head, ns, n)
		}
		// More bytes may complete what was cut off, never change the rest.
		if longNs, longN, longR := parseHostTime(append(bytes.Clone(head), '$')); r != cutOff && (longNs != ns || longN != n || longR != r) {
			t.Fatalf("%q: %d %d %d; with more behind it %d %d %d", head, ns, n, r, longNs, longN, longR)
		}
		tagNs, n, ok, r := parseTagBlock(head)
		if r == present && (n < 1 || n > len(head) || tagNs < 0) || ok && head[n-1] != '\\' {
			t.Fatalf("%q: tag block of %d bytes, time %d", head, n, tagNs)
		}
	})
}
