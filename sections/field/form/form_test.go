// What is told of files in each form, and of those in none.

package form

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"liftbench/sections/field/geojson"
)

const (
	kmlHead = `<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>`
	kmlTail = `</Document></kml>`
	ring    = "<LinearRing><coordinates>10,52 10.001,52 10.001,52.001 10,52</coordinates></LinearRing>"
	mark    = "<Placemark><name>acre</name><Polygon><outerBoundaryIs>" + ring + "</outerBoundaryIs></Polygon></Placemark>"
	gpxHead = `<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">`
	track   = `<trk><name>round</name><trkseg><trkpt lat="52" lon="10"><ele>80</ele></trkpt><trkpt lat="52" lon="10.001"/><trkpt lat="52.001" lon="10.001"/><trkpt lat="52" lon="10"/></trkseg></trk>`
)

// packed is a zip of files, by name and content in turn.
func packed(t testing.TB, files ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(files); i += 2 {
		w, err := z.Create(files[i])
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(files[i+1])); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// shp is a shapefile of one shape, written from the description: type and content.
func shp(kind uint32, content ...any) []byte {
	var body bytes.Buffer
	_ = binary.Write(&body, binary.LittleEndian, kind)
	for _, c := range content {
		_ = binary.Write(&body, binary.LittleEndian, c)
	}
	head := make([]byte, 100)
	binary.BigEndian.PutUint32(head, 9994)
	binary.BigEndian.PutUint32(head[24:], uint32(100+8+body.Len())/2)
	binary.LittleEndian.PutUint32(head[28:], 1000)
	binary.LittleEndian.PutUint32(head[32:], kind)
	head = binary.BigEndian.AppendUint32(head, 1)
	head = binary.BigEndian.AppendUint32(head, uint32(body.Len()/2))
	return append(head, body.Bytes()...)
}

// square is a polygon of one ring around a place.
func square(x, y, side float64) []byte {
	return shp(5, [4]float64{x, y, x + side, y + side}, uint32(1), uint32(5), uint32(0),
		[10]float64{x, y, x, y + side, x + side, y + side, x + side, y, x, y})
}

const (
	wgs84 = `GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`
	utm32 = `PROJCS["WGS_1984_UTM_Zone_32N",` + wgs84 + `,PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",500000.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",9.0],PARAMETER["Scale_Factor",0.9996],PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]`
)

func TestTold(t *testing.T) {
	for _, c := range []struct {
		name string
		data []byte
		form string
		says string // of the first feature
	}{
		{"KML", []byte(kmlHead + mark + kmlTail), "KML", `placemark 1 ("acre"), line 1 1 polygons 0 lines 0 points map[name:acre]`},
		{"KML with a mark, after spaces, in another namespace", []byte("\xef\xbb\xbf\n" + `<k:kml xmlns:k="http://www.opengis.net/kml/2.3">` + "\n\n<k:Placemark><k:Point><k:coordinates> 10,52,0 </k:coordinates></k:Point></k:Placemark></k:kml>"), "KML", `placemark 1, line 4 0 polygons 0 lines 1 points map[]`},
		{"KML in Latin-1", []byte("<?xml version=\"1.0\" encoding=\"ISO-8859-1\"?><kml><Placemark><name>S\xfcd</name><Point><coordinates>10,52</coordinates></Point></Placemark></kml>"), "KML", `placemark 1 ("Süd"), line 1 0 polygons 0 lines 1 points map[name:Süd]`},
		{"KML with properties", []byte(kmlHead + `<Placemark><ExtendedData><Data name="buffer_m"><value>2.5</value></Data><SchemaData><SimpleData name="zone">keep-out</SimpleData><SimpleData name="row_a">[10, 52]</SimpleData></SchemaData></ExtendedData><MultiGeometry><Point><coordinates>10,52</coordinates></Point><Point><coordinates>10,53</coordinates></Point></MultiGeometry></Placemark>` + kmlTail), "KML", `placemark 1, line 1 0 polygons 0 lines 2 points map[buffer_m:2.5 row_a:[10 52] zone:keep-out]`},
		{"KML track", []byte(`<kml xmlns:gx="http://www.google.com/kml/ext/2.2"><Placemark><gx:Track><when>2031-05-09T14:00:00Z</when><gx:coord>10 52 80</gx:coord><gx:coord>10 53 80</gx:coord></gx:Track></Placemark></kml>`), "KML", `placemark 1, line 1 0 polygons 1 lines 0 points map[]`},
		{"placemark without a shape before it", []byte(kmlHead + "<Placemark><name>note</name></Placemark>" + mark + kmlTail), "KML", `placemark 2 ("acre"), line 1 1 polygons 0 lines 0 points map[name:acre]`},
		{"GPX", []byte(gpxHead + track + `</gpx>`), "GPX", `track 1 ("round"), line 1 0 polygons 1 lines 0 points map[name:round]`},
		{"GPX route and extensions", []byte(gpxHead + `<rte><extensions><x:zone>row</x:zone></extensions><rtept lat="52" lon="10"/><rtept lat="52.1" lon="10"/></rte></gpx>`), "GPX", `route 1, line 1 0 polygons 1 lines 0 points map[zone:row]`},
		{"KMZ", packed(t, "doc.kml", kmlHead+mark+kmlTail, "files/legend.png", "\x89PNG"), "KMZ", `placemark 1 ("acre"), line 1 1 polygons 0 lines 0 points map[name:acre]`},
		{"KMZ with a link", packed(t, "doc.kml", kmlHead+"<NetworkLink><Link><href>layers/a.kml</href></Link></NetworkLink>"+kmlTail, "layers/a.kml", kmlHead+mark+kmlTail), "KMZ", `placemark 1 ("acre"), line 1 1 polygons 0 lines 0 points map[name:acre]`},
		{"GeoJSON in a zip, what a Mac adds beside it", packed(t, "land.txt", `{"type":"Polygon","coordinates":[[[10,52],[10,53],[11,53]]]}`, "__MACOSX/._land.txt", "{}"), "GeoJSON in a zip", `feature 1 1 polygons 0 lines 0 points map[]`},
		{"shapefile without .prj, in degrees", square(10, 52, 0.001), "shapefile", `record 1 1 polygons 0 lines 0 points map[]`},
		{"zipped, in capitals, in a folder", packed(t, "a/FIELD.SHP", string(square(500000, 5.7e6, 100)), "a/field.PRJ", utm32), "shapefile", `record 1 1 polygons 0 lines 0 points map[]`},
		{"a point with height and measure", shp(11, [4]float64{10, 52, 80, 0}), "shapefile", `record 1 0 polygons 0 lines 1 points map[]`},
	} {
		features, form, err := Decode(c.data)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		f := &features[0]
		says := fmt.Sprintf("%s %d polygons %d lines %d points %v", f, len(f.Polygons), len(f.Lines), len(f.Points), f.Properties)
		if form != c.form || says != c.says {
			t.Errorf("%s: %s, %s; want %s, %s", c.name, form, says, c.form, c.says)
		}
	}
}

// A hole may lie in either direction and before its outer ring; an island in it is a polygon of its own.
func TestNestedRings(t *testing.T) {
	ring := func(from, to float64) []float64 {
		return []float64{from, from, from, to, to, to, to, from, from, from}
	}
	reversed := func(r []float64) []float64 {
		out := []float64{}
		for i := len(r) - 2; i >= 0; i -= 2 {
			out = append(out, r[i], r[i+1])
		}
		return out
	}
	for _, turned := range []bool{false, true} {
		rings := [][]float64{ring(2, 8), ring(1, 9), ring(3, 7), ring(11, 12)}
		if turned {
			rings[0], rings[2] = reversed(rings[0]), reversed(rings[2])
		}
		var points []float64
		for _, r := range rings {
			points = append(points, r...)
		}
		features, _, err := Decode(shp(5, [4]float64{1, 1, 12, 12}, uint32(4), uint32(20), [4]uint32{0, 5, 10, 15}, points))
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, p := range features[0].Polygons {
			for i, r := range p {
				got = append(got, fmt.Sprintf("%d: %v", i, r[0][0]))
			}
		}
		if want := []string{"0: 1", "1: 2", "0: 3", "0: 11"}; !reflect.DeepEqual(got, want) {
			t.Errorf("rings %v; want %v", got, want)
		}
	}
}

func TestErrors(t *testing.T) {
	const taken = "; expected GeoJSON, KML, KMZ, GPX or a shapefile"
	shx := append(bytes.Clone(square(10, 52, 1)[:100]), 0, 0, 0, 50, 0, 0, 0, 64)
	dbf := append([]byte{3, 126, 5, 9, 1, 0, 0, 0, 33, 0, 1, 0}, make([]byte, 30)...)
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"nothing", nil, "empty file; expected GeoJSON"},
		{"gzip", []byte("\x1f\x8b\x08"), "compressed by gzip" + taken},
		{"other XML", []byte(`<svg xmlns="http://www.w3.org/2000/svg"/>`), "XML of <svg>" + taken},
		{"XML of nothing", []byte(`<!-- -->`), "XML without an element" + taken},
		{"task data", []byte(`<ISO11783_TaskData/>`), "task data of ISO 11783-10, which hold fields among much else" + taken},
		{"prj", []byte(utm32), "the .prj file of a shapefile, which says what its coordinates mean" + taken},
		{"shx", shx, "the index (.shx) of a shapefile, beside which its .shp lies" + taken},
		{"dbf", dbf, "the table (.dbf) of a shapefile, beside which its .shp lies" + taken},
		{"KML of nothing", []byte(kmlHead + kmlTail), "no Placemark with a Polygon, a LineString or a Point; expected a boundary or zones"},
		{"KML cut off", []byte(kmlHead + "\n<Placemark>\n<Point>"), "line 3: not XML: unexpected EOF"},
		{"KML with spaces in positions", []byte(kmlHead + "\n<Placemark><LineString><coordinates>10, 52, 0 11, 52, 0</coordinates></LineString></Placemark>" + kmlTail), `line 2: position "10,"; expected longitude,latitude in degrees, without spaces between them`},
		{"KML without an outer ring", []byte(kmlHead + "<Placemark><Polygon><innerBoundaryIs>" + ring + "</innerBoundaryIs></Polygon></Placemark>" + kmlTail), "line 1: a Polygon without outerBoundaryIs; expected the outer ring"},
		{"KML with two outer rings", []byte(kmlHead + "<Placemark><Polygon><outerBoundaryIs>" + ring + ring + "</outerBoundaryIs></Polygon></Placemark>" + kmlTail), "line 1: a Polygon with two outer rings; expected a Polygon for each"},
		{"KML that swaps", []byte(kmlHead + "\n<Placemark><name>x</name><Point><coordinates>52,110</coordinates></Point></Placemark>" + kmlTail), `placemark 1 ("x"), line 2: point [52, 110]; expected [longitude, latitude] within ±180 and ±90`},
		{"KML with a link", []byte(kmlHead + "\n<NetworkLink><Link><href>http://127.0.0.1/a.kml</href></Link></NetworkLink>" + kmlTail), `line 2: NetworkLink to "http://127.0.0.1/a.kml": the shapes are in another file; expected that file, or a KMZ that holds it`},
		{"KML in UTF-16", []byte("\xff\xfe<\x00k\x00"), "is in UTF-16; expected UTF-8: save it anew in that encoding"},
		{"KML in an encoding", []byte(`<?xml version="1.0" encoding="KOI8-R"?><kml/>`), "XML without an element" + taken},
		{"GPX of nothing", []byte(gpxHead + "<trk><name>x</name></trk><rte/></gpx>"), "no track, route or waypoint; expected the track of a drive around the field"},
		{"GPX without a place", []byte(gpxHead + "\n<wpt lat='52'/></gpx>"), "line 2: a point without lat and lon; expected both"},
		{"GPX with a comma", []byte(gpxHead + "\n<wpt lat='52,5' lon='10'/></gpx>"), `line 2: lat is "52,5"; expected degrees`},
		{"zip of nothing", packed(t), "a zip without a field; expected one of GeoJSON, KML, KMZ, GPX or a shapefile in it"},
		{"zip cut off", packed(t, "a.kml", kmlHead+mark+kmlTail)[:100], "a zip that is damaged (zip: not a valid zip file); expected it whole"},
		{"zip of two", packed(t, "a.kml", kmlHead+mark+kmlTail, "b.gpx", gpxHead+track+"</gpx>"), `a zip of 2 files that may be the field: "a.kml, b.gpx"; expected one: take the others out, or unpack it and give the one`},
		{"KMZ with a link to itself", packed(t, "doc.kml", kmlHead+"<NetworkLink><Link><href>doc.kml</href></Link></NetworkLink>"+kmlTail), `"doc.kml" in the zip: line 1: NetworkLink to "doc.kml", which is not in the zip, or was linked before; expected the KMZ with all its files, or that file`},
		{"shapefile cut off", square(10, 52, 1)[:150], "record 1, at byte 100, has 128 bytes; the file ends after 42 of them"},
		{"shapefile of a record cut off", square(10, 52, 1)[:105], "record 1, at byte 100, is cut off"},
		{"shapefile of nothing", shp(0), "no shape; expected a boundary or zones"},
		{"shapefile of surfaces", shp(31), "record 1: shape type 31; expected polygons, lines or points"},
		{"shapefile of too many points", shp(5, [4]float64{}, uint32(1), uint32(math.MaxUint32), uint32(0)), "record 1: 4294967295 points in 0 bytes; expected 16 bytes for each"},
		{"shapefile of too many parts", shp(5, [4]float64{}, uint32(math.MaxUint32), uint32(0)), "record 1: 4294967295 parts in 0 bytes; expected them to fit"},
		{"shapefile of parts in disorder", shp(3, [4]float64{}, uint32(2), uint32(2), [2]uint32{2, 1}, [4]float64{10, 52, 11, 53}), "record 1: part 1 from point 2 to 1 of 2; expected the parts in order"},
		{"shapefile without .prj, in metres", square(500000, 5.7e6, 100), "record 1: point [500000, 5.7e+06]; expected [longitude, latitude] within ±180 and ±90; without a .prj file beside it, a shapefile is taken to hold degrees: give its .prj too, or a zip of .shp, .shx, .dbf and .prj"},
		{"shapefile with the table of another", packed(t, "a.shp", string(square(10, 52, 1)), "a.dbf", string([]byte{3, 126, 5, 9, 0, 0, 0, 0, 33, 0, 1, 0})+strings.Repeat("\x00", 20)+"\r"), "1 shapes and 0 rows of the table (.dbf); expected the .dbf of the same file"},
		{"shapefile with half a table", packed(t, "a.shp", string(square(10, 52, 1)), "a.dbf", "\x03abc"), "the table (.dbf) is cut off; expected the .dbf of the same file"},
	} {
		if _, _, err := Decode(c.data); fmt.Sprint(err) != c.want {
			t.Errorf("%s: %v\nwant %s", c.name, err, c.want)
		}
	}
}

