// Buses with several senders, delays, drift and damage, written from the
// layouts and not with this package.

package bus_test

import (
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"sort"
	"strings"
	"testing"

	"go.einride.tech/can"

	"liftbench/nmea"
	"liftbench/nmea/bus"
	"liftbench/replay/trace"
)

// writer collects the frames of an invented bus.
type writer struct {
	list []trace.Frame
	seq  map[uint8]byte
}

func (w *writer) frame(hostNs int64, source uint8, pgn uint32, data []byte) {
	f := trace.Frame{TimeNs: hostNs, Frame: can.Frame{ID: 2<<26 | pgn<<8 | uint32(source), Length: uint8(len(data)), IsExtended: true}}
	copy(f.Data[:], data)
	w.list = append(w.list, f)
}

func (w *writer) position(hostNs int64, source uint8, lat, lon float64) {
	b := binary.LittleEndian.AppendUint32(nil, uint32(int32(math.Round(lat*1e7))))
	w.frame(hostNs, source, 129025, binary.LittleEndian.AppendUint32(b, uint32(int32(math.Round(lon*1e7)))))
}

func (w *writer) motion(hostNs int64, source uint8, reference byte, courseDeg, speedMps float64) {
	b := []byte{0, 0xFC | reference}
	b = binary.LittleEndian.AppendUint16(b, uint16(math.Round(courseDeg*math.Pi/180*1e4)))
	b = binary.LittleEndian.AppendUint16(b, uint16(math.Round(speedMps*100)))
	w.frame(hostNs, source, 129026, append(b, 0xFF, 0xFF))
}

// gnss sends 129029 as seven frames, half a millisecond each.
func (w *writer) gnss(hostNs, utcNs int64, source, method uint8, lat, lon float64) {
	const day = 86400_000_000_000
	b := []byte{1}
	b = binary.LittleEndian.AppendUint16(b, uint16(utcNs/day))
	b = binary.LittleEndian.AppendUint32(b, uint32(utcNs%day/100_000))
	b = binary.LittleEndian.AppendUint64(b, uint64(int64(math.Round(lat*1e16))))
	b = binary.LittleEndian.AppendUint64(b, uint64(int64(math.Round(lon*1e16))))
	b = binary.LittleEndian.AppendUint64(b, uint64(123_450_000))
	b = append(b, method<<4, 0xFC, 17)
	b = binary.LittleEndian.AppendUint16(b, 70)
	b = binary.LittleEndian.AppendUint16(b, 120)
	b = binary.LittleEndian.AppendUint32(b, 4500)
	b = append(b, 0)
	if w.seq == nil {
		w.seq = map[uint8]byte{}
	}
	s := w.seq[source] << 5
	w.seq[source]++
	w.frame(hostNs, source, 129029, append([]byte{s, byte(len(b))}, b[:6]...))
	b = b[6:]
	for i := byte(1); len(b) > 0; i++ {
		n := min(7, len(b))
		data := append([]byte{s | i}, b[:n]...)
		for len(data) < 8 {
			data = append(data, 0xFF)
		}
		w.frame(hostNs+int64(i)*500_000, source, 129029, data)
		b = b[n:]
	}
}

func (w *writer) sorted() []trace.Frame {
	sort.SliceStable(w.list, func(i, k int) bool { return w.list[i].TimeNs < w.list[k].TimeNs })
	return w.list
}

const (
	startNs = 1_778_630_400_000_000_000 // 2026-05-13T00:00:00Z
	second  = 1_000_000_000
)

// place is where the receiver is: 2 m/s to the north-east.
func place(ns int64) (lat, lon float64) {
	s := float64(ns-startNs) / 1e9
	return 52.1 + s*1.3e-5, 8.9 + s*2.1e-5
}

// drive writes positions at 10 Hz that come 80 ms late and up to 15 ms more, a
// GNSS message a second 5 ms behind its position, to a logger whose clock is
// ahead by 3 h and gains driftPpm.
func drive(w *writer, source, method uint8, seconds int, driftPpm float64, rng *rand.Rand) {
	for i := range int64(seconds) * 10 {
		utcNs := startNs + i*second/10
		lat, lon := place(utcNs)
		delayNs := int64(80e6 + rng.ExpFloat64()*3e6)
		host := func(ns int64) int64 { return ns + 3*3600*second + int64(driftPpm*1e-6*float64(ns-startNs)) }
		w.position(host(utcNs+delayNs), source, lat, lon)
		w.motion(host(utcNs+delayNs+1e6), source, 0, 40.5, 2.5)
		if i%10 == 0 {
			w.gnss(host(utcNs+delayNs+5e6), utcNs, source, method, lat, lon)
		}
	}
}

