package taskdata_test

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"liftbench/nmea"
	"liftbench/replay/taskdata"
	"liftbench/sections"
)

// made is a log made by hand, byte by byte as ISO 11783-10 lays it out.
type made struct {
	header string
	rows   []byte
}

// Its positions have north, east, status, GPS time and date.
func newMade(columns ...string) *made {
	m := &made{header: `<TIM A="" D="4"><PTN A="" B="" D="" H="" I=""/>`}
	for _, c := range columns {
		ddi, element, _ := strings.Cut(c, " ")
		m.header += fmt.Sprintf(`<DLV A="%s" B="" C="%s"/>`, ddi, element)
	}
	m.header += "</TIM>"
	return m
}

const madeDay = 15632 // 2022-10-19, 1666137600 s after 1970

// add adds a row: the terminal's time and the GPS time in ms of that day, a position counted in steps of
// 0.1 m or so north, and values as column, value, …
func (m *made) add(ms, gpsMs int, step int, values ...int) {
	le := binary.LittleEndian
	day := madeDay + ms/86400000
	m.rows = le.AppendUint16(le.AppendUint32(m.rows, uint32(ms%86400000)), uint16(day))
	m.rows = le.AppendUint32(m.rows, uint32(52e7+9*step))
	m.rows = le.AppendUint32(m.rows, 8e7)
	m.rows = append(m.rows, 4)
	m.rows = le.AppendUint16(le.AppendUint32(m.rows, uint32(gpsMs%86400000)), uint16(madeDay+gpsMs/86400000))
	m.rows = append(m.rows, byte(len(values)/2))
	for k := 0; k < len(values); k += 2 {
		m.rows = le.AppendUint32(append(m.rows, byte(values[k])), uint32(int32(values[k+1])))
	}
}

// read reads the log with these elements in TASKDATA.XML, and connections in its task.
func (m *made) read(t *testing.T, elements, task string) (*taskdata.Set, *taskdata.Day) {
	t.Helper()
	s, err := taskdata.Open(files("TASKDATA.XML", root(elements+`<TSK A="TSK1" G="4"><TLG A="TLG00001" C="1"/>`+task+`</TSK>`), "TLG00001.XML", m.header, "TLG00001.BIN", string(m.rows)), "")
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Damage) > 0 {
		t.Fatalf("damage %v", s.Damage)
	}
	d, err := s.Day(taskdata.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return s, d
}

// threeSections is a hoe whose elements run from right to left: DET-5 is the rightmost. The middle one has no
// offset forward of its own.
const threeSections = `<DVC A="DVC-1"><DET A="DET-1" B="1" C="1" E="0" F="0"/><DET A="DET-2" B="2" C="2" E="1" F="1"><DOR A="20"/></DET>
<DET A="DET-3" B="3" C="4" E="2" F="2"><DOR A="10"/><DOR A="13"/></DET><DET A="DET-4" B="4" C="4" E="3" F="2"><DOR A="11"/><DOR A="13"/></DET>
<DET A="DET-5" B="5" C="4" E="4" F="2"><DOR A="12"/><DOR A="13"/><DOR A="21"/></DET><DET A="DET-6" B="6" C="3" E="5" F="2"/><DET A="DET-7" B="7" C="5" E="6" F="3"/>
<DET A="DET-8" B="8" C="6" E="7" F="1"><DOR A="30"/><DOR A="31"/></DET>
<DPT A="10" B="0087" C="2000"/><DPT A="11" B="0087" C="0"/><DPT A="12" B="0087" C="-2000"/><DPT A="13" B="0043" C="1900"/><DPT A="20" B="0086" C="-1500"/><DPT A="21" B="0086" C="-1800"/>
<DPT A="30" B="0086" C="250"/><DPT A="31" B="009D" C="3"/></DVC>`