// Coordinates that cannot be brought to WGS 84 exactly are refused by their name, with what to do.
func TestGround(t *testing.T) {
	const convert = ": convert it to longitude and latitude on WGS 84 (EPSG:4326), as with ogr2ogr -t_srs EPSG:4326 field.geojson field.shp"
	etrs := strings.NewReplacer("D_WGS_1984", "D_ETRS_1989", "WGS_1984\",6378137.0,298.257223563", "GRS_1980\",6378137.0,298.257222101")
	for _, c := range []struct{ name, prj, want string }{
		{"UTM", utm32, ""},
		{"UTM on ETRS89", etrs.Replace(utm32), ""},
		{"UTM with a mark and lines", "\ufeff" + strings.ReplaceAll(utm32, ",", ",\r\n  "), ""},
		{"another datum", strings.Replace(utm32, "D_WGS_1984", "D_European_1950", 1), `its coordinates are "WGS_1984_UTM_Zone_32N", on the datum "D_European_1950"; expected WGS 84 or ETRS89` + convert},
		{"another ellipsoid", strings.Replace(utm32, "6378137.0", "6378388.0", 1), `its coordinates are "WGS_1984_UTM_Zone_32N", on the datum "D_WGS_1984"; expected WGS 84 or ETRS89` + convert},
		{"another projection", strings.Replace(utm32, "Transverse_Mercator", "Lambert_Conformal_Conic", 1), `its coordinates are "WGS_1984_UTM_Zone_32N", projected by "Lambert_Conformal_Conic"; expected transverse Mercator, as UTM` + convert},
		{"feet", strings.Replace(utm32, `UNIT["Meter",1.0]`, `UNIT["Foot_US",0.3048006096012192]`, 1), `its coordinates are "WGS_1984_UTM_Zone_32N", in other units than metres` + convert},
		{"gon", strings.Replace(utm32, `0.0174532925199433`, `0.015707963267949`, 1), `its coordinates are "WGS_1984_UTM_Zone_32N", in other units than degrees` + convert},
		{"Paris", strings.Replace(utm32, `"Greenwich",0.0`, `"Paris",2.33722917`, 1), `its coordinates are "WGS_1984_UTM_Zone_32N", counted from another meridian than Greenwich` + convert},
		{"an origin", strings.Replace(utm32, `"Latitude_Of_Origin",0.0`, `"Latitude_Of_Origin",49.0`, 1), `its coordinates are "WGS_1984_UTM_Zone_32N", a transverse Mercator grid that does not begin at the equator` + convert},
		{"no meridian", strings.Replace(utm32, `PARAMETER["Central_Meridian",9.0],`, ``, 1), `its coordinates are "WGS_1984_UTM_Zone_32N", a transverse Mercator grid without its meridian and scale` + convert},
		{"a parameter more", strings.Replace(utm32, `PARAMETER["Central_Meridian",9.0],`, `PARAMETER["Central_Meridian",9.0],PARAMETER["Azimuth",9.0],`, 1), `its coordinates are "WGS_1984_UTM_Zone_32N", a transverse Mercator grid with the parameter "Azimuth", which is not known` + convert},
		{"a local system", `LOCAL_CS["farm grid",UNIT["Meter",1]]`, `its coordinates are "farm grid", neither longitude and latitude nor a projection of them` + convert},
		{"cut off", utm32[:40], "the .prj file: a quotation without an end; expected the well-known text of a coordinate system, as GEOGCS[…]"},
		{"no text", "x", "the .prj file: \"x\" found; expected the well-known text of a coordinate system, as GEOGCS[…]"},
	} {
		_, _, err := Decode(packed(t, "a.shp", string(square(643000, 5769000, 100)), "a.prj", c.prj))
		if got := fmt.Sprint(err); got != c.want && !(err == nil && c.want == "") {
			t.Errorf("%s: %s\nwant %s", c.name, got, c.want)
		}
	}
}