// UTC and age come out of times that a logger stamped with a clock of its own:
// the quickest positions get the instant at which they were measured.
func TestClock(t *testing.T) {
	for _, driftPpm := range []float64{0, 40, -25} {
		var w writer
		drive(&w, 0x1C, 4, 1200, driftPpm, rand.New(rand.NewPCG(1, 2)))
		list := w.sorted()
		p := plan(t, list, -1)
		got, counts := fixes(list, p)
		if len(got) != 12000 || counts != (bus.Counts{Fixes: 12000}) {
			t.Fatalf("%d fixes, %+v; expected 12000 and nothing else", len(got), counts)
		}
		if !p.Matched || p.Quality != nmea.RTKFixed || p.Position.PGN != bus.Position {
			t.Errorf("%+v; expected PGN 129025, RTK fixed, matched", p)
		}
		late := make([]float64, len(got))
		for i, f := range got {
			utcNs := startNs + int64(i)*second/10
			lat, lon := place(utcNs)
			if math.Abs(f.LatDeg-lat) > 0.6e-7 || math.Abs(f.LonDeg-lon) > 0.6e-7 || f.SpeedMps != 2.5 || math.Abs(f.CourseDeg-40.5) > 0.003 || f.Quality != nmea.RTKFixed || !f.Dated {
				t.Fatalf("fix %d is %+v", i, f)
			}
			late[i] = float64(f.TimeNs-utcNs) / 1e6
		}
		sort.Float64s(late)
		// The delay above the least is exponential of 3 ms: median 2.1 ms, 95 % 9 ms.
		if q := late[len(late)/2]; q < 1 || q > 3.2 {
			t.Errorf("drift %v ppm: times are %v ms late at the median; expected 2.1", driftPpm, q)
		}
		if q := late[len(late)/100]; q < -0.5 || q > 0.5 {
			t.Errorf("drift %v ppm: the quickest are %v ms late; expected 0", driftPpm, q)
		}
		if m, q := float64(p.Age.MedianNs)/1e6, float64(p.Age.P95Ns)/1e6; m < 1 || m > 3.2 || q < 7 || q > 11 {
			t.Errorf("drift %v ppm: ages %v and %v ms above the least; expected 2.1 and 9", driftPpm, m, q)
		}
		if math.Abs(p.Offset.Drift*1e6-driftPpm) > 3 || driftPpm == 0 && p.Offset.Drift != 0 {
			t.Errorf("drift %v ppm; expected %v", p.Offset.Drift*1e6, driftPpm)
		}
		if d := p.Offset.LessNs - 3*3600*second; d < 78e6 || d > 84e6 {
			t.Errorf("offset %d ns; expected 3 h and 80 ms", p.Offset.LessNs)
		}
	}
}

// A machine that rests sends the same position again and again: which of them is
// that of a GNSS message cannot be told, and none of them is taken for it.
func TestClockOfAMachineAtRest(t *testing.T) {
	var w writer
	rng := rand.New(rand.NewPCG(7, 8))
	drive(&w, 0x1C, 4, 100, 0, rng)
	list := w.sorted()
	endNs := int64(startNs + 100*second)
	var rest writer
	for i := range int64(3000) {
		utcNs := endNs + i*second/10
		lat, lon := place(endNs)
		hostNs := utcNs + 3*3600*second + 80e6
		if i%10 == 0 { // before all of its instant: a match with an earlier position is far too early
			rest.gnss(hostNs-75e6, utcNs, 0x1C, 4, lat, lon)
		}
		rest.position(hostNs, 0x1C, lat, lon)
	}
	list = append(list, rest.sorted()...)
	p := plan(t, list, -1)
	if d := p.Offset.LessNs - 3*3600*second; !p.Matched || d < 79e6 || d > 82e6 || p.Age.MostNs > 60e6 {
		t.Errorf("offset %+v, ages %+v; expected 3 h and 80 ms, and nothing of the rest", p.Offset, p.Age)
	}
}