// A tractor with its rear hitch 0.9 m behind the axle and 5 cm right, and an antenna.
const tractor = `<DVC A="DVC-9"><DET A="DET-91" B="1" C="1" E="0" F="0"/><DET A="DET-92" B="2" C="6" E="1" F="1"><DOR A="10"/><DOR A="11"/><DOR A="12"/></DET>
<DET A="DET-93" B="3" C="7" E="2" F="1"><DOR A="13"/><DOR A="14"/><DOR A="15"/></DET>
<DPT A="10" B="0086" C="-900"/><DPT A="11" B="0087" C="50"/><DPT A="12" B="009D" C="3"/><DPT A="13" B="0086" C="400"/><DPT A="14" B="0087" C="-20"/><DPT A="15" B="0088" C="-2900"/></DVC>`

const connected = `<CNN A="DVC-9" B="DET-92" C="DVC-1" D="DET-8"/>`

func TestStates(t *testing.T) {
	// The word, its parent's state, the setpoint word.
	m := newMade("00A1 DET-2", "008D DET-1", "0122 DET-2")
	m.add(0, 0, 0, 0, 0b010101, 1, 1, 2, 0b010101)
	m.add(100, 100, 1)                           // nothing is said: nothing has changed
	m.add(200, 200, 2, 0, 0b010001)              // the middle one off
	m.add(300, 300, 3, 1, 0)                     // the whole device off: all are
	m.add(400, 400, 4, 0, 0b000001)              // and stay so
	m.add(500, 500, 5, 1, 1)                     // on: the left one alone works
	m.add(600, 600, 6, 0, 0b110101, 2, 0b111100) // right: not installed, stays; setpoint: only the left off
	m.add(700, 700, 7, 0, 0b100101, 2, 0b000111) // right: error, stays
	m.add(800, 800, 8, 0, -1<<6|0b010101, 2, 21) // sections that are not there
	for k := 9; k < 20; k++ {
		m.add(100*k, 100*k, k) // rows come each 0.1 s, whatever the states do
	}
	_, d := m.read(t, threeSections, "")
	want := "[200 1 off 300 0 off 300 2 off 500 0 on 600 1 on 800 2 on]"
	if got := told(d.Actual.Changes); got != want {
		t.Errorf("actual %s, expected %s", got, want)
	}
	if got, want := told(d.Setpoint.Changes), "[600 0 off 700 2 off 800 0 on 800 2 on]"; got != want {
		t.Errorf("setpoint %s, expected %s", got, want)
	}
	if told(d.Actual.First) != "[0 0 on 0 1 on 0 2 on]" {
		t.Errorf("first %s", told(d.Actual.First))
	}
	for _, c := range d.Actual.Changes {
		if c.AtNs-c.AfterNs != 100e6 {
			t.Errorf("%+v: expected within the 100 ms since the row before", c)
		}
	}
}

// Where a row is written when a state changes, besides one each second, the change was then.
func TestRowsOnChange(t *testing.T) {
	m := newMade("00A1 DET-2")
	m.add(0, 0, 0, 0, 0)
	on := 0
	for k := 1; k <= 40; k++ {
		if k%5 == 0 {
			on = 21 - on
			at := 1000*k - 100*(k/5%8) - 150
			m.add(at, at, 10*k-5, 0, on)
		}
		m.add(1000*k, 1000*k, 10*k)
	}
	_, d := m.read(t, threeSections, "")
	if len(d.Actual.Changes) != 24 {
		t.Fatalf("%s", told(d.Actual.Changes))
	}
	for _, c := range d.Actual.Changes {
		if c.AfterNs != c.AtNs {
			t.Errorf("within %d ms, expected the instant of its row", (c.AtNs-c.AfterNs)/1e6)
		}
	}
}

func told(changes []taskdata.Change) string {
	var parts []string
	for _, c := range changes {
		on := "off"
		if c.On {
			on = "on"
		}
		parts = append(parts, fmt.Sprint(c.AtNs/1e6%86400000, " ", c.Section, " ", on))
	}
	return fmt.Sprint(parts)
}

