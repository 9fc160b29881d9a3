// Points and lines: buffers beside GEOS, rows, rings, and what is refused.

package field

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections/field/geojson"
	"liftbench/sections/field/outline"
	"liftbench/sim/campaign"
)

// Buffers of points and of lines that cross themselves hold all that GEOS (python3-shapely) says lies within the
// distance, and nothing that lies beyond 1.0013 times of it; as keep-outs they take as much ground.
func TestBuffersBesideGEOS(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 4))
	type buffered struct {
		Path    []orb.Point      `json:"path"`
		RadiusM float64          `json:"radius_m"`
		Ours    orb.MultiPolygon `json:"ours"`
	}
	var list []buffered
	for range campaign.Times(60, 300, 3000) {
		b := buffered{RadiusM: 0.3 + 5*r.Float64()}
		for range 1 + r.IntN(7) {
			b.Path = append(b.Path, orb.Point{100 * r.Float64(), 100 * r.Float64()})
		}
		b.Ours = outline.Buffer(b.Path, b.RadiusM)
		list = append(list, b)
	}
	var got []struct{ Missing, Beyond, Ratio float64 }
	shapely(t, `
from shapely.geometry import Polygon, LineString, Point
from shapely.ops import unary_union
out = []
for b in d:
    path = LineString(b["path"]) if len(b["path"]) > 1 else Point(b["path"][0])
    ours = unary_union([Polygon(p[0], p[1:]) for p in b["ours"]])
    least, most = path.buffer(b["radius_m"], 256), path.buffer(1.0013 * b["radius_m"], 256)
    out.append({"Missing": least.difference(ours).area, "Beyond": ours.difference(most).area, "Ratio": ours.area / least.area})
`, list, &got)
	worst := 1.0
	for i, g := range got {
		worst = max(worst, g.Ratio)
		if g.Missing > 1e-6 || g.Beyond > 1e-6 || !(g.Ratio < 1.002) {
			t.Errorf("%+v: %g m² missing, %g m² beyond, %.5f of the area", list[i].Path, g.Missing, g.Beyond, g.Ratio)
		}
	}
	t.Logf("%d buffers, at most %.5f of the ground", len(got), worst)
}

const boundaryBox = `"name":"long acre"`

// A pole and a ditch are kept out of, also where the field is a boundary alone.
func TestPoleAndDitch(t *testing.T) {
	plain, err := Read(strings.NewReader(featureOf(ring(box), boundaryBox)), "f", Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, feature string
		areaM2        float64 // kept out of
	}{
		{"pole", featureOf(`{"type":"Point","coordinates":[10.002,52.001]}`, `"name":"pole","buffer_m":2`), math.Pi * 4},
		{"poles", featureOf(`{"type":"MultiPoint","coordinates":[[10.002,52.001],[10.003,52.001]]}`, `"zone":"keep-out","buffer_m":2`), math.Pi * 8},
		// 0.001° of latitude at 52° is 111.27 m (GeodSolve).
		{"ditch", featureOf(`{"type":"LineString","coordinates":[[10.002,52.0005],[10.002,52.001],[10.002,52.0015]]}`, `"buffer_m":1.5`), 111.27*3 + math.Pi*1.5*1.5},
		{"ring road", featureOf(`{"type":"LineString","coordinates":[[10.001,52.0005],[10.001,52.0015],[10.003,52.0015],[10.003,52.0005],[10.001,52.0005]]}`, `"buffer_m":1`), 2*(2*111.27+2*137.28) - 4 + math.Pi},
	} {
		f, err := Read(strings.NewReader(collectionOf(featureOf(ring(box), boundaryBox), c.feature)), "f", Options{})
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if got := plain.AreaM2() - f.AreaM2(); !(math.Abs(got-c.areaM2) < 0.003*c.areaM2) {
			t.Errorf("%s: %.2f m² kept out of; want %.2f", c.name, got, c.areaM2)
		}
		if z := f.Zones[len(f.Zones)-1]; z.Kind != KeepOut {
			t.Errorf("%s: %s; want keep-out", c.name, z.Kind)
		}
	}
}

