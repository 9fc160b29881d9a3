package sentences_test

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"go.einride.tech/can"

	"liftbench/nmea"
	"liftbench/nmea/bus"
	"liftbench/nmea/epoch"
	"liftbench/replay/trace/sentences"
)

// lines gives one line a read, each at its time.
type lines struct {
	at    []int64
	text  []string
	nowNs int64
	cut   int // bytes of the first line that were given
}

func (l *lines) add(ns int64, f can.Frame) {
	l.at = append(l.at, ns)
	l.text = append(l.text, fmt.Sprintf("  can0  %08X   [%d]  % X\n", f.ID, f.Length, f.Data[:f.Length]))
}

func (l *lines) Read(b []byte) (int, error) {
	if len(l.at) == 0 {
		return 0, io.EOF
	}
	l.nowNs = l.at[0]
	n := copy(b, l.text[0][l.cut:])
	if n > 9 && l.cut == 0 && len(l.at)%7 == 0 {
		n = 9 // a line in two pieces
	}
	if l.cut += n; l.cut == len(l.text[0]) {
		l.at, l.text, l.cut = l.at[1:], l.text[1:], 0
	}
	return n, nil
}

func (l *lines) now() int64 { return l.nowNs }

const (
	second  = 1_000_000_000
	startNs = 1_778_630_400 * second
)

func fix(utcNs int64) nmea.Fix {
	f := nmea.EmptyFix()
	s := float64(utcNs-startNs) / 1e9
	f.TimeNs, f.Dated = utcNs, true
	f.LatDeg, f.LonDeg = 52.1+1.3e-5*s, 8.9+2.1e-5*s
	f.SpeedMps, f.CourseDeg, f.Quality, f.Satellites, f.HDOP = 2.5, 45, nmea.RTKFixed, 17, 0.7
	return f
}

// send sends a fix 80 ms after its instant.
func send(l *lines, source uint8, i int64, f nmea.Fix) {
	ns := f.TimeNs + 80e6
	l.add(ns, bus.PositionFrame(&f, source))
	l.add(ns+1e6, bus.MotionFrame(&f, source, 0))
	if i%10 == 0 {
		for k, x := range bus.AppendGNSS(nil, &f, source, 0, uint8(i/10)) {
			l.add(ns+2e6+int64(k)*600_000, x)
		}
	}
}

// A bus read as sentences gives the fixes that were sent, each with the frame
// that completes it.
func TestBusAsSentences(t *testing.T) {
	var l lines
	for i := range int64(300) {
		send(&l, 7, i, fix(startNs+i*second/10))
	}
	l.at, l.text = append(l.at, l.at[len(l.at)-1]), append(l.text, "rubbish\n")
	r := sentences.New(&l, l.now)
	var told []string
	r.Told = func(lines []string) { told = append(told, lines...) }
	in := epoch.NewReader(r)
	in.Scanner.Clock = l.now
	in.Assembler.Live = true
	n := 0
	for in.Next() {
		f := in.Fix()
		// The first 2.5 s go by listening.
		i := (f.TimeNs - startNs + second/20) / (second / 10)
		w := fix(startNs + i*second/10)
		if math.Abs(f.LatDeg-w.LatDeg) > 0.6e-7 || math.Abs(f.LonDeg-w.LonDeg) > 0.6e-7 || math.Abs(f.SpeedMps-2.5) > 1e-4 || math.Abs(f.CourseDeg-45) > 0.01 || f.Quality != nmea.RTKFixed || f.Satellites != 17 && n > 10 {
			t.Fatalf("fix %d is %+v; sent %+v", i, f, w)
		}
		if d := f.TimeNs - w.TimeNs; d < -3e6 || d > 3e6 {
			t.Errorf("fix %d is %d ns from its instant", i, d)
		}
		// epoch.Assembler learns in 30 epochs which sentence is the last.
		if late := f.ReadyNs - w.TimeNs; n > 30 && (late < 80e6 || late > 82e6) {
			t.Errorf("fix %d was there after %d ns; expected 81 ms, with its motion", i, late)
		}
		n++
	}
	if n < 272 || n > 276 || in.Err() != nil {
		t.Errorf("%d fixes, %v; expected 300 less those of 2.5 s", n, in.Err())
	}
	if r.Skipped() != 1 || len(told) == 0 || !strings.Contains(told[0], "address 7") {
		t.Errorf("%d lines skipped, told %q", r.Skipped(), told)
	}
}