// Sections that tell their own state, and a device that has none.
func TestStatesOfElements(t *testing.T) {
	m := newMade("008D DET-3", "008D DET-4", "008D DET-5", "008D DET-2")
	m.add(0, 0, 0, 0, 1, 1, 1, 2, 1)
	m.add(100, 100, 1, 1, 0)
	m.add(200, 200, 2, 3, 0)
	m.add(300, 300, 3, 3, 1)
	if _, d := m.read(t, threeSections, ""); told(d.Actual.Changes) != "[100 1 off 200 0 off 200 2 off 300 0 on 300 2 on]" {
		t.Errorf("%s", told(d.Actual.Changes))
	}
	m = newMade("008D DET-1")
	m.add(0, 0, 0, 0, 1)
	m.add(100, 100, 1, 0, 0)
	if _, d := m.read(t, `<DVC A="DVC-1"><DET A="DET-1" B="1" C="1" E="0" F="0"/><DET A="DET-2" B="2" C="2" E="1" F="1"><DOR A="3"/></DET><DPT A="3" B="0043" C="6000"/></DVC>`, ""); told(d.Actual.Changes) != "[100 0 off]" || d.Geometry.Sections[0].WidthM != 6 {
		t.Errorf("%s, %+v", told(d.Actual.Changes), d.Geometry.Sections)
	}
}

// A change lies after the report before it where a column is polled, after the row before it where
// the column is told on change.
func TestIntervals(t *testing.T) {
	polled := newMade("00A1 DET-2")
	for k := range 100 {
		var v []int
		if k%10 == 0 {
			v = []int{0, 21 * (k / 20 % 2)}
		}
		polled.add(100*k, 100*k, k, v...)
	}
	_, d := polled.read(t, threeSections, "")
	for _, c := range d.Actual.Changes {
		if c.AtNs-c.AfterNs != 1000e6 {
			t.Errorf("polled each second: within %d ms", (c.AtNs-c.AfterNs)/1e6)
		}
	}
	if len(d.Actual.Changes) != 12 {
		t.Errorf("polled: %s", told(d.Actual.Changes))
	}
	// Told each second and, besides, within 0.1 s of a change.
	m := newMade("00A1 DET-2")
	for k := range 200 {
		var v []int
		switch {
		case k == 33 || k == 114:
			v = []int{0, 21}
		case k == 68 || k == 155:
			v = []int{0, 0}
		case k%10 == 0:
			word := 0
			if k > 33 && k < 68 || k > 114 && k < 155 {
				word = 21
			}
			v = []int{0, word}
		}
		m.add(100*k, 100*k, k, v...)
	}
	_, d = m.read(t, threeSections, "")
	if len(d.Actual.Changes) != 12 {
		t.Errorf("on change: %s", told(d.Actual.Changes))
	}
	for _, c := range d.Actual.Changes {
		if c.AtNs-c.AfterNs != 100e6 {
			t.Errorf("told on change: within %d ms", (c.AtNs-c.AfterNs)/1e6)
		}
	}
}

