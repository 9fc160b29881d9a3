// Shares and containment against every edge, and against others.

package field

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"pgregory.net/rapid"

	"liftbench/sections/geodesy"
	"liftbench/sim/campaign"
)

func square(x0, y0, x1, y1 float64) orb.Polygon {
	return orb.Polygon{{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}}}
}

func TestShare(t *testing.T) {
	nan := math.NaN()
	f, err := New(geodesy.NewPlane(52, 10), nil, []Zone{
		{Kind: Body, RowBearingRad: nan, Polygons: orb.MultiPolygon{square(0, 0, 100, 100)}},
		{Kind: Headland, RowBearingRad: 0, Polygons: orb.MultiPolygon{square(100, 0, 120, 50), square(100, 50, 120, 100)}},
		{Kind: KeepOut, Polygons: orb.MultiPolygon{square(40, 40, 60, 60)}},
	})
	if err != nil {
		t.Fatal(err)
	}
	all := ^Mask(0)
	for _, c := range []struct {
		name           string
		ae, an, be, bn float64
		mask           Mask
		want           float64
	}{
		{"inside", 10, 10, 13, 10, all, 1},
		{"outside", -10, 10, -7, 10, all, 0},
		{"far outside", 1e6, 10, 1e6, 13, all, 0},
		{"half out", -1, 50, 1, 50, all, 0.5},
		{"across the border of two zones", 99, 50.5, 101, 50.5, all, 1},
		{"across the border, one zone asked", 99, 50.5, 101, 50.5, f.Unbound(), 0.5},
		{"along the border of two zones", 100, 20, 100, 24, all, 1},
		{"along it through the corner of a third", 100, 48, 100, 52, all, 1},
		{"into a keep-out", 39, 50, 41, 50, all, 0.5},
		{"into a keep-out that the mask has not", 39, 50, 41, 50, all &^ f.keepOut, 0.5},
		{"across everything", -9, 50, 200, 50, all, 100.0 / 209},
		{"no zone asked", 10, 10, 13, 10, 0, 0},
		{"a point inside", 5, 5, 5, 5, all, 1},
		{"a point outside", -5, 5, -5, 5, all, 0},
		{"a point in keep-out", 50, 50, 50, 50, all, 0},
		{"not a number", nan, 5, 5, 5, all, 0},
		{"infinite", 5, 5, math.Inf(1), 5, all, 0},
		{"very long", -1e15, 50, 1e15, 50, all, 0},
		{"long", -1e9, 50, 1e9, 50, all, 100 / 2e9},
	} {
		for _, way := range []string{"", ", reversed"} {
			t.Run(c.name+way, func(t *testing.T) {
				got := f.Share(c.ae, c.an, c.be, c.bn, c.mask)
				if way != "" {
					got = f.Share(c.be, c.bn, c.ae, c.an, c.mask)
				}
				if math.Abs(got-c.want) > 1e-12 {
					t.Errorf("share %.15g, want %.15g", got, c.want)
				}
			})
		}
	}
}

// Zones without polygons in common must not leave slivers where one has a
// vertex on the other's edge, and the vertex is rounded.
func TestNoSliver(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		s, c := math.Sincos(rng.Float64() * math.Pi)
		turn := func(p orb.Polygon) orb.Polygon {
			for _, r := range p {
				for i, q := range r {
					r[i] = orb.Point{q[0]*c - q[1]*s, q[0]*s + q[1]*c}
				}
			}
			return p
		}
		third := 100 * rng.Float64()
		f, err := New(geodesy.Plane{}, nil, []Zone{
			{Kind: Body, RowBearingRad: math.NaN(), Polygons: orb.MultiPolygon{turn(square(0, 0, 50, 100))}},
			{Kind: Headland, RowBearingRad: math.NaN(), Polygons: orb.MultiPolygon{turn(square(50, 0, 80, third)), turn(square(50, third, 80, 100))}},
		})
		if err != nil {
			t.Fatal(err)
		}
		a, b := turn(square(50, third-2, 50, third+2))[0][1], turn(square(50, third-2, 50, third+2))[0][2]
		if third > 3 && third < 97 {
			if got := f.Share(a[0], a[1], b[0], b[1], ^Mask(0)); got < 1-1e-9 {
				t.Fatalf("share of a line along the common border is %.12g", got)
			}
		}
		if want := 8000.0; math.Abs(f.AreaM2()-want) > 1e-6 {
			t.Fatalf("area %.9g m², want %g", f.AreaM2(), want)
		}
	}
}

