// What is made of corners: sectors in closed form, and how far a side may bend.

package headland

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections/field/polygon"
)

const deg = math.Pi / 180

// A sector turns from the end of one strip to the start of the next where the boundary
// turns right, and a bit farther; to the left the strips overlap, and there is none. A
// left turn of more than 170° counts as the right turn to the same place.
func TestSector(t *testing.T) {
	const radiusM = 18
	for turnDeg := -179.0; turnDeg <= 179; turnDeg += 2 {
		for _, beyondDeg := range []float64{0, 1} {
			rightDeg := turnDeg
			if turnDeg < -170 {
				rightDeg += 360
			}
			want := math.Max(0, (rightDeg+beyondDeg)*deg) / 2 * radiusM * radiusM
			// North, then so many degrees to the right.
			s, c := math.Sincos(turnDeg * deg)
			area := 0.0
			for _, g := range sector(orb.LineString{{0, -50}, {0, 0}}, orb.Point{70 * s, 70 * c}, beyondDeg*deg, radiusM) {
				area += g.Area()
			}
			// Between two points of an arc 0.05 % of its area is cut off at most.
			if math.Abs(area-want) > 0.0005*want+1e-9 {
				t.Errorf("%g° to the right and %g° beyond: %.3f m², want %.3f", turnDeg, beyondDeg, area, want)
			}
		}
	}
}

// An edge belongs to a side up to 17.5° from its direction.
func TestHowFarASideBends(t *testing.T) {
	for _, c := range []struct {
		bendDeg float64
		sides   int
	}{{17.45, 4}, {17.55, 5}} {
		s, k := math.Sincos(c.bendDeg * deg)
		field := orb.MultiPolygon{{{{0, 0}, {200, 0}, {200 + 200*k, 200 * s}, {400, 300}, {0, 300}, {0, 0}}}}
		clean, flaw := polygon.Clean(field)
		if flaw != nil {
			t.Fatal(flaw.Text)
		}
		_, strips, err := Cut(clean, 18)
		if err != nil || len(strips) != c.sides {
			t.Errorf("a bend of %g°: %d strips, %v; want %d", c.bendDeg, len(strips), err, c.sides)
		}
	}
}

// Round a corner that points into the field the strip of the longer side goes on until
// 1° beyond the start of the other.
func TestStripRoundACorner(t *testing.T) {
	const widthM = 18
	clean, flaw := polygon.Clean(orb.MultiPolygon{{{{0, 0}, {200, 0}, {200, 80}, {80, 80}, {80, 190}, {0, 190}, {0, 0}}}})
	if flaw != nil {
		t.Fatal(flaw.Text)
	}
	_, strips, err := Cut(clean, widthM)
	if err != nil {
		t.Fatal(err)
	}
	const want = 120*widthM + 91*deg/2*widthM*widthM
	for _, s := range strips {
		if b := s.Polygons.Bound(); b.Min[0] < 63 && b.Max[0] > 199 && b.Min[1] > 61 && b.Max[1] < 81 {
			if got := polygon.AreaM2(s.Polygons); math.Abs(got-want) > 0.3 {
				t.Errorf("%.2f m², want %.2f", got, want)
			}
			return
		}
	}
	t.Error("no strip goes round the corner")
}
