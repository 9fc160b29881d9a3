package process_test

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"strconv"
	"testing"

	"go.einride.tech/can"

	"liftbench/nmea"
	"liftbench/nmea/bus"
	"liftbench/replay/trace"
	"liftbench/replay/trace/process"
)

func recorded(t testing.TB, name string) string {
	t.Helper()
	p := filepath.Join(os.Getenv("LIFTBENCH_DATA"), name)
	if _, err := os.Stat(p); err != nil || os.Getenv("LIFTBENCH_DATA") == "" {
		what := "absent: recorded data: set LIFTBENCH_DATA to the folder that holds " + name
		if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
			t.Fatal(what)
		}
		t.Skip(what)
	}
	return p
}

// day is what one trace holds.
type day struct {
	fixes   []nmea.Fix
	plan    *bus.Plan
	devices []*process.Device
}

func read(t testing.TB, name string) day {
	t.Helper()
	raw, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	var survey bus.Survey
	var work process.Recorder
	s := trace.NewScanner(bytes.NewReader(raw))
	for s.Next() {
		f := s.Frame()
		survey.Add(f.TimeNs, f.Channel, &f.Frame)
		work.Add(f.TimeNs, f.Channel, &f.Frame)
	}
	if err := s.Err(); err != nil {
		t.Fatal(err)
	}
	d := day{devices: work.Devices()}
	if d.plan, err = survey.Plan(-1); err != nil {
		t.Fatal(err)
	}
	decoder := bus.NewDecoder(d.plan)
	s = trace.NewScanner(bytes.NewReader(raw))
	for s.Next() {
		f := s.Frame()
		if decoder.Add(f.TimeNs, f.Channel, &f.Frame) {
			d.fixes = append(d.fixes, decoder.Fix())
		}
	}
	if decoder.Flush() {
		d.fixes = append(d.fixes, decoder.Fix())
	}
	return d
}

// row is a row of a time log (ISO 11783-10): place, GPS time, and the values that
// changed.
type row struct {
	lat, lon int32
	ofDayMs  uint32
	values   map[int]int32 // by DDI, of the first element that has condensed states
}

// timeLogs decodes the time logs of a task by a second, plain reader: rows of the
// log that has the condensed work states.
func timeLogs(t testing.TB, name string) []row {
	t.Helper()
	z, err := zip.OpenReader(name)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	file := func(name string) []byte {
		for _, f := range z.File {
			if path.Base(f.Name) == name {
				r, err := f.Open()
				if err != nil {
					t.Fatal(err)
				}
				b, err := io.ReadAll(r)
				if err != nil {
					t.Fatal(err)
				}
				return b
			}
		}
		t.Fatal("no " + name)
		return nil
	}
	var rows []row
	for _, log := range []string{"TLG00001", "TLG00002", "TLG00003"} {
		var head struct {
			DLV []struct {
				A string `xml:"A,attr"`
				C string `xml:"C,attr"`
			}
		}
		if err := xml.Unmarshal(file(log+".XML"), &head); err != nil {
			t.Fatal(err)
		}
		ddi := make([]int, len(head.DLV))
		element := ""
		for i, d := range head.DLV {
			v, _ := strconv.ParseUint(d.A, 16, 32)
			ddi[i] = int(v)
			if ddi[i] == 161 && element == "" {
				element = d.C
			}
		}
		b := file(log + ".BIN")
		for k := 0; len(b) > 0; k++ {
			// time of the row, PTN A to I: all of them are in every row here
			const fixed = 4 + 2 + 4 + 4 + 4 + 1 + 2 + 2 + 1 + 4 + 2
			r := row{int32(binary.LittleEndian.Uint32(b[6:])), int32(binary.LittleEndian.Uint32(b[10:])), binary.LittleEndian.Uint32(b[24:]), map[int]int32{}}
			n := int(b[fixed])
			b = b[fixed+1:]
			if k == len(rows) {
				rows = append(rows, r)
			}
			for ; n > 0; n-- {
				i := int(b[0])
				if head.DLV[i].C == element {
					rows[k].values[ddi[i]] = int32(binary.LittleEndian.Uint32(b[1:]))
				}
				b = b[5:]
			}
		}
	}
	return rows
}

type switched struct {
	section uint8
	on      bool
}

