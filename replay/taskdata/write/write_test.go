package write_test

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"liftbench/nmea"
	"liftbench/replay/taskdata"
	"liftbench/replay/taskdata/device"
	"liftbench/replay/taskdata/write"
	"liftbench/sections"
)

// day draws a day: a drive, a machine, states.
func day(t *rapid.T) *write.Day {
	n := rapid.IntRange(1, 34).Draw(t, "sections")
	d := &write.Day{AreaM2: float64(rapid.IntRange(0, 1e6).Draw(t, "area")), OffsetNs: int64(rapid.IntRange(-13*3600e3, 12*3600e3).Draw(t, "offset")) * 1e6}
	g := &d.Machine
	g.Tractor, g.AntennaKnown = "DVC-1", true
	m := func(name string, least, most float64) float64 { return rapid.Float64Range(least, most).Draw(t, name) }
	g.AntennaXM, g.AntennaYM, g.AntennaZM = m("antenna x", 0.01, 4), m("antenna y", -1, 1), m("antenna z", 2, 4)
	g.HitchXM, g.Hitch, g.PivotM = m("hitch", -2, 4), device.Mounted, m("pivot", 0, 6)
	g.SetpointDelayMs, g.ActualDelayMs = int32(rapid.IntRange(-1, 900).Draw(t, "latency")), int32(rapid.IntRange(-1, 900).Draw(t, "latency"))
	y := m("left", -20, 0)
	for range n {
		w := m("width", 0.2, 6)
		g.Sections = append(g.Sections, device.At{XM: m("x", -9, 4), YM: y + w/2, WidthM: w, LeadsKnown: true,
			DropNs: int64(rapid.IntRange(0, 4000).Draw(t, "drop")) * 1e6, LiftNs: int64(rapid.IntRange(0, 4000).Draw(t, "lift")) * 1e6})
		y += w
	}
	at := int64(rapid.IntRange(946684800, 1893456000).Draw(t, "start")) * 1e9 // 2000 to 2030
	f := nmea.EmptyFix()
	f.Dated, f.Quality, f.LatDeg, f.LonDeg = true, nmea.RTKFixed, m("lat", -80, 80), m("lon", -179, 179)
	f.HeightM, f.HDOP, f.Satellites = 100, 0.7, 12
	for range rapid.IntRange(30, 80).Draw(t, "fixes") {
		f.TimeNs = at
		f.LatDeg += m("north", 1e-7, 2e-6)
		d.Fixes = append(d.Fixes, f)
		at += 100e6
	}
	for _, list := range []*[]sections.WorkChange{&d.Setpoint, &d.Actual} {
		on := make([]bool, n)
		for k := range n {
			on[k] = rapid.Bool().Draw(t, "first")
			*list = append(*list, sections.WorkChange{TimeNs: d.Fixes[0].TimeNs, Section: int16(k), On: on[k]})
		}
		ns := d.Fixes[0].TimeNs
		for range rapid.IntRange(0, 20).Draw(t, "changes") {
			ns += int64(rapid.IntRange(1, 3000).Draw(t, "ms")) * 1e6
			if k := rapid.IntRange(0, n-1).Draw(t, "section"); ns < at {
				on[k] = !on[k]
				*list = append(*list, sections.WorkChange{TimeNs: ns, Section: int16(k), On: on[k]})
			}
		}
	}
	lat, lon := d.Fixes[0].LatDeg, d.Fixes[0].LonDeg
	square := func(dx, r float64) orb.Ring {
		return orb.Ring{{lon + dx - r, lat - r}, {lon + dx + r, lat - r}, {lon + dx + r, lat + r}, {lon + dx - r, lat + r}, {lon + dx - r, lat - r}}
	}
	d.Zones = []taskdata.Zone{{Kind: taskdata.Boundary, Polygon: orb.Polygon{square(0, 3e-3), square(1e-3, 1e-4)}}, {Kind: taskdata.Body, Polygon: orb.Polygon{square(0, 2e-3)}},
		{Kind: taskdata.Headland, Polygon: orb.Polygon{square(0, 3e-3), square(0, 2e-3)}}, {Kind: taskdata.KeepOut, Polygon: orb.Polygon{square(-1e-3, 1e-4)}}}
	d.Guides = []taskdata.Guide{{ID: "GPN1", A: orb.Point{lon, lat}, B: orb.Point{lon, lat + 1e-3}}, {ID: "GPN2", BearingDeg: 33.25, A: orb.Point{lon, lat}, B: orb.Point{lon, lat}}}
	return d
}