func fieldNames(fields map[string]*Field) []string { return slices.Sorted(maps.Keys(fields)) }

func TestShareProperties(t *testing.T) {
	fields := testFields(t)
	names := fieldNames(fields)
	rapid.Check(t, func(t *rapid.T) {
		f := fields[rapid.SampledFrom(names).Draw(t, "field")]
		b := f.Bound()
		coordinate := func(k int, name string) float64 {
			if rapid.Bool().Draw(t, name+" on a multiple") {
				return math.Round(rapid.Float64Range(b.Min[k]-5, b.Max[k]+5).Draw(t, name))
			}
			return math.Round(rapid.Float64Range(b.Min[k]-5, b.Max[k]+5).Draw(t, name)*0x1p20) * 0x1p-20
		}
		ae, an, be, bn := coordinate(0, "ae"), coordinate(1, "an"), coordinate(0, "be"), coordinate(1, "bn")
		if rapid.Bool().Draw(t, "short") {
			be, bn = ae+(be-ae)/64, an+(bn-an)/64
		}
		length := math.Hypot(be-ae, bn-an)
		if length < 1e-3 {
			return
		}
		// Half a nanometre of rounding, at an acute crossing or several.
		tolerance := 4e-8 * math.Max(1, 1/length)
		m := Mask(rapid.Uint64().Draw(t, "mask"))
		share := f.Share(ae, an, be, bn, m)
		if !(share >= 0 && share <= 1) {
			t.Fatalf("share %g", share)
		}
		if back := f.Share(be, bn, ae, an, m); math.Abs(share-back) > tolerance {
			t.Fatalf("share %.15g, reversed %.15g", share, back)
		}
		if more := f.Share(ae, an, be, bn, m|Mask(rapid.Uint64().Draw(t, "more"))); more < share-tolerance {
			t.Fatalf("share %.15g, with more zones %.15g", share, more)
		}
		// Cut at u: the shares of the parts add up, weighted by length. All
		// coordinates are multiples of 2⁻³⁰ m, so the cut lies on the line.
		u := float64(rapid.IntRange(1, 15).Draw(t, "u")) / 16
		ce, cn := ae+u*(be-ae), an+u*(bn-an)
		parts := u*f.Share(ae, an, ce, cn, m) + (1-u)*f.Share(ce, cn, be, bn, m)
		if math.Abs(share-parts) > tolerance {
			t.Fatalf("share %.15g, of its parts %.15g", share, parts)
		}
	})
}

// A dense border is answered from blocks of edges: the share must be the one
// that all edges give, taken one by one, also where the line runs through a
// vertex, ends in one, or follows the border.
func TestShareAgainstAllEdges(t *testing.T) {
	for _, c := range []struct {
		name     string
		vertices int
		ragM     float64
	}{{"smooth", 20000, 0}, {"ragged", 4000, 0.01}, {"very ragged", 4000, 0.15}, {"coarse", 500, 0}} {
		t.Run(c.name, func(t *testing.T) {
			f, outer := raggedField(t, c.vertices, 180, c.ragM)
			g := &f.grid
			rng := rand.New(rand.NewPCG(5, 6))
			all := filter{^f.keepOut, f.keepOut}
			for i, q := range append(queries(f, 0.5, true, outer)[:256], queries(f, 3, true, outer)[:256]...) {
				ax, ay, bx, by := lattice(q.ae), lattice(q.an), lattice(q.be), lattice(q.bn)
				e := &g.edges[rng.IntN(len(g.edges))]
				switch i % 8 {
				case 0: // through a vertex in its middle
					ax, ay = lattice(e.px-(bx-ax)/2), lattice(e.py-(by-ay)/2)
					bx, by = 2*e.px-ax, 2*e.py-ay
				case 1: // ends in a vertex
					ax, ay = e.px, e.py
					bx, by = lattice(e.px+q.be-q.ae), lattice(e.py+q.bn-q.an)
				case 2: // along an edge and beyond it
					ax, ay, bx, by = lattice(e.px-2*(e.qx-e.px)), lattice(e.py-2*(e.qy-e.py)), lattice(e.qx+5*(e.qx-e.px)), lattice(e.qy+5*(e.qy-e.py))
				}
				want := g.shareOfAll(ax, ay, bx, by, all)
				if got := g.share(ax, ay, bx, by, all); math.Abs(got-want) > 1e-7 {
					t.Fatalf("line %d: share %.12g, of all edges %.12g", i, got, want)
				}
			}
		})
	}
}