func TestGeometry(t *testing.T) {
	m := newMade("00A1 DET-2", "00CD DET-2", "00CE DET-2", "0086 DET-4")
	m.add(0, 0, 0, 0, 0, 1, 800, 2, 500, 3, -1600)
	m.add(100, 100, 1, 3, -9999) // the first value counts
	_, d := m.read(t, threeSections+tractor, connected)
	g := d.Geometry
	// x = −0.9 − 0.25 + x, y = 0.05 − 0 + y.
	for k, want := range []struct {
		element string
		x, y    float64
	}{{"DET-5", -2.95, -1.95}, {"DET-4", -2.75, 0.05}, {"DET-3", -2.65, 2.05}} {
		s := g.Sections[k]
		if s.Element != want.element || math.Abs(s.XM-want.x) > 1e-9 || math.Abs(s.YM-want.y) > 1e-9 || s.WidthM != 1.9 || !s.LeadsKnown || s.DropNs != 800e6 || s.LiftNs != 500e6 {
			t.Errorf("section %d: %+v, expected %+v", k+1, s, want)
		}
	}
	if g.Tractor != "DVC-9" || g.AntennaXM != 0.4 || g.AntennaYM != -0.02 || g.AntennaZM != 2.9 || g.HitchXM != -0.9 || g.Hitch != 3 || g.Hitch.Trailed() || len(g.Unsure) > 0 {
		t.Errorf("%+v", g)
	}
	// Without a connection the one device with the same type of hitch and an antenna is taken, and said.
	_, d = m.read(t, threeSections+tractor, "")
	if d.Geometry.Tractor != "DVC-9" || d.Geometry.Sections[0].XM != g.Sections[0].XM || !strings.Contains(fmt.Sprint(d.Geometry.Unsure), "same type of connector") {
		t.Errorf("without a connection: %+v", d.Geometry)
	}
	_, d = m.read(t, threeSections+strings.ReplaceAll(tractor, `C="3"/><DPT A="13"`, `C="1"/><DPT A="13"`), "")
	if d.Geometry.Tractor != "" || !strings.Contains(fmt.Sprint(d.Geometry.Unsure), "nothing says what DVC-1 hangs on") {
		t.Errorf("another hitch: %+v", d.Geometry)
	}
	// A cart between tractor and hoe: the hitches add up. Its own are 1 m ahead of and 2 m behind its axle.
	cart := `<DVC A="DVC-5"><DET A="DET-51" B="1" C="1" E="0" F="0"/><DET A="DET-52" B="2" C="6" E="1" F="1"><DOR A="10"/></DET><DET A="DET-53" B="3" C="6" E="2" F="1"><DOR A="11"/></DET>
<DPT A="10" B="0086" C="1000"/><DPT A="11" B="0086" C="-2000"/></DVC>`
	_, d = m.read(t, threeSections+cart+tractor, `<CNN A="DVC-5" B="DET-53" C="DVC-1" D="DET-8"/><CNN A="DVC-5" B="DET-52" C="DVC-9" D="DET-92"/>`)
	if x := d.Geometry.Sections[0].XM; math.Abs(x-(-2.95-3)) > 1e-9 || d.Geometry.Tractor != "DVC-9" {
		t.Errorf("behind a cart: x %.3f, expected -5.95; %+v", x, d.Geometry)
	}
}

// Offsets of the terminal's clock as real ones had them.
func TestClock(t *testing.T) {
	const day = 86_400_000
	for name, c := range map[string]struct {
		terminalMs, gpsMs int // of the first row
		date              int // of the receiver, days from the right one; 0: right
		offsetS           float64
	}{
		"right":                              {40_000_000, 40_000_000, 0, 0},
		"two hours ahead":                    {40_000_000, 32_942_000, 0, -7058},
		"date a day behind":                  {40_000_000, 40_028_000, -1, 28},
		"behind":                             {40_000_000, 42_039_000, 0, 2039},
		"13 h ahead":                         {13*3600e3 + 40_000, 40_000, 0, -13 * 3600},
		"past midnight, not yet in UTC":      {day + 60_000, day - 7_140_000, 0, -7200},
		"so with a date of years ago":        {day + 60_000, day - 7_140_000, -2000, -7200},
		"past midnight in UTC, not yet here": {day - 100_000, day + 14_300_000, 0, 14_400},
		"so with a date of long ago":         {day - 100_000, day + 14_300_000, -2000, 14_400},
	} {
		m := newMade("00A1 DET-2")
		for k := range 600 {
			m.add(c.terminalMs+100*k, c.gpsMs+100*k, k, 0, 21*(k/300))
		}
		if c.date != 0 {
			for at := 0; at+22 <= len(m.rows); {
				n := int(m.rows[at+21])
				binary.LittleEndian.PutUint16(m.rows[at+19:], uint16(madeDay+c.date))
				at += 22 + 5*n
			}
		}
		_, d := m.read(t, threeSections, "")
		if got := float64(d.Clock.OffsetNs) / 1e9; math.Abs(got-c.offsetS) > 1e-6 || d.Clock.Source != taskdata.GPS || d.Clock.Steps != 0 {
			t.Errorf("%s: %v, expected %+.0f s", name, d.Clock, c.offsetS)
		}
		// The change is at the 300th fix.
		if len(d.Fixes) != 600 || len(d.Actual.Changes) != 3 || d.Actual.Changes[0].AtNs != d.Fixes[300].TimeNs {
			t.Errorf("%s: %d fixes, changes %s", name, len(d.Fixes), told(d.Actual.Changes))
		}
	}
}