func read(t testing.TB, data []byte) (*taskdata.Set, *taskdata.Day) {
	t.Helper()
	s, err := taskdata.OpenZip(bytes.NewReader(data), int64(len(data)), "")
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

// Written and read again, positions are the same to 1e-7°, states to the ms, places to the mm.
func TestIdentity(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		d := day(rt)
		var b bytes.Buffer
		if err := write.Zip(&b, d); err != nil {
			rt.Fatal(err)
		}
		_, got := read(t, b.Bytes())
		if len(got.Fixes) != len(d.Fixes) {
			rt.Fatalf("%d fixes, expected %d; %v", len(got.Fixes), len(d.Fixes), got.Clock)
		}
		for k, f := range got.Fixes {
			w := &d.Fixes[k]
			if f.TimeNs != w.TimeNs || math.Abs(f.LatDeg-w.LatDeg) > 0.51e-7 || math.Abs(f.LonDeg-w.LonDeg) > 0.51e-7 || f.Quality != w.Quality || f.HeightM != w.HeightM || f.HDOP != w.HDOP || f.Satellites != w.Satellites {
				rt.Fatalf("fix %d: %+v, expected %+v", k, f, *w)
			}
		}
		same(rt, "setpoint", got.Setpoint.Work(), d.Setpoint)
		same(rt, "actual", got.Actual.Work(), d.Actual)
		g, w := got.Geometry, d.Machine
		mm := func(what string, a, b float64) {
			if math.Abs(a-b) > 0.00051 {
				rt.Fatalf("%s: %.5f, expected %.5f", what, a, b)
			}
		}
		mm("antenna x", g.AntennaXM, w.AntennaXM)
		mm("antenna y", g.AntennaYM, w.AntennaYM)
		mm("antenna z", g.AntennaZM, w.AntennaZM)
		mm("hitch", g.HitchXM, w.HitchXM)
		mm("pivot", g.PivotM, w.PivotM)
		if g.Hitch != w.Hitch || g.SetpointDelayMs != w.SetpointDelayMs || g.ActualDelayMs != w.ActualDelayMs || len(g.Unsure) != 0 {
			rt.Fatalf("%+v, expected %+v", g, w)
		}
		for k, s := range g.Sections {
			x := w.Sections[k]
			mm("x", s.XM, x.XM)
			mm("y", s.YM, x.YM)
			mm("width", s.WidthM, x.WidthM)
			if s.DropNs != x.DropNs || s.LiftNs != x.LiftNs {
				rt.Fatalf("leads %+v, expected %+v", s, x)
			}
		}
		if len(got.Field.Zones) != 4 || got.Field.AreaM2 != d.AreaM2 || len(got.Field.Guides) != 2 {
			rt.Fatalf("field %+v", got.Field)
		}
		for k, z := range got.Field.Zones {
			if w := d.Zones[k]; z.Kind != w.Kind || len(z.Polygon) != len(w.Polygon) || math.Abs(z.Polygon[0][1][0]-w.Polygon[0][1][0]) > 1e-9 {
				rt.Fatalf("zone %d: %+v, expected %+v", k, z, w)
			}
		}
		if b := got.Field.Guides; math.Abs(b[0].BearingDeg) > 1e-6 || math.Abs(b[1].BearingDeg-33.25) > 1e-6 {
			rt.Fatalf("guides %+v", b)
		}
	})
}

func same(t *rapid.T, what string, got, want []sections.WorkChange) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d states, expected %d", what, len(got), len(want))
	}
	for k := range got {
		if got[k] != want[k] {
			t.Fatalf("%s: state %d: %+v, expected %+v", what, k, got[k], want[k])
		}
	}
}

// Every recorded day, written and read again, is the same day.
func TestRecordedIdentity(t *testing.T) {
	dir := os.Getenv("LIFTBENCH_DATA")
	if dir == "" {
		missing(t, "LIFTBENCH_DATA, the folder of recorded data,")
	}
	days := 0
	for _, name := range []string{"rows-32.zip", "sections-6.zip", "fifteen-logs.zip", "three-operations.zip", "damaged.zip"} {
		data, err := os.ReadFile(filepath.Join(dir, "taskdata", name))
		if err != nil {
			missing(t, name)
		}
		s, err := taskdata.OpenZip(bytes.NewReader(data), int64(len(data)), "")
		if err != nil {
			t.Fatal(err)
		}
		for _, task := range s.Tasks {
			d, err := s.Day(taskdata.Options{TaskID: task.ID})
			if err != nil {
				continue
			}
			days++
			again := &write.Day{Machine: d.Geometry, Fixes: d.Fixes, Setpoint: d.Setpoint.Work(), Actual: d.Actual.Work(), OffsetNs: 3600e9}
			if d.Field != nil {
				again.Zones, again.Guides = d.Field.Zones, d.Field.Guides
			}
			var b bytes.Buffer
			if err := write.Zip(&b, again); err != nil {
				t.Fatal(err)
			}
			_, got := read(t, b.Bytes())
			if len(got.Fixes) != len(d.Fixes) {
				t.Fatalf("%s %s: %d fixes, expected %d", name, task.ID, len(got.Fixes), len(d.Fixes))
			}
			for k, f := range got.Fixes {
				if w := d.Fixes[k]; f.TimeNs != w.TimeNs || f.LatDeg != w.LatDeg || f.LonDeg != w.LonDeg || f.Quality != w.Quality {
					t.Fatalf("%s %s: fix %d: %+v, expected %+v", name, task.ID, k, f, w)
				}
			}
			for what, pair := range map[string][2][]sections.WorkChange{"actual": {got.Actual.Work(), again.Actual}, "setpoint": {got.Setpoint.Work(), again.Setpoint}} {
				if len(pair[0]) != len(pair[1]) {
					t.Fatalf("%s %s: %d %s states, expected %d", name, task.ID, len(pair[0]), what, len(pair[1]))
				}
				for k, c := range pair[0] {
					w := pair[1][k]
					if c.Section != w.Section || c.On != w.On || c.TimeNs-w.TimeNs > 500_001 || w.TimeNs-c.TimeNs > 500_001 {
						t.Fatalf("%s %s: %s state %d: %+v, expected %+v", name, task.ID, what, k, c, w)
					}
				}
			}
			for k, s := range got.Geometry.Sections {
				if w := d.Geometry.Sections[k]; math.Abs(s.XM-w.XM) > 0.001 || math.Abs(s.YM-w.YM) > 0.001 || math.Abs(s.WidthM-w.WidthM) > 0.001 {
					t.Fatalf("%s %s: section %d: %+v, expected %+v", name, task.ID, k+1, s, w)
				}
			}
		}
	}
	if days != 23 {
		t.Errorf("%d days, expected 23", days)
	}
}

func missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
		t.Fatalf("%s missing", what)
	}
	t.Skipf("%s missing", what)
}

// npm isoxml, which knows what the schema requires of every element, takes what is written without
// a warning, and finds the same rows.
func TestIsoxmlAccepts(t *testing.T) {
	const outside = "../testdata/outside"
	if _, err := os.Stat(outside + "/node_modules/isoxml"); err != nil {
		missing(t, "npm isoxml (npm ci --prefix replay/taskdata/testdata/outside)")
	}
	gen := rapid.Custom(day)
	var days []*write.Day
	args := []string{outside + "/isoxml.cjs"}
	for seed := range 3 {
		d := gen.Example(seed)
		var b bytes.Buffer
		if err := write.Zip(&b, d); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "day.zip")
		if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		days, args = append(days, d), append(args, file)
	}
	out, err := exec.Command("node", args...).Output()
	if err != nil {
		t.Fatal(err)
	}
	var sets []struct {
		Warnings []string
		Logs     []struct {
			Rows     int
			Errors   []string
			Position map[string][3]float64
		}
	}
	if err := json.Unmarshal(out, &sets); err != nil || len(sets) != len(days) {
		t.Fatalf("%d sets: %v", len(sets), err)
	}
	for k, d := range days {
		s := sets[k]
		if len(s.Warnings) > 0 || len(s.Logs) != 1 || len(s.Logs[0].Errors) > 0 {
			t.Fatalf("%v, %+v", s.Warnings, s.Logs)
		}
		first, last := d.Fixes[0].LatDeg, d.Fixes[len(d.Fixes)-1].LatDeg
		if p := s.Logs[0].Position["PositionNorth"]; s.Logs[0].Rows < len(d.Fixes) || math.Abs(p[0]-first) > 1e-7 || math.Abs(p[1]-last) > 1e-7 {
			t.Errorf("%d rows from %v to %v, expected %d at least from %v to %v", s.Logs[0].Rows, p[0], p[1], len(d.Fixes), first, last)
		}
	}
}

func TestErrors(t *testing.T) {
	fix := nmea.EmptyFix()
	fix.TimeNs, fix.Dated, fix.LatDeg, fix.LonDeg, fix.Quality = 1e18, true, 52, 8, nmea.RTKFixed
	one := device.Geometry{Sections: make([]device.At, 1)}
	undated, old := fix, fix
	undated.Dated, old.TimeNs = false, 1e9
	for want, d := range map[string]*write.Day{
		"no fixes; expected one at least":                                     {Machine: one},
		"0 sections; expected 1 to 256":                                       {Fixes: []nmea.Fix{fix}},
		"fix 1 has no date; expected one, as of RMC or ZDA":                   {Machine: one, Fixes: []nmea.Fix{undated}},
		"fix 2 is older than the one before":                                  {Machine: one, Fixes: []nmea.Fix{fix, old}},
		"a change of section 2; expected 1 to 1":                              {Machine: one, Fixes: []nmea.Fix{fix}, Actual: []sections.WorkChange{{Section: 1}}},
		"a row at 1970-01-01T00:00:01.000; expected a time from 1980 to 2159": {Machine: one, Fixes: []nmea.Fix{old}},
	} {
		if _, err := write.Files(d); err == nil || err.Error() != want {
			t.Errorf("%v, expected %s", err, want)
		}
	}
}
