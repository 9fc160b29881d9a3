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

// cutFrom cuts a headland from a boundary.
func cutFrom(t *testing.T, name string, boundary orb.MultiPolygon, widthM float64) cutHeadland {
	t.Helper()
	f := &Field{}
	var bad *flaw
	if f.Boundary, bad = cleaned(boundary); bad != nil {
		t.Fatalf("%s: %s", name, bad.text)
	}
	var err error
	if f.Zones, err = headland(f.Boundary, widthM, math.NaN()); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if err := f.finish(noiseM); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return cutHeadland{name, f, widthM, 0.05}
}

// A square of 200 m with a notch 60 m deep in its south side, as wide as makes
// its tip 1° to 90°.
func TestHeadlandNotch(t *testing.T) {
	var list []cutHeadland
	for _, tipDeg := range []float64{1, 5, 19, 30, 60, 90} {
		half := 60 * math.Tan(tipDeg/2*radPerDeg)
		notched := orb.MultiPolygon{{{{0, 0}, {100 - half, 0}, {100, 60}, {100 + half, 0}, {200, 0}, {200, 200}, {0, 200}}}}
		for _, widthM := range []float64{1, 12, 30} {
			list = append(list, cutFrom(t, fmt.Sprintf("tip %g°, %g m", tipDeg, widthM), notched, widthM))
		}
	}
	checkHeadlands(t, list...)
}

// Boundaries drawn at random: 5 to 14 corners around a middle, each at any
// distance of 40 to 200 m, so that some are spikes and some are notches.
func TestHeadlandSpikes(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var list []cutHeadland
	for k := range 40 {
		var ring orb.Ring
		n := 5 + rng.IntN(10)
		for i := range n {
			s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.8*rng.Float64()) / float64(n))
			r := 40 + 160*rng.Float64()
			ring = append(ring, orb.Point{r * c, r * s})
		}
		list = append(list, cutFrom(t, fmt.Sprintf("boundary %d", k), orb.MultiPolygon{{ring}}, 2+8*rng.Float64()))
	}
	checkHeadlands(t, list...)
}