// The terminal's clock runs slow, is set in the middle, and the receiver's stands still for a while: each change stays
// beside the fix that it came with.
func TestClockWanders(t *testing.T) {
	m := newMade("00A1 DET-2")
	terminal := 30_000_000.0
	var at []int // of the changes: GPS ms
	for k := range 3000 {
		gps := 30_500_000 + 100*k
		terminal += 99.3 // 0.7 % slow
		if k == 2000 {
			terminal += 45_000 // set forward
		}
		if k >= 1000 && k < 1050 {
			gps = 30_500_000 + 100*999 // stands still
		}
		var v []int
		if k%300 == 150 {
			v = []int{0, 21 * (k / 300 % 2)}
			at = append(at, 30_500_000+100*k)
		}
		m.add(int(terminal), gps, k, v...)
	}
	_, d := m.read(t, threeSections, "")
	if d.Clock.Steps != 1 || math.Abs(d.Clock.DriftPPM-7049) > 50 {
		t.Errorf("%v; expected one step and 7049 ppm", d.Clock)
	}
	if f := float64(d.Clock.FrozenNs) / 1e9; math.Abs(f-5) > 0.2 {
		t.Errorf("stood still for %.1f s, expected 5", f)
	}
	if len(d.Fixes) != 2950 {
		t.Errorf("%d fixes, expected 2950", len(d.Fixes))
	}
	if len(d.Actual.Changes) != 27 {
		t.Fatalf("%d changes", len(d.Actual.Changes))
	}
	for k, c := range d.Actual.Changes {
		if off := c.AtNs/1e6%86400000 - int64(at[k/3+1]); off < -20 || off > 20 {
			t.Errorf("change %d is %d ms off", k, off)
		}
	}
}

func TestClockGiven(t *testing.T) {
	m := newMade("00A1 DET-2")
	for k := range 50 {
		m.add(1000*k, 0, k, 0, 21*(k/25))
	}
	s, d := m.read(t, threeSections, "")
	if d.Clock.Source != taskdata.TerminalOnly || len(d.Fixes) != 50 {
		t.Errorf("%v, %d fixes", d.Clock, len(d.Fixes))
	}
	given, err := s.Day(taskdata.Options{OffsetNs: -7200e9, OffsetKnown: true})
	if err != nil || given.Clock.Source != taskdata.Given || given.Fixes[7].TimeNs != d.Fixes[7].TimeNs-7200e9 || given.Actual.Changes[0].AtNs != d.Actual.Changes[0].AtNs-7200e9 {
		t.Errorf("%v, %v", err, given.Clock)
	}
}

func TestFixes(t *testing.T) {
	m := newMade()
	le := binary.LittleEndian
	position := func(k int, north, east int32, status byte) {
		at := len(m.rows)
		m.add(1000*k, 1000*k, 0)
		le.PutUint32(m.rows[at+6:], uint32(north))
		le.PutUint32(m.rows[at+10:], uint32(east))
		m.rows[at+14] = status
	}
	for k := range 30 {
		position(k, int32(52e7+180*k), 8e7, 4) // 2.00 m a second
	}
	position(30, 0, 0, 4)
	position(31, 52e7, 8e7, 0)
	position(32, 52e7, 8e7, 14)
	position(33, 91e7, 8e7, 4)
	for k := 34; k < 60; k++ {
		position(k, 42e7, int32(-93e7+146*(k-34)), 8) // 1.2 m a second east, on another continent
	}
	_, d := m.read(t, "", "")
	if len(d.Fixes) != 56 || fmt.Sprint(d.Starts) != "[0 30]" || d.NoPosition != 4 || !d.Simulated {
		t.Fatalf("%d fixes, tracks from %v, %d without position, simulated %v", len(d.Fixes), d.Starts, d.NoPosition, d.Simulated)
	}
	for k, f := range d.Fixes {
		speed, course, quality := 2.003, 0.0, nmea.RTKFixed // 180e-7° of latitude at 52° is 2.003 m (M = 6374 km)
		if k >= 30 {
			speed, course, quality = 1.208, 90, nmea.Simulator
		}
		turn := math.Remainder(f.CourseDeg-course, 360)
		if math.Abs(f.SpeedMps-speed) > 0.004 || math.Abs(turn) > 0.1 || f.Quality != quality || !math.IsNaN(f.HeightM) {
			t.Errorf("fix %d: %+v, expected %g m/s at %g°", k, f, speed, course)
		}
	}
	// 200 m in a hole of 12 s is no drive, 100 m is one.
	m = newMade()
	for k, step := range []int{0, 1, 2, 1002, 1003, 3003, 3004} {
		ms := 1000 * k
		if k >= 3 {
			ms += 11_000
		}
		if k >= 5 {
			ms += 11_000
		}
		m.add(ms, ms, step)
	}
	if _, d := m.read(t, "", ""); fmt.Sprint(d.Starts) != "[0 5]" {
		t.Errorf("tracks from %v, expected [0 5]", d.Starts)
	}
	if d.Bank != nil || !strings.Contains(fmt.Sprint(d.Unsure), "no work states") {
		t.Errorf("%v", d.Unsure)
	}
}

