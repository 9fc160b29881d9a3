package pool_test

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"go.einride.tech/can"

	"liftbench/nmea/bus"
	"liftbench/replay/taskdata/device"
	"liftbench/replay/trace/pool"
	"liftbench/replay/trace/process"
	"liftbench/sim/campaign"
)

// writer writes a description as an implement uploads it. It shares nothing with what reads it.
type writer struct {
	b      []byte
	object uint16
}

func (w *writer) u16(v int)     { w.b = binary.LittleEndian.AppendUint16(w.b, uint16(v)) }
func (w *writer) u32(v uint32)  { w.b = binary.LittleEndian.AppendUint32(w.b, v) }
func (w *writer) text(s string) { w.b = append(append(w.b, byte(len(s))), s...) }

func (w *writer) begin(tag string) int {
	w.b = append(w.b, tag...)
	w.object++
	w.u16(int(w.object))
	return int(w.object)
}

func (w *writer) device(fourth bool) {
	w.begin("DVC")
	w.text("Quillmark hoe")
	w.text("1.7")
	w.b = append(w.b, 1, 2, 3, 4, 5, 6, 7, 8)
	w.text("DVC 17")
	w.b = append(w.b, "DET-HOEenmetric"[:14]...)
	if fourth {
		w.text("more of it")
	}
}

func (w *writer) fixed(ddi int, value int32) int {
	id := w.begin("DPT")
	w.u16(ddi)
	w.u32(uint32(value))
	w.text("DET")
	w.u16(0xFFFF)
	return id
}

func (w *writer) told(ddi int) int {
	id := w.begin("DPD")
	w.u16(ddi)
	w.b = append(w.b, 3, 9)
	w.text("")
	w.u16(0xFFFF)
	return id
}

func (w *writer) shown() {
	w.begin("DVP")
	w.u32(0)
	w.u32(math.Float32bits(0.001))
	w.b = append(w.b, 2)
	w.text("m")
}

func (w *writer) element(kind device.Type, number, parent int, of ...int) int {
	id := w.begin("DET")
	w.b = append(w.b, byte(kind))
	w.text("part")
	w.u16(number)
	w.u16(parent)
	w.u16(len(of))
	for _, o := range of {
		w.u16(o)
	}
	return id
}

// frame is a frame of priority 7 from one address to another.
func frame(group int, from, to uint8, data ...byte) can.Frame {
	f := can.Frame{ID: 7<<26 | uint32(group|int(to))<<8 | uint32(from), Length: 8, IsExtended: true, Data: can.Data{255, 255, 255, 255, 255, 255, 255, 255}}
	copy(f.Data[:], data)
	return f
}

// upload sends a message to the task controller by the protocol that its length asks for;
// every so often a packet is sent twice, as one that was lost on the way.
func upload(message []byte, from, to uint8, again int) []can.Frame {
	group := []byte{0, 0xCB, 0}
	n := len(message)
	var frames []can.Frame
	control, data := 0xEC00, 0xEB00
	if extended := n > 1785; extended {
		control, data = 0xC800, 0xC700
		frames = append(frames, frame(control, from, to, append([]byte{20, byte(n), byte(n >> 8), byte(n >> 16), byte(n >> 24)}, group...)...))
	} else {
		frames = append(frames, frame(control, from, to, append([]byte{16, byte(n), byte(n >> 8), byte((n + 6) / 7), 255}, group...)...))
	}
	const run = 16
	for first := 0; first*7 < n; first += run {
		frames = append(frames, frame(control, to, from, append([]byte{17, run, byte(first + 1), 255, 255}, group...)...))
		sequence := first
		if n > 1785 {
			frames = append(frames, frame(control, from, to, append([]byte{22, run, byte(first), byte(first >> 8), byte(first >> 16)}, group...)...))
			sequence = 0
		}
		for k := 0; k < run && (first+k)*7 < n; k++ {
			at := (first + k) * 7
			f := frame(data, from, to, append([]byte{byte(sequence + k + 1)}, message[at:min(at+7, n)]...)...)
			frames = append(frames, f)
			if again > 0 && (first+k)%again == again-1 {
				frames = append(frames, f)
			}
		}
	}
	return frames
}

