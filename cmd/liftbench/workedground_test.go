// What a run says of a field whose last pass overlaps, where worked ground is left and
// where it is worked again.

package main

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestDrillRowsScenario: 398 rows are 22 passes of 18 rows and one that overlaps by 16, so
// that five of its six sections of three rows stay up, and the sixth works one of its
// rows again: 0.5 m of 240 m. So there are 22 passes of six lifts and one of one. Beside
// that a pass overlaps its neighbour by what both stray, of which the mean is
// 2·σ/√π = 2.3 cm a side for σ = 2 cm, half of it overlap: 1.1 cm of 240 m at 21 joints,
// 57 m². Working everything again is 16 rows of 240 m more.
func TestDrillRowsScenario(t *testing.T) {
	const dir = "../../testdata/drill-rows/"
	machine, err := os.ReadFile(dir + "machine.yaml")
	if err != nil {
		t.Fatal(err)
	}
	text, _ := edit(t, string(machine), "worked_ground: leave", "worked_ground: again")
	again := filepath.Join(t.TempDir(), "machine.yaml")
	if err := os.WriteFile(again, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name          string
		flags         []string
		lifts         float64
		repeat, slack float64
	}{
		{"leave", nil, 133, 0.5*240 + 57, 40},
		{"again", []string{"--machine", again}, 138, 16*0.5*240 + 57, 40},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, table, stderr := command("", append(append([]string{"run"}, c.flags...), dir+"scenario.yaml")...)
			if status != 0 {
				t.Fatalf("status %d: %s", status, stderr)
			}
			if got := figure(t, table, `all +(\d+) +0 +0 \|`); got != c.lifts {
				t.Errorf("%g lifts, want %g, none missed or extra", got, c.lifts)
			}
			if got := figure(t, table, `\nall +[\d.]+ +[\d.]+ +[\d.]+ +[\d.]+ +[\d.]+ +([\d.]+)\n`); math.Abs(got-c.repeat) > c.slack {
				t.Errorf("%g m² worked twice, want %g", got, c.repeat)
			}
			if got := figure(t, table, `\nall +[\d.]+ +[\d.]+ +([\d.]+) `); got > 15 {
				t.Errorf("%g m² missed", got)
			}
			if !strings.Contains(table, "Beside the rows: ") {
				t.Errorf("the table does not say how far the tools ran beside the rows:\n%s", table)
			}
		})
	}
}

// TestWorkedGroundNeedsRows: without a direction of the rows there are none to leave.
func TestWorkedGroundNeedsRows(t *testing.T) {
	t.Chdir(t.TempDir())
	if status, _, stderr := command("", "check", "--write-demo", "."); status != 0 {
		t.Fatal(stderr)
	}
	machine, _ := edit(t, demoText(t, "machine.yaml"), "row_tolerance_deg: 10", "worked_ground: leave")
	field := demoText(t, "field.geojson")
	for _, b := range []string{"12", "102", "137"} {
		field = strings.ReplaceAll(field, `, "row_bearing_deg": `+b, "")
	}
	for name, text := range map[string]string{"machine.yaml": machine, "field.geojson": field} {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, cmd := range []string{"check", "run"} {
		if status, _, stderr := command("", cmd, "scenario.yaml"); status == 0 || !strings.Contains(stderr, "field.geojson: worked_ground is leave: no zone that is worked says how its rows run; expected a row bearing") {
			t.Errorf("%s: status %d: %s", cmd, status, stderr)
		}
	}
}