func TestFields(t *testing.T) {
	ring := func(kind string, north, east, size float64, closed bool) string {
		text := fmt.Sprintf(`<LSG A="%s">`, kind)
		corners := [][2]float64{{0, 0}, {0, 1}, {1, 1}, {1, 0}, {0, 0}}
		if !closed {
			corners = corners[:4]
		}
		for _, c := range corners {
			text += fmt.Sprintf(`<PNT A="2" C="%.7f" D="%.7f"/>`, north+size*c[0], east+size*c[1])
		}
		return text + "</LSG>"
	}
	xml := `<PFD A="PFD1" C="x" D="12345"><PLN A="1">` + ring("2", 52.001, 8.001, 0.001, true) + `</PLN><PLN A="1">` + ring("1", 52, 8, 0.01, false) + `</PLN>` +
		`<PLN A="9">` + ring("1", 52.002, 8.002, 0.005, true) + `</PLN><PLN A="10">` + ring("1", 52, 8, 0.002, true) + `</PLN><PLN A="3">` + ring("1", 52.004, 8.004, 0.001, true) + `</PLN>` +
		`<PLN A="11">` + ring("1", 52.004, 8.004, 0.001, true) + `</PLN>` +
		`<PLN A="6"><LSG A="1"><PNT A="2" C="1" D="1"/></LSG></PLN>` +
		`<GGP A="GGP1"><GPN A="GPN1" C="1"><LSG A="5"><PNT A="6" C="52" D="8"/><PNT A="7" C="52.001" D="8.0016243"/></LSG></GPN><GPN A="GPN2" C="2" G="33.5"><LSG A="5"><PNT A="6" C="52" D="8"/></LSG></GPN>` +
		`<GPN A="GPN3" C="3"><LSG A="5"><PNT A="2" C="52" D="8"/><PNT A="2" C="52.1" D="8"/></LSG></GPN><GPN A="GPN4" C="1"><LSG A="5"><PNT A="2" C="52" D="8"/><PNT A="9" C="53" D="9"/><PNT A="2" C="51.999" D="8"/></LSG></GPN></GGP></PFD>`
	s, err := taskdata.Open(files("TASKDATA.XML", root(xml)), "")
	if err != nil {
		t.Fatal(err)
	}
	f := s.Field("PFD1")
	var got []string
	for _, z := range f.Zones {
		got = append(got, fmt.Sprintf("%s %d", z.Kind, len(z.Polygon)))
		for _, r := range z.Polygon {
			if !r.Closed() {
				t.Errorf("%s: an open ring", z.Kind)
			}
		}
	}
	if want := "[ 2 body 1 headland 1 keep-out 1]"; fmt.Sprint(got) != want || f.AreaM2 != 12345 {
		t.Errorf("zones %v, expected %s", got, want)
	}
	if len(s.Damage) != 1 || !strings.Contains(s.Damage[0].What, "1 rings") {
		t.Errorf("damage %v", s.Damage)
	}
	// By sphere and ellipsoid alike 45° within a fifth of a degree: 0.0016243° east at 52° is as far as 0.001° north
	// on a sphere.
	if len(f.Guides) != 3 || math.Abs(f.Guides[0].BearingDeg-45) > 0.2 || f.Guides[1].BearingDeg != 33.5 || math.Abs(f.Guides[2].BearingDeg-180) > 1e-6 {
		t.Errorf("guides %+v", f.Guides)
	}
	if b, err := f.GeoJSON(); err != nil || !strings.Contains(string(b), `"zone":"keep-out"`) || !strings.Contains(string(b), `"row_bearing_deg":4`) {
		t.Errorf("%v %s", err, b)
	}
}

