// The body's area beside GEOS's, on boundaries with corners that point into the
// field: given by their corners, and recorded point by point.

package headland_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections/field/polygon"
	"liftbench/sim/campaign"
)

// checkAreas compares the area of each body with that of GEOS's offset: within 0.1 %.
func checkAreas(t *testing.T, list []cut) {
	t.Helper()
	var asked []map[string]any
	for _, c := range list {
		asked = append(asked, map[string]any{"boundary": c.boundary, "width": c.widthM})
	}
	var want []float64
	shapely(t, `
from shapely.geometry import Polygon
from shapely.ops import unary_union
shape = lambda mp: unary_union([Polygon(p[0], p[1:]) for p in mp])
out = [shape(h["boundary"]).buffer(-h["width"], resolution=256).area for h in d]
`, asked, &want)
	worst := 0.0
	for i, c := range list {
		got := polygon.AreaM2(c.body)
		off := math.Abs(got/want[i] - 1)
		worst = max(worst, off)
		if !(off <= 1e-3) {
			t.Errorf("%s, headland of %g m: body %.1f m², GEOS %.1f", c.name, c.widthM, got, want[i])
		}
	}
	t.Logf("%d headlands, at worst %.4f %% from GEOS", len(list), 100*worst)
}

// A square of 200 m with a notch 20 m wide and 60 m deep in its south side, and
// the same turned by 17°, at every width from 1 to 30 m.
func TestNotchAtEveryWidth(t *testing.T) {
	notched := orb.Ring{{0, 0}, {90, 0}, {100, 60}, {110, 0}, {200, 0}, {200, 200}, {0, 200}}
	var list []cut
	for _, turnDeg := range []float64{0, 17} {
		s, c := math.Sincos(turnDeg * radPerDeg)
		var turned orb.Ring
		for _, p := range notched {
			turned = append(turned, orb.Point{c*p[0] - s*p[1], s*p[0] + c*p[1]})
		}
		for widthM := 1.0; widthM <= 30; widthM++ {
			list = append(list, cutFrom(t, fmt.Sprintf("notch turned by %g°", turnDeg), orb.MultiPolygon{{turned}}, widthM, 0))
		}
	}
	checkAreas(t, list)
}

// recorded returns a way through corners as a receiver that is driven along it
// records it: a point every stepM, 2 cm of noise.
func recorded(rng *rand.Rand, corners []orb.Point, stepM float64) orb.Ring {
	var out orb.Ring
	for i, p := range corners[:len(corners)-1] {
		q := corners[i+1]
		lengthM := math.Hypot(q[0]-p[0], q[1]-p[1])
		for along := 0.0; along < lengthM; along += stepM {
			u := along / lengthM
			out = append(out, orb.Point{p[0] + u*(q[0]-p[0]) + 0.02*rng.NormFloat64(), p[1] + u*(q[1]-p[1]) + 0.02*rng.NormFloat64()})
		}
	}
	return append(out, corners[len(corners)-1])
}

// A notch that was recorded densely: around its tip points lie in any direction
// from each other, and a jog between two points may be shorter than its offset is long.
func TestRecordedNotch(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	var list []cut
	count := campaign.Times(30, 100, 100)
	for k := range count {
		half := 3 + 30*rng.Float64()
		ring := recorded(rng, []orb.Point{{100 - half, 0}, {100, 60}, {100 + half, 0}}, 0.1+0.2*rng.Float64())
		ring = append(ring, orb.Point{200, 0}, orb.Point{200, 200}, orb.Point{0, 200}, orb.Point{0, 0})
		widthM := 6 + 18*rng.Float64()
		if _, flaw := polygon.Clean(orb.MultiPolygon{{ring}}); flaw != nil {
			continue // noise may make it cross itself
		}
		list = append(list, cutFrom(t, fmt.Sprintf("recording %d, notch of %.1f m", k, 2*half), orb.MultiPolygon{{ring}}, widthM, 0))
	}
	checkAreas(t, list)
}

// Fields of 2 to 15 ha drawn at random, with 6 to 30 corners, of which some point
// into the field; every other one recorded.
func TestConcaveFields(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	var list []cut
	count := campaign.Times(15, 50, 50)
	for len(list) < count {
		var ring orb.Ring
		n := 6 + rng.IntN(25)
		sizeM := 80 + 120*rng.Float64()
		for i := range n {
			s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.8*rng.Float64()) / float64(n))
			r := sizeM * (0.5 + rng.Float64())
			ring = append(ring, orb.Point{1.5 * r * c, r * s})
		}
		name := "drawn"
		if len(list)%2 == 1 {
			name, ring = "recorded", recorded(rng, append(ring, ring[0]), 0.5+2*rng.Float64())
		}
		if _, flaw := polygon.Clean(orb.MultiPolygon{{ring}}); flaw != nil {
			continue
		}
		list = append(list, cutFrom(t, fmt.Sprintf("field %d (%s)", len(list)+1, name), orb.MultiPolygon{{ring}}, 6+18*rng.Float64(), 0))
	}
	checkAreas(t, list)
}