// The trace of a drive holds the positions, times and changes of work states
// that the task data of the same drive hold, in every form.
func TestTwinOfTaskData(t *testing.T) {
	rows := timeLogs(t, recorded(t, "taskdata/rows-32.zip"))
	if len(rows) != 3633 {
		t.Fatalf("%d rows; expected 3633", len(rows))
	}
	var want []switched
	var at []uint32
	was := map[int]bool{}
	words := map[int]int32{}
	for k, r := range rows {
		for _, d := range []int{141, 161, 162} {
			if v, ok := r.values[d]; ok {
				words[d] = v
			}
		}
		for i := range 32 {
			on := words[141] == 1 && words[161+i/16]>>(2*(i%16))&3 == 1
			if k > 0 && on != was[i] {
				want = append(want, switched{uint8(i), on})
				at = append(at, r.ofDayMs)
			}
			was[i] = on
		}
	}
	for _, name := range []string{"rows-32.candump.log", "rows-32.asc", "rows-32.blf"} {
		d := read(t, recorded(t, "can/"+name))
		if len(d.fixes) != len(rows) {
			t.Fatalf("%s: %d fixes; expected %d", name, len(d.fixes), len(rows))
		}
		for i, f := range d.fixes {
			if int32(math.Round(f.LatDeg*1e7)) != rows[i].lat || int32(math.Round(f.LonDeg*1e7)) != rows[i].lon {
				t.Fatalf("%s: fix %d at %.7f %.7f; expected %d %d", name, i, f.LatDeg, f.LonDeg, rows[i].lat, rows[i].lon)
			}
			if ms := nmea.TimeOfDayNs(f.TimeNs) / 1e6; ms != int64(rows[i].ofDayMs) || f.TimeNs%1e6 != 0 {
				t.Fatalf("%s: fix %d at %d ms of the day; expected %d", name, i, ms, rows[i].ofDayMs)
			}
		}
		if len(d.devices) != 1 {
			t.Fatalf("%s: %d devices; expected 1", name, len(d.devices))
		}
		changes := d.devices[0].Actuals
		on := 0
		var got []switched
		for _, c := range changes {
			got = append(got, switched{c.Section, c.On})
			if c.On {
				on++
			}
		}
		if len(got) != 77 || on != 54 || len(want) != 77 || d.devices[0].Sections() != 32 {
			t.Errorf("%s: %d changes, %d on, %d sections; task data %d; expected 77, 54 on, 32", name, len(got), on, d.devices[0].Sections(), len(want))
		}
		// Changes of one row come in the order of its two words.
		for i := range changes {
			utcNs := changes[i].TimeNs - d.plan.Offset.At(changes[i].TimeNs)
			found := false
			for k := range want {
				found = found || want[k] == got[i] && math.Abs(float64(nmea.TimeOfDayNs(utcNs)/1e6)-float64(at[k])) <= 60
			}
			if !found {
				t.Errorf("%s: change %+v is not in the task data", name, changes[i])
			}
		}
	}
}

// The same trace, written in other forms by python-can and text2pcap, holds the
// same fixes, to the nanosecond of their UTC, and the same changes, although ASC
// and TRC tell another start.
func TestTwinInOtherForms(t *testing.T) {
	log := recorded(t, "can/rows-32.candump.log")
	dir := t.TempDir()
	run := func(name string, args ...string) {
		cmd := exec.Command(name, args...)
		cmd.Env = append(os.Environ(), "TZ=UTC")
		if out, err := cmd.CombinedOutput(); err != nil {
			what := fmt.Sprintf("%s (Debian python3-can, tshark): %v\n%s", name, err, out)
			if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
				t.Fatal(what)
			}
			t.Skip("absent: " + what)
		}
	}
	run("/usr/bin/python3", "../testdata/frames.py", "write", log, dir)
	for _, form := range []string{"pcap", "pcapng"} {
		run("text2pcap", "-q", "-F", form, "-l", "227", "-t", "%Y-%m-%d %H:%M:%S.%f", filepath.Join(dir, "x.hex"), filepath.Join(dir, "x."+form))
	}
	want := read(t, log)
	for _, form := range []string{"asc", "blf", "trc", "pcap", "pcapng", "screen"} {
		got := read(t, filepath.Join(dir, "x."+form))
		if len(got.fixes) != 3633 || len(got.devices) != 1 || len(got.devices[0].Actuals) != 77 {
			t.Errorf("%s: %d fixes, %d devices; expected 3633, 1 with 77 changes", form, len(got.fixes), len(got.devices))
			continue
		}
		aheadNs := got.fixes[0].ArrivalNs - want.fixes[0].ArrivalNs
		for i, g := range got.fixes {
			w := want.fixes[i]
			g.ArrivalNs -= aheadNs
			g.ReadyNs -= aheadNs
			if fmt.Sprint(g) != fmt.Sprint(w) { // NaN equals no NaN
				t.Fatalf("%s: fix %d is %+v; expected %+v", form, i, g, w)
			}
		}
		for i, g := range got.devices[0].Actuals {
			g.TimeNs -= aheadNs
			g.BeforeNs -= aheadNs
			if w := want.devices[0].Actuals[i]; g != w {
				t.Errorf("%s: change %d is %+v; expected %+v", form, i, g, w)
			}
		}
	}
}

