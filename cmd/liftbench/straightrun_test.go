// What the driver is to be told first: check, run and tune say how long the straight
// run has to be, and check and run warn where it is not.

package main

import (
	"encoding/json"
	"os"
	"strings"
	"testing"
)

// coldHoe writes the demo's files with a hoe of 9 m, 18 rows, whose drops take
// 2.3 s in oil of 5 °C.
func coldHoe(t *testing.T) (scenario string) {
	t.Helper()
	t.Chdir(t.TempDir())
	if status, _, stderr := command("", "check", "--write-demo", "."); status != 0 {
		t.Fatal(stderr)
	}
	machine, _ := edit(t, demoText(t, "machine.yaml"), "count: 12", "count: 18")
	machine, _ = edit(t, machine, "sections: [2, 2, 2, 2, 2, 2]", "sections: 6")
	machine, _ = edit(t, machine, "oil_c: 45", "oil_c: 5")
	machine, _ = edit(t, machine, "drop_force_n: 2000", "drop_force_n: 700")
	if err := os.WriteFile("machine.yaml", []byte(machine), 0o644); err != nil {
		t.Fatal(err)
	}
	return demoText(t, "scenario.yaml")
}

// TestStraightRunIsSaid: 5.5 m pass at 8 km/h while the drop lead and the age of
// the position do; with settling and speeding up it is 10.4 m on the line. With a
// straight run of 3 m the drops are off by more than 50 cm and the reason is said;
// where the scenario does not say, the driver keeps to it, and they are not.
func TestStraightRunIsSaid(t *testing.T) {
	scenario := coldHoe(t)
	const want = "on the line 10.4 m before the border, at 8 km/h 7.7 m before it"
	joined := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	for _, c := range []struct {
		name, straight string
		short          bool
		within, beyond float64 // cm, 95 % of drops
	}{
		{"3 m", "straight_before_m: 3", true, 200, 50},
		{"12 m", "straight_before_m: 12", false, 30, 0},
		{"the driver's own", "", false, 30, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			text, _ := edit(t, scenario, "straight_before_m: 10", c.straight)
			if err := os.WriteFile("scenario.yaml", []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
			_, sheet, _ := command("", "check", "scenario.yaml")
			_, table, _ := command("", "run", "scenario.yaml")
			for _, text := range []string{sheet, table} {
				if !strings.Contains(joined(text), want) {
					t.Errorf("no %q in\n%s", want, text)
				}
				if warned := strings.Contains(joined(text), "the straight run is shorter than 10.4 m before"); warned != c.short {
					t.Errorf("warned of the straight run: %v, want %v, in\n%s", warned, c.short, text)
				}
			}
			if !strings.Contains(sheet, "command 5.5 m") {
				t.Errorf("the drawing has no command in\n%s", sheet)
			}
			if late := strings.Contains(joined(table), "straight run too short"); late != c.short {
				t.Errorf("late commands name the straight run: %v, want %v, in\n%s", late, c.short, table)
			}
			if p95 := figure(t, table, `of drops within ([\d.]+) cm`); p95 < c.beyond || p95 > c.within {
				t.Errorf("95 %% of drops within %.1f cm, want %g to %g", p95, c.beyond, c.within)
			}
		})
	}
}

// TestStraightRunOfAMachine: the sheet of a machine alone says it for a usual driver.
func TestStraightRunOfAMachine(t *testing.T) {
	coldHoe(t)
	_, sheet, _ := command("", "check", "--machine", "machine.yaml")
	if want := "on the line 10.4 m before the border"; !strings.Contains(sheet, want) {
		t.Errorf("no %q in\n%s", want, sheet)
	}
}

// TestColdHoeOnAShortStraight: the same hoe with a drop lead of 2.5 s, 5.5 m at 8 km/h,
// was once measured 62 cm late on average with a straight run of 3 m and 268 cm with 6 m.
// With 3 m it is half a metre still: when the command falls due the path is tighter than
// 20 m, and nothing drops in a turn. With 6 m the turn has just closed by then, and the
// drop is foreseen from there: a zone takes part by the way since the turn closed, which
// a prediction carries on. What is off, to either side, is the heading, which has not
// settled. check and run warn of both.
func TestColdHoeOnAShortStraight(t *testing.T) {
	scenario := coldHoe(t)
	machine, err := os.ReadFile("machine.yaml")
	if err != nil {
		t.Fatal(err)
	}
	text, _ := edit(t, string(machine), "drop_force_n: 700", "drop_force_n: 620")
	if err := os.WriteFile("machine.yaml", []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, sheet, _ := command("", "check", "--machine", "machine.yaml"); !strings.Contains(sheet, "2.50 s to come into work") {
		t.Fatalf("no drop lead of 2.5 s in\n%s", sheet)
	}
	for _, c := range []struct {
		straight     string
		fromM, tillM float64 // mean place error of the drops
	}{
		{"straight_before_m: 3", 0.35, 0.9},
		{"straight_before_m: 6", -0.4, 0.2},
	} {
		t.Run(c.straight, func(t *testing.T) {
			text, _ := edit(t, scenario, "straight_before_m: 10", c.straight)
			if err := os.WriteFile("scenario.yaml", []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
			_, sheet, _ := command("", "check", "scenario.yaml")
			_, table, _ := command("", "run", "--out", "out", "scenario.yaml")
			for _, text := range []string{sheet, table} {
				if !strings.Contains(strings.Join(strings.Fields(text), " "), "the straight run is shorter than") {
					t.Errorf("no warning of the straight run in\n%s", text)
				}
			}
			data, err := os.ReadFile("out/summary.json")
			if err != nil {
				t.Fatal(err)
			}
			var s struct {
				Drop struct {
					Place struct {
						Mean float64 `json:"mean"`
					} `json:"place_error_m"`
				} `json:"drop"`
			}
			if err := json.Unmarshal(data, &s); err != nil {
				t.Fatal(err)
			}
			if m := s.Drop.Place.Mean; m < c.fromM || m > c.tillM {
				t.Errorf("drops %.2f m late on average, want %g to %g", m, c.fromM, c.tillM)
			}
		})
	}
}
