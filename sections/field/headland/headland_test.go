// Headlands cut from boundaries of hard shapes and of real fields, beside GEOS's
// inward offset, by way of shapely (Debian python3-shapely).

package headland_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections/field"
	"liftbench/sections/field/headland"
	"liftbench/sections/field/polygon"
)

const radPerDeg = math.Pi / 180

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

// cut is a boundary and the headland of widthM that was cut from it. The body
// is to lie within toleranceM of GEOS's offset.
type cut struct {
	name               string
	boundary, body     orb.MultiPolygon
	strips             []headland.Strip
	widthM, toleranceM float64
}

// cutFrom cuts a headland from a boundary.
func cutFrom(t *testing.T, name string, boundary orb.MultiPolygon, widthM, toleranceM float64) cut {
	t.Helper()
	clean, flaw := polygon.Clean(boundary)
	if flaw != nil {
		t.Fatalf("%s: %s", name, flaw.Text)
	}
	body, strips, err := headland.Cut(clean, widthM, nil)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return cut{name, clean, body, strips, widthM, toleranceM}
}

// checkOrder checks that rings are closed, outer rings counter-clockwise, holes clockwise.
func checkOrder(t *testing.T, name string, mp orb.MultiPolygon) {
	t.Helper()
	for _, p := range mp {
		for i, r := range p {
			if orientation := r.Orientation(); r[0] != r[len(r)-1] || (orientation == orb.CCW) != (i == 0) {
				t.Errorf("%s: ring %d of a polygon runs %d, from %v to %v", name, i, orientation, r[0], r[len(r)-1])
			}
		}
	}
}

// checkCuts checks what holds for every headland cut from a boundary: body and
// strips fill it, nothing overlaps, and the body is GEOS's inward offset.
func checkCuts(t *testing.T, list ...cut) {
	t.Helper()
	var asked []map[string]any
	for _, c := range list {
		all := append(orb.MultiPolygon{}, c.body...)
		for _, s := range c.strips {
			all = append(all, s.Polygons...)
		}
		asked = append(asked, map[string]any{"body": c.body, "all": all, "boundary": c.boundary, "width": c.widthM, "tolerance": c.toleranceM})
	}
	var got []struct{ Missing, Extra, Body, Union float64 }
	shapely(t, `
from shapely.geometry import Polygon
from shapely.ops import unary_union
shape = lambda mp: unary_union([Polygon(p[0], p[1:]) for p in mp])
out = []
for h in d:
    body, want = shape(h["body"]), shape(h["boundary"]).buffer(-h["width"], resolution=256)
    w = h["tolerance"]
    out.append({"Missing": want.buffer(-w).difference(body).area, "Extra": body.difference(want.buffer(w)).area, "Body": want.area, "Union": shape(h["all"]).area})
`, asked, &got)
	if len(got) != len(list) {
		t.Fatalf("GEOS answers for %d headlands of %d", len(got), len(list))
	}
	for k, c := range list {
		checkOrder(t, c.name, c.body)
		for _, s := range c.strips {
			checkOrder(t, c.name, s.Polygons)
		}
		sum, whole := polygon.AreaM2(c.body), polygon.AreaM2(c.boundary)
		for _, s := range c.strips {
			sum += polygon.AreaM2(s.Polygons)
		}
		if math.Abs(sum-whole) > 1e-3*whole {
			t.Errorf("%s: body and strips add up to %.2f m², boundary %.2f", c.name, sum, whole)
		}
		if math.Abs(got[k].Union-sum) > 1e-6*whole {
			t.Errorf("%s: body and strips add up to %.2f m² and cover %.2f: they overlap", c.name, sum, got[k].Union)
		}
		t.Logf("%s: boundary %.1f m², body %.1f (GEOS %.1f), %d strips", c.name, whole, polygon.AreaM2(c.body), got[k].Body, len(c.strips))
		if got[k].Missing > 0.01 || got[k].Extra > 0.01 {
			t.Errorf("%s: body lacks %.3f m² and has %.3f m² too much, more than %g m from GEOS's offset", c.name, got[k].Missing, got[k].Extra, c.toleranceM)
		}
	}
}

// The boundaries of three real fields.
func TestRealBoundaries(t *testing.T) {
	dir := os.Getenv("LIFTBENCH_DATA")
	if dir == "" {
		missing(t, "LIFTBENCH_DATA, the folder of recorded data,")
	}
	var list []cut
	for _, name := range []string{"track-05", "track-20", "track-25"} {
		path := filepath.Join(dir, "tracks", name+".geojson")
		file, err := os.Open(path)
		if err != nil {
			missing(t, path)
		}
		defer file.Close()
		f, err := field.Read(file, path, field.Options{})
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, cutFrom(t, name, f.Boundary, 18, 0.05))
	}
	checkCuts(t, list...)
}

