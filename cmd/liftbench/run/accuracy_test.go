// How close the demo comes, over several seeds.

package run

import (
	"fmt"
	"io"
	"math"
	"slices"
	"testing"

	"liftbench/cmd/liftbench/settings"
	"liftbench/sections/score"
)

// With RTK noise of 1.4 cm (Carballido et al. 2014, Appl. Eng. Agric.
// 30(3):361-366: 1.43 cm between rows), 10 Hz, 100 ms of latency and 8 km/h, 95 %
// of the demo's transitions come within 8 cm of where they ought to, missed
// and spurious ones counted as beyond. go test -v prints what it really is.
func TestDemoAccuracy(t *testing.T) {
	var all []float64
	for seed := 1; seed <= 5; seed++ {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			u, err := new(settings.Selection).Load()
			if err != nil {
				t.Fatal(err)
			}
			u.Scenario.Drive.Seed = seed
			if r, d := u.Scenario.Receiver, u.Scenario.Drive; r.NoiseCm != 1.4 || r.RateHz != 10 || r.LatencyMs != 100 || d.SpeedKmh != 8 {
				t.Fatalf("the demo has noise %g cm, %g Hz, %g ms, %g km/h; want 1.4, 10, 100, 8", r.NoiseCm, r.RateHz, r.LatencyMs, d.SpeedKmh)
			}
			o, err := Drive(u, nil, io.Discard, false)
			if err != nil {
				t.Fatal(err)
			}
			var off []float64
			for i := range o.Score.Events {
				switch e := &o.Score.Events[i]; e.Kind {
				case score.Paired:
					off = append(off, math.Abs(e.PlaceErrorM))
				case score.Missed, score.Spurious:
					off = append(off, math.Inf(1))
				}
			}
			if len(off) < 300 {
				t.Fatalf("%d transitions; want at least 300", len(off))
			}
			slices.Sort(off)
			all = append(all, off...)
			p95 := off[(len(off)*95+99)/100-1]
			t.Logf("95 %% of %d transitions within %.1f cm, half within %.1f cm, the worst %.1f cm",
				len(off), 100*p95, 100*off[len(off)/2], 100*off[len(off)-1])
			if p95 > 0.08 {
				t.Errorf("95 %% within %.3f m; want 0.08", p95)
			}
		})
	}
	slices.Sort(all)
	t.Logf("all %d: 95 %% within %.1f cm, 99 %% within %.1f cm", len(all), 100*all[(len(all)*95+99)/100-1], 100*all[(len(all)*99+99)/100-1])
}

// The demo under typical conditions is several times as far off: the first figure
// is that of a perfect machine. go test -v prints what it really is.
func TestTypicalAccuracy(t *testing.T) {
	var lifts, drops []float64
	for seed := 1; seed <= 5; seed++ {
		u, err := new(settings.Selection).Load()
		if err != nil {
			t.Fatal(err)
		}
		u.Scenario.Drive.Seed = seed
		o := &Outcome{Setup: u}
		if err := o.AddTypical(io.Discard); err != nil {
			t.Fatal(err)
		}
		if u.Scenario.Spread.LiftDeadMs != 0 || u.Scenario.Drive.SpeedSDPercent != 0 {
			t.Fatal("the setup itself was changed")
		}
		l, d := o.Typical.Score.Lift, o.Typical.Score.Drop
		t.Logf("seed %d: 95 %% of lifts within %.1f cm, of drops within %.1f cm; %d missed, %d extra", seed,
			100*l.PlaceErrorM.P95Abs, 100*d.PlaceErrorM.P95Abs, l.Missed+d.Missed, l.Spurious+d.Spurious)
		for i := range o.Typical.Score.Events {
			switch e := &o.Typical.Score.Events[i]; {
			case e.Kind != score.Paired:
			case e.On:
				drops = append(drops, math.Abs(e.PlaceErrorM))
			default:
				lifts = append(lifts, math.Abs(e.PlaceErrorM))
			}
		}
	}
	for _, c := range []struct {
		name   string
		off    []float64
		lo, hi float64
	}{{"lifts", lifts, 0.07, 0.20}, {"drops", drops, 0.20, 0.50}} {
		slices.Sort(c.off)
		p95 := c.off[(len(c.off)*95+99)/100-1]
		t.Logf("all %d %s: 95 %% within %.1f cm", len(c.off), c.name, 100*p95)
		if !(p95 >= c.lo && p95 <= c.hi) {
			t.Errorf("95 %% of %s within %.3f m; want %g to %g", c.name, p95, c.lo, c.hi)
		}
	}
}
