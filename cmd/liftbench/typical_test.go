// The preset of an ordinary receiver, machine and driver: in the scenario file,
// and as the second line of a run.

package main

import (
	"os"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/settings"
	"liftbench/sim/receiver"
)

// TestTypicalConditions: what a file says holds; what it leaves out is typical.
// Each run of a generated drive says what it comes to under them, on the second
// line below its title, and so does not need saying where it is driven under them.
func TestTypicalConditions(t *testing.T) {
	t.Chdir(t.TempDir())
	if status, _, stderr := command("", "check", "--write-demo", "."); status != 0 {
		t.Fatal(stderr)
	}
	data, err := os.ReadFile("scenario.yaml")
	if err != nil {
		t.Fatal(err)
	}
	text := string(data) + "conditions: typical\nspread: {flow_percent: 3}\n"
	if err := os.WriteFile("typical.yaml", []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	u, err := (&settings.Selection{Arg: "typical.yaml"}).Load()
	if err != nil {
		t.Fatal(err)
	}
	s, r, d := &u.Scenario.Spread, &u.Scenario.Receiver, &u.Scenario.Drive
	if s.FlowPercent != 3 {
		t.Errorf("flow ± %g %%, want 3 %% as the file says", s.FlowPercent)
	}
	if s.LiftDeadMs != 15 || s.DropDeadMs != 15 || s.OilStartC == nil || *s.OilStartC != 15 || d.SpeedSDPercent != 4 ||
		r.JitterMs != 30 || r.Stamp != receiver.UnixStamp || r.FloatsPerH != 2 || r.RefixStepCm != 2 || r.NoiseCm != 1.4 {
		t.Errorf("%+v, %+v, speed ± %g %%: want dead times ± 15 ms, oil from 15 °C, 4 %%, 30 ms stamped, 2 floats an hour, 2 cm, and 1.4 cm of the file", *s, *r, d.SpeedSDPercent)
	}
	status, ideal, stderr := command("", "run", "scenario.yaml")
	if status != 0 {
		t.Fatal(stderr)
	}
	lines := strings.Split(ideal, "\n")
	if !strings.HasPrefix(lines[2], "  accuracy         95 % of lifts within 3.") || !strings.HasPrefix(lines[3], "  typical          95 % of lifts within 9.") {
		t.Errorf("the run begins\n%s", strings.Join(lines[:5], "\n"))
	}
	// Flow alone is other than in the second line.
	if err := os.WriteFile("typical.yaml", []byte(string(data)+"conditions: typical\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, typical, _ := command("", "run", "typical.yaml")
	if got, want := strings.Split(typical, "\n")[2], strings.Replace(lines[3], "typical ", "accuracy", 1); got+";" != want {
		t.Errorf("driven under typical conditions:\n%s\nwant what the other said:\n%s", got, want)
	}
	if strings.Contains(typical, "  typical ") {
		t.Error("a run under typical conditions says again what those come to")
	}
}
