package field

import (
	"math"
	"os"
	"testing"

	"github.com/paulmach/orb"
)

func square(x0, y0, x1, y1 float64) orb.Polygon {
	return orb.Polygon{{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}}}
}

func TestX(t *testing.T) {
	f, err := New(NewPlane(52, 10), nil, []Zone{
		{Kind: Body, RowBearingRad: math.NaN(), Polygons: orb.MultiPolygon{square(0, 0, 100, 100)}},
		{Kind: Headland, RowBearingRad: 0, Polygons: orb.MultiPolygon{square(100, 0, 120, 50), square(100, 50, 120, 100)}},
		{Kind: KeepOut, RowBearingRad: 0, Polygons: orb.MultiPolygon{square(40, 40, 60, 60)}},
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Log(f.AreaM2(), f.grid.cellM, f.grid.nx, f.grid.ny)
	for _, q := range [][4]float64{{-1, 50, 1, 50}, {99, 50, 101, 50}, {38, 50, 42, 50}, {100, 20, 100, 24}, {-5, -5, 125, 105}, {0, 0, 0, 100}, {120, 0, 120, 100}, {0, 0, 0, 0}, {-9, 50, 200, 50}} {
		t.Log(q, f.Share(q[0], q[1], q[2], q[3], ^Mask(0)), f.Share(q[0], q[1], q[2], q[3], f.Unbound()))
	}
	t.Log(f.At(50, 50), f.At(10, 10), f.At(110, 10), f.ClearanceM(20, 20))
}

func BenchmarkX(b *testing.B) {
	p := NewPlane(52, 10)
	var s float64
	for b.Loop() {
		e, n := p.ToPlane(52.01, 10.02)
		s += e + n
	}
}

func TestReal(t *testing.T) {
	for _, n := range []string{"05", "20", "25"} {
		r, err := os.Open(os.Getenv("LIFTBENCH_DATA") + "/tracks/track-" + n + ".geojson")
		if err != nil {
			t.Skip(err)
		}
		f, err := Read(r, n, Options{HeadlandM: 18})
		if err != nil {
			t.Fatal(err)
		}
		var sum float64
		for i := range f.Zones {
			z := &f.Zones[i]
			t.Log(z.Name, z.RowBearingRad*180/math.Pi, z.AreaM2(), len(z.Polygons), len(z.Polygons[0]), len(z.Polygons[0][0]))
			sum += z.AreaM2()
		}
		t.Log(sum, f.AreaM2(), areaM2(f.Boundary))
		t.Log(f.AreaM2(), f.Plane, f.Bound())
	}
}