// processFrame is a frame of process data (ISO 11783-10).
func processFrame(source, destination uint8, command byte, element, ddi uint16, value uint32) can.Frame {
	f := can.Frame{ID: 0x0CCB0000 | uint32(destination)<<8 | uint32(source), Length: 8, IsExtended: true}
	f.Data[0] = byte(element&15)<<4 | command
	f.Data[1] = byte(element >> 4)
	binary.LittleEndian.PutUint16(f.Data[2:], ddi)
	binary.LittleEndian.PutUint32(f.Data[4:], value)
	return f
}

func TestFrame(t *testing.T) {
	if got, want := process.Frame(0x80, 0xF7, 0xABC, 161, 0x55), processFrame(0x80, 0xF7, 3, 0xABC, 161, 0x55); got != want {
		t.Errorf("%v; expected %v", got, want)
	}
}

func TestChanges(t *testing.T) {
	const controller, implement = 0xF7, 0x80
	var r process.Recorder
	add := func(ms int64, f can.Frame) { r.Add(ms*1e6, 0, &f) }
	add(0, processFrame(controller, implement, 4, 7, 161, 0x55))       // a request by time: no value
	add(0, processFrame(implement, controller, 3, 7, 161, 0b11_10_00)) // off, error, not installed
	add(100, processFrame(controller, implement, 10, 7, 290, 0b01))    // first setpoints: no change
	add(200, processFrame(controller, implement, 3, 7, 290, 0b01_01))  // section 2 was off
	add(220, processFrame(implement, controller, 3, 7, 290, 0b01_01))  // reported back: no order
	add(300, processFrame(implement, controller, 3, 7, 161, 0b01_01))  // sections 1 and 2: section 2 was unknown
	add(400, processFrame(implement, controller, 3, 7, 141, 0))        // the whole element off
	add(500, processFrame(implement, controller, 3, 7, 141, 1))
	add(600, processFrame(controller, implement, 3, 7, 290, 0b11_00)) // section 1 off, section 2 as it is
	d := r.Devices()
	if len(d) != 1 || d[0].Element != 7 || d[0].Node.Address != implement {
		t.Fatalf("devices %+v; expected element 7 of address 128", d)
	}
	wantActuals := []process.Change{
		{TimeNs: 300e6, BeforeNs: 0, Section: 0, On: true},
		{TimeNs: 400e6, BeforeNs: 0, Section: 0, On: false}, {TimeNs: 400e6, BeforeNs: 0, Section: 1, On: false},
		{TimeNs: 500e6, BeforeNs: 400e6, Section: 0, On: true}, {TimeNs: 500e6, BeforeNs: 400e6, Section: 1, On: true},
	}
	wantSetpoints := []process.Change{
		{TimeNs: 200e6, BeforeNs: 100e6, Section: 1, On: true},
		{TimeNs: 600e6, BeforeNs: 200e6, Section: 0, On: false},
	}
	equal := func(what string, got, want []process.Change) {
		t.Helper()
		if len(got) != len(want) {
			t.Errorf("%s: %+v; expected %+v", what, got, want)
			return
		}
		for i := range got {
			if got[i] != want[i] {
				t.Errorf("%s: change %d is %+v; expected %+v", what, i, got[i], want[i])
			}
		}
	}
	equal("actual", d[0].Actuals, wantActuals)
	equal("setpoint", d[0].Setpoints, wantSetpoints)
	if d[0].Orders != 3 || d[0].Reports != 4 || d[0].Sections() != 2 {
		t.Errorf("%d orders, %d reports, %d sections; expected 3, 4, 2", d[0].Orders, d[0].Reports, d[0].Sections())
	}
}

