// Checks against GEOS, by way of shapely (Debian python3-shapely): shares,
// areas, the inward offset, on random and on adversarial lines.

package field

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections/geodesy"
	"liftbench/sim/campaign"
)

// missing skips a test for want of something outside the project, or fails it
// where everything is required.
func missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
		t.Fatalf("%s missing", what)
	}
	t.Skipf("%s missing", what)
}

const python = "/usr/bin/python3" // where Debian's packages are

var hasShapely = sync.OnceValue(func() bool { return exec.Command(python, "-c", "import shapely").Run() == nil })

// shapely runs a Python script on a value passed as JSON and decodes what it
// prints.
func shapely(t testing.TB, script string, in, out any) {
	t.Helper()
	if !hasShapely() {
		missing(t, "python3-shapely (Debian)")
	}
	data, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "-c", "import json, sys\nd = json.load(sys.stdin)\n"+script+"\njson.dump(out, sys.stdout)\n")
	cmd.Stdin = strings.NewReader(string(data))
	cmd.Stderr = os.Stderr
	got, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(got, out); err != nil {
		t.Fatal(err)
	}
}

// zonesScript makes each zone a geometry, and the worked area of a list of
// zone numbers.
const zonesScript = `
from shapely.geometry import Polygon, MultiPolygon, LineString, Point
from shapely.ops import unary_union
zones = [unary_union([Polygon(p[0], p[1:]) for p in z["polygons"]]) for z in d["zones"]]
out_of = unary_union([g for g, z in zip(zones, d["zones"]) if z["keep_out"]] or [Polygon()])
def worked(numbers):
    return unary_union([zones[i] for i in numbers if not d["zones"][i]["keep_out"]] or [Polygon()]).difference(out_of)
`

type zoneJSON struct {
	Polygons orb.MultiPolygon `json:"polygons"`
	KeepOut  bool             `json:"keep_out"`
}

func zonesJSON(f *Field) []zoneJSON {
	out := make([]zoneJSON, len(f.Zones))
	for i, z := range f.Zones {
		out[i] = zoneJSON{z.Polygons, z.Kind == KeepOut}
	}
	return out
}

// bitOf returns the class bit of zone i.
func bitOf(f *Field, i int) Mask {
	number := map[classKey]int{}
	for j := range f.Zones {
		k := keyOf(&f.Zones[j])
		if _, ok := number[k]; !ok {
			number[k] = len(number)
		}
		if j == i {
			return 1 << number[k]
		}
	}
	return 0
}

// testFields returns fields of every awkward kind; coordinates are multiples of
// 1/8 m where lines are to go exactly through vertices and along edges.
func testFields(t testing.TB) map[string]*Field {
	t.Helper()
	madeFields.Do(func() { fields = makeFields(t) })
	if fields == nil {
		t.Fatal("the fields could not be made")
	}
	return fields
}

var (
	madeFields sync.Once
	fields     map[string]*Field
)