// A line with zone "row" says how the rows of its zone run and where one lies.
func TestRowLine(t *testing.T) {
	line := func(zone string, at float64) string {
		return featureOf(fmt.Sprintf(`{"type":"LineString","coordinates":[[%.4f,51.9999],[%.4f,52.0021]]}`, at, at), `"zone":"row"`+zone)
	}
	thirty := 30.0
	for _, c := range []struct {
		name, text string
		opt        Options
		zone       int
		bearingDeg float64
		lon        float64
	}{
		{"of a boundary", collectionOf(featureOf(ring(box), ``), line(``, 10.003)), Options{}, 0, 0, 10.003},
		{"of the body inside a headland", collectionOf(line(`,"drill_width_m":6`, 10.002), featureOf(ring(box), ``)), Options{HeadlandM: 20}, 0, 0, 10.002},
		{"of the second zone", collectionOf(featureOf(ring(west), `"zone":"headland"`), featureOf(ring(east), `"zone":"body"`), line(``, 10.0025)), Options{}, 1, 0, 10.0025},
		{"of the first, the other has its bearing", collectionOf(featureOf(ring(west), `"zone":"headland"`), featureOf(ring(east), `"zone":"body"`), line(``, 10.0005)), Options{RowBearingDeg: &thirty}, 0, 0, 10.0005},
	} {
		f, err := Read(strings.NewReader(c.text), "f", c.opt)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		z := f.Zones[c.zone]
		_, lon := f.Plane.ToGeodetic(z.Drill.At[0], z.Drill.At[1])
		if !z.Drill.Known || math.Abs(math.Remainder(z.RowBearingRad-c.bearingDeg*radPerDeg, math.Pi)) > 1e-4 || math.Abs(lon-c.lon) > 1e-9 {
			t.Errorf("%s: %+v, row at %.9f; want a bearing of %g and a row at %g", c.name, z, lon, c.bearingDeg, c.lon)
		}
		for i := range f.Zones {
			if i != c.zone && f.Zones[i].Drill.Known {
				t.Errorf("%s: zone %d has rows too", c.name, i)
			}
		}
	}
}

// A track with a gap is a ring; a boundary inside another is a hole, but not one beside it.
func TestRings(t *testing.T) {
	whole, err := Read(strings.NewReader(ring(box)), "f", Options{})
	if err != nil {
		t.Fatal(err)
	}
	const inner = `10.001 52.0005, 10.002 52.0005, 10.002 52.001, 10.001 52.001, 10.001 52.0005`
	pierced, err := Read(strings.NewReader(collectionOf(featureOf(ring(inner), ""), featureOf(ring(box), ""))), "f", Options{})
	if err != nil {
		t.Fatal(err)
	}
	pondM2, err := Read(strings.NewReader(ring(inner)), "f", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got := whole.AreaM2() - pierced.AreaM2(); math.Abs(got-pondM2.AreaM2()) > 0.01 {
		t.Errorf("a boundary within another takes %.2f m²; want %.2f", got, pondM2.AreaM2())
	}
	parts, err := Read(strings.NewReader(collectionOf(featureOf(ring(box), ""), featureOf(ring(west), ""))), "f", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(parts.AreaM2()-whole.AreaM2()) > 1 {
		t.Errorf("with a boundary that shares its border %.2f m²; want %.2f", parts.AreaM2(), whole.AreaM2())
	}
	track := featureOf(`{"type":"LineString","coordinates":[[10,52],[10.004,52],[10.004,52.002],[10,52.002],[10,52.0001]]}`, "")
	ringed, err := Read(strings.NewReader(track), "f", Options{})
	if err != nil {
		t.Fatal(err)
	}
	// The gap is drawn straight: it takes nothing from a side.
	if math.Abs(ringed.AreaM2()-whole.AreaM2()) > 1 {
		t.Errorf("a track with a gap has %.2f m²; want %.2f", ringed.AreaM2(), whole.AreaM2())
	}
}

// Who drives around a field goes on past where he began, a few decimetres beside his first track: the ring has
// the area of the field, within what those decimetres can change.
func TestTrackThatOverlaps(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 5))
	crossed := 0
	for range campaign.Times(30, 100, 1000) {
		const radiusM, lat, lon = 150.0, 52.0, 10.0
		aheadM, offM := 2+40*r.Float64(), 0.5*r.NormFloat64()
		var points []string
		for angle := 0.0; angle < 2*math.Pi+aheadM/radiusM; angle += 0.01 {
			m := radiusM
			if angle > 5.5 {
				m += offM * (angle - 6) / 0.5 // from one side of the first track, now and then to the other
			}
			points = append(points, fmt.Sprintf("[%.9f,%.9f]", lon+m*math.Sin(angle)/111320/math.Cos(lat*math.Pi/180), lat+m*math.Cos(angle)/111320))
		}
		f, err := Read(strings.NewReader(featureOf(`{"type":"LineString","coordinates":[`+strings.Join(points, ",")+`]}`, "")), "f", Options{})
		if err != nil {
			t.Fatalf("%.1f m ahead, %.2f m beside: %v", aheadM, offM, err)
		}
		if ends := f.Boundary[0][0]; math.Hypot(ends[0][0]-ends[1][0], ends[0][1]-ends[1][1]) < 1.4 {
			crossed++
		}
		// The ellipsoid's curvature in the plane drawn here: 0.2 % of the area.
		if got, want := f.AreaM2(), math.Pi*radiusM*radiusM; math.Abs(got-want) > 0.004*want+math.Abs(offM)*100 {
			t.Errorf("%.1f m ahead, %.2f m beside: %.0f m²; want %.0f", aheadM, offM, got, want)
		}
	}
	if crossed == 0 {
		t.Error("no track crossed its beginning")
	}
}

