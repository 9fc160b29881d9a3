// Zones that are not worked in this job.

package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What is left is no zone: the demo's driver works the body alone, so with the
// headland left the lifts are the same and the zones are those of the body. A zone that is not there is refused with the names of those that are.
func TestLeave(t *testing.T) {
	type summary struct {
		Lift   struct{ Count, Missed, Spurious int }
		AreaM2 map[string]float64 `json:"area_m2"`
	}
	drive := func(args ...string) summary {
		t.Helper()
		dir := t.TempDir()
		if status, _, errs := command("", append([]string{"run", "--out", dir}, args...)...); status != 0 {
			t.Fatalf("%v: %d %s", args, status, errs)
		}
		js, err := os.ReadFile(filepath.Join(dir, "summary.json"))
		if err != nil {
			t.Fatal(err)
		}
		var s summary
		if err := json.Unmarshal(js, &s); err != nil {
			t.Fatal(err)
		}
		return s
	}
	all, left := drive(), drive("--leave", "headland")
	if left.Lift != all.Lift || left.Lift.Count == 0 || left.Lift.Missed+left.Lift.Spurious != 0 {
		t.Errorf("lifts %+v, with the headland left %+v; want the same, none missed or extra", all.Lift, left.Lift)
	}
	if body := left.AreaM2["zone"]; !(body > 0 && body < 0.95*all.AreaM2["zone"]) {
		t.Errorf("zones of %.0f m², with the headland left %.0f m²", all.AreaM2["zone"], body)
	}
	if miss := left.AreaM2["miss"]; miss > 0.02*left.AreaM2["zone"] {
		t.Errorf("%.0f m² missed in the body", miss)
	}
	status, _, errs := command("", "run", "--leave", "orchard")
	if status == 0 || !strings.Contains(errs, `no zone "orchard"`) || !strings.Contains(errs, "expected body, headland or the name of one of") {
		t.Errorf("%d %s", status, errs)
	}
}

// The headland of task data is left unless --leave says otherwise, and the first lines say both. A
// drive that works the headland too is told of it.
func TestHeadlandOfTaskData(t *testing.T) {
	t.Chdir(t.TempDir())
	words := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	run := func(args ...string) (said, errs string) {
		t.Helper()
		status, said, errs := command("", args...)
		if status != 0 {
			t.Fatalf("%v: %d %s", args, status, errs)
		}
		return words(said), words(errs)
	}
	run("export", "--taskdata", "body.zip")
	said, errs := run("diagnose", "body.zip")
	if !strings.Contains(said, "196, 0 missed, 0 extra 196, 0 missed, 0 extra") {
		t.Errorf("with the headland left:\n%s", said)
	}
	const left = "taken: the headland as left in this job"
	if !strings.Contains(errs, left) || !strings.Contains(errs, "--leave none has it worked at any heading") || strings.Contains(errs, "% of their time") {
		t.Errorf("told %s", errs)
	}
	status, all, _ := command("", "diagnose", "--leave", "none", "body.zip")
	if strings.Contains(words(all), "196, 0 missed, 0 extra 196, 0 missed, 0 extra") {
		t.Errorf("with the headland worked: %d, the same lifts and drops are at borders\n%s", status, all)
	}
}