func rectangle(x0, y0, x1, y1 float64) orb.Polygon {
	return orb.Polygon{{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}}}
}

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

func TestShapes(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	// A rectangle driven with a receiver: a point each 0.25 m, 2 cm of noise.
	recorded := orb.Ring{}
	for _, s := range [][4]float64{{0, 0, 1, 0}, {300, 0, 0, 1}, {300, 200, -1, 0}, {0, 200, 0, -1}} {
		n := 1200
		if s[2] == 0 {
			n = 800
		}
		for i := range n {
			recorded = append(recorded, orb.Point{s[0] + s[2]*float64(i)/4 + 0.02*rng.NormFloat64(), s[1] + s[3]*float64(i)/4 + 0.02*rng.NormFloat64()})
		}
	}
	for _, c := range []struct {
		name       string
		boundary   orb.MultiPolygon
		widthM     float64
		toleranceM float64
		strips     int
	}{
		{"rectangle", orb.MultiPolygon{rectangle(0, 0, 300, 200)}, 18, 0.001, 4},
		{"hole", orb.MultiPolygon{{rectangle(0, 0, 300, 200)[0], rectangle(100, 80, 150, 120)[0]}}, 18, 0.02, 8},
		{"two fields", orb.MultiPolygon{rectangle(0, 0, 100, 100), rectangle(200, 0, 300, 100)}, 12, 0.001, 8},
		{"L", orb.MultiPolygon{{{{0, 0}, {200, 0}, {200, 80}, {80, 80}, {80, 200}, {0, 200}}}}, 18, 0.02, 6},
		{"wavy", orb.MultiPolygon{{wavy(300, 150)}}, 18, 0.1, 0},
		{"wavy, 20000 vertices", orb.MultiPolygon{{wavy(20000, 150)}}, 18, 0.2, 0},
		{"recorded", orb.MultiPolygon{{recorded}}, 18, 0.15, 4},
		{"narrow waist", orb.MultiPolygon{{{{0, 0}, {100, 0}, {110, 40}, {120, 40}, {130, 0}, {230, 0}, {230, 100}, {130, 100}, {120, 60}, {110, 60}, {100, 100}, {0, 100}}}}, 18, 0.02, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			if testing.Short() && len(c.boundary[0][0]) > 10000 {
				t.Skip("takes long")
			}
			got := cutFrom(t, c.name, c.boundary, c.widthM, c.toleranceM)
			checkCuts(t, got)
			if c.strips > 0 && len(got.strips) != c.strips {
				for _, s := range got.strips {
					t.Logf("%.1f m² at %.1f°", polygon.AreaM2(s.Polygons), s.BearingRad/radPerDeg)
				}
				t.Errorf("%d strips, want %d", len(got.strips), c.strips)
			}
		})
	}
}

// The longest side has the corners, and each strip's rows run along its side.
func TestCorners(t *testing.T) {
	_, strips, err := headland.Cut(orb.MultiPolygon{rectangle(0, 0, 300, 200)}, 18, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, s := range strips {
		alongX := math.Abs(math.Sin(s.BearingRad)) > 0.999
		want := 18 * (200 - 36.0)
		if alongX {
			want = 18 * 300
		}
		if got := polygon.AreaM2(s.Polygons); math.Abs(got-want) > 1e-6 {
			t.Errorf("strip %d, rows at %g rad: %.3f m², want %g", i+1, s.BearingRad, got, want)
		}
	}
}

// A square of 200 m with a notch 60 m deep in its south side, as wide as makes
// its tip 1° to 90°.
func TestNotch(t *testing.T) {
	var list []cut
	for _, tipDeg := range []float64{1, 5, 19, 30, 60, 90} {
		half := 60 * math.Tan(tipDeg/2*radPerDeg)
		notched := orb.MultiPolygon{{{{0, 0}, {100 - half, 0}, {100, 60}, {100 + half, 0}, {200, 0}, {200, 200}, {0, 200}}}}
		for _, widthM := range []float64{1, 12, 30} {
			list = append(list, cutFrom(t, fmt.Sprintf("tip %g°, %g m", tipDeg, widthM), notched, widthM, 0.05))
		}
	}
	checkCuts(t, list...)
}

// Boundaries drawn at random: 5 to 14 corners around a middle, each at any
// distance of 40 to 200 m, so that some are spikes and some are notches.
func TestSpikes(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var list []cut
	for k := range 40 {
		var ring orb.Ring
		n := 5 + rng.IntN(10)
		for i := range n {
			s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.8*rng.Float64()) / float64(n))
			r := 40 + 160*rng.Float64()
			ring = append(ring, orb.Point{r * c, r * s})
		}
		list = append(list, cutFrom(t, fmt.Sprintf("boundary %d", k), orb.MultiPolygon{{ring}}, 2+8*rng.Float64(), 0.05))
	}
	checkCuts(t, list...)
}
