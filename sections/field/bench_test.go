// Benchmarks of the budget: a share query in at most 60 ns whatever the number
// of vertices, beside orb/planar on the same fields and lines.

package field

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"liftbench/sections/geodesy"
)

// wavy is a ring of n vertices whose border swings in and out.
func wavy(n int, radiusM float64) orb.Ring {
	r := make(orb.Ring, 0, n+1)
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		d := radiusM * (1 + 0.1*math.Sin(7*2*math.Pi*float64(i)/float64(n)))
		r = append(r, orb.Point{d * c, d * s})
	}
	return append(r, r[0])
}

func scaled(r orb.Ring, f float64) orb.Ring {
	out := make(orb.Ring, len(r))
	for i, p := range r {
		out[i] = orb.Point{p[0] * f, p[1] * f}
	}
	return out
}

// wavyField has a headland of n vertices outside and in, the body within, and
// a keep-out in the middle.
func wavyField(tb testing.TB, n int, radiusM float64) *Field {
	f, _ := raggedField(tb, n, radiusM, 0)
	return f
}

// raggedField is wavyField with its vertices up to ragM away from where they
// should be, and its outer ring.
func raggedField(tb testing.TB, n int, radiusM, ragM float64) (f *Field, outer orb.Ring) {
	outer = wavy(n, radiusM)
	rng := rand.New(rand.NewPCG(7, 8))
	for i := range outer[:n] {
		k := 1 + (2*rng.Float64()-1)*ragM/radiusM
		outer[i] = orb.Point{outer[i][0] * k, outer[i][1] * k}
	}
	outer[n] = outer[0]
	inner := scaled(outer, 0.85)
	f, err := New(geodesy.Plane{}, nil, []Zone{
		{Name: "headland", Kind: Headland, RowBearingRad: math.NaN(), Polygons: orb.MultiPolygon{{outer, inner}}},
		{Name: "body", Kind: Body, RowBearingRad: 0, Polygons: orb.MultiPolygon{{inner}}},
		{Name: "pond", Kind: KeepOut, Polygons: orb.MultiPolygon{{scaled(outer, 0.1)}}},
	})
	if err != nil {
		tb.Fatal(err)
	}
	return f, outer
}

type query struct{ ae, an, be, bn float64 }

func queries(f *Field, lengthM float64, nearBorder bool, ring orb.Ring) []query {
	rng := rand.New(rand.NewPCG(1, 2))
	b := f.Bound()
	qs := make([]query, 1<<10)
	for i := range qs {
		x := b.Min[0] + rng.Float64()*(b.Max[0]-b.Min[0])
		y := b.Min[1] + rng.Float64()*(b.Max[1]-b.Min[1])
		if nearBorder {
			k := rng.IntN(len(ring) - 1)
			u := rng.Float64()
			x = ring[k][0] + u*(ring[k+1][0]-ring[k][0]) + (rng.Float64()-0.5)*lengthM
			y = ring[k][1] + u*(ring[k+1][1]-ring[k][1]) + (rng.Float64()-0.5)*lengthM
		}
		s, c := math.Sincos(rng.Float64() * 2 * math.Pi)
		qs[i] = query{x - lengthM/2*s, y - lengthM/2*c, x + lengthM/2*s, y + lengthM/2*c}
	}
	return qs
}

func BenchmarkShare(b *testing.B) {
	for _, radiusM := range []float64{180, 560} {
		for _, n := range []int{20, 200, 2000, 20000} {
			f := wavyField(b, n, radiusM)
			outer := f.Zones[0].Polygons[0][0]
			for _, lengthM := range []float64{0.5, 3} {
				for _, where := range []string{"border", "anywhere"} {
					qs := queries(f, lengthM, where == "border", outer)
					b.Run(fmt.Sprintf("radius=%gm/vertices=%d/section=%gm/%s", radiusM, n, lengthM, where), func(b *testing.B) {
						b.ReportAllocs()
						var i int
						var sum float64
						for b.Loop() {
							q := &qs[i&(len(qs)-1)]
							sum += f.Share(q.ae, q.an, q.be, q.bn, ^Mask(0))
							i++
						}
					})
				}
			}
		}
	}
}

// BenchmarkPlanarContains is what orb offers for the same question: whether
// both ends and the middle of the section are in the zones.
func BenchmarkPlanarContains(b *testing.B) {
	for _, n := range []int{20, 200, 2000, 20000} {
		f := wavyField(b, n, 180)
		qs := queries(f, 3, true, f.Zones[0].Polygons[0][0])
		b.Run(fmt.Sprintf("vertices=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			var i int
			var sum float64
			for b.Loop() {
				q := &qs[i&(len(qs)-1)]
				for _, p := range []orb.Point{{q.ae, q.an}, {(q.ae + q.be) / 2, (q.an + q.bn) / 2}, {q.be, q.bn}} {
					in := planar.MultiPolygonContains(f.Zones[0].Polygons, p) || planar.MultiPolygonContains(f.Zones[1].Polygons, p)
					if in && !planar.MultiPolygonContains(f.Zones[2].Polygons, p) {
						sum++
					}
				}
				i++
			}
		})
	}
}

// BenchmarkGEOSContains asks the same of GEOS: one prepared geometry of all
// zones, three points a question, in the loop of shapely.vectorized. It makes a
// point for each, which counts; Python counts once for all.
func BenchmarkGEOSContains(b *testing.B) {
	for _, n := range []int{20, 200, 2000, 20000} {
		f := wavyField(b, n, 180)
		var points [][2]float64
		for _, q := range queries(f, 3, true, f.Zones[0].Polygons[0][0]) {
			points = append(points, [2]float64{q.ae, q.an}, [2]float64{(q.ae + q.be) / 2, (q.an + q.bn) / 2}, [2]float64{q.be, q.bn})
		}
		b.Run(fmt.Sprintf("vertices=%d", n), func(b *testing.B) {
			var out struct{ Seconds float64 }
			shapely(b, zonesScript+`
import time, numpy
from shapely.vectorized import contains
ground, p = worked(range(len(zones))), numpy.array(d["points"])
x, y = p[:, 0].copy(), p[:, 1].copy()
contains(ground, x, y)
began = time.perf_counter()
for _ in range(10): contains(ground, x, y)
out = {"seconds": (time.perf_counter() - began) / 10}`, map[string]any{"zones": zonesJSON(f), "points": points}, &out)
			for b.Loop() {
			}
			b.ReportMetric(3e9*out.Seconds/float64(len(points)), "ns/question")
		})
	}
}

func BenchmarkParticipating(b *testing.B) {
	b.ReportAllocs()
	f := wavyField(b, 200, 180)
	var m Mask
	for b.Loop() {
		m |= f.Participating(0.6, 0.8, 0.9)
	}
}

// BenchmarkNew is how long the index takes to build.
func BenchmarkNew(b *testing.B) {
	for _, n := range []int{20, 20000} {
		b.Run(fmt.Sprintf("vertices=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				wavyField(b, n, 180)
			}
		})
	}
}