// shareOfAll is share by way of every edge there is.
func (g *grid) shareOfAll(ax, ay, bx, by float64, r filter) float64 {
	l := newLine(ax, ay, bx, by)
	var list []crossing
	for id := range g.edges {
		e := &g.edges[id]
		p := cross(l.dx, l.dy, e.px-ax, e.py-ay)
		q := cross(l.dx, l.dy, e.qx-ax, e.qy-ay)
		pa, pb := e.product(ax, ay), e.product(bx, by)
		if (p > 0 || p == 0 && l.zeroIsLeft) != (q > 0 || q == 0 && l.zeroIsLeft) && e.isLeft(pa) != e.isLeft(pb) {
			list = append(list, crossing{meeting(pa, pb), int32(id)})
		}
	}
	slices.SortFunc(list, func(a, b crossing) int { return cmp.Compare(a.t, b.t) })
	m, sum, since := g.at(ax, ay), 0.0, 0.0
	for _, c := range list {
		sum += r.allOrNothing(m) * (c.t - since)
		m, since = m^g.edges[c.id].bits, c.t
	}
	return sum + r.allOrNothing(m)*(1-since)
}

// TestAtAgainstPlanar asks orb/planar which zones hold a point.
func TestAtAgainstPlanar(t *testing.T) {
	fields := testFields(t)
	for _, name := range fieldNames(fields) {
		t.Run(name, func(t *testing.T) {
			f := fields[name]
			rng := rand.New(rand.NewPCG(1, 2))
			b := f.Bound()
			bits := make([]Mask, len(f.Zones))
			for i := range bits {
				bits[i] = bitOf(f, i)
			}
			count := campaign.Times(2000, 20000, 20000)
			if len(f.grid.edges) > 10000 {
				count = 500
			}
			for range count {
				p := orb.Point{b.Min[0] - 2 + rng.Float64()*(b.Max[0]-b.Min[0]+4), b.Min[1] - 2 + rng.Float64()*(b.Max[1]-b.Min[1]+4)}
				var want Mask
				for i := range f.Zones {
					if planar.MultiPolygonContains(f.Zones[i].Polygons, p) {
						want |= bits[i]
					}
				}
				if got := f.At(p[0], p[1]); got != want {
					t.Fatalf("at %v: zones %b, orb/planar %b", p, got, want)
				}
			}
		})
	}
}

// Across every edge the classes change by the edge's bits, and those it was
// found to have on its left are there.
func TestEdgeSides(t *testing.T) {
	fields := testFields(t)
	for _, name := range fieldNames(fields) {
		t.Run(name, func(t *testing.T) {
			g := &fields[name].grid
			varying := 0
			for id := range g.edges {
				e := &g.edges[id]
				if e.left == varies {
					varying++
				}
				length := e.lengthM()
				if length < 1e-3 {
					continue
				}
				nx, ny := -(e.qy-e.py)/length*1e-6, (e.qx-e.px)/length*1e-6
				for _, u := range []float64{0.11, 0.53, 0.87} {
					x, y := e.px+u*(e.qx-e.px), e.py+u*(e.qy-e.py)
					left, right := g.at(lattice(x+nx), lattice(y+ny)), g.at(lattice(x-nx), lattice(y-ny))
					if left^right != e.bits || e.left != varies && e.left != left {
						t.Fatalf("edge %d %+v: %b on the left, %b on the right at %g", id, *e, left, right, u)
					}
				}
			}
			t.Logf("%d edges, %d of them with classes that vary along them", len(g.edges), varying)
		})
	}
}