// A speed of another instant is no speed of this one.
func TestMotionOfAnotherInstant(t *testing.T) {
	var w writer
	for i := range int64(100) {
		hostNs := startNs + i*second/10
		lat, lon := place(hostNs)
		if i < 50 || i >= 60 { // no position for a second
			w.position(hostNs, 1, lat, lon)
		}
		if i%5 == 4 { // twice a second, 20 ms before the position
			w.motion(hostNs-20e6, 1, 0, 90, float64(i)/10)
		}
	}
	w.motion(startNs+55*second/10, 1, 0, 90, 9)
	list := w.sorted()
	got, _ := fixes(list, plan(t, list, -1))
	for k, f := range got {
		i := int64(k)
		if k >= 50 {
			i += 10
		}
		want := math.NaN()
		if i%5 == 4 {
			want = float64(i) / 10
		}
		if f.SpeedMps != want && !(math.IsNaN(f.SpeedMps) && math.IsNaN(want)) {
			t.Errorf("fix %d has speed %v; expected %v", i, f.SpeedMps, want)
		}
	}
}

// A receiver that knows no date at first, and one hour that is set anew, do not
// move the rest.
func TestClockThatIsWrongAtFirst(t *testing.T) {
	var w writer
	rng := rand.New(rand.NewPCG(5, 6))
	drive(&w, 0x1C, 1, 300, 0, rng)
	list := w.sorted()
	for i := range list {
		// The first 40 s count days from 1980.
		if f := &list[i]; f.ID>>8&0x3FFFF == 129029 && f.Data[0]&31 == 0 && f.TimeNs < startNs+3*3600*second+40*second {
			f.Data[3], f.Data[4] = 1, 0
		}
	}
	p := plan(t, list, -1)
	if d := p.Offset.LessNs - 3*3600*second; !p.Offset.Known || d < 78e6 || d > 84e6 {
		t.Errorf("offset %+v; expected 3 h and 80 ms", p.Offset)
	}
}

// Among several senders the best method is chosen, then the highest rate of
// positions that are there; an option names another; the choice is told.
func TestChoice(t *testing.T) {
	var w writer
	rng := rand.New(rand.NewPCG(3, 4))
	drive(&w, 0x1C, 4, 60, 0, rng) // RTK fixed, 10 Hz
	drive(&w, 0x2B, 1, 60, 0, rng) // autonomous, 10 Hz
	for i := range int64(1200) {   // no word on quality, 20 Hz, a third not available
		hostNs := startNs + 3*3600*second + i*second/20
		if i%3 == 0 {
			w.position(hostNs, 0x03, 214.7483647, 214.7483647)
		} else {
			w.position(hostNs, 0x03, 1, 2)
		}
	}
	list := w.sorted()
	p := plan(t, list, -1)
	if p.Position.Node.Address != 0x1C || p.Motion.Node.Address != 0x1C || len(p.Others) != 2 || p.Others[0].Node.Address != 0x03 || p.Others[1].Node.Address != 0x2B {
		t.Errorf("%+v; expected 28, then 3 (20 Hz), then 43", p)
	}
	text := strings.Join(p.Lines(), "\n")
	for _, want := range []string{"address 28", "RTK fixed: the best method", "address 3, 13.3 a second, 400 of 1200 not available, no word on its quality", "address 43, 10.0 a second, autonomous", "age of fixes"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, text)
		}
	}
	if p = plan(t, list, 0x03); p.Position.Node.Address != 3 || p.HasQuality {
		t.Errorf("%+v; expected 3, as named", p.Position)
	}
	got, counts := fixes(list, p)
	if len(got) != 800 || counts.Unavailable != 400 {
		t.Errorf("%d fixes, %+v; expected 800 and 400 not available", len(got), counts)
	}
	var s bus.Survey
	for i := range list {
		s.Add(list[i].TimeNs, 0, &list[i].Frame)
	}
	if _, err := s.Plan(99); !errors.Is(err, bus.ErrNoPosition) || !strings.Contains(err.Error(), "28 3 43") {
		t.Errorf("error %v; expected the addresses that send positions", err)
	}
}

