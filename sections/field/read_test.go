// GeoJSON: what is taken, and the sentence for what is not.

package field

import (
	"fmt"
	"math"
	"runtime"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// ring returns a GeoJSON Polygon from "lon lat" pairs.
func ring(points string) string {
	var parts []string
	for p := range strings.SplitSeq(points, ",") {
		parts = append(parts, "["+strings.Join(strings.Fields(p), ",")+"]")
	}
	return `{"type":"Polygon","coordinates":[[` + strings.Join(parts, ",") + `]]}`
}

func featureOf(geometry, properties string) string {
	return `{"type":"Feature","properties":{` + properties + `},"geometry":` + geometry + `}`
}

func collectionOf(features ...string) string {
	return `{"type":"FeatureCollection","features":[` + strings.Join(features, ",") + `]}`
}

const (
	box  = "10 52, 10.004 52, 10.004 52.002, 10 52.002, 10 52"
	west = "10 52, 10.001 52, 10.001 52.002, 10 52.002, 10 52"
	east = "10.001 52, 10.004 52, 10.004 52.002, 10.001 52.002, 10.001 52"
	pond = "10.002 52.0005, 10.0025 52.0005, 10.0025 52.001, 10.002 52.0005"
)

func TestRead(t *testing.T) {
	thirty := 30.0
	for _, c := range []struct {
		name  string
		text  string
		opt   Options
		zones string // kind@bearing of each
	}{
		{"bare geometry", ring(box), Options{}, "body@NaN"},
		{"bare geometry, rows", ring(box), Options{RowBearingDeg: &thirty}, "body@30"},
		{"feature", featureOf(ring(box), `"name":"long acre"`), Options{}, "body@NaN"},
		{"not closed", ring(strings.TrimSuffix(box, ", 10 52")), Options{}, "body@NaN"},
		{"three coordinates", ring("10 52 80, 10.004 52 80, 10.004 52.002 81, 10 52 80"), Options{}, "body@NaN"},
		{"null properties", `{"type":"Feature","properties":null,"geometry":` + ring(box) + `}`, Options{}, "body@NaN"},
		{"zones", collectionOf(
			featureOf(ring(box), ``),
			featureOf(ring(west), `"zone":"headland","row_bearing_deg":0`),
			featureOf(ring(east), `"zone":"body","row_bearing_deg":-90`),
			featureOf(ring(pond), `"zone":"keep-out","name":"pond"`)), Options{}, "headland@0 body@-90 keep-out@NaN"},
		{"rows for the body", collectionOf(
			featureOf(ring(west), `"zone":"headland"`), featureOf(ring(east), `"zone":"body"`)), Options{RowBearingDeg: &thirty}, "headland@NaN body@30"},
		{"headland", ring(box), Options{HeadlandM: 20, RowBearingDeg: &thirty}, "body@30 headland@0 headland@90 headland@0 headland@90"},
		{"headland and pond", collectionOf(featureOf(ring(box), ``), featureOf(ring(pond), `"zone":"keep-out"`)), Options{HeadlandM: 20},
			"body@NaN headland@0 headland@90 headland@0 headland@90 keep-out@NaN"},
		{"multipolygon", `{"type":"MultiPolygon","coordinates":[[[[10,52],[10.001,52],[10,52.001],[10,52]]],[[[10.002,52],[10.003,52],[10.003,52.001],[10.002,52]]]]}`, Options{}, "body@NaN"},
		{"foreign properties", featureOf(ring(box), `"Name":"A","area":3,"note":"dry","stroke":"#fff","wheat":1,"zone":"body","Zone":7`), Options{}, "body@NaN"},
		{"reference system as ever", `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:OGC:1.3:CRS84"}},"features":[` + featureOf(ring(box), ``) + `]}`, Options{}, "body@NaN"},
		{"date line", ring("179.999 10, 179.9999 10, 179.9999 10.001, 179.999 10"), Options{}, "body@NaN"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := Read(strings.NewReader(c.text), "f.geojson", c.opt)
			if err != nil {
				t.Fatal(err)
			}
			var zones []string
			for _, z := range f.Zones {
				zones = append(zones, fmt.Sprintf("%v@%g", z.Kind, math.Mod(math.Round(z.RowBearingRad/radPerDeg), 180)))
			}
			if got := strings.Join(zones, " "); got != c.zones {
				t.Errorf("zones %s\nwant  %s", got, c.zones)
			}
		})
	}
}

