package polygon

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
)

// A ring of 20000 points is checked in no time, and its only crossing found.
func TestLargeRingCrossing(t *testing.T) {
	const n = 20000
	r := make(orb.Ring, 0, n+1)
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / n)
		d := 200 + 20*math.Sin(7*2*math.Pi*float64(i)/n)
		r = append(r, orb.Point{d * c, d * s})
	}
	r = append(r, r[0])
	r[5000], r[5001] = r[5001], r[5000]
	_, bad := CleanRing(r, true)
	if bad != nil {
		t.Fatal(bad.Text)
	}
	if bad = Crossing(orb.Polygon{r}); bad == nil || bad.Text != "ring crosses itself" {
		t.Fatalf("found %v", bad)
	}
	if d := math.Hypot(bad.At[0]-r[5000][0], bad.At[1]-r[5000][1]); d > 1 {
		t.Errorf("crossing found %g m away", d)
	}
}