// Magnetic courses are turned by a variation that is told, and left out without
// one.
func TestMagnetic(t *testing.T) {
	for _, told := range []bool{false, true} {
		var w writer
		for i := range int64(100) {
			hostNs := startNs + i*second/10
			lat, lon := place(hostNs)
			w.position(hostNs, 1, lat, lon)
			w.motion(hostNs+1e6, 1, 1, 358, 2)
			if told && i%10 == 0 {
				b := []byte{0, 0xF1, 0, 0} // 127258: source, days, 4° east
				w.frame(hostNs-1e6, 2, 127258, append(binary.LittleEndian.AppendUint16(b, 698), 0xFF, 0xFF))
			}
		}
		list := w.sorted()
		p := plan(t, list, -1)
		got, counts := fixes(list, p)
		f := got[50]
		if told && math.Abs(f.CourseDeg-2) > 0.01 || !told && !math.IsNaN(f.CourseDeg) || f.SpeedMps != 2 {
			t.Errorf("variation told %v: course %v, speed %v; expected 2° or none, 2 m/s", told, f.CourseDeg, f.SpeedMps)
		}
		if (counts.Magnetic > 0) == told {
			t.Errorf("%d courses left out", counts.Magnetic)
		}
	}
}

// J1939 and ISO 11783-7 say the same in their own scales (SAE J1939-71, from
// memory): 1e-7° from -210°, 1/128°, 1/256 km/h, quarters of a second and day.
func TestVehicle(t *testing.T) {
	var w writer
	for i := range int64(100) {
		hostNs := startNs + 8*3600*second + i*second/5
		lat, lon := place(startNs + i*second/5)
		b := binary.LittleEndian.AppendUint32(nil, uint32(math.Round((lat+210)*1e7)))
		w.frame(hostNs, 0x1C, 65267, binary.LittleEndian.AppendUint32(b, uint32(math.Round((lon+210)*1e7))))
		b = binary.LittleEndian.AppendUint16(nil, 90*128)
		b = binary.LittleEndian.AppendUint16(b, 9*256)
		b = binary.LittleEndian.AppendUint16(b, 200*128)
		w.frame(hostNs+1e6, 0x1C, 65256, binary.LittleEndian.AppendUint16(b, (2500+80)*8))
		if i%5 == 0 {
			// 2026-05-13 08:00:00 and on: quarters, minute, hour, month, day, year
			s := i / 5
			w.frame(hostNs+30e6, 0x1C, 65254, []byte{byte(s * 4), 0, 8, 5, 13*4 - 3, 2026 - 1985, 125, 125})
		}
	}
	list := w.sorted()
	got, _ := fixes(list, plan(t, list, -1))
	if len(got) != 100 {
		t.Fatalf("%d fixes; expected 100", len(got))
	}
	f := got[50]
	lat, lon := place(startNs + 10*second)
	if math.Abs(f.LatDeg-lat) > 0.6e-7 || math.Abs(f.LonDeg-lon) > 0.6e-7 || f.CourseDeg != 90 || math.Abs(f.SpeedMps-2.5) > 1e-9 {
		t.Errorf("%+v; expected %v %v, 90°, 2.5 m/s", f, lat, lon)
	}
	if d := f.TimeNs - (startNs + 8*3600*second + 10*second); d < -50e6 || d > 50e6 {
		t.Errorf("%d ns off UTC", d)
	}
}

// A packet with a frame missing or twice is dropped, and nothing else is.
func TestBrokenPackets(t *testing.T) {
	var w writer
	for i := range int64(30) {
		lat, lon := place(startNs + i*second)
		w.gnss(startNs+i*second, startNs+i*second, 5, 4, lat, lon)
	}
	list := w.sorted()
	lost := append(append([]trace.Frame(nil), list[:73]...), list[74:]...)
	got, counts := fixes(lost, plan(t, list, -1))
	if len(got) != 29 || counts.Broken != 1 {
		t.Errorf("%d fixes, %d broken; expected 29, 1", len(got), counts.Broken)
	}
	// Two senders between each other's frames.
	var two writer
	for i := range int64(30) {
		lat, lon := place(startNs + i*second)
		two.gnss(startNs+i*second, startNs+i*second, 5, 4, lat, lon)
		two.gnss(startNs+i*second+100_000, startNs+i*second, 6, 1, -lat, lon)
	}
	list = two.sorted()
	got, counts = fixes(list, plan(t, list, -1))
	if len(got) != 30 || counts.Broken != 0 || got[7].LatDeg < 0 {
		t.Errorf("%d fixes, %d broken; expected 30, 0", len(got), counts.Broken)
	}
}