// A sender that falls silent is replaced by another.
func TestAnotherSender(t *testing.T) {
	var l lines
	for i := range int64(400) {
		f := fix(startNs + i*second/10)
		if i < 100 {
			send(&l, 7, i, f)
		} else {
			f.Quality = nmea.Autonomous
			send(&l, 9, i, f)
		}
	}
	r := sentences.New(&l, l.now)
	var told []string
	r.Told = func(lines []string) { told = append(told, lines[0]) }
	all, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	if len(told) != 2 || !strings.Contains(told[1], "address 9") {
		t.Errorf("told %q; expected 7, then 9", told)
	}
	// 7.5 s of the first, then 5 s of silence and 2.5 s of listening.
	if n := bytes.Count(all, []byte("GGA")); n < 290 || n > 302 {
		t.Errorf("%d fixes; expected about 300", n)
	}
}

// Of two receivers that speak at a time the one that is named counts, the worse
// one too, and no other takes its place when it falls silent.
func TestNamedSender(t *testing.T) {
	for _, c := range []struct {
		sender int
		want   string
		fixes  int
	}{{-1, "address 7", 175}, {9, "address 9", 75}, {8, "no position on the bus from address 8; those who send positions: 7 9", 0}} {
		var l lines
		for i := range int64(200) {
			f := fix(startNs + i*second/10)
			send(&l, 7, i, f)
			if f.Quality = nmea.Autonomous; i < 100 {
				send(&l, 9, i, f)
			}
		}
		r := sentences.New(&l, l.now)
		r.Sender = c.sender
		var told []string
		r.Told = func(lines []string) { told = append(told, lines[0]) }
		all, err := io.ReadAll(r)
		if err != nil || len(told) == 0 || !strings.Contains(told[0], c.want) {
			t.Errorf("sender %d: told %q, %v; expected %q", c.sender, told, err, c.want)
		}
		if n := bytes.Count(all, []byte("GGA")); n < c.fixes-3 || n > c.fixes+3 {
			t.Errorf("sender %d: %d fixes; expected about %d", c.sender, n, c.fixes)
		}
		if c.sender == 9 && !slices.ContainsFunc(told[1:], func(s string) bool { return strings.Contains(s, "from address 9") }) {
			t.Errorf("told %q; expected that address 9 is silent", told)
		}
	}
}

func TestNobody(t *testing.T) {
	var l lines
	for i := range int64(100) {
		l.add(startNs+i*second/10, can.Frame{ID: 0x0CF00400, Length: 8, IsExtended: true})
	}
	r := sentences.New(&l, l.now)
	var told []string
	r.Told = func(lines []string) { told = append(told, lines...) }
	if all, err := io.ReadAll(r); len(all) > 0 || err != nil {
		t.Errorf("%d bytes, %v; expected none", len(all), err)
	}
	if len(told) < 2 || !strings.Contains(told[0], "no position on the bus") {
		t.Errorf("told %q", told)
	}
}

func FuzzReader(f *testing.F) {
	f.Add([]byte("  can0  09F8011C   [8]  CD 74 35 1F 0D FC C9 04\n"), int64(700e6))
	f.Add(bytes.Repeat([]byte("x"), 40_000), int64(1))
	f.Fuzz(func(t *testing.T, b []byte, stepNs int64) {
		now := int64(startNs)
		r := sentences.New(bytes.NewReader(bytes.Repeat(b, 3)), func() int64 { now += stepNs & (1<<32 - 1); return now })
		all, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		sc := nmea.NewScanner(bytes.NewReader(all))
		var s nmea.Sentence
		for sc.Scan() {
			if err := nmea.Parse(sc.Bytes(), &s); err != nil {
				t.Fatalf("%s: %v", sc.Bytes(), err)
			}
		}
		if c := sc.Counts(); c.SkippedBytes > 0 || c.BadChecksum > 0 {
			t.Fatalf("%+v", c)
		}
	})
}
