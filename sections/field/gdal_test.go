// Fields in other forms, as GDAL (Debian gdal-bin, ogr2ogr) writes them.

package field

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	reference "github.com/paulmach/orb/geojson"

	"liftbench/sections/field/form"
	"liftbench/sections/field/geojson"
	"liftbench/sim/campaign"
)

// ogr runs ogr2ogr.
func ogr(t *testing.T, args ...string) {
	t.Helper()
	if _, err := exec.LookPath("ogr2ogr"); err != nil {
		missing(t, "ogr2ogr (Debian gdal-bin)")
	}
	if out, err := exec.Command("ogr2ogr", args...).CombinedOutput(); err != nil {
		t.Fatalf("ogr2ogr %s: %v\n%s", strings.Join(args, " "), err, out)
	}
}

// ringAround draws a ring of n points, star-shaped around a place, of so many metres.
func ringAround(r *rand.Rand, lat, lon, fromM, toM float64, n int) string {
	var points []string
	for i := range n {
		angle, m := 2*math.Pi*(float64(i)+0.8*r.Float64())/float64(n), fromM+(toM-fromM)*r.Float64()
		points = append(points, fmt.Sprintf("[%.12f,%.12f]", lon+m*math.Sin(angle)/111320/math.Cos(lat*math.Pi/180), lat+m*math.Cos(angle)/111320))
	}
	return "[" + strings.Join(append(points, points[0]), ",") + "]"
}

// sameGround fails unless two fields have the same zones and boundary within so many degrees.
func sameGround(t *testing.T, what string, got, want *Field, deg float64) {
	t.Helper()
	compare := func(what string, a, b orb.MultiPolygon) {
		t.Helper()
		if len(a) != len(b) {
			t.Errorf("%s: %d polygons; want %d", what, len(a), len(b))
			return
		}
		for i := range a {
			if len(a[i]) != len(b[i]) {
				t.Errorf("%s: %d rings; want %d", what, len(a[i]), len(b[i]))
				return
			}
			for k := range a[i] {
				ra, rb := a[i][k], b[i][k]
				if len(ra) != len(rb) {
					t.Errorf("%s: %d points; want %d", what, len(ra), len(rb))
					return
				}
				// A writer may begin a ring elsewhere.
				start, n := 0, len(ra)-1
				for s := range n {
					if math.Hypot(ra[s][0]-rb[0][0], ra[s][1]-rb[0][1]) < math.Hypot(ra[start][0]-rb[0][0], ra[start][1]-rb[0][1]) {
						start = s
					}
				}
				for j := range n {
					lat, lon := got.Plane.ToGeodetic(ra[(start+j)%n][0], ra[(start+j)%n][1])
					wantLat, wantLon := want.Plane.ToGeodetic(rb[j][0], rb[j][1])
					if !(math.Abs(lat-wantLat) <= deg && math.Abs(lon-wantLon) <= deg) {
						t.Errorf("%s: %.12f %.12f; want %.12f %.12f", what, lat, lon, wantLat, wantLon)
						return
					}
				}
			}
		}
	}
	compare(what+": boundary", got.Boundary, want.Boundary)
	if len(got.Zones) != len(want.Zones) {
		t.Fatalf("%s: %d zones; want %d", what, len(got.Zones), len(want.Zones))
	}
	for i := range want.Zones {
		g, w := &got.Zones[i], &want.Zones[i]
		sameBearing := math.Abs(g.RowBearingRad-w.RowBearingRad) < 1e-9 || math.IsNaN(g.RowBearingRad) && math.IsNaN(w.RowBearingRad)
		if g.Name != w.Name || g.Kind != w.Kind || !sameBearing || g.Unworked != w.Unworked || g.Drill.Known != w.Drill.Known || g.Drill.WidthM != w.Drill.WidthM {
			t.Errorf("%s: zone %+v; want %+v", what, g, w)
		}
		compare(what+": "+w.Name, g.Polygons, w.Polygons)
	}
}

// places are where fields are drawn, with the UTM zone by EPSG number (IOGP dataset: 326zz north, 327zz
// south, 258zz on ETRS89).
var places = []struct {
	lat, lon float64
	utm      []string
}{
	{52.06, 11.14, []string{"32632", "25832", "25833"}},
	{-34.2, 150.7, []string{"32756", "32755"}},
	{63.4, 26.9, []string{"32635", "3067"}},
	{0.001, -60.2, []string{"32620", "32720"}},
	{44.1, -123.2, []string{"32610"}},
}

