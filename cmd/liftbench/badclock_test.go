// The built-in bad day with its states recorded by other clocks: only their times are
// changed, and the two true causes must stay first.

package main

import (
	"bytes"
	"compress/gzip"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/replay/diagnose"
)

// stateRow is one row of recorded work states.
type stateRow struct {
	atS              float64 // since the day's first row
	section          int
	setpoint, actual string
	isSetpoint       bool
}

// badDayFiles writes the bad day to a directory and returns its rows of states.
func badDayFiles(t *testing.T) (dir string, first time.Time, rows []stateRow) {
	t.Helper()
	dir = t.TempDir()
	if err := run.WriteBadDay(dir); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(dir, "day.states.csv"))
	if err != nil {
		t.Fatal(err)
	}
	for i, line := range strings.Split(strings.TrimSpace(string(text)), "\n")[1:] {
		cell := strings.Split(line, ",")
		at, err := time.Parse(time.RFC3339Nano, cell[0])
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			first = at
		}
		section, err := strconv.Atoi(cell[1])
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, stateRow{atS: at.Sub(first).Seconds(), section: section, setpoint: cell[2], actual: cell[3], isSetpoint: cell[2] != ""})
	}
	return dir, first, rows
}

// writeStates writes rows in order of time. Of two rows of one section at one instant,
// the later one counts, as for a poll that sees the last state.
func writeStates(t *testing.T, path string, first time.Time, rows []stateRow) {
	t.Helper()
	slices.SortStableFunc(rows, func(a, b stateRow) int {
		switch {
		case a.atS < b.atS:
			return -1
		case a.atS > b.atS:
			return 1
		}
		return 0
	})
	var b strings.Builder
	b.WriteString("time,section,setpoint,actual\n")
	for i, r := range rows {
		seen := slices.ContainsFunc(rows[i+1:min(len(rows), i+40)], func(o stateRow) bool {
			return o.atS == r.atS && o.section == r.section && o.isSetpoint == r.isSetpoint
		})
		if seen {
			continue
		}
		at := first.Add(time.Duration(math.Round(r.atS*1e6)) * time.Microsecond)
		b.WriteString(at.UTC().Format("2006-01-02T15:04:05.000000Z") + "," + strconv.Itoa(r.section) + "," + r.setpoint + "," + r.actual + "\n")
	}
	if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

// diagnosed diagnoses the day in a directory with its states.
func diagnosed(t *testing.T, dir, states string) *run.Diagnosis {
	t.Helper()
	return diagnosedLog(t, dir, "day.nmea.gz", states)
}

// diagnosedLog is diagnosed with another log.
func diagnosedLog(t *testing.T, dir, log, states string) *run.Diagnosis {
	t.Helper()
	sel := settings.Selection{Arg: filepath.Join(dir, log), Machine: filepath.Join(dir, "machine.yaml"), Field: filepath.Join(dir, "field.geojson"), States: states}
	u, err := sel.Load()
	if err != nil {
		t.Fatal(err)
	}
	d, err := run.Diagnose(u, false, nil, io.Discard)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Twelve changes of grid and clock. The offset is found within half a grid, or 10 ms
// where there is none, and the two true causes stay the first two, alone.
func TestBadDayByOtherClocks(t *testing.T) {
	dir, first, rows := badDayFiles(t)
	base := float64(first.UnixMicro()%1_000_000) * 1e-6
	// Grids are of the clock: of whole seconds, not of the first row.
	next := func(q, phase float64) func(stateRow) float64 {
		return func(r stateRow) float64 { return math.Ceil((r.atS+base-phase)/q-1e-9)*q + phase - base }
	}
	nearest := func(q float64) func(stateRow) float64 {
		return func(r stateRow) float64 { return math.Round((r.atS+base)/q)*q - base }
	}
	by := func(s float64) func(stateRow) float64 { return func(r stateRow) float64 { return r.atS + s } }
	length := rows[len(rows)-1].atS
	for _, c := range []struct {
		name     string
		change   func(stateRow) float64
		gridS    float64
		kind     string
		offsets  []float64 // s: of both, or of setpoints and actual states
		driftSPH float64   // s/h
	}{
		{"sampled at 0.1 s, on whole tenths", next(0.1, 0), 0.1, "sampled", nil, 0},
		{"sampled at 0.2 s", next(0.2, 0.037), 0.2, "sampled", nil, 0},
		{"sampled at 1 s, on whole seconds", next(1, 0), 1, "sampled", nil, 0},
		{"rounded to 0.1 s", nearest(0.1), 0.1, "rounded", nil, 0},
		{"rounded to 1 s", nearest(1), 1, "rounded", nil, 0},
		{"clock +1.3 s", by(1.3), 0, "", []float64{1.3}, 0},
		{"clock -0.7 s", by(-0.7), 0, "", []float64{-0.7}, 0},
		{"GPS time, +18 s", by(18), 0, "", []float64{18}, 0},
		{"local time, +2 h", by(7200), 0, "", []float64{7200}, 0},
		{"local time, -1 h", by(-3600), 0, "", []float64{-3600}, 0},
		{"clock gains 1.5 s over the day", func(r stateRow) float64 { return r.atS * (1 + 1.5/length) }, 0, "", []float64{0.75}, 1.5 / length * 3600},
		{"setpoints +1.3 s, actual -0.7 s", func(r stateRow) float64 {
			if r.isSetpoint {
				return r.atS + 1.3
			}
			return r.atS - 0.7
		}, 0, "", []float64{1.3, -0.7}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			changed := slices.Clone(rows)
			for i := range changed {
				changed[i].atS = c.change(rows[i])
			}
			states := filepath.Join(t.TempDir(), "states.csv")
			writeStates(t, states, first, changed)
			d := diagnosed(t, dir, states)
			if m := builtInDay(t).DistanceM; math.Abs(d.DistanceM-m) > 1 {
				t.Errorf("a way of %.1f m, and %.1f m by the right clock", d.DistanceM, m)
			}
			tolerance := max(c.gridS/2, 0.010)
			var offsets []diagnose.Finding
			var causes []diagnose.Finding
			for _, f := range d.Causes {
				t.Logf("%s %d %s %.4f %v: %s", f.Cause, f.Section, f.Move, f.Size, f.CI95, f.Evidence)
				if f.Cause == "clock offset" {
					offsets = append(offsets, f)
				} else {
					causes = append(causes, f)
				}
			}
			for _, q := range d.CannotTell {
				t.Logf("doubt %q: %s", q.Between, q.Why)
			}
			if len(causes) != 2 || causes[0].Cause != diagnose.Geometry || causes[1].Cause != diagnose.SlowSection || causes[1].Section != run.BadDaySection {
				t.Errorf("causes beside the clock: want geometry and section %d, alone", run.BadDaySection)
			} else {
				for i, want := range []float64{run.BadDayAntennaM, run.BadDayValveNs * 1e-9} {
					if ci := causes[i].CI95; math.Abs(causes[i].Size-want) > 0.01 && !(ci[0] <= want && want <= ci[1]) {
						t.Errorf("%s %.4f %v; want %g", causes[i].Cause, causes[i].Size, ci, want)
					}
				}
				if len(d.Causes) > 1 && (d.Causes[0].Cause == "clock offset" || d.Causes[1].Cause == "clock offset") {
					t.Error("the clock stands before what made lifts and drops late")
				}
			}
			if len(offsets) != len(c.offsets) {
				t.Errorf("%d clock offsets; want %v", len(offsets), c.offsets)
			} else {
				for i, want := range c.offsets {
					f := offsets[i]
					if math.Abs(f.Size-want) > tolerance || f.CI95[0] > want || f.CI95[1] < want || f.Unit != "s" {
						t.Errorf("clock offset %.4f %v; want %g within %g", f.Size, f.CI95, want, tolerance)
					}
				}
			}
		})
	}
}

// Setpoints that come when they should, and tools that are two seconds late: a machine, in
// doubt with a clock of the work states, and no clock that is named.
func TestLateToolsAreNoClock(t *testing.T) {
	dir, first, rows := badDayFiles(t)
	for i := range rows {
		if !rows[i].isSetpoint {
			rows[i].atS += 2
		}
	}
	states := filepath.Join(t.TempDir(), "states.csv")
	writeStates(t, states, first, rows)
	d := diagnosed(t, dir, states)
	slow := slices.IndexFunc(d.Causes, func(f diagnose.Finding) bool { return f.Cause == diagnose.MachineSlow })
	if slow != 0 || math.Abs(d.Causes[0].Size-2) > 0.05 {
		t.Errorf("causes %+v", d.Causes)
	}
	if slices.ContainsFunc(d.Causes, func(f diagnose.Finding) bool { return f.Cause == diagnose.ClockOffset }) {
		t.Errorf("a clock among the causes %+v", d.Causes)
	}
	if !slices.ContainsFunc(d.CannotTell, func(q diagnose.Doubt) bool {
		return slices.Equal(q.Between, []diagnose.Cause{diagnose.MachineSlow, diagnose.ClockOffset})
	}) {
		t.Errorf("doubts %+v", d.CannotTell)
	}
}

// plainLog is the bad day's log, and the byte at which the afternoon begins.
func plainLog(t *testing.T, dir string) (log []byte, afternoon int) {
	t.Helper()
	packed, err := os.ReadFile(filepath.Join(dir, "day.nmea.gz"))
	if err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	if log, err = io.ReadAll(z); err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(log, []byte("GGA,093000.0"))
	if at < 0 {
		t.Fatal("the log has no half past nine")
	}
	return log, bytes.LastIndexByte(log[:at], '\n') + 1
}

// A log of half a day: the changes of the other half are no hand's work, and the page says
// how many they are.
func TestStatesBeyondTheLog(t *testing.T) {
	dir, first, rows := badDayFiles(t)
	log, afternoon := plainLog(t, dir)
	states := filepath.Join(dir, "day.states.csv")
	for name, part := range map[string][]byte{"morning": log[:afternoon], "afternoon": log[afternoon:]} {
		t.Run(name, func(t *testing.T) {
			own := t.TempDir()
			for _, file := range []string{"machine.yaml", "field.geojson"} {
				data, err := os.ReadFile(filepath.Join(dir, file))
				if err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(filepath.Join(own, file), data, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			if err := os.WriteFile(filepath.Join(own, "half.nmea"), part, 0o644); err != nil {
				t.Fatal(err)
			}
			d := diagnosedLog(t, own, "half.nmea", states)
			for _, f := range d.Causes {
				if f.Cause == diagnose.ByHand || f.Cause == diagnose.ClockOffset || f.Cause == diagnose.DoesNotFollow {
					t.Errorf("%s %g: %s", f.Cause, f.Size, f.Evidence)
				}
			}
			if len(d.Causes) == 0 || d.Causes[0].Cause != diagnose.SlowSection && d.Causes[0].Cause != diagnose.Geometry {
				t.Errorf("causes %+v", d.Causes)
			}
			if !slices.ContainsFunc(d.Warnings, func(w string) bool { return strings.Contains(w, "recorded changes lie before") }) {
				t.Errorf("warnings %q", d.Warnings)
			}
		})
	}
	t.Run("halves in the wrong order", func(t *testing.T) {
		own := filepath.Join(dir, "swapped.nmea")
		if err := os.WriteFile(own, slices.Concat(log[afternoon:], log[:afternoon]), 0o644); err != nil {
			t.Fatal(err)
		}
		d := diagnosedLog(t, dir, "swapped.nmea", states)
		if !slices.ContainsFunc(d.Warnings, func(w string) bool { return strings.Contains(w, "wrong order") }) {
			t.Errorf("warnings %q, causes %+v", d.Warnings, d.Causes)
		}
		for _, f := range d.Causes {
			if f.Cause == diagnose.ByHand {
				t.Errorf("%s %g: %s", f.Cause, f.Size, f.Evidence)
			}
		}
	})
	t.Run("a wrong date", func(t *testing.T) {
		for i := range rows {
			rows[i].atS += 3 * 86400
		}
		path := filepath.Join(dir, "dated.csv")
		writeStates(t, path, first, rows)
		d := diagnosed(t, dir, path)
		if n := len(d.Causes); n != 3 || d.Causes[2].Cause != diagnose.ClockOffset || d.Causes[2].Size != 3*86400 || !strings.Contains(d.Causes[2].Evidence, "3 d ahead") {
			t.Errorf("causes %+v", d.Causes)
		}
	})
}
