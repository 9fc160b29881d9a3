// What the scanner takes, what it drops and why, and when.

package nmea

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"runtime"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"
)

// withSum adds the checksum to a sentence without one.
func withSum(body string) string {
	return fmt.Sprintf("%s*%02X", body, sumOf([]byte(body[1:])))
}

var (
	goodGGA = withSum("$GPGGA,120000.00,5210.00000000,N,00754.00000000,E,4,17,0.7,101.2,M,45.1,M,1.0,0001")
	goodRMC = withSum("$GNRMC,120000.00,A,5210.00000000,N,00754.00000000,E,4.3,33.2,010524,,,R")
	goodVTG = withSum("$GPVTG,33.2,T,,M,4.3,N,8.0,K,D")
	goodVDM = withSum("!AIVDM,1,1,,A,13u?etPv2;0n:dDPwUM1U1Cb069D,0")
)

func scanAll(t *testing.T, sc *Scanner) (got []string, arrivals []int64, lines []int64) {
	t.Helper()
	for sc.Scan() {
		got = append(got, string(sc.Bytes()))
		arrivals = append(arrivals, sc.ArrivalNs())
		lines = append(lines, sc.lineEnds+1)
	}
	return got, arrivals, lines
}

func TestScannerFindsSentences(t *testing.T) {
	noSum := "$GPVTG,33.2,T,,M,4.3,N,8.0,K,D"
	// A UBX frame whose payload holds a $ and the head of a sentence, and an
	// RTCM 3 frame.
	ubx := "\xb5\x62\x01\x07\x10\x00$GP\x00\x80$GPGGA,1\xff$$\r\x12"
	rtcm := "\xd3\x00\x08\x43\x50\x00$\x21\x00\x98\xf2\x99\x1a\x2b\x3c"
	tests := []struct {
		name   string
		input  string
		want   []string
		counts Counts // Sentences is filled in from want
	}{
		{"nothing", "", nil, Counts{}},
		{"CR LF", goodGGA + "\r\n" + goodRMC + "\r\n", []string{goodGGA, goodRMC}, Counts{}},
		{"LF", goodGGA + "\n" + goodRMC + "\n", []string{goodGGA, goodRMC}, Counts{}},
		{"CR", goodGGA + "\r" + goodRMC + "\r", []string{goodGGA, goodRMC}, Counts{}},
		{"no line end at all", goodGGA + goodRMC, []string{goodGGA, goodRMC}, Counts{}},
		{"encapsulated", goodVDM + "\r\n" + goodGGA, []string{goodVDM, goodGGA}, Counts{}},
		{"lower-case checksum", "$GPHDT,,T*1b\n", []string{"$GPHDT,,T*1b"}, Counts{}},
		{"wrong checksum", goodGGA[:len(goodGGA)-1] + "Z\n$GPHDT,,T*1C\n" + goodRMC, []string{goodRMC},
			Counts{Cut: 1, BadChecksum: 1, SkippedBytes: int64(len(goodGGA) + 12)}},
		{"no checksum", noSum + "\r\n" + goodRMC, []string{goodRMC}, Counts{NoChecksum: 1, SkippedBytes: int64(len(noSum))}},
		{"half a sentence, then a whole one", "$GPGGA,1234" + goodRMC + "\n", []string{goodRMC}, Counts{Cut: 1, SkippedBytes: 11}},
		{"half a sentence, then a whole !", "$GPGGA,1234" + goodVDM + "\n", []string{goodVDM}, Counts{BadChecksum: 1, SkippedBytes: 11}},
		{"cut inside the checksum", "$GPHDT,,T*1\r\n" + goodRMC, []string{goodRMC}, Counts{Cut: 1, SkippedBytes: 11}},
		{"stream ends in a sentence", goodRMC + "\r\n" + goodGGA[:40], []string{goodRMC}, Counts{Cut: 1, SkippedBytes: 40}},
		{"stream ends in an address", goodRMC + "$GP", []string{goodRMC}, Counts{SkippedBytes: 3}},
		{"comments", "# $GPHDT,,T*1B\n" + goodRMC + "\n# Größe\r\n#\n" + goodGGA, []string{goodRMC, goodGGA}, Counts{Comments: 3}},
		{"a binary frame that looks like a comment", "\n#\x02\x80" + goodRMC, []string{goodRMC}, Counts{Comments: 1, SkippedBytes: 2}},
		{"UBX between", goodGGA + "\r\n" + ubx + goodRMC + "\r\n", []string{goodGGA, goodRMC}, Counts{Cut: 1, SkippedBytes: int64(len(ubx) - 1)}},
		{"RTCM between", goodGGA + "\r\n" + rtcm + goodRMC + "\r\n", []string{goodGGA, goodRMC}, Counts{SkippedBytes: int64(len(rtcm))}},
		{"NUL bytes", "\x00\x00" + goodGGA + "\r\n\x00\x00\x00" + goodRMC + "\x00\r\n", []string{goodGGA, goodRMC}, Counts{SkippedBytes: 6}},
		{"NUL inside", goodGGA[:20] + "\x00" + goodGGA[20:] + "\n" + goodRMC, []string{goodRMC}, Counts{Cut: 1, SkippedBytes: int64(len(goodGGA) + 1)}},
		{"text", "boot v1.2: ok $ 5 *\n" + goodRMC, []string{goodRMC}, Counts{SkippedBytes: 19}},
		{"longer than 82 characters", withSum("$GPTXT," + strings.Repeat("x", 900)), []string{withSum("$GPTXT," + strings.Repeat("x", 900))}, Counts{}},
		{"overlong", "$GPTXT," + strings.Repeat("x", 2000) + "\n" + goodRMC, []string{goodRMC}, Counts{Overlong: 1, SkippedBytes: 2007}},
		{"tag block", `\s:r1,c:1714564800*` + fmt.Sprintf("%02X", sumOf([]byte("s:r1,c:1714564800"))) + `\` + goodGGA, []string{goodGGA}, Counts{}},
		{"bad tag block", `\s:r1,c:1714564800*00\` + goodGGA, []string{goodGGA}, Counts{BadTagBlock: 1, SkippedBytes: 22}},
		{"open tag block", `\s:r1,c:1714564800` + goodGGA, []string{goodGGA}, Counts{BadTagBlock: 1, SkippedBytes: 18}},
		{"host time", "2024-05-01T12:00:00.5Z " + goodGGA + "\n", []string{goodGGA}, Counts{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tt.counts.Sentences = int64(len(tt.want))
			for _, way := range []struct {
				name string
				r    io.Reader
			}{
				{"whole", strings.NewReader(tt.input)},
				{"byte by byte", iotest.OneByteReader(strings.NewReader(tt.input))},
				{"data with EOF", iotest.DataErrReader(strings.NewReader(tt.input))},
			} {
				sc := NewScanner(way.r)
				got, _, _ := scanAll(t, sc)
				if !slices.Equal(got, tt.want) || sc.Err() != nil {
					t.Errorf("%s: got %q, %v; expected %q", way.name, got, sc.Err(), tt.want)
				}
				if sc.Counts() != tt.counts {
					t.Errorf("%s: counts %+v; expected %+v", way.name, sc.Counts(), tt.counts)
				}
			}
		})
	}
}

func TestArrivalTime(t *testing.T) {
	const noon = int64(1714564800) * 1e9 // 2024-05-01T12:00:00Z (date -d)
	tag := func(body string) string { return `\` + body + fmt.Sprintf(`*%02X\`, sumOf([]byte(body))) }
	tests := []struct {
		name, head string
		want       int64
	}{
		{"none", "", 0},
		{"RFC 3339", "2024-05-01T12:00:00Z ", noon},
		{"fraction", "2024-05-01T12:00:00.123456789Z,", noon + 123456789},
		{"fraction finer than a nanosecond", "2024-05-01T12:00:00.1234567891Z,", noon + 123456789},
		{"lower case", "2024-05-01t12:00:00z\t", noon},
		{"space for T", "2024-05-01 12:00:00.25;", noon + 250e6},
		{"zone east", "2024-05-01T14:30:00+02:30, ", noon},
		{"zone west", "2024-05-01T07:00:00-0500 ", noon},
		{"leap day", "2024-02-29T00:00:00Z ", 1709164800 * 1e9},
		{"Unix", "1714564800 ", noon},
		{"Unix with fraction", "1714564800.5: ", noon + 500e6},
		{"blanks before", "  1714564800.25 ", noon + 250e6},
		{"a NUL before", "\x001714564800.25 ", noon + 250e6},
		{"another control character before", "\x011714564800.25 ", 0},
		{"tag block", tag("s:a,c:1714564800"), noon},
		{"tag block in ms", tag("c:1714564800250,s:a"), noon + 250e6},
		{"tag block without time", tag("s:a"), 0},
		{"c: inside another parameter", tag("s:xc:5"), 0},
		{"host time goes before tag block", "1714564800 " + tag("c:1"), noon},
		{"a counter", "12345 ", 0},
		{"no divider", "1714564800", 0},
		{"no such day", "2023-02-29T00:00:00Z ", 0},
		{"no such hour", "2024-05-01T24:00:00Z ", 0},
		{"beyond an int64", "999999999999 ", 0},
		{"not at the head", "x 1714564800 ", 0},
		{"overlong tag time", tag("c:99999999999999"), 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			sc := NewScanner(iotest.OneByteReader(strings.NewReader(tt.head + goodGGA + "\r\n" + goodRMC)))
			got, arrivals, _ := scanAll(t, sc)
			if want := []string{goodGGA, goodRMC}; !slices.Equal(got, want) {
				t.Fatalf("got %q; expected %q", got, want)
			}
			if arrivals[0] != tt.want || arrivals[1] != 0 {
				t.Errorf("arrival %v; expected %d, and 0 on the next line", arrivals, tt.want)
			}
		})
	}
}

func TestClockGivesArrivalTime(t *testing.T) {
	sc := NewScanner(strings.NewReader(goodGGA + "\r\n1714564800 " + goodRMC))
	sc.Clock = func() int64 { return 42 }
	_, arrivals, _ := scanAll(t, sc)
	if want := []int64{42, 42}; !slices.Equal(arrivals, want) {
		t.Errorf("arrivals %v; expected %v", arrivals, want)
	}
}

func TestLineNumbers(t *testing.T) {
	in := "#\n" + goodGGA + "\r\n" + goodGGA + "\r" + goodRMC + goodVTG + "\n\n" + goodGGA + "\n\r" + goodGGA
	_, _, lines := scanAll(t, NewScanner(iotest.OneByteReader(strings.NewReader(in))))
	if want := []int64{2, 3, 4, 4, 6, 8}; !slices.Equal(lines, want) {
		t.Errorf("lines %v; expected %v", lines, want)
	}
}

// A live stream must not wait for the line end, nor for more bytes than a
// sentence has.
func TestSentenceIsDeliveredWithItsLastDigit(t *testing.T) {
	pr, pw := io.Pipe()
	go pw.Write([]byte("1714564800.25 " + goodGGA))
	sc := NewScanner(pr)
	if !sc.Scan() || string(sc.Bytes()) != goodGGA {
		t.Errorf("got %q; expected %q", sc.Bytes(), goodGGA)
	}
	pw.Close()
}

func zip(t *testing.T, data []byte) []byte {
	t.Helper()
	var buf bytes.Buffer
	w := gzip.NewWriter(&buf)
	if _, err := w.Write(data); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func TestGzip(t *testing.T) {
	stream := mixedStream(2000)
	zipped := zip(t, stream)
	t.Run("whole", func(t *testing.T) {
		sc := NewScanner(iotest.OneByteReader(bytes.NewReader(zipped)))
		got, _, _ := scanAll(t, sc)
		if len(got) != 6000 || sc.Err() != nil {
			t.Errorf("%d sentences, %v; expected 6000", len(got), sc.Err())
		}
	})
	t.Run("two members", func(t *testing.T) {
		sc := NewScanner(bytes.NewReader(append(slices.Clone(zipped), zipped...)))
		got, _, _ := scanAll(t, sc)
		if len(got) != 12000 || sc.Err() != nil {
			t.Errorf("%d sentences, %v; expected 12000", len(got), sc.Err())
		}
	})
	t.Run("cut short", func(t *testing.T) {
		sc := NewScanner(bytes.NewReader(zipped[:len(zipped)/2]))
		got, _, _ := scanAll(t, sc)
		if len(got) < 2000 || len(got) > 4000 {
			t.Errorf("%d sentences; expected about half of 6000", len(got))
		}
		err := sc.Err()
		if !errors.Is(err, ErrIncomplete) || !strings.Contains(err.Error(), "gzip") || !strings.Contains(err.Error(), fmt.Sprint("line ", len(got))) {
			t.Errorf("error %v after %d lines; expected one that names gzip and the line", err, len(got))
		}
	})
	t.Run("cut in its head", func(t *testing.T) {
		sc := NewScanner(bytes.NewReader(zipped[:5]))
		if sc.Scan() || !errors.Is(sc.Err(), ErrIncomplete) {
			t.Errorf("error %v; expected %v", sc.Err(), ErrIncomplete)
		}
	})
	t.Run("damaged", func(t *testing.T) {
		bad := slices.Clone(zipped)
		bad[len(bad)-6] ^= 1 // its checksum
		sc := NewScanner(bytes.NewReader(bad))
		got, _, _ := scanAll(t, sc)
		if len(got) != 6000 || !errors.Is(sc.Err(), gzip.ErrChecksum) || !errors.Is(sc.Err(), ErrIncomplete) {
			t.Errorf("%d sentences, %v; expected 6000 and %v", len(got), sc.Err(), gzip.ErrChecksum)
		}
	})
	t.Run("damaged in the middle", func(t *testing.T) {
		for at := len(zipped) / 3; at < len(zipped)*2/3; at += len(zipped) / 50 {
			bad := slices.Clone(zipped)
			for i := range 40 { // a block of the card
				bad[at+i] = 0xff
			}
			sc := NewScanner(bytes.NewReader(bad))
			got, _, _ := scanAll(t, sc)
			if err := sc.Err(); len(got) < 1000 || !errors.Is(err, ErrIncomplete) || !strings.Contains(err.Error(), "gzip data is damaged after line ") {
				t.Errorf("%d sentences, %v; expected those before byte %d of %d, and %v", len(got), err, at, len(bad), ErrIncomplete)
			}
		}
	})
	t.Run("bytes after the end", func(t *testing.T) {
		sc := NewScanner(bytes.NewReader(append(slices.Clone(zipped), "padding of a block"...)))
		got, _, _ := scanAll(t, sc)
		if len(got) != 6000 || !errors.Is(sc.Err(), ErrIncomplete) {
			t.Errorf("%d sentences, %v; expected 6000 and %v", len(got), sc.Err(), ErrIncomplete)
		}
	})
	t.Run("no gzip after two bytes", func(t *testing.T) {
		got, _, _ := scanAll(t, NewScanner(strings.NewReader("\x1f\x8b\n"+goodGGA)))
		if len(got) != 1 {
			t.Errorf("%d sentences; expected 1", len(got))
		}
	})
}

func TestReadErrors(t *testing.T) {
	broken := errors.New("cable pulled")
	sc := NewScanner(io.MultiReader(strings.NewReader(goodGGA+"\n"+goodRMC+"\n"), iotest.ErrReader(broken)))
	got, _, _ := scanAll(t, sc)
	if len(got) != 2 || !errors.Is(sc.Err(), broken) || !strings.Contains(sc.Err().Error(), "line 2") {
		t.Errorf("%d sentences, %v; expected 2 and %v after line 2", len(got), sc.Err(), broken)
	}
	sc = NewScanner(emptyReads{})
	if sc.Scan() || !errors.Is(sc.Err(), io.ErrNoProgress) {
		t.Errorf("%v; expected %v", sc.Err(), io.ErrNoProgress)
	}
}

type emptyReads struct{}

func (emptyReads) Read([]byte) (int, error) { return 0, nil }

// repeated gives the same bytes n times.
type repeated struct {
	text string
	n    int
	rest string
}

func (r *repeated) Read(p []byte) (int, error) {
	if r.rest == "" {
		if r.n == 0 {
			return 0, io.EOF
		}
		r.n--
		r.rest = r.text
	}
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	return n, nil
}

func TestTenMillionByteLineInConstantMemory(t *testing.T) {
	for _, text := range []string{"A", "$", "!AAAA", "$GPGGA,", "\\s:", "0", "#", "\x00", "*"} {
		size := 1_000_000
		if text == "A" {
			size = 10_000_000
		}
		long := &repeated{text: strings.Repeat(text, 1000), n: size / 1000 / len(text)}
		sc := NewScanner(io.MultiReader(strings.NewReader("$GPTXT,"), long, strings.NewReader("\r\n"+goodGGA+"\r\n")))
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		got, _, _ := scanAll(t, sc)
		runtime.ReadMemStats(&after)
		if len(got) != 1 || got[0] != goodGGA {
			t.Errorf("%q repeated: got %q; expected the sentence after it", text, got)
		}
		if grown := after.TotalAlloc - before.TotalAlloc; grown > 1<<20 {
			t.Errorf("%q repeated: %d bytes allocated; expected next to none", text, grown)
		}
	}
}

// However the stream is cut into reads, the same comes out.
func TestReadSizesDoNotMatter(t *testing.T) {
	pieces := []string{goodGGA, goodRMC, goodVDM, "\r\n", "\n", "\r", "#", "$", "!", "\\", "*", "1714564800 ", "2024-05-01T12:00:00Z,",
		"\\s:a*48\\", "$GPGGA,", "\x00", "\xb5b", "*1B", ",", "garbage", "\x1f\x8b"}
	rapid.Check(t, func(t *rapid.T) {
		in := strings.Join(rapid.SliceOf(rapid.SampledFrom(pieces)).Draw(t, "pieces"), "")
		size := rapid.IntRange(1, 50).Draw(t, "size")
		checkReadSize(t, []byte(in), size)
	})
}

// checkReadSize compares a scan in one read with one in reads of a size.
func checkReadSize(t interface {
	Fatalf(string, ...any)
}, in []byte, size int) {
	whole, parts := NewScanner(bytes.NewReader(in)), NewScanner(&smallReads{in, size})
	for whole.Scan() {
		if !parts.Scan() || !bytes.Equal(parts.Bytes(), whole.Bytes()) || parts.lineEnds != whole.lineEnds || parts.ArrivalNs() != whole.ArrivalNs() {
			t.Fatalf("%q: %q after line %d in reads of %d; expected %q after line %d", in, parts.Bytes(), parts.lineEnds, size, whole.Bytes(), whole.lineEnds)
		}
	}
	if parts.Scan() || parts.Counts() != whole.Counts() {
		t.Fatalf("%q: %+v in reads of %d; expected %+v", in, parts.Counts(), size, whole.Counts())
	}
}

type smallReads struct {
	b    []byte
	size int
}

func (r *smallReads) Read(p []byte) (int, error) {
	if len(r.b) == 0 {
		return 0, io.EOF
	}
	n := copy(p[:min(r.size, len(p))], r.b)
	r.b = r.b[n:]
	return n, nil
}

// The word-wise checksum against the plain one, and the place of every byte
// that may not be.
func TestSumText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.SliceOfN(rapid.ByteRange(0x20, 0x7F), 0, 40).Draw(t, "text")
		for i := range text {
			if text[i] == '$' {
				text[i] = '%'
			}
		}
		from := rapid.IntRange(0, len(text)).Draw(t, "from")
		padded := append(slices.Clone(text), "$\x00\xff$$$$$"...)
		if sum, end := sumText(padded, from, len(text)); sum != sumOf(text[from:]) || end != len(text) {
			t.Fatalf("sum %x to %d; expected %x to %d", sum, end, sumOf(text[from:]), len(text))
		}
		if from == len(text) {
			return
		}
		bad := rapid.SampledFrom([]byte{0, 1, 0x1F, '\r', '\n', '$', 0x80, 0xA4, 0xFF}).Draw(t, "bad")
		at := rapid.IntRange(from, len(text)-1).Draw(t, "at")
		padded[at] = bad
		if _, end := sumText(padded, from, len(text)); end != at {
			t.Fatalf("stopped at %d; expected the %#x at %d", end, bad, at)
		}
	})
}

// Published checksums: the GGA example of the NMEA FAQ by Peter Bennett, and
// the RMC example of the SiRF NMEA Reference Manual (both from memory).
func TestPublishedChecksums(t *testing.T) {
	for _, s := range []string{
		"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
		"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
		"$GPRMC,161229.487,A,3723.2475,N,12158.3416,W,0.13,309.62,120598,,*10",
	} {
		if got, _, _ := scanAll(t, NewScanner(strings.NewReader(s))); len(got) != 1 {
			t.Errorf("%s: checksum %02X", s, sumOf([]byte(s[1:len(s)-3])))
		}
	}
}