// TestClearance compares with the distance to every edge: never more, and less
// by at most three cells.
func TestClearance(t *testing.T) {
	fields := testFields(t)
	for _, name := range fieldNames(fields) {
		t.Run(name, func(t *testing.T) {
			f := fields[name]
			rng := rand.New(rand.NewPCG(1, 2))
			b := f.Bound()
			for range 500 {
				x := b.Min[0] - 40 + rng.Float64()*(b.Max[0]-b.Min[0]+80)
				y := b.Min[1] - 40 + rng.Float64()*(b.Max[1]-b.Min[1]+80)
				squared := math.Inf(1)
				for i := range f.grid.edges {
					squared = min(squared, f.grid.edges[i].squaredM2(x, y))
				}
				distance, clear := math.Sqrt(squared), f.ClearanceM(x, y)
				_, inGrid := f.grid.cellOf(x, y)
				if clear > distance || clear < 0 || inGrid && clear < distance-3*f.grid.cellM {
					t.Fatalf("at (%g, %g): clearance %g m, distance %g m", x, y, clear, distance)
				}
				if d := f.DistanceM(x, y, 12); math.Abs(d-min(distance, 12)) > 1e-9 {
					t.Fatalf("at (%g, %g): DistanceM %g m, distance %g m", x, y, d, distance)
				}
			}
			if c := f.ClearanceM(math.NaN(), 0); c != 0 {
				t.Errorf("clearance of NaN is %g", c)
			}
		})
	}
}

func TestParticipating(t *testing.T) {
	nan := math.NaN()
	deg := math.Pi / 180
	f, err := New(geodesy.Plane{}, nil, []Zone{
		{Name: "body 30", Kind: Body, RowBearingRad: 30 * deg, Polygons: orb.MultiPolygon{square(0, 0, 10, 10)}},
		{Name: "body 210", Kind: Body, RowBearingRad: 210 * deg, Polygons: orb.MultiPolygon{square(20, 0, 30, 10)}},
		{Name: "headland 120", Kind: Headland, RowBearingRad: 120 * deg, Polygons: orb.MultiPolygon{square(40, 0, 50, 10)}},
		{Name: "headland", Kind: Headland, RowBearingRad: nan, Polygons: orb.MultiPolygon{square(60, 0, 70, 10)}},
		{Name: "pond", Kind: KeepOut, RowBearingRad: 30 * deg, Polygons: orb.MultiPolygon{square(80, 0, 90, 10)}},
	})
	if err != nil {
		t.Fatal(err)
	}
	body, across, free, pond := f.At(5, 5), f.At(45, 5), f.At(65, 5), f.At(85, 5)
	if body != f.At(25, 5) {
		t.Errorf("rows at 30° and 210° are classes %b and %b, want one", body, f.At(25, 5))
	}
	if got := f.Unbound(); got != free|pond {
		t.Errorf("unbound %b, want %b", got, free|pond)
	}
	for _, c := range []struct {
		headingDeg float64
		want       Mask
	}{
		{30, body}, {210, body}, {-150, body}, {49, body}, {51, 0}, {9, 0},
		{120, across}, {300, across}, {101, across}, {75, 0}, {390, body},
	} {
		s, cos := math.Sincos(c.headingDeg * deg)
		if got := f.Participating(s, cos, math.Cos(20*deg)); got != c.want|free|pond {
			t.Errorf("heading %g°: %b, want %b", c.headingDeg, got, c.want|free|pond)
		}
	}
}

