// A receiver that hardly moves knows how fast, but not where to.

package motion

import (
	"math"
	"testing"
)

// Without a course, a speed below 0.5 m/s pulls the estimate's speed to it, forward or backward as the
// estimate goes; one within it stays, and one of a receiver that is faster says nothing.
func TestSpeedWithoutCourse(t *testing.T) {
	update := func(v, reportedMps float64) float64 {
		k := driving(Antenna{}, 0, v)
		k.State.Started, k.State.Ready, k.State.Spread = true, true, 1
		k.State.TimeNs = t0
		k.State.Still.SinceNs = t0
		k.P[speed][speed] = 0.04
		f := rtk(reportedMps, math.NaN())
		f.TimeNs = t0 + 100e6
		k.Update(f, 0, v*0.1)
		return k.X[speed]
	}
	for _, tc := range []struct{ v, mps, lo, hi float64 }{
		{0.4, 0.2, 0.2, 0.3}, {-0.4, 0.2, -0.3, -0.2}, {0.1, 0.2, 0.09, 0.11}, {-0.1, 0.2, -0.11, -0.09}, {0.9, 0.45, 0.45, 0.6}, {0.9, 0.55, 0.89, 0.91},
	} {
		if got := update(tc.v, tc.mps); !(got >= tc.lo && got <= tc.hi) {
			t.Errorf("estimate %g m/s, receiver %g m/s: %g; want %g to %g", tc.v, tc.mps, got, tc.lo, tc.hi)
		}
	}
}
