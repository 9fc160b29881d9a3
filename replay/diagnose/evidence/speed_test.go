// What a metre of place error is beside a driver who brakes.

package evidence

import (
	"math"
	"testing"
)

// TestSpeedFreeOfNoise: what a metre of place error is beside a braking driver does
// not change with the error of the position at that crossing.
func TestSpeedFreeOfNoise(t *testing.T) {
	const v, a, placeM = 2.0, -0.5, 0.4
	when := func(atM float64) float64 { return 2 * atM / (v + math.Sqrt(v*v+2*a*atM)) }
	for _, lateS := range []float64{0, 0.1, 0.3, 0.6} {
		exact := 0.0
		for _, noiseM := range []float64{0, -0.15, -0.05, 0.05, 0.15} {
			actS := when(placeM+noiseM) + lateS
			actM := v*actS + a*actS*actS/2
			m := Move{SpeedMps: v, TimeErrorS: actS, PlaceErrorM: actM}
			// v·t(d)/d by the kinematics.
			want := v * when(placeM) / placeM
			got := m.PerPlaceAt(placeM)
			if math.Abs(got-want) > 0.005 {
				t.Errorf("%g s late, position off by %g m: %.4f; want %.4f", lateS, noiseM, got, want)
			}
			if noiseM == 0 {
				exact = got
			}
			// The mean speed of the whole way would change by a·ε/(2v²), 0.009 at most here.
			if math.Abs(got-exact) > 1e-3 {
				t.Errorf("%g s late: %.4f where the position is off by %g m, %.4f where it is not", lateS, got, noiseM, exact)
			}
		}
	}
	for _, m := range []Move{{SpeedMps: 2}, {SpeedMps: 2, TimeErrorS: 1e-9, PlaceErrorM: 2e-9}, {SpeedMps: 2, TimeErrorS: 1e-3, PlaceErrorM: -2e-3}, {SpeedMps: 2, TimeErrorS: 8, PlaceErrorM: 1e-6}} {
		if got := m.PerPlaceAt(0.3); !(got >= leastSlowing && got <= 1/leastSlowing) {
			t.Errorf("%+v: %g", m, got)
		}
	}
}
