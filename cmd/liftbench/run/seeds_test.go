// The demo over many seeds: nothing missed, nothing extra.

package run

import (
	"io"
	"math"
	"slices"
	"testing"

	"liftbench/cmd/liftbench/settings"
	"liftbench/sections/score"
	"liftbench/sim/campaign"
)

// Nothing is missed and nothing extra, whatever the noise, over the first 5 seeds,
// or over 50 with LIFTBENCH_CAMPAIGN=full.
func TestDemoSeeds(t *testing.T) {
	seeds := campaign.Times(5, 5, 50)
	missed, extra := 0, 0
	var off []float64
	for seed := 1; seed <= seeds; seed++ {
		u, err := new(settings.Selection).Load()
		if err != nil {
			t.Fatal(err)
		}
		u.Scenario.Drive.Seed = seed
		o, err := Drive(u, nil, io.Discard, false)
		if err != nil {
			t.Fatal(err)
		}
		s := o.Score
		if m, x := s.Lift.Missed+s.Drop.Missed, s.Lift.Spurious+s.Drop.Spurious; m+x > 0 {
			t.Errorf("seed %d: %d crossings missed, %d transitions extra", seed, m, x)
			missed, extra = missed+m, extra+x
		}
		for i := range s.Events {
			if e := &s.Events[i]; e.Kind == score.Paired {
				off = append(off, math.Abs(e.PlaceErrorM))
			}
		}
	}
	slices.Sort(off)
	t.Logf("%d seeds: %d pairs, 95 %% within %.1f cm, 99 %% within %.1f cm; %d missed, %d extra",
		seeds, len(off), 100*off[(len(off)*95+99)/100-1], 100*off[(len(off)*99+99)/100-1], missed, extra)
}