func makeFields(t testing.TB) map[string]*Field {
	t.Helper()
	nan := math.NaN()
	make := func(zones ...Zone) *Field {
		f, err := New(geodesy.NewPlane(52, 10), nil, zones)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	comb := orb.Ring{{0, 0}}
	for i := range 40 {
		x := float64(i) * 2
		comb = append(comb, orb.Point{x, 30}, orb.Point{x + 1, 30}, orb.Point{x + 1, 5}, orb.Point{x + 2, 5})
	}
	comb = append(comb, orb.Point{80, 0})
	star := orb.Ring{}
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range 400 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 400)
		d := 20 + 60*rng.Float64()
		star = append(star, orb.Point{d * c, d * s})
	}
	fan := []Zone{}
	for i := range 40 {
		s0, c0 := math.Sincos(2 * math.Pi * float64(i) / 40)
		s1, c1 := math.Sincos(2 * math.Pi * float64(i+1) / 40)
		fan = append(fan, Zone{Kind: Headland, RowBearingRad: float64(i) * 0.07,
			Polygons: orb.MultiPolygon{{{{0, 0}, {50 * c0, 50 * s0}, {50 * c1, 50 * s1}}}}})
	}
	waist, err := zonesFrom(orb.MultiPolygon{{{{0, 0}, {100, 0}, {110, 40}, {120, 40}, {130, 0}, {230, 0}, {230, 100}, {130, 100}, {120, 60}, {110, 60}, {100, 100}, {0, 100}, {0, 0}}}}, 18, nan, nil)
	if err != nil {
		t.Fatal(err)
	}
	return map[string]*Field{
		"headland of strips": make(waist...),
		"square":             make(Zone{Kind: Body, RowBearingRad: nan, Polygons: orb.MultiPolygon{square(0, 0, 100, 60)}}),
		"body, headlands, pond": make(
			Zone{Kind: Body, RowBearingRad: 0, Polygons: orb.MultiPolygon{square(18, 18, 82, 102)}},
			Zone{Kind: Headland, RowBearingRad: math.Pi / 2, Polygons: orb.MultiPolygon{square(0, 0, 100, 18), square(0, 102, 100, 120)}},
			Zone{Kind: Headland, RowBearingRad: 0, Polygons: orb.MultiPolygon{square(0, 18, 18, 102), square(82, 18, 100, 102)}},
			Zone{Kind: KeepOut, RowBearingRad: nan, Polygons: orb.MultiPolygon{square(40, 50, 48, 54.5), {{{60, 96}, {70, 110}, {55, 108}}}}},
		),
		"overlap": make(
			Zone{Kind: Body, RowBearingRad: nan, Polygons: orb.MultiPolygon{square(0, 0, 40, 40), square(20, 20, 60, 60), square(20, 20, 30, 30)}},
			Zone{Kind: Body, RowBearingRad: nan, Polygons: orb.MultiPolygon{square(0, 0, 40, 40)}},
			Zone{Kind: Headland, RowBearingRad: 1, Polygons: orb.MultiPolygon{square(30, -10, 50, 70)}},
			Zone{Kind: KeepOut, Polygons: orb.MultiPolygon{square(35, 35, 45, 45), square(40, 40, 52, 52)}},
		),
		"holes, islands": make(
			Zone{Kind: Body, RowBearingRad: nan, Polygons: orb.MultiPolygon{
				{square(0, 0, 100, 100)[0], square(20, 20, 80, 80)[0]}, {square(30, 30, 70, 70)[0], square(40, 40, 60, 60)[0], square(32, 32, 38, 36)[0]}, square(45, 45, 55, 55)}},
		),
		"comb":  make(Zone{Kind: Body, RowBearingRad: nan, Polygons: orb.MultiPolygon{{comb}}}),
		"star":  make(Zone{Kind: Body, RowBearingRad: nan, Polygons: orb.MultiPolygon{{star}}}),
		"fan":   make(fan...),
		"wavy":  wavyField(t, 20000, 180),
		"wavy2": wavyField(t, 700, 900),
	}
}