// Two boats: of one the trace has no times, so that only positions that tell
// their own are fixes; of the other nobody tells UTC, so that times are the
// logger's and no age can be told. Both choices are of the one sender there is.
func TestBoats(t *testing.T) {
	dir := recorded(t)
	list := frames(t, dir+"/candumpSample2.txt")
	p := plan(t, list, -1)
	got, _ := fixes(list, p)
	text := strings.Join(p.Lines(), "\n")
	if p.Position.PGN != bus.GNSS || p.Position.Node.Address != 127 || len(got) != 5 || !strings.Contains(text, "the trace has no times") {
		t.Errorf("%d fixes\n%s", len(got), text)
	}
	list = frames(t, dir+"/candumpSample3.txt")
	p = plan(t, list, -1)
	got, counts := fixes(list, p)
	text = strings.Join(p.Lines(), "\n")
	if p.Position.PGN != bus.Position || p.Position.Node.Address != 43 || p.Motion.Node.Address != 43 || len(got)+int(counts.Unavailable) != 165 || !strings.Contains(text, "nobody on the bus tells UTC") {
		t.Errorf("%d fixes, %+v\n%s", len(got), counts, text)
	}
	if math.Abs(p.Position.RateHz-9.4) > 0.1 {
		t.Errorf("%v positions a second; 165 in 17.4 s are 9.4", p.Position.RateHz)
	}
	t.Log("\n" + text)
}

func TestDecoderAllocates(t *testing.T) {
	var w writer
	drive(&w, 0x1C, 4, 20, 0, rand.New(rand.NewPCG(1, 2)))
	list := w.sorted()
	d := bus.NewDecoder(plan(t, list, -1))
	if n := testing.AllocsPerRun(5, func() {
		for i := range list {
			d.Add(list[i].TimeNs, 0, &list[i].Frame)
		}
	}); n > 0 {
		t.Errorf("%v allocations; expected none", n)
	}
}

// A frame of a busy bus: one in eight is a receiver's.
func busy() []trace.Frame {
	var w writer
	drive(&w, 0x1C, 4, 60, 0, rand.New(rand.NewPCG(1, 2)))
	for i := range int64(60 * 180) {
		w.frame(startNs+3*3600*second+i*second/180, 0, 0xF004, make([]byte, 8))
	}
	return w.sorted()
}

func BenchmarkDecoder(b *testing.B) {
	list := busy()
	d := bus.NewDecoder(plan(b, list, -1))
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		d.Add(list[i].TimeNs, 0, &list[i].Frame)
		if i++; i == len(list) {
			i = 0
		}
	}
}

func BenchmarkSurvey(b *testing.B) {
	list := busy()
	var s bus.Survey
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		s.Add(list[i].TimeNs, 0, &list[i].Frame)
		if i++; i == len(list) {
			i = 0
		}
	}
}

// Any frames give fixes in order of time with places on the earth.
func FuzzDecoder(f *testing.F) {
	var w writer
	drive(&w, 0x1C, 4, 2, 0, rand.New(rand.NewPCG(1, 2)))
	var seed []byte
	for _, x := range w.sorted() {
		seed = binary.BigEndian.AppendUint32(seed, x.ID)
		seed = append(append(seed, x.Length, byte(x.TimeNs>>20)), x.Data[:]...)
	}
	f.Add(seed)
	f.Add(seed[14 : 14*9])
	f.Fuzz(func(t *testing.T, b []byte) {
		var list []trace.Frame
		ns := int64(startNs)
		for ; len(b) >= 14; b = b[14:] {
			ns += int64(b[5]) << 20
			list = append(list, trace.Frame{TimeNs: ns, Channel: b[4] >> 4, Frame: can.Frame{
				ID: binary.BigEndian.Uint32(b) & can.MaxExtendedID, Length: min(b[4]&15, 8), Data: can.Data(b[6:14]), IsExtended: true}})
		}
		var s bus.Survey
		for i := range list {
			s.Add(list[i].TimeNs, list[i].Channel, &list[i].Frame)
		}
		p, err := s.Plan(-1)
		if err != nil {
			if !errors.Is(err, bus.ErrNoPosition) {
				t.Fatal(err)
			}
			return
		}
		p.Lines()
		last := int64(math.MinInt64)
		got, _ := fixes(list, p)
		for _, x := range got {
			if x.TimeNs <= last || math.Abs(x.LatDeg) > 90 || math.Abs(x.LonDeg) > 180 || x.SpeedMps < 0 || x.CourseDeg < 0 || x.CourseDeg >= 360 {
				t.Fatalf("%+v", x)
			}
			last = x.TimeNs
		}
	})
}

