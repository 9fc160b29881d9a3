// Messages beside canboatjs.

package bus_test

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"liftbench/nmea"
	"liftbench/nmea/bus"
	"liftbench/replay/trace"
)

func missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
		t.Fatal("absent: " + what)
	}
	t.Skip("absent: " + what)
}

// recorded returns the folder of the recorded traces, or skips.
func recorded(t testing.TB) string {
	t.Helper()
	dir := filepath.Join(os.Getenv("LIFTBENCH_DATA"), "can")
	if _, err := os.Stat(filepath.Join(dir, "rows-32.candump.log")); err != nil || os.Getenv("LIFTBENCH_DATA") == "" {
		missing(t, "recorded traces: set LIFTBENCH_DATA to the folder that holds can")
	}
	return dir
}

// frames reads a trace.
func frames(t testing.TB, path string) []trace.Frame {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var list []trace.Frame
	s := trace.NewScanner(f)
	for s.Next() {
		list = append(list, s.Frame())
	}
	if err := s.Err(); err != nil {
		t.Fatal(err)
	}
	return list
}

// decoded is a message as canboatjs gives it.
type decoded struct {
	PGN    bus.PGN
	Src    uint8
	Fields map[string]any
}

// canboat decodes traces with canboatjs; python-can turns those that are no
// candump into one.
func canboat(t testing.TB, paths []string) map[string][]decoded {
	t.Helper()
	if _, err := os.Stat("testdata/outside/node_modules/@canboat/canboatjs"); err != nil {
		missing(t, "canboatjs: run npm ci --ignore-scripts in nmea/bus/testdata/outside")
	}
	if _, err := os.Stat("/usr/lib/python3/dist-packages/can"); err != nil {
		missing(t, "python3-can (Debian)")
	}
	dir := t.TempDir()
	node, convert := []string{"testdata/outside/decode.js"}, []string{"testdata/outside/convert.py"}
	for _, p := range paths {
		switch filepath.Ext(p) {
		case ".asc", ".blf", ".trc":
			out := filepath.Join(dir, filepath.Base(p))
			convert = append(convert, p, out)
			p = out
		}
		node = append(node, p)
	}
	if out, err := exec.Command("/usr/bin/python3", convert...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	out, err := exec.Command("node", node...).Output()
	if err != nil {
		t.Fatal(err)
	}
	list := map[string][]decoded{}
	name := ""
	for line := range bytes.Lines(out) {
		if n, ok := bytes.CutPrefix(line, []byte("= ")); ok {
			name = strings.TrimSpace(string(n))
			list[name] = nil
			continue
		}
		var d decoded
		if err := json.Unmarshal(line, &d); err != nil {
			t.Fatalf("%s: %v", line, err)
		}
		list[name] = append(list[name], d)
	}
	return list
}

// messages decodes frames with this package and nothing else of it: fast packets
// by a second, plain joiner.
func messages(t testing.TB, list []trace.Frame) []sourced {
	t.Helper()
	open := map[uint32][]byte{}
	var out []sourced
	for _, f := range list {
		if !f.IsExtended {
			continue
		}
		p, source, _ := bus.Identify(f.ID)
		data := append([]byte(nil), f.Data[:f.Length]...)
		if p == bus.GNSS {
			k := f.ID<<3 | uint32(data[0]>>5)
			if data[0]&31 == 0 {
				open[k] = data[1:]
			} else {
				open[k] = append(open[k], data[1:]...)
			}
			data = open[k]
			if len(data) == 0 || len(data)-1 < int(data[0]) {
				continue
			}
			data = data[1 : 1+data[0]]
		}
		var m bus.Message
		if bus.Parse(p, data, &m) == nil {
			out = append(out, sourced{source, m})
		}
	}
	return out
}

type sourced struct {
	source uint8
	bus.Message
}

// Every message of the recorded traces that this package decodes says what
// canboatjs says: positions, courses, speeds, headings, rates, times, quality.
func TestSameAsCanboat(t *testing.T) {
	dir := recorded(t)
	paths, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	var kept []string
	for _, p := range paths {
		if !strings.Contains(p, "_V1_0") && !strings.Contains(p, "_V1_1") && !strings.Contains(p, "_V1_3") && !strings.Contains(p, "_V2_0") && !strings.HasSuffix(p, "single_frame.asc") {
			kept = append(kept, p)
			continue
		}
		// python-can fails at these; they hold no message of ours.
		if m := messages(t, frames(t, p)); len(m) > 0 {
			t.Errorf("%s: %d messages, which nobody else has read", p, len(m))
		}
	}
	compared := map[bus.PGN]int{}
	for name, all := range canboat(t, kept) {
		var want []decoded
		for _, d := range all {
			if d.PGN < 0x1F000 || d.PGN == bus.TimeAndDate {
				continue
			}
			switch d.PGN {
			case bus.Position, bus.Motion, bus.GNSS, bus.SystemTime, bus.Heading, bus.RateOfTurn, bus.Variation:
				want = append(want, d)
			}
		}
		var got []sourced
		for _, m := range messages(t, frames(t, filepath.Join(dir, name))) {
			if m.PGN >= 0x1F000 && m.PGN != bus.TimeAndDate {
				got = append(got, m)
			}
		}
		if len(got) != len(want) {
			t.Errorf("%s: %d messages; canboatjs has %d", name, len(got), len(want))
			continue
		}
		for i, w := range want {
			g := got[i]
			if g.PGN != w.PGN || g.source != w.Src || !same(t, &g.Message, w.Fields) {
				t.Errorf("%s: message %d of address %d is %+v; canboatjs has %+v", name, i, g.source, g.Message, w)
				break
			}
			compared[g.PGN]++
		}
	}
	t.Log("compared:", compared)
	if compared[bus.Position] < 3*3633 || compared[bus.GNSS] < 3*364 || compared[bus.Motion] == 0 {
		t.Errorf("compared %v; expected all positions of rows-32 in three forms, and the boats'", compared)
	}
}

func same(t *testing.T, m *bus.Message, f map[string]any) bool {
	number := func(key string) float64 {
		if v, ok := f[key].(float64); ok {
			return v
		}
		return math.NaN()
	}
	ok := true
	near := func(got, want, within float64) {
		if math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > within {
			ok = false
			t.Errorf("%v; canboatjs %v", got, want)
		}
	}
	const rad = 180 / math.Pi
	utc := func() {
		date, _ := f["Date"].(string)
		clock, _ := f["Time"].(string)
		at, err := time.Parse("2006.01.02 15:04:05", date+" "+clock)
		if (err == nil) != m.HasUTC || err == nil && at.UnixNano() != m.UTCNs {
			ok = false
			t.Errorf("UTC %v %d; canboatjs %q %q", m.HasUTC, m.UTCNs, date, clock)
		}
	}
	switch m.PGN {
	case bus.Position:
		near(m.LatDeg, number("Latitude"), 1e-10)
		near(m.LonDeg, number("Longitude"), 1e-10)
	case bus.GNSS:
		near(m.LatDeg, number("Latitude"), 1e-10)
		near(m.LonDeg, number("Longitude"), 1e-10)
		near(m.HeightM, number("Altitude"), 1e-9)
		near(m.GeoidM, number("Geoidal Separation"), 1e-9)
		near(float64(m.HDOP), number("HDOP"), 1e-6)
		if v := number("Number of SVs"); !math.IsNaN(v) && v != float64(m.Satellites) {
			ok = false
		}
		if q := map[string]nmea.Quality{"no GNSS": nmea.NoFix, "GNSS fix": nmea.Autonomous, "DGNSS fix": nmea.Differential, "RTK Fixed Integer": nmea.RTKFixed, "RTK float": nmea.RTKFloat}[f["Method"].(string)]; q != m.Quality {
			t.Errorf("%s; canboatjs %v", m.Quality, f["Method"])
			ok = false
		}
		utc()
	case bus.SystemTime:
		utc()
	case bus.Motion:
		near(m.CourseDeg, number("COG")*rad, 1e-9)
		near(m.SpeedMps, number("SOG"), 1e-9)
		ok = ok && m.Magnetic == (f["COG Reference"] == "Magnetic")
	case bus.Heading:
		heading := number("Heading") * rad
		if d := number("Deviation"); !math.IsNaN(d) && f["Reference"] == "Magnetic" {
			heading = math.Mod(heading+d*rad+360, 360)
		}
		near(m.HeadingDeg, heading, 1e-9)
		near(m.VariationDeg, number("Variation")*rad, 1e-9)
		ok = ok && m.Magnetic == (f["Reference"] == "Magnetic")
	case bus.RateOfTurn:
		near(m.YawRateDegPerS, number("Rate")*rad, 1e-6)
	case bus.Variation:
		near(m.VariationDeg, number("Variation")*rad, 1e-9)
	}
	return ok
}

// plan surveys a trace.
func plan(t testing.TB, list []trace.Frame, address int) *bus.Plan {
	t.Helper()
	var s bus.Survey
	for i := range list {
		s.Add(list[i].TimeNs, list[i].Channel, &list[i].Frame)
	}
	p, err := s.Plan(address)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// fixes decodes a trace by a plan.
func fixes(list []trace.Frame, p *bus.Plan) ([]nmea.Fix, bus.Counts) {
	var out []nmea.Fix
	d := bus.NewDecoder(p)
	for i := range list {
		if d.Add(list[i].TimeNs, list[i].Channel, &list[i].Frame) {
			out = append(out, d.Fix())
		}
	}
	if d.Flush() {
		out = append(out, d.Fix())
	}
	return out, d.Counts()
}
