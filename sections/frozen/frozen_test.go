package frozen

import (
	"math"
	"math/rand/v2"
	"testing"

	"liftbench/nmea"
)

// A receiver at rest with noise of both, one that creeps without a course, and one
// whose position comes back are believed.
func TestBelieves(t *testing.T) {
	nan := math.NaN()
	rng := rand.New(rand.NewPCG(1, 1))
	for _, tc := range []struct {
		name string
		at   func(i int) (n float64, f nmea.Fix)
	}{
		{"at rest", func(int) (float64, nmea.Fix) {
			return 0.3 * rng.NormFloat64(), nmea.Fix{SpeedMps: 0.05 + 0.05*rng.Float64(), CourseDeg: 360 * rng.Float64()}
		}},
		{"creeping without a course", func(i int) (float64, nmea.Fix) {
			return 0.02 * float64(i), nmea.Fix{SpeedMps: 0.2, CourseDeg: nan}
		}},
	} {
		var w Way
		for i := range 6000 {
			n, f := tc.at(i)
			f.TimeNs = int64(i+1) * 100e6
			if w.Add(&f, 0, n) {
				t.Errorf("%s: not believed after %.1f s", tc.name, float64(i)*0.1)
				break
			}
		}
	}
	var w Way
	believed, n := true, 0.0
	for i := range 400 {
		if i < 100 || i > 200 {
			n += 0.2
		}
		believed = !w.Add(&nmea.Fix{TimeNs: int64(i+1) * 100e6, SpeedMps: 2}, 0, n)
		if i == 150 && believed || i == 50 && !believed {
			t.Errorf("step %d: believed %v", i, believed)
		}
	}
	if !believed {
		t.Error("not believed again after 20 s of agreement")
	}
}
