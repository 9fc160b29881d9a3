// Centres of gravity by hand.

package polygon

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"
)

// The centre of two rectangles, one of which has a hole, is the mean of their centres by area,
// wherever they lie and whichever way round they are given.
func TestCentroidOfRectangles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rectangle := func(name string, west, south, east, north float64) orb.Ring {
			r := orb.Ring{{west, south}, {east, south}, {east, north}, {west, north}, {west, south}}
			if rapid.Bool().Draw(t, name+" clockwise") {
				r[1], r[3] = r[3], r[1]
			}
			return r
		}
		x, y := rapid.Float64Range(-500, 500).Draw(t, "east"), rapid.Float64Range(-500, 500).Draw(t, "north")
		c, areaM2 := Centroid(orb.MultiPolygon{
			{rectangle("first", x, y, x+30, y+20), rectangle("hole", x+20, y+4, x+24, y+14)},
			{rectangle("second", x+40, y-10, x+50, y)},
		})
		// 600 m² less 40 m², and 100 m².
		wantE := (600*15 - 40*22 + 100*45) / 660.0
		wantN := (600*10 - 40*9 - 100*5) / 660.0
		if !(math.Abs(areaM2-660) <= 1e-6) || !(math.Abs(c[0]-x-wantE) <= 1e-6) || !(math.Abs(c[1]-y-wantN) <= 1e-6) {
			t.Fatalf("%g m² about (%g, %g); want 660 about (%g, %g)", areaM2, c[0]-x, c[1]-y, wantE, wantN)
		}
	})
	if c, areaM2 := Centroid(nil); areaM2 != 0 || c != (orb.Point{}) {
		t.Errorf("of nothing: %g m² about %v", areaM2, c)
	}
}
