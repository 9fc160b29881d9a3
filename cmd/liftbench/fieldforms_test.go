// Fields in other forms than GeoJSON, in every place where a field is taken.

package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/web"
)

// kmlOf is GeoJSON of polygons as KML, in the digits of the source.
func kmlOf(t *testing.T, text string) string {
	t.Helper()
	var c struct {
		Features []struct {
			Properties map[string]any
			Geometry   struct{ Coordinates [][][2]json.Number }
		}
	}
	if err := json.Unmarshal([]byte(text), &c); err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Folder>`)
	for _, f := range c.Features {
		b.WriteString("<Placemark><ExtendedData>")
		for key, value := range f.Properties {
			if key != "name" {
				fmt.Fprintf(&b, `<Data name="%s"><value> %v </value></Data>`, key, value)
			}
		}
		fmt.Fprintf(&b, "</ExtendedData><name>%v</name><Polygon><outerBoundaryIs><LinearRing><coordinates>\n", f.Properties["name"])
		for _, p := range f.Geometry.Coordinates[0] {
			fmt.Fprintf(&b, "%s,%s,80\n", p[0], p[1])
		}
		b.WriteString("</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>")
	}
	b.WriteString("</Folder></Document></kml>")
	return b.String()
}

// The demo's field as KML and, where GDAL is there, as a shapefile on UTM: --field, a scenario's field and
// --boundary take it under any name, and print the same.
func TestFieldForms(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, args := range [][]string{{"check", "--write-demo", "."}, {"drive", "--out", "day.nmea", "scenario.yaml"}} {
		if status, _, stderr := command("", args...); status != 0 {
			t.Fatal(stderr)
		}
	}
	if err := os.WriteFile("field.txt", []byte(kmlOf(t, demoText(t, "field.geojson"))), 0o644); err != nil {
		t.Fatal(err)
	}
	scenario, _ := edit(t, demoText(t, "scenario.yaml"), "field: field.geojson", "field: field.txt")
	if err := os.WriteFile("kml.yaml", []byte(scenario), 0o644); err != nil {
		t.Fatal(err)
	}
	forms := []string{"field.txt"}
	if _, err := exec.LookPath("ogr2ogr"); err == nil {
		if out, err := exec.Command("ogr2ogr", "-f", "ESRI Shapefile", "-t_srs", "EPSG:25832", "utm.shp", "field.geojson").CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		forms = append(forms, "utm.shp")
	} else if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
		t.Fatal("missing: ogr2ogr (Debian gdal-bin)")
	}
	same := func(what string, want, args []string) {
		t.Helper()
		wantStatus, wantText, wantErr := command("", want...)
		status, text, stderr := command("", args...)
		if status != wantStatus || status > 1 || text != wantText {
			t.Errorf("%s: status %d, %s\n%s\nwant status %d, %s\n%s", what, status, stderr, text, wantStatus, wantErr, wantText)
		}
	}
	if _, sheet, _ := command("", "check", "kml.yaml"); !strings.Contains(sheet, "\n  file             KML, by its content\n") {
		t.Errorf("the sheet does not say that the field is KML:\n%s", sheet)
	}
	for _, form := range forms {
		same("--field "+form, []string{"run", "scenario.yaml"}, []string{"run", "--field", form, "scenario.yaml"})
		same("--boundary "+form, []string{"zones", "--boundary", "field.geojson", "--machine", "machine.yaml", "day.nmea"},
			[]string{"zones", "--boundary", form, "--machine", "machine.yaml", "day.nmea"})
	}
	same("field: field.txt", []string{"run", "scenario.yaml"}, []string{"run", "kml.yaml"})
	if len(forms) > 1 {
		// As other programs write names.
		if out, err := exec.Command("ogr2ogr", "-f", "ESRI Shapefile", "capitals.shp", "field.geojson", "-sql",
			`SELECT zone AS "ZONE", name AS "NAME", row_bearing_deg AS "ROW_BEARIN" FROM field`).CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		same("names in capitals", []string{"run", "scenario.yaml"}, []string{"run", "--field", "capitals.shp", "scenario.yaml"})
		u, err := (&settings.Selection{Arg: "scenario.yaml", Field: "capitals.shp"}).Load()
		if err != nil || u.WithoutZones() {
			t.Errorf("%v; a shapefile with names in capitals is taken for one without zones", err)
		}
		if err := os.Remove("utm.prj"); err != nil {
			t.Fatal(err)
		}
		if status, _, stderr := command("", "check", "--field", "utm.shp", "scenario.yaml"); status != 2 || !strings.Contains(stderr, "utm.shp: record 1 (") || !strings.Contains(stderr, "give its .prj too") {
			t.Errorf("without .prj: status %d, %s", status, stderr)
		}
	}
}

// The page takes KML and a zipped shapefile as a field, and hands the setting out with the field as GeoJSON.
func TestUploadedForms(t *testing.T) {
	h := web.Handler(newTestBench(t).Web())
	land := demoText(t, "field.geojson")
	answer := func(name, content string) map[string]json.RawMessage {
		t.Helper()
		contentType, body := form(t, `{"speed_kmh":10}`, [3]string{"field", name, content})
		w := askPage(h, "POST", "/api/run", contentType, body)
		if w.Code != http.StatusOK {
			t.Fatalf("%s: status %d, %.400s", name, w.Code, w.Body)
		}
		var m map[string]json.RawMessage
		if err := json.Unmarshal(w.Body.Bytes(), &m); err != nil {
			t.Fatal(err)
		}
		return m
	}
	want := answer("beets.geojson", land)
	packed := map[string]string{"beets": kmlOf(t, land)}
	if _, err := exec.LookPath("ogr2ogr"); err == nil {
		dir := t.TempDir()
		source, to := filepath.Join(dir, "field.geojson"), filepath.Join(dir, "beets.shz")
		if err := os.WriteFile(source, []byte(land), 0o644); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command("ogr2ogr", "-f", "ESRI Shapefile", to, source).CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		data, err := os.ReadFile(to)
		if err != nil {
			t.Fatal(err)
		}
		packed["beets.zip"] = string(data)
	}
	for name, content := range packed {
		contentType, body := form(t, "", [3]string{"field", name, content})
		w := askPage(h, "POST", "/api/setting.yaml", contentType, body)
		u, err := loadIn("setting.yaml", demoBut("setting.yaml", w.Body.Bytes()))
		if err != nil || !strings.Contains(w.Body.String(), `"FeatureCollection"`) || len(u.Field.Zones) != 4 {
			t.Errorf("%s: the setting is %.300s, %v; want the field in it", name, w.Body, err)
		}
		got := answer(name, content)
		for _, key := range []string{"summary", "zones", "boundary", "crossings", "sections"} {
			if len(want[key]) < 3 || string(got[key]) != string(want[key]) {
				t.Errorf("%s: %s is %.300s; want %.300s", name, key, got[key], want[key])
			}
		}
	}
}
