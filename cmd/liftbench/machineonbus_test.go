package main

import (
	"math"
	"os"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/settings"
)

// TestMachineOnBus: a machine that describes itself on the bus is imported as it is, to a
// millimetre: where it hangs, its antenna, its sections.
func TestMachineOnBus(t *testing.T) {
	t.Chdir(t.TempDir())
	demo := demoText(t, "machine.yaml")
	far, _ := edit(t, demo, "forward_m: -2.20", "forward_m: -6.00")
	trailed, _ := edit(t, far, "mount: rear", "mount: trailed")
	trailed, _ = edit(t, trailed, "forward_m: -6.00", "drawbar_m: 4.5\n  hitch_behind_m: 0.8\n  forward_m: -6.00")
	for name, text := range map[string]string{"rear": demo, "trailed": trailed, "thirty": strings.Replace(demo, "count: 12", "count: 60", 1)} {
		if name == "thirty" {
			at := strings.Index(text, "\nsections:")
			end := at + 1 + strings.Index(text[at+1:], "\n")
			text = text[:at] + "\nsections: [" + strings.Repeat("2, ", 29) + "2]" + text[end:]
		}
		for file, text := range map[string]string{"machine.yaml": text, "scenario.yaml": demoText(t, "scenario.yaml"), "field.geojson": demoText(t, "field.geojson")} {
			if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		for _, args := range [][]string{{"drive", "--out", "candump=" + name + ".log", "scenario.yaml"}, {"import", "--out", name, name + ".log"}} {
			if status, _, stderr := command("", args...); status != 0 {
				t.Fatal(name, args, stderr)
			}
		}
		want, err := settings.LoadMachine("machine.yaml", settings.OnDisk)
		if err != nil {
			t.Fatal(err)
		}
		got, err := settings.LoadMachine(name+"/machine.yaml", settings.OnDisk)
		if err != nil {
			t.Fatal(err)
		}
		a, b := got.Geometry(), want.Geometry()
		apart := func(x, y float64) bool { return !(math.Abs(x-y) < 0.001) }
		if a.Mount != b.Mount || apart(a.AntennaXM, b.AntennaXM) || apart(a.AntennaYM, b.AntennaYM) || apart(a.AntennaZM, b.AntennaZM) ||
			apart(a.HitchBehindM, b.HitchBehindM) || apart(a.DrawbarM, b.DrawbarM) || len(a.Sections) != len(b.Sections) {
			t.Fatalf("%s: imported is %+v; driven was %+v", name, a, b)
		}
		for i, s := range a.Sections {
			if w := b.Sections[i]; apart(s.XM, w.XM) || apart(s.YM, w.YM) || apart(s.WidthM, w.WidthM) {
				t.Errorf("%s: section %d is %+v; driven was %+v", name, i+1, s, w)
			}
		}
	}
}
