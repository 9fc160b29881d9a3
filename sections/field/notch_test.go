// Headlands of boundaries with corners that point into the field, of any
// sharpness, beside GEOS.

package field

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
)

// checkCut cuts a headland from a boundary and compares it with GEOS.
func checkCut(t *testing.T, boundary orb.MultiPolygon, widthM, toleranceM float64) {
	t.Helper()
	f := &Field{}
	var bad *flaw
	if f.Boundary, bad = cleaned(boundary); bad != nil {
		t.Fatal(bad.text)
	}
	var err error
	if f.Zones, err = headland(f.Boundary, widthM, math.NaN()); err != nil {
		t.Fatal(err)
	}
	if err := f.finish(noiseM); err != nil {
		t.Fatal(err)
	}
	checkHeadland(t, f, widthM, toleranceM)
}

// A square of 200 m with a notch 60 m deep in its south side, as wide as makes
// its tip 1° to 90°.
func TestHeadlandNotch(t *testing.T) {
	for _, tipDeg := range []float64{1, 5, 19, 30, 60, 90} {
		half := 60 * math.Tan(tipDeg/2*radPerDeg)
		notched := orb.MultiPolygon{{{{0, 0}, {100 - half, 0}, {100, 60}, {100 + half, 0}, {200, 0}, {200, 200}, {0, 200}}}}
		for _, widthM := range []float64{1, 12, 30} {
			t.Run(fmt.Sprintf("tip %g°, %g m", tipDeg, widthM), func(t *testing.T) { checkCut(t, notched, widthM, 0.05) })
		}
	}
}

// Boundaries drawn at random: 5 to 14 corners around a middle, each at any
// distance of 40 to 200 m, so that some are spikes and some are notches.
func TestHeadlandSpikes(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for k := range 40 {
		var ring orb.Ring
		n := 5 + rng.IntN(10)
		for i := range n {
			s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.8*rng.Float64()) / float64(n))
			r := 40 + 160*rng.Float64()
			ring = append(ring, orb.Point{r * c, r * s})
		}
		widthM := 2 + 8*rng.Float64()
		t.Run(fmt.Sprint(k), func(t *testing.T) { checkCut(t, orb.MultiPolygon{{ring}}, widthM, 0.05) })
	}
}
