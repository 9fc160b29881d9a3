package taskdata_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"liftbench/replay/taskdata"
	"liftbench/replay/taskdata/timelog"
)

var zips = []string{"rows-32.zip", "sections-6.zip", "fifteen-logs.zip", "three-operations.zip", "damaged.zip"}

// isoxmlSet is what npm isoxml says about a zip.
type isoxmlSet struct {
	Warnings []string
	Logs     []struct {
		Log               string
		Missing           bool
		Rows              int
		Columns, Position map[string][3]float64
		Errors            []string
	}
}

// isoxml runs npm isoxml, another decoder, on zips.
func isoxml(t testing.TB, zips ...string) (sets []isoxmlSet) {
	t.Helper()
	if _, err := os.Stat("testdata/outside/node_modules/isoxml"); err != nil {
		missing(t, "npm isoxml (npm ci --prefix replay/taskdata/testdata/outside)")
	}
	cmd := exec.Command("node", append([]string{"testdata/outside/isoxml.cjs"}, zips...)...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	b, err := cmd.Output()
	if err != nil {
		t.Fatalf("isoxml: %v: %s", err, stderr.String())
	}
	if err := json.Unmarshal(b, &sets); err != nil || len(sets) != len(zips) {
		t.Fatalf("isoxml: %d sets of %d: %v", len(sets), len(zips), err)
	}
	return sets
}

// Rows and extremes of every column of every log of the recorded sets, beside npm isoxml.
func TestBesideIsoxml(t *testing.T) {
	var paths []string
	for _, name := range zips {
		recorded(t, name)
		paths = append(paths, filepath.Join(os.Getenv("LIFTBENCH_DATA"), "taskdata", name))
	}
	sets := isoxml(t, paths...)
	for k, name := range zips {
		fsys := recorded(t, name)
		logs := 0
		for _, l := range sets[k].Logs {
			if l.Missing {
				continue
			}
			logs++
			h, data := logFiles(t, fsys, l.Log)
			rows, columns, position := extremes(h, data)
			if rows != l.Rows {
				t.Errorf("%s %s: %d rows, isoxml has %d", name, l.Log, rows, l.Rows)
			}
			if diff := differ(columns, l.Columns); diff != "" {
				t.Errorf("%s %s: column %s", name, l.Log, diff)
			}
			if diff := differ(position, l.Position); diff != "" {
				t.Errorf("%s %s: %s", name, l.Log, diff)
			}
		}
		want := map[string]int{"rows-32.zip": 3, "sections-6.zip": 1, "fifteen-logs.zip": 15, "three-operations.zip": 3, "damaged.zip": 3}[name]
		if logs != want {
			t.Errorf("%s: %d logs compared, expected %d", name, logs, want)
		}
	}
}

// differ says where least and most of a and b are not the same.
func differ(a, b map[string][3]float64) string {
	if len(a) != len(b) {
		return fmt.Sprintf("count: %d, expected %d", len(a), len(b))
	}
	for k, x := range a {
		if y, ok := b[k]; !ok || math.Abs(x[0]-y[0]) > 1e-9*math.Abs(x[0]) || math.Abs(x[1]-y[1]) > 1e-9*math.Abs(x[1]) {
			return fmt.Sprintf("%s: %v, expected %v", k, x, b[k])
		}
	}
	return ""
}

// logFiles returns header and rows of a log anywhere in fsys.
func logFiles(t testing.TB, fsys fs.FS, name string) (*timelog.Header, []byte) {
	t.Helper()
	var head, rows []byte
	fs.WalkDir(fsys, ".", func(p string, d fs.DirEntry, _ error) error {
		switch strings.ToUpper(filepath.Base(p)) {
		case name + ".XML":
			head, _ = fs.ReadFile(fsys, p)
		case name + ".BIN":
			rows, _ = fs.ReadFile(fsys, p)
		}
		return nil
	})
	h, err := timelog.ParseHeader(bytes.NewReader(head))
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return h, rows
}

// extremes are least and most of every column by its index, and of every field of the position
// by the words of isoxml.
func extremes(h *timelog.Header, data []byte) (rows int, columns, position map[string][3]float64) {
	columns, position = map[string][3]float64{}, map[string][3]float64{}
	note := func(into map[string][3]float64, key string, v float64) {
		e, ok := into[key]
		if !ok {
			e = [3]float64{v, v, 0}
		}
		into[key] = [3]float64{min(e[0], v), max(e[1], v), e[2] + 1}
	}
	s := timelog.NewScanner(h, data)
	for s.Scan() {
		rows++
		r := s.Row()
		note(position, "time", float64(r.TimeNs/1e6))
		for _, f := range []struct {
			field timelog.Fields
			name  string
			value float64
		}{
			{timelog.North, "PositionNorth", float64(r.North) / 1e7},
			{timelog.East, "PositionEast", float64(r.East) / 1e7},
			{timelog.Up, "PositionUp", float64(r.Up)},
			{timelog.Status, "PositionStatus", float64(r.Status)},
			{timelog.PDOP, "PDOP", float64(r.PDOP) / 10},
			{timelog.HDOP, "HDOP", float64(r.HDOP) / 10},
			{timelog.Satellites, "NumberOfSatellites", float64(r.Satellites)},
			{timelog.GPSTime, "GpsUtcTime", float64(r.GPSTimeMs)},
			{timelog.GPSDate, "GpsUtcDate", float64(r.GPSDays)},
		} {
			if h.Has(f.field) {
				note(position, f.name, f.value)
			}
		}
		for _, v := range r.Values {
			note(columns, fmt.Sprint(v.Column), float64(v.Value))
		}
	}
	return rows, columns, position
}

// pythonLog is what reader.py says about a log, or about a task where Log is "".
type pythonLog struct {
	Task, Log string
	Rows      int
	Fixes     [][4]*int64
	Changes   [][4]int64
}

func python(t testing.TB, folder string) []pythonLog {
	t.Helper()
	if _, err := exec.LookPath("python3"); err != nil {
		missing(t, "python3")
	}
	cmd := exec.Command("python3", "testdata/outside/reader.py", folder)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	b, err := cmd.Output()
	if err != nil {
		t.Fatalf("reader.py: %v: %s", err, stderr.String())
	}
	var logs []pythonLog
	d := json.NewDecoder(bytes.NewReader(b))
	for d.More() {
		var l pythonLog
		if err := d.Decode(&l); err != nil {
			t.Fatal(err)
		}
		logs = append(logs, l)
	}
	return logs
}

// Positions and changes of sections, with their intervals, beside a reader in Python.
func TestBesidePython(t *testing.T) {
	tasks := 0
	for _, name := range zips {
		fsys := recorded(t, name)
		dir := t.TempDir()
		if err := os.CopyFS(dir, fsys); err != nil {
			t.Fatal(err)
		}
		s, err := taskdata.Open(fsys, "")
		if err != nil {
			t.Fatal(err)
		}
		fixes := map[string][][4]*int64{}
		for _, l := range python(t, dir) {
			if l.Log != "" {
				if len(l.Fixes) > len(fixes[l.Task]) {
					fixes[l.Task] = l.Fixes
				}
				continue
			}
			tasks++
			d := day(t, s, l.Task)
			besidePython(t, name+" "+l.Task, d, fixes[l.Task], l.Changes)
		}
	}
	if tasks != 22 {
		t.Errorf("%d tasks compared, expected 22", tasks)
	}
}

func besidePython(t *testing.T, name string, d *taskdata.Day, fixes [][4]*int64, changes [][4]int64) {
	t.Helper()
	gps := d.Clock.Source == taskdata.GPS
	k := 0
	last := int64(-1)
	for _, f := range fixes {
		ms := *f[0]
		if gps {
			ms = *f[3]
		}
		if ms <= last {
			continue // the same instant again
		}
		if k == len(d.Fixes) {
			k++
			break
		}
		got := &d.Fixes[k]
		at := got.TimeNs / 1e6
		if gps {
			at %= 86400e3
		}
		if at != ms || math.Round(got.LatDeg*1e7) != float64(*f[1]) || math.Round(got.LonDeg*1e7) != float64(*f[2]) {
			t.Errorf("%s: fix %d: %d ms %.7f %.7f; expected %d %d %d", name, k, at, got.LatDeg, got.LonDeg, ms, *f[1], *f[2])
			return
		}
		last = ms
		k++
	}
	if k != len(d.Fixes) {
		t.Errorf("%s: %d fixes, expected %d", name, len(d.Fixes), k)
	}
	if len(changes) != len(d.Actual.Changes) {
		t.Errorf("%s: %d changes, expected %d", name, len(d.Actual.Changes), len(changes))
		return
	}
	sort.SliceStable(changes, func(a, b int) bool { return changes[a][1] < changes[b][1] })
	for k, c := range d.Actual.Changes {
		w := changes[k]
		// Within the interval that the rows tell, on the terminal's clock; the line fitted to it
		// is up to half a second off.
		offset := (c.AtNs/1e6 - w[1])
		if !gps && offset != 0 || gps && math.Abs(float64(offset-d.Clock.OffsetNs/1e6)) > 2000 {
			t.Errorf("%s: change %d at %v, expected %v", name, k, taskdata.Time(c.AtNs), taskdata.Time(w[1]*1e6))
		}
		if int64(c.Section) != w[2] || c.On != (w[3] == 1) {
			t.Errorf("%s: change %d: %+v, expected %v", name, k, c, w)
		}
		if length, want := (c.AtNs-c.AfterNs)/1e6, w[1]-w[0]; math.Abs(float64(length-want)) > 0.02*float64(want)+1 {
			t.Errorf("%s: change %d within %d ms, expected %d", name, k, length, want)
		}
	}
}
