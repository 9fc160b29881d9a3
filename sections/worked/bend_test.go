package worked_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections/field"
	"liftbench/sections/field/rowline"
	"liftbench/sections/geodesy"
	"liftbench/sections/worked"
)

// A record of a field whose rows are circles is that of a field with straight rows, bent:
// u metres along and v beside becomes the angle u/R and the radius R - v. Whatever is driven, both say the
// same of every section. On the whole circle u goes on around, over the seam of the line.
func TestBentAsStraight(t *testing.T) {
	const radius, spacing = 120.0, 0.5
	for _, c := range []struct {
		name    string
		overRad float64
		shiftM  float64 // of u
	}{{"an arc", 2, 0}, {"over the seam", 2 * math.Pi, -100}} {
		t.Run(c.name, func(t *testing.T) {
			bend := func(u, v float64) orb.Point {
				sin, cos := math.Sincos((u + c.shiftM) / radius)
				return orb.Point{(radius - v) * sin, (radius - v) * cos}
			}
			flat := func(u, v float64) orb.Point { return orb.Point{v, u} }
			var line orb.LineString
			n := int(c.overRad * 20)
			for k := range n + 1 {
				sin, cos := math.Sincos(c.overRad * float64(k) / float64(n))
				line = append(line, orb.Point{radius * sin, radius * cos})
			}
			l, err := rowline.New(line)
			if err != nil {
				t.Fatal(err)
			}
			record := func(at func(u, v float64) orb.Point, z field.Zone) (*worked.Record, *field.Field) {
				var ring orb.Ring
				for u := 10.0; u <= 220; u++ {
					ring = append(ring, at(u, -20))
				}
				for u := 220.0; u >= 10; u-- {
					ring = append(ring, at(u, 20))
				}
				z.Polygons = orb.MultiPolygon{{append(ring, ring[0])}}
				f, err := field.New(geodesy.NewPlane(52, 10), nil, []field.Zone{z})
				if err != nil {
					t.Fatal(err)
				}
				r, err := worked.New(f, spacing)
				if err != nil {
					t.Fatal(err)
				}
				return r, f
			}
			straight, _ := record(flat, field.Zone{Name: "body", Drill: field.Drill{Known: true}})
			bent, f := record(bend, field.Zone{Name: "body", Line: l})
			zones := ^field.Mask(0)
			lineAt := func(at func(u, v float64) orb.Point, u, left, right float64) *worked.Line {
				a, b := at(u, left), at(u, right)
				return &worked.Line{LeftE: a[0], LeftN: a[1], RightE: b[0], RightN: b[1]}
			}
			rng := rand.New(rand.NewPCG(1, 1))
			asked, fresh := 0, 0
			for range 5 { // more than six stretches of a row would be forgotten
				v := -18 + spacing*float64(rng.IntN(60)) + 0.07
				u, end, step := 15+60*rng.Float64(), 100+110*rng.Float64(), 1.7
				left, right := v, v+5
				if rng.IntN(2) == 0 {
					u, end, step, left, right = end, u, -step, right, left
				}
				for _, r := range []struct {
					*worked.Record
					at func(u, v float64) orb.Point
				}{{straight, flat}, {bent, bend}} {
					for w := u; (end-w)*step > 0; w += step {
						r.Follow(zones, lineAt(r.at, w, left, right), math.Abs(step))
						if int(w)%130 > 12 { // a gap now and then
							r.Mark(zones, lineAt(r.at, w, left, right), lineAt(r.at, w+step, left, right))
						}
					}
					r.Follow(0, lineAt(r.at, end, left, right), 1)
				}
				for range 800 {
					u, v, wide := 15+200*rng.Float64(), -18+30*rng.Float64(), 0.5+3*rng.Float64()
					got := bent.Left(zones, lineAt(bend, u, v, v+wide), nil)
					want := straight.Left(zones, lineAt(flat, u, v, v+wide), nil)
					if asked++; got == 1 {
						fresh++
					}
					// A row's middle, or a stretch's end, within what a chord is off.
					if got != want && bent.Left(zones, lineAt(bend, u+0.02, v+0.005, v+wide+0.005), nil) == got && bent.Left(zones, lineAt(bend, u-0.02, v-0.005, v+wide-0.005), nil) == got {
						t.Fatalf("at %g m, %g to %g m beside: %g is left, with straight rows %g", u, v, v+wide, got, want)
					}
					over := bent.Touches(zones, lineAt(bend, u, v, v+wide), lineAt(bend, u, v, v+wide), 0)
					if got < 1 && !over {
						t.Fatalf("at %g m, %g m beside: %g is left, but no row touched is worked", u, v, got)
					}
				}
			}
			if straight.Forgotten() != 0 || bent.Forgotten() != 0 {
				t.Errorf("stretches forgotten: %d with straight rows, %d", straight.Forgotten(), bent.Forgotten())
			}
			if fresh < asked/20 || fresh > asked*19/20 {
				t.Errorf("%d of %d fresh", fresh, asked)
			}
			if n := testing.AllocsPerRun(100, func() {
				bent.Follow(zones, lineAt(bend, 50, 0, 3), 1)
				bent.Mark(zones, lineAt(bend, 50, 0, 3), lineAt(bend, 51, 0, 3))
				bent.Left(zones, lineAt(bend, 50, 0, 3), f)
			}); n > 10 { // the lines' own
				t.Errorf("%g allocations", n)
			}
		})
	}
}