func TestShapeErrors(t *testing.T) {
	point := func(properties string) string {
		return collectionOf(featureOf(ring(box), ""), featureOf(`{"type":"Point","coordinates":[10.002,52.001]}`, properties))
	}
	line := func(properties string) string {
		return collectionOf(featureOf(ring(box), ""), featureOf(`{"type":"LineString","coordinates":[[10.001,52.0005],[10.001,52.0015]]}`, properties))
	}
	for _, c := range []struct{ name, text, want string }{
		{"no buffer", point(``), "feature 2: a point without buffer_m; expected buffer_m, how many metres around it are kept out of, or the point taken out of the file"},
		{"buffer of nothing", point(`"buffer_m":0`), "feature 2: buffer_m is 0; expected above 0 to 100 m"},
		{"buffer as text", point(`"buffer_m":"wide"`), "feature 2: buffer_m is wide (string); expected a number, above 0 to 100 m"},
		{"buffer of a headland", point(`"buffer_m":1,"zone":"headland"`), `feature 2: buffer_m beside zone "headland"; expected zone to be "keep-out" or absent`},
		{"buffer of a polygon", featureOf(ring(pond), `"zone":"keep-out","buffer_m":3`), "feature 1: buffer_m of a polygon; expected it of a line or a point, or the polygon drawn as large as it is to be"},
		{"buffer misspelt", point(`"buffer":3`), `feature 2: property "buffer"; did you mean "buffer_m"? Rename it, or take it out if it is something else`},
		{"an open line", line(``), "feature 2: a line whose ends lie 111.3 m apart; expected a line that comes back to where it began, as around a field, or buffer_m, how many metres on either side of it are kept out of, or zone \"row\" for a line along a row"},
		{"a row that is a point", point(`"zone":"row"`), `feature 2: zone is "row" of a point; expected a line along a row`},
		{"a row with its bearing", line(`"zone":"row","row_bearing_deg":3`), `feature 2: row_bearing_deg beside zone "row", whose line says how the rows run; expected one of them`},
		{"a row with a row", line(`"zone":"row","row_a":[10,52]`), `feature 2: row_a or row_b beside zone "row", whose line lies on a row; expected one of them`},
		{"a row left", line(`"zone":"row","work":"left"`), `feature 2: work is "left"; expected zone to be "body" or "headland" beside it`},
		{"two rows", collectionOf(featureOf(ring(box), ""), featureOf(`{"type":"LineString","coordinates":[[10.001,52.0005],[10.001,52.0015]]}`, `"zone":"row"`), featureOf(`{"type":"LineString","coordinates":[[10.003,52.0005],[10.003,52.0015]]}`, `"zone":"row","name":"B"`)),
			`feature 3 ("B"): a second row of the zone "body", beside feature 2; expected one line for each zone`},
		{"a row beside the field", collectionOf(featureOf(ring(box), ""), featureOf(`{"type":"LineString","coordinates":[[10.005,52.0005],[10.005,52.0015]]}`, `"zone":"row"`)), "feature 2: a row outside of every zone; expected a line along a row of the zone in which it lies"},
		{"a short row", collectionOf(featureOf(ring(box), ""), featureOf(`{"type":"LineString","coordinates":[[10.001,52.0005],[10.001,52.00051]]}`, `"zone":"row"`)), "feature 2: the ends of a row 1.11 m apart; expected 10 m or more"},
		{"rows alone", featureOf(`{"type":"LineString","coordinates":[[10.001,52.0005],[10.001,52.0015]]}`, `"zone":"row"`), "only rows; expected a boundary, a body or a headland as well"},
		{"a row of a zone that says its bearing", collectionOf(featureOf(ring(box), `"zone":"body","row_bearing_deg":3`), featureOf(`{"type":"LineString","coordinates":[[10.001,52.0005],[10.001,52.0015]]}`, `"zone":"row"`)), `feature 2: a row of the zone "", whose row bearing is given; expected one of them, as both say how the rows run`},
		{"three boundaries within each other", collectionOf(featureOf(ring(box), ""), featureOf(ring("10.001 52.0005, 10.003 52.0005, 10.003 52.0015, 10.001 52.0015"), ""), featureOf(ring("10.0015 52.0007, 10.0025 52.0007, 10.0025 52.0013, 10.0015 52.0013"), "")),
			"feature 3: a boundary within those of feature 1 and of feature 2, at lon 10.0015000 lat 52.0007000; expected a boundary within one other, in which it is a hole, or zone to say what each is"},
	} {
		_, err := Read(strings.NewReader(c.text), "f", Options{})
		if got := fmt.Sprint(err); got != "f: "+c.want {
			t.Errorf("%s: got  %s\nwant f: %s", c.name, got, c.want)
		}
	}
	_, err := Read(strings.NewReader(collectionOf(featureOf(ring(box), ""), featureOf(`{"type":"LineString","coordinates":[`+strings.Repeat("[10.001,52.001],", 2000)+`[10.001,52.0015]]}`, `"buffer_m":1`))), "f", Options{})
	if want := "f: feature 2: a line of more than 2000 points with a buffer; expected it thinned out"; fmt.Sprint(err) != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	mixed := feature{Feature: geojson.Feature{Polygons: orb.MultiPolygon{}, Points: orb.MultiPoint{{1, 2}}}}
	if err := mixed.take(); fmt.Sprint(err) != "polygons, lines and points in one; expected a feature for each kind" {
		t.Error(err)
	}
}
