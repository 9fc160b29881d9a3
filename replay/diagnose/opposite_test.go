package diagnose

import (
	"math"
	"strings"
	"testing"

	"liftbench/replay/diagnose/evidence"
)

// Commands that are right for the machine are early for a lead on file that is too short, and
// the machine is as much slower than it: one cause, and one sentence.
func TestLeadOnFile(t *testing.T) {
	for seed := range uint64(12) {
		for _, tc := range []struct {
			fileS [2]float64
			moves evidence.Kind
		}{{[2]float64{0.2, 0}, evidence.Lifts}, {[2]float64{0, -0.15}, evidence.Drops}, {[2]float64{0.2, 0.2}, evidence.Both}} {
			tr := newTrial(1000 + seed)
			tr.recordsCommands, tr.fileS = true, tc.fileS
			tr.drive()
			d, err := Run(tr.day())
			if err != nil {
				t.Fatal(err)
			}
			size := tc.fileS[0] + tc.fileS[1]
			if tc.moves == evidence.Both {
				size = tc.fileS[0]
			}
			if len(d.Causes) != 1 || d.Causes[0].Cause != FileLead || d.Causes[0].Move != tc.moves.Name() || !(math.Abs(d.Causes[0].Size-size) < 0.02) {
				t.Errorf("drive %d, leads on file %v s too short: %+v; want one cause", seed, tc.fileS, d.Causes)
				continue
			}
			f := &d.Causes[0]
			if !strings.Contains(f.Evidence, "the two cancel") || !strings.HasPrefix(f.Change, "Nothing on the machine or in the terminal") {
				t.Errorf("%s %s", f.Evidence, f.Change)
			}
		}
	}
}

// Lifts as far too late as drops are too early are one border, also where a clock that is off
// leaves both a little to one side.
func TestOneBorderBesideAClock(t *testing.T) {
	for seed := range uint64(20) {
		tr := newTrial(2000 + seed)
		tr.recordsCommands = false
		tr.clockOff(tr.either(2, 30))
		sizeM := tr.either(0.2, 0.6)
		tr.borderM = func(*shouldChange) float64 { return sizeM }
		tr.drive()
		tr.record()
		d, err := Run(tr.day())
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range d.Causes {
			if f.Cause == LiftGeometry || f.Cause == DropGeometry {
				t.Errorf("drive %d, borders %.2f m too far out: %+v", seed, sizeM, d.Causes)
				break
			}
		}
	}
}

// A controller that counts the sections which share the pump, on a machine whose file has a
// fixed lead: every lift and drop is where it should be, so nothing on the machine is to be
// changed.
func TestCountingControllerFixedFile(t *testing.T) {
	for seed := range uint64(10) {
		s := shape{seed: 300 + seed, transitions: 240, sections: 6, kmh: 6.4, spreadKmh: 1.7, noiseM: 0.0143, braking: true, told: true}
		day := benched(t, s, fault{pumpLMin: 40, aware: true}, false, false)
		day.Settings.LiftLead.FedAtOnce = 0
		d, err := Run(day)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range d.Causes {
			if f.Cause != FileLead {
				t.Errorf("drive %d: %s %s %.3g %.3g; %s", seed, f.Cause, f.Move, f.Size, f.CI95, f.Change)
			}
		}
		for _, q := range d.CannotTell {
			t.Errorf("drive %d: doubt %q: %s", seed, q.Between, q.Why)
		}
	}
}

// A time and a place that cancel at the speeds driven are one doubt and no cause, whatever the
// slope over the speed says; at speeds that part them they are two causes.
func TestTimeAndPlaceThatCancel(t *testing.T) {
	said := 0
	for seed := range uint64(20) {
		for _, far := range []bool{false, true} {
			tr := newTrial(4000 + seed)
			tr.passes, tr.noiseM, tr.speedMps, tr.spread = 40, 0.004, 1.8, 0.25
			if far {
				tr.speedMps, tr.spread = 1, 1.5
			}
			tr.lateCommandS, tr.placeM = [2]float64{0.12, 0.12}, -0.24
			tr.drive()
			d, err := Run(tr.day())
			if err != nil {
				t.Fatal(err)
			}
			named := map[Cause]bool{}
			for _, f := range d.Causes {
				named[f.Cause] = true
			}
			if far {
				if !named[Latency] || !named[Geometry] || len(named) != 2 {
					t.Errorf("drive %d, 3.6 to 9 km/h: %+v", seed, d.Causes)
				}
				continue
			}
			if len(named) > 0 {
				t.Errorf("drive %d, %.1f to %.1f km/h: %+v", seed, tr.speedMps*3.6, tr.speedMps*(1+tr.spread)*3.6, d.Causes)
			}
			for _, q := range d.CannotTell {
				if strings.Contains(q.Why, "cancel just there") {
					said++
				}
			}
		}
	}
	if said < 10 {
		t.Errorf("said on %d of 20 drives that the two cancel", said)
	}
}