// Setpoints sent to all are those of the one device that has the element.
func TestSentToAll(t *testing.T) {
	var r process.Recorder
	for i, f := range []can.Frame{
		processFrame(0xF7, 0xFF, 3, 0, 290, 0),
		processFrame(0x80, 0xF7, 3, 0, 161, 0),
		processFrame(0xF7, 0xFF, 3, 0, 290, 1),
		processFrame(0x80, 0xF7, 3, 0, 161, 1),
	} {
		r.Add(int64(i)*100e6, 0, &f)
	}
	for range 2 {
		d := r.Devices()
		if len(d) != 1 || d[0].Node.Address != 0x80 || len(d[0].Setpoints) != 1 || len(d[0].Actuals) != 1 {
			t.Fatalf("%+v; expected one device with a setpoint at 200 ms and an actual at 300 ms", d)
		}
		if c := d[0].Setpoints[0]; c.TimeNs != 200e6 || c.BeforeNs != 0 || !c.On {
			t.Errorf("setpoint %+v; expected on at 200 ms, after 0 ms", c)
		}
	}
}

func TestDirectionAndHitch(t *testing.T) {
	frame := func(pgn uint32, data ...byte) can.Frame {
		f := can.Frame{ID: 0x0C000000 | pgn<<8 | 0x1C, Length: uint8(len(data)), IsExtended: true}
		copy(f.Data[:], data)
		return f
	}
	var r process.Recorder
	for i, f := range []can.Frame{
		frame(65096, 0xD0, 0x07, 0, 0, 0, 0, 0, 0b11), // not available
		frame(65096, 0xD0, 0x07, 0, 0, 0, 0, 0, 0b01), // 2 m/s forward
		frame(65096, 0xE8, 0x03, 0, 0, 0, 0, 0, 0b00), // 1 m/s in reverse
		frame(65096, 0xE8, 0x03, 0, 0, 0, 0, 0, 0b00),
		frame(65097, 0xE8, 0x03, 0, 0, 0, 0, 0, 0b01), // ground: wheels are preferred
		frame(65093, 250, 0b00_000000, 0, 0, 0, 0, 0, 0),
		frame(65093, 25, 0b01_000000, 0, 0, 0, 0, 0, 0),
	} {
		r.Add(int64(i)*1e9, 0, &f)
	}
	d := r.Directions()
	if len(d) != 2 || d[0] != (process.Direction{TimeNs: 1e9, PGN: 65096}) || d[1] != (process.Direction{TimeNs: 2e9, Reverse: true, PGN: 65096}) {
		t.Errorf("directions %+v; expected forward at 1 s, reverse at 2 s, of the wheels", d)
	}
	h := r.Hitches()
	if len(h) != 2 || h[0].InWork || h[0].Position != 1 || !h[1].InWork || math.Abs(h[1].Position-0.1) > 1e-12 {
		t.Errorf("hitch %+v; expected out of work at 1, in work at 0.1", h)
	}
	back := frame(65096, 0xE8, 0x03, 0, 0, 0, 0, 0, 0)
	if v, ok := process.SpeedMps(&back); !ok || v != -1 {
		t.Errorf("speed %v %v; expected -1 m/s", v, ok)
	}
}

func FuzzRecorder(f *testing.F) {
	f.Add([]byte("\x0c\xcb\xf7\x80\x08\x73\x00\xa1\x00\x55\x55\x55\x55"))
	f.Fuzz(func(t *testing.T, b []byte) {
		var r process.Recorder
		for i := int64(0); len(b) >= 13; i++ {
			fr := can.Frame{ID: binary.BigEndian.Uint32(b) & can.MaxExtendedID, Length: b[4] & 7, IsExtended: true, Data: can.Data(b[5:13])}
			if b[4]&8 != 0 {
				fr.Length = 8
			}
			r.Add(i*1e6, b[4]>>6, &fr)
			b = b[13:]
		}
		for _, d := range r.Devices() {
			on := map[uint8]bool{}
			for i, c := range d.Actuals {
				if was, ok := on[c.Section]; ok && was == c.On {
					t.Fatalf("change %d of section %d repeats its state", i, c.Section)
				}
				on[c.Section] = c.On
				if c.BeforeNs > c.TimeNs {
					t.Fatalf("change %d is before the report before", i)
				}
			}
		}
		r.Lines()
	})
}