// Live, a fix is complete with the motion that follows its position, or with the
// position where none does, and never waits for the next; it is the same fix.
func TestLive(t *testing.T) {
	for name, c := range map[string]struct{ motion, lost bool }{"with motion": {true, false}, "without": {false, false}, "with motion that is lost at times": {true, true}} {
		var w writer
		for i := range int64(600) {
			utcNs := startNs + i*second/10
			lat, lon := place(utcNs)
			w.position(utcNs+50e6, 7, lat, lon)
			if c.motion && !(c.lost && i%37 == 5) {
				w.motion(utcNs+51e6, 7, 0, 45, float64(i)/10)
			}
			if i%10 == 0 {
				w.gnss(utcNs+52e6, utcNs, 7, 5, lat, lon)
			}
		}
		list := w.sorted()
		p := plan(t, list, -1)
		want, _ := fixes(list, p)
		d := bus.NewDecoder(p)
		d.Live = true
		n, late := 0, 0
		for i := range list {
			f := &list[i]
			if !d.Add(f.TimeNs, 0, &f.Frame) {
				continue
			}
			got := d.Fix()
			if got.TimeNs != want[n].TimeNs || got.LatDeg != want[n].LatDeg {
				t.Fatalf("%s: fix %d is %+v; expected %+v", name, n, got, want[n])
			}
			speed := want[n].SpeedMps
			if got.SpeedMps != speed && !(math.IsNaN(got.SpeedMps) && (math.IsNaN(speed) || n < 2 || c.lost)) {
				t.Fatalf("%s: fix %d has speed %v; expected %v", name, n, got.SpeedMps, speed)
			}
			if f.TimeNs-got.ArrivalNs > 1e6 {
				late++
			}
			n++
		}
		most := 0
		if c.lost {
			most = 17
		}
		if n != 600 || late > most {
			t.Errorf("%s: %d fixes, %d of them later than their last message; expected 600, %d at most", name, n, late, most)
		}
	}
}

// Live, a plan of the first seconds serves for hours: the drift of the clock is
// followed, a single wrong time is not believed, a clock that was set is.
func TestLiveDrift(t *testing.T) {
	var w writer
	const hours = 2
	setNs := int64(0)
	host := func(utcNs int64) int64 {
		if utcNs > startNs+3600*second {
			setNs = 1800 * second
		}
		return utcNs + (utcNs-startNs)/20_000 + setNs // 50 ppm
	}
	var truth []int64
	for i := range int64(hours * 3600 * 2) {
		utcNs := startNs + i*second/2
		lat, lon := place(utcNs)
		w.position(host(utcNs)+50e6, 7, lat, lon)
		truth = append(truth, utcNs)
		if i%2 == 0 {
			told := utcNs
			if i == 4000 {
				told -= 86400 * second
			}
			f := nmea.EmptyFix()
			f.TimeNs, f.Dated = told, true
			w.list = append(w.list, trace.Frame{TimeNs: host(utcNs) + 52e6, Frame: bus.TimeFrame(&f, 7, 0)})
		}
	}
	list := w.list
	p := plan(t, list[:20], -1)
	d := bus.NewDecoder(p)
	d.Live = true
	n, far := 0, 0
	for i := range list {
		if !d.Add(list[i].TimeNs, 0, &list[i].Frame) {
			continue
		}
		if e := d.Fix().TimeNs - truth[n]; e < -8e6 || e > 8e6 {
			far++
		}
		n++
	}
	if n != len(truth) || far > 25 { // those between the setting of the clock and its being believed
		t.Errorf("%d fixes, %d of them far from their instant; expected %d, 25 at most", n, far, len(truth))
	}
}