func TestChoice(t *testing.T) {
	m := newMade("00A1 DET-2", "008D DET-91")
	for k := range 20 {
		m.add(100*k, 100*k, k, 0, 21*(k/10), 1, k%2)
	}
	s, d := m.read(t, threeSections+tractor, connected)
	// The tractor's own state changed more often, and is not that of sections.
	if d.Bank.Element != "DET-2" || len(s.Tasks[0].Banks) != 2 {
		t.Errorf("%+v", s.Tasks[0].Banks)
	}
	if d, err := s.Day(taskdata.Options{DeviceID: "DVC-9"}); err != nil || len(d.Actual.Changes) != 19 {
		t.Errorf("%v: the tractor's states", err)
	}
	var choice *taskdata.ChoiceError
	if _, err := s.Day(taskdata.Options{DeviceID: "DVC-7"}); !errors.As(err, &choice) || choice.What != "device" || len(choice.Of) != 2 {
		t.Errorf("%v", err)
	}
	if _, err := s.Day(taskdata.Options{TaskID: "TSK7"}); !errors.As(err, &choice) || fmt.Sprint(choice.Of) != "[TSK1]" {
		t.Errorf("%v", err)
	}
}

func TestMachine(t *testing.T) {
	m := newMade("00A1 DET-2")
	m.add(0, 0, 0, 0, 0)
	m.add(100, 100, 1)
	front := strings.ReplaceAll(tractor, `C="-900"`, `C="5200"`)
	trailed := strings.NewReplacer(`B="009D" C="3"`, `B="009D" C="1"`)
	pivot := strings.NewReplacer(`<DOR A="31"/>`, `<DOR A="31"/><DOR A="40"/>`, `</DVC>`, `<DPT A="40" B="0108" C="-1750"/></DVC>`)
	for name, c := range map[string]struct {
		hoe, tractor string
		mount        sections.Mount
		drawbar      float64
		says         string
	}{
		"rear":              {threeSections, tractor, sections.RearRigid, 0, ""},
		"front":             {threeSections, front, sections.FrontRigid, 0, ""},
		"trailed":           {trailed.Replace(pivot.Replace(threeSections)), trailed.Replace(tractor), sections.Trailed, 1.75, ""},
		"trailed, no pivot": {trailed.Replace(threeSections), trailed.Replace(tractor), sections.Trailed, 1.85, "DDI 264"},
	} {
		_, d := m.read(t, c.hoe+c.tractor, connected)
		got, unsure := d.Machine()
		if err := got.Validate(); err != nil || got.Mount != c.mount || math.Abs(got.DrawbarM-c.drawbar) > 1e-9 || len(got.Sections) != 3 || got.AntennaXM != 0.4 {
			t.Errorf("%s: %v, %+v", name, err, got)
		}
		if text := fmt.Sprint(unsure); (c.says == "") != (len(unsure) == 0) || !strings.Contains(text, c.says) {
			t.Errorf("%s: %s", name, text)
		}
	}
	// What is missing is said.
	_, d := m.read(t, `<DVC A="DVC-1"><DET A="DET-1" B="1" C="1" F="0"/><DET A="DET-2" B="2" C="2" F="1"/><DET A="DET-3" B="3" C="4" F="2"/></DVC>`, "")
	if _, unsure := d.Machine(); len(unsure) != 4 {
		t.Errorf("%q", unsure)
	}
}

