// Speeds that vary from pass to pass and from driver to driver.

package drive

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
)

// plain is a field of eight passes and the drive on it.
func plain(t *testing.T, p Params) *Drive {
	t.Helper()
	ring := orb.Ring{{0, 0}, {48, 0}, {48, 200}, {0, 200}, {0, 0}}
	f := &field.Field{Plane: geodesy.NewPlane(52, 10), Zones: []field.Zone{{Kind: field.Body, Polygons: orb.MultiPolygon{{ring}}}}}
	d, err := Plan(f, &sections.Machine{Sections: []sections.Section{{XM: -2, WidthM: 6}}}, p)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// midSpeeds are the speeds in the middle of each pass, and the fastest with a
// yaw rate.
func midSpeeds(d *Drive) (passes []float64, turning float64) {
	for _, p := range d.Passes {
		near, at := math.Inf(1), 0.0
		var cursor int
		for ns := d.Track[0].TimeNs; ns < d.Track[len(d.Track)-1].TimeNs; ns += 200e6 {
			q := d.Track.At(ns, &cursor)
			if far := math.Hypot(q.EastM-(p.From[0]+p.To[0])/2, q.NorthM-(p.From[1]+p.To[1])/2); far < near {
				near, at = far, q.SpeedMps
			}
			if math.Abs(q.YawRateRadPerS) > 0.05 {
				turning = max(turning, q.SpeedMps)
			}
		}
		passes = append(passes, at)
	}
	return passes, turning
}

// Each pass is driven at its own share of the working speed, turns as they
// were to be.
func TestPaceOfPasses(t *testing.T) {
	p := Params{WorkMps: 2.5, TurnMps: 1.2, PassSpeedSigma: 0.08, DriveSpeedSigma: 0.05, Seed: 5}
	d := plain(t, p)
	got, turning := midSpeeds(d)
	want := newPace(&p)
	if len(got) != 8 {
		t.Fatalf("%d passes", len(got))
	}
	for i := range got {
		if w := 2.5 * want.next(); math.Abs(got[i]-w) > 1e-6 {
			t.Errorf("pass %d at %.4f m/s; want %.4f", i+1, got[i], w)
		}
	}
	if turning > 1.2+1e-6 || turning < 1.1 {
		t.Errorf("turns at up to %g m/s; want 1.2", turning)
	}
	if !reflect.DeepEqual(plain(t, p).Track, d.Track) {
		t.Error("the same seed gives another drive")
	}
	still, seeded := plain(t, Params{WorkMps: 2.5, TurnMps: 1.2}), plain(t, Params{WorkMps: 2.5, TurnMps: 1.2, Seed: 5})
	if !reflect.DeepEqual(still.Track, seeded.Track) {
		t.Error("a seed alone changes the drive")
	}
	if first := plain(t, p).Track[0]; first == (motion.Pose{}) {
		t.Error("no first pose")
	}
}

// The variances that were asked for, less what is cut off (chance.Vary), add
// up: of the drives of many seeds, and of the passes of one.
func TestPaceVaries(t *testing.T) {
	const n, cut = 4000, 0.973
	for _, c := range []struct{ pass, drive float64 }{{0.1, 0}, {0, 0.1}, {0.05, 0.05}} {
		var drives, passes float64
		for seed := range uint64(n) {
			p := newPace(&Params{PassSpeedSigma: c.pass, DriveSpeedSigma: c.drive, Seed: seed})
			first, second := p.next(), p.next()
			drives += (first - 1) * (second - 1)
			passes += (first - second) * (first - second) / 2
		}
		for _, v := range []struct {
			name      string
			got, want float64
		}{{"from drive to drive", drives / n, c.drive * c.drive}, {"from pass to pass", passes / n, c.pass * c.pass}} {
			if tol := 6 * (c.pass*c.pass + c.drive*c.drive) / math.Sqrt(n); math.Abs(v.got-cut*v.want) > tol {
				t.Errorf("%+v: variance %s %g; want %g ± %g", c, v.name, v.got, cut*v.want, tol)
			}
		}
	}
}

func TestPaceErrors(t *testing.T) {
	f := &field.Field{}
	m := &sections.Machine{Sections: []sections.Section{{XM: -2, WidthM: 6}}}
	for want, p := range map[string]Params{
		"speed varies by a share of 0.3 from pass to pass; expected 0 to 0.2":   {WorkMps: 2, PassSpeedSigma: 0.3},
		"speed varies by a share of NaN from drive to drive; expected 0 to 0.2": {WorkMps: 2, DriveSpeedSigma: math.NaN()},
	} {
		if _, err := Plan(f, m, p); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v; want %q", err, want)
		}
	}
}