// Two zones with a common border lose nothing there, though the corner of one
// on the other's edge is rounded to 7 decimals.
func TestReadJoinsBorders(t *testing.T) {
	f, err := Read(strings.NewReader(collectionOf(
		featureOf(ring("10 52, 10.0010003 52, 10.0021 52.0019999, 10 52.002"), `"zone":"headland"`),
		featureOf(ring("10.0010003 52, 10.004 52, 10.004 52.002, 10.0021 52.0019999, 10.0014146 52.0007534"), `"zone":"body"`),
	)), "f.geojson", Options{})
	if err != nil {
		t.Fatal(err)
	}
	e, n := f.Plane.ToPlane(52.0007534, 10.0014146)
	for _, d := range [][2]float64{{2, 0}, {0, 2}, {1, 1}, {1, -1}, {0.3, 0.55}} {
		if s := f.Share(e-d[0], n-d[1], e+d[0], n+d[1], ^Mask(0)); s < 1-1e-9 {
			t.Errorf("share across the common border along %v: %.12g, want 1", d, s)
		}
	}
}

func TestReadErrors(t *testing.T) {
	wide := math.Inf(1)
	zoned := collectionOf(featureOf(ring(box), `"zone":"body"`))
	rows := 30.0
	for _, c := range []struct {
		name, text string
		opt        Options
		want       string
	}{
		{"empty", " \n", Options{}, "empty file; expected GeoJSON"},
		{"not JSON", "{\n  \"type\": oops}", Options{}, "not GeoJSON: line 2 column 11: invalid character 'o' looking for beginning of value"},
		{"cut off", ring(box)[:40], Options{}, "not GeoJSON: line 1 column 40: unexpected end of JSON input"},
		{"other type", `{"type":"Topology"}`, Options{}, `GeoJSON type "Topology"; expected FeatureCollection, Feature, Polygon or MultiPolygon`},
		{"no features", collectionOf(), Options{}, "FeatureCollection without features; expected a boundary or zones"},
		{"null feature", collectionOf("null"), Options{}, "feature 1: null; expected a feature"},
		{"no geometry", collectionOf(featureOf("null", "")), Options{}, "feature 1: no geometry; expected Polygon or MultiPolygon, or LineString or Point with buffer_m"},
		{"point", collectionOf(featureOf(ring(box), ""), featureOf(`{"type":"Point","coordinates":[10,52]}`, `"name":"gate"`)), Options{}, `feature 2 ("gate"): a point without buffer_m; expected buffer_m, how many metres around it are kept out of, or the point taken out of the file`},
		{"line", featureOf(`{"type":"LineString","coordinates":[[10,52],[10.001,52]]}`, ""), Options{}, "feature 1: a line whose ends lie 68.5 m apart; expected a line that comes back to where it began, as around a field, or buffer_m, how many metres on either side of it are kept out of, or zone \"row\" for a line along a row"},
		{"type in small letters", collectionOf(featureOf(ring(box), ""), featureOf(`{"type":"polygon","coordinates":[[[10,52],[11,52],[11,53],[10,52]]]}`, `"name":"oats"`)), Options{}, `feature 2 ("oats"): geometry is a "polygon"; expected Polygon or MultiPolygon, or LineString or Point with buffer_m`},
		{"no coordinates", featureOf(`{"type":"Polygon"}`, ""), Options{}, "feature 1: Polygon without coordinates; expected rings of [longitude, latitude]"},
		{"text for a number", collectionOf(featureOf(`{"type":"Polygon","coordinates":[[["10",52],[11,52],[11,53],[10,52]]]}`, "")), Options{}, "feature 1: coordinates are not those of a Polygon; expected rings of [longitude, latitude], in numbers"},
		{"ring for a polygon", `{"type":"Polygon","coordinates":[[10,52],[11,52],[11,53],[10,52]]}`, Options{}, "coordinates are not those of a Polygon; expected rings of [longitude, latitude], in numbers"},
		{"no list of features", `{"type":"FeatureCollection","features":{}}`, Options{}, "features is no list; expected a boundary or zones"},
		{"feature of another type", collectionOf(ring(box)), Options{}, `feature 1: type is "Polygon"; expected Feature`},
		{"properties no object", `{"type":"Feature","properties":3,"geometry":null}`, Options{}, "feature 1: properties are no object; expected one that may hold name, zone and row_bearing_deg"},
		{"no points", `{"type":"Polygon","coordinates":[[]]}`, Options{HeadlandM: 18}, "feature 1: ring of 0 distinct points; expected at least 3"},
		{"two points", ring("10 52, 10.001 52, 10 52"), Options{}, "feature 1: ring of 2 distinct points; expected at least 3, at lon 10.0000000 lat 52.0000000"},
		{"no rings", `{"type":"Polygon","coordinates":[]}`, Options{}, "feature 1: polygon without rings; expected an outer ring"},
		{"no polygons", `{"type":"MultiPolygon","coordinates":[]}`, Options{}, "feature 1: no polygon; expected at least one"},
		{"out of range", ring("10 52, 10.001 152, 10 52.001"), Options{}, "feature 1: point [10.001, 152]; expected [longitude, latitude] within ±180 and ±90"},
		{"crossing", featureOf(ring("10 52, 10.002 52.002, 10.002 52, 10 52.002, 10 52"), `"name":"bow"`), Options{}, `feature 1 ("bow"): ring crosses itself, at lon 10.0010000 lat 52.0010000`},
		{"touching", ring("10 52, 10.002 52, 10.001 52.001, 10.002 52.002, 10 52.002, 10.001 52.001, 10 52"), Options{}, "feature 1: ring touches itself (holes belong in rings of their own), at lon 10.0010000 lat 52.0010000"},
		{"hole outside", `{"type":"Polygon","coordinates":[[[10,52],[10.001,52],[10,52.001],[10,52]],[[10.002,52],[10.003,52],[10.002,52.001],[10.002,52]]]}`, Options{}, "feature 1: hole outside its polygon's outer ring, at lon 10.0020000 lat 52.0000000"},
		{"hole across", `{"type":"Polygon","coordinates":[[[10,52],[10.002,52],[10.002,52.002],[10,52.002]],[[10.001,52.001],[10.003,52.001],[10.001,52.0015]]]}`, Options{}, "feature 1: two rings of one polygon cross, at lon 10.0020000 lat 52.0010000"},
		{"unknown zone", featureOf(ring(box), `"zone":"Body"`), Options{}, `feature 1: zone is "Body"; expected body, headland or keep-out`},
		{"zone of another type", featureOf(ring(box), `"zone":1`), Options{}, `feature 1: zone is 1; expected body, headland or keep-out`},
		{"bearing too great", featureOf(ring(box), `"zone":"body","row_bearing_deg":361`), Options{}, "feature 1: row_bearing_deg is 361; expected -360 to 360, clockwise from north"},
		{"bearing as text", featureOf(ring(box), `"zone":"body","row_bearing_deg":"30"`), Options{}, "feature 1: row_bearing_deg is 30 (string); expected a number, degrees clockwise from north"},
		{"bearing without zone", featureOf(ring(box), `"row_bearing_deg":30`), Options{}, `feature 1: row_bearing_deg without zone; expected zone to be "body" or "headland" beside it`},
		{"property in capitals", featureOf(ring(pond), `"Zone":"keep-out"`), Options{}, `feature 1: property "Zone"; did you mean "zone"? Rename it, or take it out if it is something else`},
		{"property a letter off", featureOf(ring(box), `"name":"oats","zone":"body","row_bearing_dge":12`), Options{}, `feature 1 ("oats"): property "row_bearing_dge"; did you mean "row_bearing_deg"? Rename it, or take it out if it is something else`},
		{"property without its unit", featureOf(ring(box), `"zone":"body","Row bearing":12`), Options{}, `feature 1: property "Row bearing"; did you mean "row_bearing_deg"? Rename it, or take it out if it is something else`},
		{"properties in capitals", `{"type":"Feature","Properties":{"zone":"keep-out"},"geometry":` + ring(pond) + `}`, Options{}, `feature 1: member "Properties"; expected it as "properties"`},
		{"another reference system", `{"type":"FeatureCollection","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::25832"}},"features":[` + featureOf(ring(box), ``) + `]}`, Options{}, `coordinate reference system (crs) is "urn:ogc:def:crs:EPSG::25832"; expected longitude and latitude on WGS 84, CRS84 or EPSG:4326: convert the file's coordinates to it, and leave out crs`},
		{"a reference system elsewhere", `{"type":"Feature","crs":{"type":"link","properties":{"href":"a.wkt"}},"properties":{},"geometry":` + ring(box) + `}`, Options{}, `coordinate reference system (crs) is one without a name; expected longitude and latitude on WGS 84, CRS84 or EPSG:4326: convert the file's coordinates to it, and leave out crs`},
		{"two fields", collectionOf(featureOf(ring(box), ``), featureOf(ring("12 52, 12.001 52, 12 52.001"), ``)), Options{}, "feature 2: point [12, 52] is 137 km from the file's first point [10, 52]; expected one field, at most 40 km across"},
		{"too large", ring("10 52, 10.4 52, 10 52.25"), Options{}, "feature 1: point more than 20 km from the plane's origin, or not a number, at lon 10.4000000 lat 52.0000000"},
		{"endless border", comb(50, 0.2), Options{}, "borders of more than 300 km in all; expected one field"},
		{"keep-out alone", featureOf(ring(box), `"zone":"keep-out"`), Options{}, "only keep-out zones; expected a boundary, a body or a headland as well"},
		{"row bearing twice", featureOf(ring(box), `"zone":"body","row_bearing_deg":12`), Options{RowBearingDeg: &rows}, "every body zone of the file has its row_bearing_deg; drop --row-bearing"},
		{"headland twice", zoned, Options{HeadlandM: 18}, "the file already has zones; drop --headland"},
		{"headland too wide", ring(box), Options{HeadlandM: 150}, "a headland of 150 m leaves no body inside the boundary; make it narrower"},
		{"negative headland", ring(box), Options{HeadlandM: -1}, "headland of -1 m; expected 0 or more"},
		{"endless headland", ring(box), Options{HeadlandM: wide}, "headland of +Inf m; expected 0 or more"},
		{"bad row bearing", ring(box), Options{RowBearingDeg: &wide}, "row bearing of +Inf degrees; expected -360 to 360"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Read(strings.NewReader(c.text), "f.geojson", c.opt)
			if got := fmt.Sprint(err); got != "f.geojson: "+c.want {
				t.Errorf("got  %s\nwant f.geojson: %s", got, c.want)
			}
		})
	}
}

