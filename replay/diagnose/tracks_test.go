// Recorded days that were lifted by hand, and what may be said of them.

package diagnose

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/states"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sim"
)

// Three real field operations at 1 Hz (dev4Agriculture isoxml-dotnet, test data,
// Apache-2.0), one recorded state for the whole machine, lifted by hand; their
// machine is not known. The answer has no cause with a number that such a day
// cannot show, and intervals as wide as a hand is uneven.
func TestRecordedTracks(t *testing.T) {
	dir := os.Getenv("LIFTBENCH_DATA")
	if dir == "" {
		if os.Getenv("LIFTBENCH_REQUIRE_ALL") != "" {
			t.Fatal("LIFTBENCH_DATA does not name the folder of recorded data")
		}
		t.Skip("LIFTBENCH_DATA does not name the folder of recorded data")
	}
	machine := &sections.Machine{Mount: sections.FrontRigid, AntennaXM: 0.8}
	for i := range 12 {
		machine.Sections = append(machine.Sections, sections.Section{XM: 3.6, YM: (float64(i) - 5.5) * 0.75, WidthM: 0.75})
	}
	set := sections.DefaultSettings()
	set.RowToleranceRad, set.MinWorkRadiusM, set.MaxAgeNs, set.JumpM = 30*math.Pi/180, 10, 4000e6, 3
	for _, name := range []string{"track-05", "track-20", "track-25"} {
		t.Run(name, func(t *testing.T) {
			open := func(ext string) *os.File {
				f, err := os.Open(filepath.Join(dir, "tracks", name+ext))
				if err != nil {
					t.Fatal(err)
				}
				t.Cleanup(func() { f.Close() })
				return f
			}
			fld, err := field.Read(open(".geojson"), name, field.Options{HeadlandM: 18})
			if err != nil {
				t.Fatal(err)
			}
			states, err := states.Read(open(".states.csv"), name, len(machine.Sections), nil)
			if err != nil {
				t.Fatal(err)
			}
			in := evidence.Day{Machine: machine, Settings: set}
			job := sim.Job{Machine: machine, Field: fld, Settings: set, Recorded: states.Work(),
				Watch: func(f *nmea.Fix) { in.Fixes = append(in.Fixes, evidence.FixOf(f)) }}
			out, err := job.Run(epoch.NewReader(open(".nmea")))
			if err != nil {
				t.Fatal(err)
			}
			in.Actual = out.Score.Events
			d, err := Run(in)
			if err != nil {
				t.Fatal(err)
			}
			floors := d.Floors
			d.Floors = nil
			js, _ := json.MarshalIndent(d, "", " ")
			t.Logf("%s", js)
			d.Floors = floors
			for _, f := range d.Causes {
				switch f.Cause {
				case SlowSection, HeadingError, FlowShortage, ColdOil:
					t.Errorf("%s: %s; one state for the whole machine cannot show that", f.Cause, f.Evidence)
				}
				if f.Unit == "s" && f.CI95[1]-f.CI95[0] < 0.1 || f.Unit == "m" && f.CI95[1]-f.CI95[0] < 0.1 {
					t.Errorf("%s %v: too sure for a hand and 1 Hz", f.Cause, f.CI95)
				}
			}
			for _, f := range []*Fit{&d.Lift, &d.Drop} {
				if f.TimeErrorCI != nil && f.TimeErrorCI[1]-f.TimeErrorCI[0] < 0.2 {
					t.Errorf("Δt in %v; too sure for a hand and 1 Hz", *f.TimeErrorCI)
				}
			}
			if len(d.Causes)+len(d.CannotTell) == 0 {
				t.Error("nothing wrong and nothing in doubt; want at least that a hand was at work")
			}
		})
	}
}