// Parallel logs of one task, and one after them: joined by time, whatever their order in the file.
func TestJoined(t *testing.T) {
	word, whole, later := newMade("00A1 DET-2"), newMade("008D DET-1"), newMade("00A1 DET-2")
	for k := range 50 {
		word.add(100*k, 100*k, k, 0, 21*(k/10%2))
		if k%2 == 0 { // a log of half the rate
			whole.add(100*k, 100*k, k, 0, 1-k/40)
		}
		later.add(100*(k+60), 100*(k+60), k+60, 0, 21*(k/25))
	}
	for _, order := range [][3]*made{{word, whole, later}, {later, whole, word}} {
		fs := []string{"TASKDATA.XML", root(threeSections + `<TSK A="TSK1" G="4"><TLG A="TLG00001" C="1"/><TLG A="TLG00002" C="1"/><TLG A="TLG00003" C="1"/></TSK>`)}
		for k, m := range order {
			fs = append(fs, fmt.Sprintf("TLG0000%d.xml", k+1), m.header, fmt.Sprintf("tlg0000%d.bin", k+1), string(m.rows))
		}
		s, err := taskdata.Open(files(fs...), "")
		if err != nil {
			t.Fatal(err)
		}
		d, err := s.Day(taskdata.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if d.Rows != 100 || len(d.Fixes) != 100 || len(d.Starts) != 1 {
			t.Errorf("%d rows, %d fixes, tracks from %v; expected 100, 100, [0]", d.Rows, len(d.Fixes), d.Starts)
		}
		// On at 1 s, off at 2 s, on at 3 s, off at 4 s by word and device; the device stays off.
		if got := told(d.Actual.Changes); got != "[1000 0 on 1000 1 on 1000 2 on 2000 0 off 2000 1 off 2000 2 off 3000 0 on 3000 1 on 3000 2 on 4000 0 off 4000 1 off 4000 2 off]" {
			t.Errorf("%s", got)
		}
	}
}

// Reading allocates by the log, not by the row.
func TestNoAllocationPerRow(t *testing.T) {
	allocations := func(rows int) float64 {
		m := newMade("00A1 DET-2")
		for k := range rows {
			m.add(100*k, 100*k, k, 0, 21)
		}
		fsys := files("TASKDATA.XML", root(threeSections+tractor+`<TSK A="TSK1" G="4"><TLG A="TLG00001" C="1"/></TSK>`), "TLG00001.XML", m.header, "TLG00001.BIN", string(m.rows))
		s, err := taskdata.Open(fsys, "")
		if err != nil {
			t.Fatal(err)
		}
		return testing.AllocsPerRun(3, func() {
			if d, err := s.Day(taskdata.Options{}); err != nil || len(d.Fixes) != rows {
				t.Fatal(err)
			}
		})
	}
	if few, many := allocations(2000), allocations(20_000); many > few+20 {
		t.Errorf("%g allocations for 2000 rows, %g for 20000", few, many)
	}
}

// A receiver that gives no time for a while: the terminal's clock, fitted where it did, stands in.
func TestNoGPSTime(t *testing.T) {
	m := newMade("00A1 DET-2")
	for k := range 400 {
		at := len(m.rows)
		m.add(1000*k, 1000*k-7_200_000+86_400_000, k, 0, 21)
		binary.LittleEndian.PutUint16(m.rows[at+19:], madeDay-1)
		if k >= 100 && k < 130 {
			binary.LittleEndian.PutUint32(m.rows[at+15:], math.MaxUint32)
		}
	}
	_, d := m.read(t, threeSections, "")
	if len(d.Fixes) != 400 || d.Clock.OffsetNs != -7200e9 {
		t.Fatalf("%d fixes, %v", len(d.Fixes), d.Clock)
	}
	for k := 1; k < 400; k++ {
		if s := d.Fixes[k].TimeNs - d.Fixes[k-1].TimeNs; s != 1e9 {
			t.Errorf("fix %d is %d ms after the one before", k, s/1e6)
		}
	}
}