// Whatever a file holds, decoding it takes some hundred megabytes at most, garbage included.
func TestHostileFiles(t *testing.T) {
	const mostMB = 400
	bomb := func(name, head string) []byte { return packed(t, name, head+strings.Repeat(" ", 40<<20)) }
	for _, c := range []struct {
		name string
		data []byte
	}{
		{"elements", []byte("<kml>" + strings.Repeat("<a/>", MaxBytes/4-10) + "</kml>")},
		{"depth", []byte("<kml>" + strings.Repeat("<a>", 5_000_000))},
		{"attributes", []byte("<kml " + strings.Repeat("a='' ", MaxBytes/5-10) + "/>")},
		{"a comment", []byte("<kml><!--" + strings.Repeat("x", MaxBytes-100) + "--></kml>")},
		{"entities", []byte(`<!DOCTYPE a [<!ENTITY b "bbbbbbbbbb"><!ENTITY c "&b;&b;&b;&b;">]><kml><Placemark><name>&c;&c;</name></Placemark></kml>`)},
		{"positions", []byte(kmlHead + "<Placemark><LineString><coordinates>" + strings.Repeat("1,1 ", MaxBytes/4-100) + "</coordinates></LineString></Placemark>" + kmlTail)},
		{"placemarks", []byte(kmlHead + strings.Repeat("<Placemark><Point><coordinates>1,1</coordinates></Point></Placemark>", 200_000) + kmlTail)},
		{"track points", []byte(gpxHead + "<trk><trkseg>" + strings.Repeat("<trkpt lat='1' lon='1'/>", 600_000) + "</trkseg></trk></gpx>")},
		{"waypoints", []byte(gpxHead + strings.Repeat("<wpt lat='1' lon='1'/>", 600_000) + "</gpx>")},
		{"a zip of KML that unpacks to 40 MB", bomb("doc.kml", kmlHead)},
		{"a zip of GeoJSON that unpacks to 40 MB", bomb("a", `{"type":`)},
		{"a zip of a shapefile that unpacks to 40 MB", bomb("a.shp", string(square(1, 1, 1)))},
		{"records", append(square(10, 52, 1), bytes.Repeat([]byte{0, 0, 0, 2, 0, 0, 0, 2, 0, 0, 0, 0}, 1_300_000)...)},
		{"points", shp(8, [4]float64{}, uint32(1_000_000), make([]float64, 2_000_000))},
		{"rings within each other", manyRings(2000)},
		{"rings", manyRings(20_000)},
		{"brackets of well-known text", packed(t, "a.shp", string(square(1, 1, 1)), "a.prj", strings.Repeat("A[", 30_000))},
		{"a number of well-known text", packed(t, "a.shp", string(square(1, 1, 1)), "a.prj", "A["+strings.Repeat("1,", 30_000))},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		features, _, err := Decode(c.data)
		runtime.ReadMemStats(&after)
		mb := (after.TotalAlloc - before.TotalAlloc) >> 20
		if mb > mostMB {
			t.Errorf("%s: %d MB allocated; want %d at most", c.name, mb, mostMB)
		}
		t.Logf("%s: %d MB of %d MB, %d features, %.150v", c.name, mb, len(c.data)>>20, len(features), err)
	}
}