// A machine drawn at random, described as an implement does, with offsets that are fixed
// or told on the bus, is read with its sections from left to right.
func TestDescribed(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 4))
	for k := range campaign.Times(300, 3000, 30_000) {
		n := 1 + r.IntN(48)
		var w writer
		w.device(r.IntN(2) == 0)
		if r.IntN(2) == 0 {
			w.shown()
		}
		root := w.element(device.Whole, 0, 0)
		function := w.element(device.Function, 1, root, w.fixed(67, 6000))
		first := len(w.b)
		order := r.Perm(n) // numbers say nothing of the order
		fixed := r.IntN(2) == 0
		xMm := int32(-r.IntN(4000))
		var told []can.Frame
		at := map[int]int32{}
		for i, place := range order {
			y := int32(place*500 - 250*(n-1))
			number := 10 + i
			at[number] = y
			if fixed {
				w.element(device.Section, number, function, w.fixed(135, y), w.fixed(134, xMm), w.fixed(67, 500), 60000)
			} else {
				w.element(device.Section, number, function, w.told(134), w.told(135), w.told(67))
				for ddi, v := range map[uint16]int32{134: xMm, 135: y, 67: 500} {
					told = append(told, process.Frame(128, 247, uint16(number), ddi, uint32(v)))
				}
			}
		}
		// In one upload or two.
		cut := len(w.b)
		if r.IntN(3) == 0 {
			cut = first
		}
		frames := upload(append([]byte{0x61}, w.b[:cut]...), 128, 247, r.IntN(5))
		if cut < len(w.b) {
			frames = append(frames, upload(append([]byte{0x61}, w.b[cut:]...), 128, 247, r.IntN(5))...)
		}
		frames = append(frames, told...)
		// Another device talks at the same time, to another.
		other := upload(slices.Repeat([]byte{0x61, 'D'}, 300), 99, 247, 0)
		var rec pool.Recorder
		for len(frames) > 0 || len(other) > 0 {
			if len(frames) > 0 && (len(other) == 0 || r.IntN(2) == 0) {
				rec.Add(0, &frames[0])
				frames = frames[1:]
			} else {
				rec.Add(0, &other[0])
				other = other[1:]
			}
		}
		all, d := rec.Devices(bus.Node{Address: 128})
		v := rec.Values()
		if d == nil {
			t.Fatalf("machine %d of %d sections: no description; %v", k, n, rec.Damage())
		}
		if len(rec.Damage()) != 1 || !strings.Contains(rec.Damage()[0], "address 99") || len(all) != 1 {
			t.Fatalf("damage %v; expected that of address 99", rec.Damage())
		}
		g := device.Locate(all, nil, d.ID, d.Sections(d.Root().ID, v), v)
		if len(g.Sections) != n {
			t.Fatalf("%d sections; described were %d", len(g.Sections), n)
		}
		for i, s := range g.Sections {
			number := d.Find(s.Element).Number
			want := float64(i)*0.5 - 0.25*float64(n-1)
			if math.Abs(s.YM-want) > 1e-9 || math.Abs(s.XM-float64(xMm)/1000) > 1e-9 || math.Abs(s.WidthM-0.5) > 1e-9 || at[number] != int32(math.Round(want*1000)) {
				t.Fatalf("section %d is %+v, number %d; described at %g m", i+1, s, number, want)
			}
		}
	}
}

// one is the device at address 128.
func one(r *pool.Recorder) *device.Device {
	_, d := r.Devices(bus.Node{Address: 128})
	return d
}

// What is cut short or no description is said, and the next upload counts.
func TestDamaged(t *testing.T) {
	var w writer
	w.device(false)
	root := w.element(device.Whole, 0, 0)
	w.element(device.Section, 2, root, w.fixed(135, 0))
	for _, c := range []struct {
		message []byte
		said    string
	}{
		{append([]byte{0x61}, w.b[:len(w.b)-3]...), "ends after byte"},
		{append([]byte{0x61}, "DVX"...), `found "DVX" at byte 0`},
		{append([]byte{0x61}, w.b[:3+2+14+4+8+7+14]...), "it has no element"},
	} {
		var rec pool.Recorder
		for _, f := range upload(c.message, 128, 247, 0) {
			rec.Add(0, &f)
		}
		if d := rec.Damage(); len(d) != 1 || !strings.Contains(d[0], c.said) || one(&rec) != nil {
			t.Errorf("said %q; expected %q", d, c.said)
		}
		for _, f := range upload(append([]byte{0x61}, w.b...), 128, 247, 0) {
			rec.Add(0, &f)
		}
		if one(&rec) == nil {
			t.Errorf("no description by the second upload: %v", rec.Damage())
		}
	}
	// A message that was broken off, and one of a length that is a lie.
	var rec pool.Recorder
	half := upload(append([]byte{0x61}, w.b...), 128, 247, 0)
	for _, f := range half[:len(half)-1] {
		rec.Add(0, &f)
	}
	end := frame(0xEC00, 247, 128, 255, 3, 255, 255, 255, 0, 0xCB, 0)
	rec.Add(0, &end)
	rec.Add(0, &half[len(half)-1])
	lie := frame(0xC800, 128, 247, 20, 255, 255, 255, 255, 0, 0xCB, 0)
	rec.Add(0, &lie)
	if one(&rec) != nil || len(rec.Damage()) > 0 {
		t.Errorf("a description of a message that was broken off; %v", rec.Damage())
	}
}

