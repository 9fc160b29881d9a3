// Distances against those to every edge.

package field

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections/geodesy"
)

// The distance is that of a search through all edges, and ClearanceM is never more.
func TestDistanceAgainstEveryEdge(t *testing.T) {
	ring := func(points ...orb.Point) orb.Polygon { return orb.Polygon{append(points, points[0])} }
	zones := []Zone{
		{Kind: Body, RowBearingRad: 0, Polygons: orb.MultiPolygon{ring(orb.Point{0, 0}, orb.Point{130, 20}, orb.Point{110, 90}, orb.Point{-5, 70})}},
		{Kind: KeepOut, RowBearingRad: math.NaN(), Polygons: orb.MultiPolygon{ring(orb.Point{40, 40}, orb.Point{42, 40.5}, orb.Point{41, 43})}},
	}
	f, err := New(geodesy.NewPlane(52, 10), nil, zones)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		x, y, within := r.Float64()*160-15, r.Float64()*120-15, r.Float64()*12
		want := within
		for i := range f.grid.edges {
			e := &f.grid.edges[i]
			u := ((x-e.px)*(e.qx-e.px) + (y-e.py)*(e.qy-e.py)) / (math.Pow(e.qx-e.px, 2) + math.Pow(e.qy-e.py, 2))
			u = math.Max(0, math.Min(1, u))
			want = math.Min(want, math.Hypot(x-e.px-u*(e.qx-e.px), y-e.py-u*(e.qy-e.py)))
		}
		if got := f.DistanceM(x, y, within); math.Abs(got-want) > 1e-9 {
			t.Fatalf("DistanceM(%g, %g, %g) = %.12g, want %.12g", x, y, within, got, want)
		}
		if c := f.ClearanceM(x, y); c > f.DistanceM(x, y, 500) {
			t.Fatalf("ClearanceM(%g, %g) = %g, more than the distance %g", x, y, c, f.DistanceM(x, y, 500))
		}
	}
}