// comb is a field of long thin spikes, 1.4 m wide and so many degrees high.
func comb(spikes int, highDeg float64) string {
	var points strings.Builder
	for i := range spikes {
		fmt.Fprintf(&points, "%.7f 52, %.7f %.7f, ", 11+float64(i)*2e-5, 11+float64(i)*2e-5+1e-5, 52+highDeg)
	}
	fmt.Fprintf(&points, "%.7f 51.999, 11 51.999", 11+float64(spikes)*2e-5)
	return ring(points.String())
}

// A few kilobytes cannot ask for gigabytes: the index grows with the length of
// the borders. 8 kB once took 2 GB over its whole course.
func TestHostileBorders(t *testing.T) {
	for name, text := range map[string]string{"refused": comb(200, 0.2), "taken": comb(6, 0.2)} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := Read(strings.NewReader(text), "f.geojson", Options{})
		runtime.ReadMemStats(&after)
		if mb := (after.TotalAlloc - before.TotalAlloc) >> 20; mb > 400 || (err == nil) != (name == "taken") {
			t.Errorf("%s: %d bytes took %d MB, %v; want 400 MB at most", name, len(text), mb, err)
		}
	}
}

// FuzzRead: at points off its borders a field that was read has the zones that
// orb/planar finds there, and no more area than they have together.
func FuzzRead(f *testing.F) {
	for _, s := range []string{ring(box), featureOf(ring(west), `"zone":"body","row_bearing_deg":10`), collectionOf(featureOf(ring(box), ``), featureOf(ring(pond), `"zone":"keep-out"`)),
		collectionOf(featureOf(ring(west), `"zone":"headland","row_bearing_deg":0`), featureOf(ring(east), `"zone":"body"`), featureOf(ring(pond), `"zone":"body"`)),
		collectionOf(featureOf(ring(box), ""), featureOf(`{"type":"Point","coordinates":[10.002,52.001]}`, `"buffer_m":2`), featureOf(`{"type":"LineString","coordinates":[[10.001,52.0001],[10.001,52.0019]]}`, `"zone":"row"`)),
		collectionOf(featureOf(ring(pond), ""), featureOf(ring(box), ""), featureOf(`{"type":"LineString","coordinates":[[10.002,52.0005],[10.002,52.001],[10.001,52.0015]]}`, `"zone":"keep-out","buffer_m":1.5`)),
		featureOf(`{"type":"LineString","coordinates":[[10,52],[10.004,52],[10.004,52.002],[10,52.002],[10,52.0001],[10.0001,51.9999]]}`, ""),
		`<kml><Placemark><Polygon><outerBoundaryIs><LinearRing><coordinates>10,52 10.004,52 10.004,52.002</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></kml>`,
		`<gpx><trk><trkseg><trkpt lat="52" lon="10"/><trkpt lat="52" lon="10.004"/><trkpt lat="52.002" lon="10.004"/><trkpt lat="52" lon="10"/></trkseg></trk></gpx>`,
		ring("10 52, 10.002 52.002, 10.002 52, 10 52.002, 10 52"), ring("10 52, 1e300 52, 10 1e-300"), ring("10, 52, []"), `{"type":"Polygon","coordinates":[[]]}`} {
		f.Add(s, 0.0)
		f.Add(s, 18.0)
	}
	f.Fuzz(func(t *testing.T, text string, headlandM float64) {
		fl, err := Read(strings.NewReader(text), "f", Options{HeadlandM: headlandM})
		if err != nil {
			if s := err.Error(); !strings.HasPrefix(s, "f: ") || strings.Contains(s, "\n") {
				t.Fatalf("%q does not say in a line which file", s)
			}
			return
		}
		b := fl.Bound()
		if s := fl.Share(b.Min[0], b.Min[1], b.Max[0], b.Max[1], ^Mask(0)); !(s >= 0 && s <= 1) {
			t.Fatalf("share %g", s)
		}
		togetherM2 := 0.0
		for i := range fl.Zones {
			if z := &fl.Zones[i]; z.Kind != KeepOut {
				togetherM2 += z.AreaM2()
			}
		}
		if a := fl.AreaM2(); !(a >= -1e-3 && a <= togetherM2*(1+1e-9)+1e-3) {
			t.Fatalf("area %g m², of the zones together %g m²", a, togetherM2)
		}
		check := func(p orb.Point) {
			if nearBorder(fl, p) {
				return
			}
			var want Mask
			for i := range fl.Zones {
				if planar.MultiPolygonContains(fl.Zones[i].Polygons, p) {
					want |= bitOf(fl, i)
				}
			}
			if got := fl.At(p[0], p[1]); got != want {
				t.Fatalf("at %v: zones %b, orb/planar %b", p, got, want)
			}
		}
		for i := range 49 {
			check(orb.Point{b.Min[0] + (0.0137+float64(i%7)/7)*(b.Max[0]-b.Min[0]), b.Min[1] + (0.0151+float64(i/7)/7)*(b.Max[1]-b.Min[1])})
		}
		for i := range fl.grid.edges[:min(len(fl.grid.edges), 30)] {
			e := &fl.grid.edges[i]
			x, y := e.px+0.37*(e.qx-e.px), e.py+0.37*(e.qy-e.py)
			for _, offM := range []float64{-0.3, -0.01, 0.01, 0.3} {
				check(orb.Point{x + offM, y + offM/3})
			}
		}
	})
}

// nearBorder reports whether a zone's border is within a millimetre of p.
func nearBorder(f *Field, p orb.Point) bool {
	for i := range f.Zones {
		for _, poly := range f.Zones[i].Polygons {
			for _, r := range poly {
				if planar.DistanceFrom(orb.LineString(r), p) < 1e-3 {
					return true
				}
			}
		}
	}
	return false
}