// Drawn fields that GDAL writes as KML, KMZ, shapefile on WGS 84 and on UTM, and zipped, are the same
// zones, within a billionth of a degree.
func TestFormsOfGDAL(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 1))
	read := 0
	for range campaign.Times(2, 8, 200) {
		at := places[r.IntN(len(places))]
		dir := t.TempDir()
		bearing := fmt.Sprintf("%.3f", r.Float64()*360)
		outer := ringAround(r, at.lat, at.lon, 200, 300, 5+r.IntN(40))
		hole := ringAround(r, at.lat+0.0006, at.lon, 20, 40, 4+r.IntN(9))
		pond := ringAround(r, at.lat-0.0006, at.lon+0.0002, 20, 40, 4+r.IntN(9))
		isle := ringAround(r, at.lat+0.01, at.lon+0.01, 100, 150, 4+r.IntN(9))
		text := collectionOf(
			featureOf(`{"type":"MultiPolygon","coordinates":[[`+outer+`,`+hole+`],[`+isle+`]]}`, `"name":"Langer Acker","zone":"body","row_bearing_deg":`+bearing+`,"work":null`),
			featureOf(`{"type":"Polygon","coordinates":[`+pond+`]}`, `"name":"Teich Süd","zone":"keep-out"`))
		if r.IntN(2) == 0 {
			text = collectionOf(
				featureOf(`{"type":"Polygon","coordinates":[`+outer+`,`+hole+`]}`, `"name":"Langer Acker"`),
				featureOf(`{"type":"Polygon","coordinates":[`+pond+`]}`, `"name":"Teich Süd","zone":"keep-out"`))
		}
		source := filepath.Join(dir, "field.geojson")
		if err := os.WriteFile(source, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		want, err := Read(strings.NewReader(text), "field.geojson", Options{})
		if err != nil {
			t.Fatal(err)
		}
		utm := at.utm[r.IntN(len(at.utm))]
		for _, c := range []struct {
			form, file string
			args       []string
		}{
			{"KML", "a.bin", []string{"-f", "KML", "-dsco", "NameField=name"}},
			{"KML", "b.kml", []string{"-f", "LIBKML"}},
			{"KMZ", "c.kmz", []string{"-f", "LIBKML"}},
			{"shapefile", "d.shp", []string{"-f", "ESRI Shapefile"}},
			{"shapefile", "e.shz", []string{"-f", "ESRI Shapefile", "-lco", "ENCODING=UTF-8"}},
			{"shapefile", "f.shp", []string{"-f", "ESRI Shapefile", "-t_srs", "EPSG:" + utm}},
			{"GeoJSON", "g.geojson", []string{"-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=15"}},
		} {
			path := filepath.Join(dir, c.file)
			ogr(t, append(append([]string{"-skipfailures"}, c.args...), path, source)...)
			data := wholeFile(t, path)
			what := fmt.Sprintf("%s %s", c.form, strings.Join(c.args, " "))
			if _, told, err := form.Decode(data); told != c.form || err != nil {
				t.Fatalf("%s: told as %q, %v", what, told, err)
			}
			got, err := Read(bytes.NewReader(data), c.file, Options{})
			if err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			sameGround(t, what, got, want, 1e-9)
			read++
		}
	}
	t.Logf("%d files of GDAL read", read)
}