// TestShareAgainstGEOS asks GEOS the same: the length of the line inside the
// zones over its length.
func TestShareAgainstGEOS(t *testing.T) {
	fields := testFields(t)
	for _, name := range fieldNames(fields) {
		f := fields[name]
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			rng := rand.New(rand.NewPCG(7, uint64(len(name))))
			type lineJSON struct {
				Line  [4]float64 `json:"line"`
				Zones []int      `json:"zones"`
			}
			subsets := []Mask{^Mask(0), ^Mask(0)}
			for range 6 {
				subsets = append(subsets, Mask(rng.Uint64()))
			}
			var lines []lineJSON
			var masks []Mask
			add := func(x0, y0, x1, y1 float64) {
				l := lineJSON{Line: [4]float64{x0, y0, x1, y1}, Zones: []int{}}
				m := subsets[rng.IntN(len(subsets))]
				for i := range f.Zones {
					if m&bitOf(f, i) != 0 {
						l.Zones = append(l.Zones, i)
					}
				}
				lines, masks = append(lines, l), append(masks, m)
			}
			var corners []orb.Point
			for _, z := range f.Zones {
				for _, p := range z.Polygons {
					for _, r := range p {
						corners = append(corners, r...)
					}
				}
			}
			lengths := []float64{1e-6, 0.01, 0.5, 3, 6, 40, 400}
			b := f.Bound()
			count := campaign.Times(60, 250, 250)
			if len(corners) > 10000 {
				count = campaign.Times(5, 30, 30) // GEOS takes its time
			}
			for range count {
				length := lengths[rng.IntN(len(lengths))]
				s, c := math.Sincos(rng.Float64() * 2 * math.Pi)
				x := b.Min[0] - 5 + rng.Float64()*(b.Max[0]-b.Min[0]+10)
				y := b.Min[1] - 5 + rng.Float64()*(b.Max[1]-b.Min[1]+10)
				add(x, y, x+length*s, y+length*c)
				// Near a corner, through it, from it, to it, at angles of 45°.
				p := corners[rng.IntN(len(corners))]
				add(p[0]+(rng.Float64()-0.5)*length, p[1]+(rng.Float64()-0.5)*length, p[0]+(rng.Float64()-0.5)*length, p[1]+(rng.Float64()-0.5)*length)
				if length > 0.1 {
					dx, dy := float64(rng.IntN(3)-1)*length/4, float64(rng.IntN(3)-1)*length/4
					add(p[0]-dx, p[1]-dy, p[0]+2*dx, p[1]+2*dy)
					add(p[0], p[1], p[0]+dx, p[1]+dy)
				}
				q := corners[rng.IntN(len(corners))]
				add(p[0], p[1], q[0], q[1])
			}
			var got []float64
			ask := func(script string, lines []lineJSON, out any) {
				shapely(t, zonesScript+`
areas = {}
out = []
for l in d["lines"]:
    k = tuple(l["zones"])
    if k not in areas:
        areas[k] = worked(k)
    a = areas[k]
    x0, y0, x1, y1 = l["line"]
    line = LineString([(x0, y0), (x1, y1)])
`+script, map[string]any{"zones": zonesJSON(f), "lines": lines}, out)
			}
			ask(`
    if a.is_empty:
        out.append(0)
    elif line.length == 0:
        out.append(int(a.intersects(Point(x0, y0))))
    else:
        out.append(line.intersection(a).length / line.length)
`, lines, &got)
			// A line along the border of the zones is on one side of it here, and
			// inside for GEOS. Where the two differ, the difference is what lies
			// within a nanometre of the border, and no more.
			type difference struct {
				lineJSON
				share, geos float64
			}
			var differ []difference
			var again []lineJSON
			for i, l := range lines {
				share := f.Share(l.Line[0], l.Line[1], l.Line[2], l.Line[3], masks[i])
				length := math.Hypot(l.Line[2]-l.Line[0], l.Line[3]-l.Line[1])
				if math.Abs(share-got[i]) > 1e-9*math.Max(1, 1/math.Max(length, 1e-9)) {
					differ = append(differ, difference{l, share, got[i]})
					again = append(again, l)
				}
			}
			var along []float64
			if len(again) > 0 {
				ask(`
    border = a.boundary.buffer(1e-9)
    out.append(line.intersection(border).length / line.length if line.length else float(border.intersects(Point(x0, y0))))
`, again, &along)
			}
			for i, d := range differ {
				if math.Abs(d.share-d.geos) > along[i]+1e-9 {
					t.Errorf("line %v zones %v: share %.12g, GEOS %.12g, along the border %.12g", d.Line, d.Zones, d.share, d.geos, along[i])
				}
			}
			t.Logf("%d lines, %d of them along a border, %d edges, cells of %.2f m", len(lines), len(differ), len(f.grid.edges), f.grid.cellM)
		})
	}
}

// TestAreaAgainstGEOS compares the worked area and each zone's.
func TestAreaAgainstGEOS(t *testing.T) {
	fields := testFields(t)
	for _, name := range fieldNames(fields) {
		f := fields[name]
		t.Run(name, func(t *testing.T) {
			var got struct {
				Work  float64
				Zones []float64
			}
			shapely(t, zonesScript+`
out = {"Work": worked(range(len(zones))).area, "Zones": [sum(Polygon(p[0], p[1:]).area for p in z["polygons"]) for z in d["zones"]]}
`, map[string]any{"zones": zonesJSON(f)}, &got)
			if math.Abs(f.AreaM2()-got.Work) > 1e-9*got.Work+1e-6 {
				t.Errorf("area %.9f m², GEOS %.9f", f.AreaM2(), got.Work)
			}
			for i := range f.Zones {
				if a := f.Zones[i].AreaM2(); math.Abs(a-got.Zones[i]) > 1e-9*a {
					t.Errorf("zone %d: area %.9f m², GEOS %.9f", i, a, got.Zones[i])
				}
			}
		})
	}
}
