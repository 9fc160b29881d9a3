package drive

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"pgregory.net/rapid"

	"liftbench/sections/field"
	"liftbench/sections/geodesy"
)

// wavy is a round field with so many corners.
func wavy(corners int, radiusM float64) orb.MultiPolygon {
	r := make(orb.Ring, corners+1)
	for i := range corners {
		a := 2 * math.Pi * float64(i) / float64(corners)
		m := radiusM * (1 + 0.02*math.Sin(37*a))
		r[i] = orb.Point{m * math.Cos(a), m * math.Sin(a)}
	}
	r[corners] = r[0]
	return orb.MultiPolygon{{r}}
}

// The distance to a border, found row by row, is that which orb/planar finds by
// looking at every edge.
func TestDistanceToBorders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mp := wavy(rapid.IntRange(3, 300).Draw(t, "corners"), rapid.Float64Range(1, 900).Draw(t, "radius"))
		r := newRows(mp, rapid.Float64Range(-7, 7).Draw(t, "bearing"))
		at := rapid.Float64Range(-2000, 2000)
		p := orb.Point{at.Draw(t, "east"), at.Draw(t, "north")}
		if got, want := r.distanceM(p[0], p[1]), planar.DistanceFrom(mp, p); !(math.Abs(got-want) <= 1e-9*(1+want)) {
			t.Fatalf("%v: %g m; orb/planar %g m", p, got, want)
		}
	})
	if got := newRows(nil, 0).distanceM(1, 2); !math.IsInf(got, 1) {
		t.Errorf("without borders: %g m", got)
	}
}

// How long a plan takes on borders of many corners. It grew with the product of
// corners and of points looked at in turns, 27 s for 40 000 corners; a second is left.
func BenchmarkPlanManyCorners(b *testing.B) {
	mp := wavy(40_000, 400)
	f, err := field.New(geodesy.NewPlane(52, 11), mp, []field.Zone{{Kind: field.Body, RowBearingRad: 0.2, Polygons: mp}})
	if err != nil {
		b.Fatal(err)
	}
	m := hoe(12, 0.5)
	for b.Loop() {
		if _, err := Plan(f, m, Params{WorkMps: 2}); err != nil {
			b.Fatal(err)
		}
	}
}