// A record that GDAL has deleted, and one without a shape, are no ground; the others keep their
// numbers.
func TestDeletedRecords(t *testing.T) {
	dir := t.TempDir()
	source, path := filepath.Join(dir, "field.geojson"), filepath.Join(dir, "a.shp")
	text := collectionOf(featureOf(ring(west), `"name":"west","zone":"body"`), featureOf("null", `"name":"nothing"`),
		featureOf(ring(pond), `"name":"pond","zone":"keep-out"`), featureOf(ring(east), `"name":"east","zone":"headland"`))
	if err := os.WriteFile(source, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	ogr(t, "-f", "ESRI Shapefile", path, source)
	if out, err := exec.Command("ogrinfo", "-oo", "AUTO_REPACK=NO", path, "-dialect", "SQLITE", "-sql", "DELETE FROM a WHERE name = 'west'").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	features, _, err := form.Decode(wholeFile(t, path))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for i := range features {
		got = append(got, features[i].String())
	}
	if want := `record 3 ("pond"), record 4 ("east")`; strings.Join(got, ", ") != want {
		t.Errorf("read %v; want %s", got, want)
	}
}

// wholeFile reads a file, and what lies beside a shapefile with it.
func wholeFile(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !form.IsShapefile(data) {
		return data
	}
	stem := strings.TrimSuffix(path, filepath.Ext(path))
	dbf, errTable := os.ReadFile(stem + ".dbf")
	prj, errGround := os.ReadFile(stem + ".prj")
	if errTable != nil || errGround != nil {
		t.Fatal(errTable, errGround)
	}
	packed, err := form.Zip(data, dbf, prj)
	if err != nil {
		t.Fatal(err)
	}
	return packed
}

// Rings that GDAL writes as routes and tracks of GPX, a hole as a track of its own among them, and as
// lines of a shapefile and of KML, are the same boundary; a waypoint with a buffer is a keep-out.
func TestTracksOfGDAL(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 2))
	for range campaign.Times(2, 8, 200) {
		at := places[r.IntN(len(places))]
		dir := t.TempDir()
		outer := ringAround(r, at.lat, at.lon, 200, 300, 5+r.IntN(40))
		hole := ringAround(r, at.lat+0.0006, at.lon, 20, 40, 4+r.IntN(9))
		want, err := Read(strings.NewReader(`{"type":"Polygon","coordinates":[`+outer+`,`+hole+`]}`), "f", Options{})
		if err != nil {
			t.Fatal(err)
		}
		kind := []string{"LineString", "MultiLineString"}[r.IntN(2)]
		coordinates := func(ring string) string {
			if kind == "LineString" {
				return ring
			}
			return "[" + ring + "]"
		}
		text := collectionOf(
			featureOf(`{"type":"`+kind+`","coordinates":`+coordinates(outer)+`}`, `"name":"round"`),
			featureOf(`{"type":"`+kind+`","coordinates":`+coordinates(hole)+`}`, `"name":"pond"`))
		source := filepath.Join(dir, "field.geojson")
		if err := os.WriteFile(source, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		for _, args := range [][]string{{"-f", "GPX", "a.gpx"}, {"-f", "KML", "b.kml"}, {"-f", "ESRI Shapefile", "c.shp"}} {
			path := filepath.Join(dir, args[2])
			ogr(t, args[0], args[1], path, source)
			got, err := Read(bytes.NewReader(wholeFile(t, path)), args[2], Options{})
			if err != nil {
				t.Fatalf("%s: %v", args[1], err)
			}
			sameGround(t, args[1]+" "+kind, got, want, 1e-9)
		}
	}
}

// GDAL reads what we write: the same geometries and properties.
func TestGDALReadsOurs(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 3))
	for range campaign.Times(1, 10, 100) {
		at := places[r.IntN(len(places))]
		dir := t.TempDir()
		outer := ringAround(r, at.lat, at.lon, 200, 300, 5+r.IntN(40))
		hole := ringAround(r, at.lat+0.0006, at.lon, 20, 40, 4+r.IntN(9))
		text := collectionOf(
			featureOf(`{"type":"Polygon","coordinates":[`+outer+`,`+hole+`]}`, `"name":"Acker Ü","row_bearing_deg":12.5,"zone":"body"`),
			featureOf(`{"type":"LineString","coordinates":`+outer+`}`, `"name":"ditch","buffer_m":2`),
			featureOf(`{"type":"Point","coordinates":[11,52.5]}`, `"name":"pole","buffer_m":1.5`))
		features, err := geojson.Decode([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		ours, err := geojson.Encode(features)
		if err != nil {
			t.Fatal(err)
		}
		from, to := filepath.Join(dir, "ours.json"), filepath.Join(dir, "theirs.json")
		if err := os.WriteFile(from, ours, 0o644); err != nil {
			t.Fatal(err)
		}
		ogr(t, "-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=15", to, from)
		data, err := os.ReadFile(to)
		if err != nil {
			t.Fatal(err)
		}
		theirs, err := reference.UnmarshalFeatureCollection(data)
		if err != nil {
			t.Fatal(err)
		}
		if len(theirs.Features) != len(features) {
			t.Fatalf("%d features; want %d", len(theirs.Features), len(features))
		}
		for i, f := range theirs.Features {
			var got, want []orb.Point
			each := func(list *[]orb.Point) func(orb.Point) bool {
				return func(p orb.Point) bool { *list = append(*list, p); return true }
			}
			(&feature{Feature: features[i]}).positions(each(&want))
			switch g := f.Geometry.(type) {
			case orb.MultiPolygon:
				(&feature{Feature: geojson.Feature{Polygons: g}}).positions(each(&got))
			case orb.MultiLineString:
				(&feature{Feature: geojson.Feature{Lines: g}}).positions(each(&got))
			case orb.MultiPoint:
				got = g
			}
			off := 0.0
			for k := range min(len(got), len(want)) {
				off = max(off, math.Abs(got[k][0]-want[k][0]), math.Abs(got[k][1]-want[k][1]))
			}
			if len(got) != len(want) || off > 1e-12 || f.Properties["name"] != features[i].Name {
				t.Errorf("%s: %d points, %g degrees off, name %v; want %d points", &features[i], len(got), off, f.Properties["name"], len(want))
			}
		}
	}
}