// manyRings is a shapefile of squares within each other.
func manyRings(n int) []byte {
	starts, points := make([]uint32, n), []float64{}
	for i := range starts {
		starts[i] = uint32(5 * i)
		a, b := float64(i)*0.00001, 1-float64(i)*0.00001
		points = append(points, a, a, a, b, b, b, b, a, a, a)
	}
	return shp(5, [4]float64{0, 0, 1, 1}, uint32(n), uint32(5*n), starts, points)
}

// Whatever is decoded in any form, encoded as GeoJSON and decoded again, is the same.
func FuzzDecode(f *testing.F) {
	f.Add([]byte(kmlHead + mark + kmlTail))
	f.Add([]byte(gpxHead + track + `<wpt lat="1" lon="2"><extensions><buffer_m>2</buffer_m></extensions></wpt></gpx>`))
	f.Add(square(10, 52, 1))
	f.Add(packed(f, "doc.kml", kmlHead+"<NetworkLink><Link><href>a.kml</href></Link></NetworkLink>"+kmlTail, "a.kml", kmlHead+mark+kmlTail))
	f.Add(packed(f, "a.shp", string(square(500000, 5.7e6, 100)), "a.prj", utm32, "a.dbf", string([]byte{3, 126, 5, 9, 1, 0, 0, 0, 65, 0, 6, 0})+strings.Repeat("\x00", 20)+"name\x00\x00\x00\x00\x00\x00\x00C\x00\x00\x00\x00\x05"+strings.Repeat("\x00", 15)+"\r acre "))
	f.Add([]byte(`{"type":"Feature","properties":{"name":"x"},"geometry":{"type":"LineString","coordinates":[[10,52],[11,53]]}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		features, _, err := Decode(data)
		if err != nil {
			if len(err.Error()) > 2000 || len(features) != 0 {
				t.Fatalf("%d features beside %.300s", len(features), err)
			}
			return
		}
		if len(features) == 0 {
			t.Fatal("neither a feature nor an error")
		}
		text, err := geojson.Encode(features)
		if err != nil {
			return // several kinds of shapes in one
		}
		again, err := geojson.Decode(text)
		if err != nil || len(again) != len(features) {
			t.Fatalf("%s: %d features, %v; want %d", text, len(again), err, len(features))
		}
		for i := range features {
			if len(again[i].Polygons) != len(features[i].Polygons) || len(again[i].Lines) != len(features[i].Lines) || !reflect.DeepEqual(again[i].Points, features[i].Points) {
				t.Fatalf("%+v came back as %+v", features[i], again[i])
			}
		}
	})
}

// What ogrinfo (Debian gdal-bin) says of the shapefile that the tests write is what was written.
func TestOgrinfoReadsTheShapefile(t *testing.T) {
	if _, err := exec.LookPath("ogrinfo"); err != nil {
		if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
			t.Fatal("missing: ogrinfo (Debian gdal-bin)")
		}
		t.Skip("missing: ogrinfo (Debian gdal-bin)")
	}
	path := filepath.Join(t.TempDir(), "a.shp")
	if err := os.WriteFile(path, square(10, 52, 1), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("ogrinfo", "-al", path)
	cmd.Env = append(os.Environ(), "SHAPE_RESTORE_SHX=YES")
	out, err := cmd.CombinedOutput()
	if want := "POLYGON ((10 52,10 53,11 53,11 52,10 52))"; err != nil || !strings.Contains(string(out), want) {
		t.Errorf("%v\n%s\nwant %s", err, out, want)
	}
}