// What is written is read: a tractor and its implement, with what they hang on.
func TestWritten(t *testing.T) {
	tractor := []device.Element{
		{Object: 1, Type: device.Whole, Number: 0},
		{Object: 2, Parent: 1, Type: device.Connector, Number: 1, Properties: map[uint16]int32{device.OffsetX: -900, device.OffsetY: 0, device.ConnectorType: 2}},
		{Object: 3, Parent: 1, Type: device.Navigation, Number: 2, Properties: map[uint16]int32{device.OffsetX: 1200, device.OffsetY: 10, device.OffsetZ: -3000}},
	}
	implement := []device.Element{
		{Object: 1, Type: device.Whole, Number: 0},
		{Object: 2, Parent: 1, Type: device.Connector, Number: 2, Properties: map[uint16]int32{device.OffsetX: 0, device.OffsetY: 0, device.ConnectorType: 2}},
		{Object: 3, Parent: 1, Type: device.Function, Number: 1},
	}
	for i := range 40 {
		implement = append(implement, device.Element{Object: 4 + i, Parent: 3, Type: device.Section, Number: 3 + i,
			Properties: map[uint16]int32{device.OffsetX: -1300, device.OffsetY: int32(i*500 - 9750), device.Width: 500}})
	}
	var rec pool.Recorder
	for _, x := range []struct {
		from     uint8
		what     string
		elements []device.Element
	}{{240, "tractor", tractor}, {128, "hoe", implement}} {
		frames := pool.Upload(nil, x.from, 247, x.what, x.elements)
		for i := range frames {
			if err := frames[i].Validate(); err != nil {
				t.Fatal(err)
			}
			rec.Add(0, &frames[i])
		}
	}
	all, d := rec.Devices(bus.Node{Address: 128})
	if d == nil || len(all) != 2 || len(rec.Damage()) > 0 {
		t.Fatalf("%d devices, %v; expected two", len(all), rec.Damage())
	}
	g := device.Locate(all, nil, d.ID, d.Sections(d.Elements[2].ID, rec.Values()), rec.Values())
	if len(g.Sections) != 40 || g.Sections[0].YM != -9.75 || g.Sections[0].XM != -2.2 || g.HitchXM != -0.9 || !g.AntennaKnown || g.AntennaXM != 1.2 || g.AntennaZM != 3 || g.Hitch != 2 {
		t.Errorf("%d sections, %+v", len(g.Sections), g)
	}
}

// Any frames: no panic, and memory that does not grow with a length that is claimed.
func FuzzRecorder(f *testing.F) {
	var w writer
	w.device(true)
	root := w.element(device.Whole, 0, 0)
	w.element(device.Section, 2, root, w.fixed(135, 0), w.told(67))
	var b []byte
	for _, x := range upload(append([]byte{0x61}, w.b...), 128, 247, 3) {
		b = append(binary.BigEndian.AppendUint32(b, x.ID), x.Data[:]...)
	}
	f.Add(b)
	f.Add([]byte(fmt.Sprintf("%s%s", w.b, b)))
	f.Fuzz(func(t *testing.T, b []byte) {
		var rec pool.Recorder
		for len(b) >= 12 {
			x := can.Frame{ID: binary.BigEndian.Uint32(b) & can.MaxExtendedID, Length: 8, IsExtended: true}
			copy(x.Data[:], b[4:])
			rec.Add(0, &x)
			b = b[12:]
		}
		for a := range 256 {
			if all, d := rec.Devices(bus.Node{Address: uint8(a)}); d != nil && d.Root() != nil {
				device.Locate(all, nil, d.ID, d.Sections(d.Root().ID, rec.Values()), rec.Values())
			}
		}
	})
}