func TestNewErrors(t *testing.T) {
	body := func(p ...orb.Polygon) []Zone {
		return []Zone{{Name: "b", Kind: Body, RowBearingRad: math.NaN(), Polygons: p}}
	}
	many := []Zone{}
	for i := range 65 {
		many = append(many, Zone{Kind: Body, RowBearingRad: float64(i) * 0.04, Polygons: orb.MultiPolygon{square(float64(i), 0, float64(i)+1, 1)}})
	}
	for _, c := range []struct {
		name  string
		zones []Zone
		want  string
	}{
		{"none", nil, "the field has no body or headland zone; expected at least one"},
		{"keep-out alone", []Zone{{Kind: KeepOut, Polygons: orb.MultiPolygon{square(0, 0, 1, 1)}}}, "the field has no body or headland zone; expected at least one"},
		{"no polygon", body(), `zone 1 ("b"): no polygon; expected at least one`},
		{"no ring", body(orb.Polygon{}), `zone 1 ("b"): polygon without rings; expected an outer ring`},
		{"two points", body(orb.Polygon{{{0, 0}, {1, 0}, {0, 0}}}), `zone 1 ("b"): ring of 2 distinct points; expected at least 3, at (0.000, 0.000) m on the plane`},
		{"not a number", body(orb.Polygon{{{0, 0}, {1, math.NaN()}, {0, 1}}}), `zone 1 ("b"): point more than 20 km from the plane's origin, or not a number, at (1.000, NaN) m on the plane`},
		{"bow tie", body(orb.Polygon{{{0, 0}, {2, 2}, {2, 0}, {0, 2}}}), `zone 1 ("b"): ring crosses itself, at (1.000, 1.000) m on the plane`},
		{"doubling back", body(orb.Polygon{{{0, 0}, {4, 0}, {4, 4}, {4, 6}, {4, 5}, {0, 5}}}), `zone 1 ("b"): ring doubles back on itself, at (4.000, 6.000) m on the plane`},
		{"infinite bearing", []Zone{{Kind: Body, RowBearingRad: math.Inf(1), Polygons: orb.MultiPolygon{square(0, 0, 1, 1)}}}, `zone 1 (""): infinite row bearing; expected radians, or NaN for any heading`},
		{"unknown kind", []Zone{{Kind: 9, Polygons: orb.MultiPolygon{square(0, 0, 1, 1)}}}, `zone 1 (""): unknown kind 9; expected Body, Headland or KeepOut`},
		{"65 bearings", many, `zone 65 (""): the field has more than 64 combinations of zone and row bearing; give zones of one direction the same row_bearing_deg`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := New(geodesy.Plane{}, nil, c.zones)
			if got := fmt.Sprint(err); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

// Sixty-four classes fill a Mask to its last bit.
func TestAllBits(t *testing.T) {
	var zones []Zone
	for i := range 64 {
		x := float64(i) * 2
		zones = append(zones, Zone{Kind: Body, RowBearingRad: float64(i) * 0.04, Polygons: orb.MultiPolygon{square(x, 0, x+2, 5), square(0, 10, 128, 20)}})
	}
	f, err := New(geodesy.Plane{}, nil, zones)
	if err != nil {
		t.Fatal(err)
	}
	if got := f.At(64.5, 15); got != ^Mask(0) {
		t.Errorf("where all zones overlap: %b", got)
	}
	if got := f.Share(-1, 2, 129, 2, ^Mask(0)); math.Abs(got-128.0/130) > 1e-12 {
		t.Errorf("share across all: %g", got)
	}
	if got := f.Share(10, 9, 10, 11, 1<<63); math.Abs(got-0.5) > 1e-12 {
		t.Errorf("share of the last: %g", got)
	}
	if want := 64*10 + 1280.0; math.Abs(f.AreaM2()-want) > 1e-6 {
		t.Errorf("area %g, want %g", f.AreaM2(), want)
	}
}

func TestZeroField(t *testing.T) {
	var f Field
	if f.Share(0, 0, 1, 1, ^Mask(0)) != 0 || f.At(0, 0) != 0 || f.Participating(0, 1, 0.9) != 0 || f.AreaM2() != 0 || !math.IsInf(f.ClearanceM(0, 0), 1) {
		t.Error("the zero value is not a field without zones")
	}
}

func TestQueriesDoNotAllocate(t *testing.T) {
	fields := testFields(t)
	for _, name := range []string{"comb", "fan", "star", "wavy"} {
		f := fields[name]
		var sum float64
		qs := queries(f, 6, false, nil)
		if n := testing.AllocsPerRun(10, func() {
			for _, q := range qs {
				sum += f.Share(q.ae, q.an, q.be, q.bn, ^Mask(0)) + float64(f.At(q.ae, q.an)) + f.ClearanceM(q.ae, q.an)
				sum += float64(f.Participating(0, 1, 0.9))
				e, n := f.Plane.ToPlane(52.001, 10.001)
				sum += e + n
			}
		}); n != 0 {
			t.Errorf("%s: %g allocations", name, n)
		}
	}
}
