// Decoded GeoJSON against github.com/paulmach/orb/geojson, on drawn documents.

package geojson

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	reference "github.com/paulmach/orb/geojson"
	"pgregory.net/rapid"
)

// drawn draws documents that are sound for the most part, and now and then odd
// in any place.
type drawn struct{ *rapid.T }

func (d drawn) of(label string, some ...string) string {
	return rapid.SampledFrom(some).Draw(d.T, label)
}

// odd returns text, or now and then something else.
func (d drawn) odd(text string) string {
	if rapid.IntRange(0, 199).Draw(d.T, "odd") != 77 {
		return text
	}
	return d.of("oddity", "null", "3", `"text"`, "true", "[]", "{}", "[[]]", "[null]", "[[[[[1,2]]]]]", `"Polygon"`, `"Point"`, "[1]", `{"type":"Point","coordinates":[1,2]}`)
}

func (d drawn) list(label string, least, most int, element func() string) string {
	parts := make([]string, rapid.IntRange(least, most).Draw(d.T, label))
	for i := range parts {
		parts[i] = element()
	}
	return d.odd("[" + strings.Join(parts, d.of("space", ",", ", ", " ,\n")) + "]")
}

func (d drawn) number() string {
	return d.odd(d.of("number", "0", "-0", "1e-400", "1e400", "1E2", "-179.9999999", "10.123456789012345678", "52") + d.of("more", "", "", "", "0"))
}

func (d drawn) position() string {
	return d.list("numbers", 2, rapid.SampledFrom([]int{2, 2, 2, 3, 4}).Draw(d.T, "most"), d.number)
}
func (d drawn) ring() string    { return d.list("positions", 0, 5, d.position) }
func (d drawn) polygon() string { return d.list("rings", 0, 3, d.ring) }

// object is an object of members in any order, one of which is now and then left
// out or in capitals.
func (d drawn) object(members [][2]string) string {
	var parts []string
	for _, m := range rapid.Permutation(members).Draw(d.T, "order") {
		name := m[0]
		switch rapid.IntRange(0, 199).Draw(d.T, "member") {
		case 77:
			continue
		case 78:
			name = strings.ToUpper(name)
		}
		parts = append(parts, `"`+name+`":`+m[1])
	}
	return d.odd("{" + strings.Join(parts, ",") + "}")
}

func (d drawn) geometry() string {
	kind := d.of("geometry", "Polygon", "Polygon", "MultiPolygon", "Point", "MultiPoint", "LineString", "MultiLineString", "polygon")
	coordinates := d.polygon()
	switch kind {
	case "MultiPolygon":
		coordinates = d.list("polygons", 0, 2, d.polygon)
	case "Point":
		coordinates = d.position()
	case "LineString", "MultiPoint":
		coordinates = d.ring()
	}
	return d.object([][2]string{{"type", d.odd(`"` + kind + `"`)}, {"coordinates", coordinates}})
}

func (d drawn) feature() string {
	properties := d.object([][2]string{{"name", d.odd(`"\u00c4cker \ud83d\ude9c"`)}, {"zone", d.odd(`"body"`)}, {"deep", `{"a":[1,{"b":null}]}`}})
	return d.object([][2]string{{"type", d.odd(`"Feature"`)}, {"geometry", d.geometry()}, {"properties", properties}, {"id", `7`}})
}

// same reports whether two lists of polygons are the same to the bit.
func same(a, b orb.MultiPolygon) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if len(a[i]) != len(b[i]) {
			return false
		}
		for k := range a[i] {
			if len(a[i][k]) != len(b[i][k]) {
				return false
			}
			for n, p := range a[i][k] {
				q := b[i][k][n]
				if math.Float64bits(p[0]) != math.Float64bits(q[0]) || math.Float64bits(p[1]) != math.Float64bits(q[1]) {
					return false
				}
			}
		}
	}
	return true
}

// polygonsOf is a geometry of orb as polygons of rings, of which lines have one polygon
// and points one ring.
func polygonsOf(g orb.Geometry) (orb.MultiPolygon, bool) {
	switch g := g.(type) {
	case orb.Polygon:
		return orb.MultiPolygon{g}, true
	case orb.MultiPolygon:
		return g, true
	case orb.Point:
		return orb.MultiPolygon{{orb.Ring{g}}}, true
	case orb.MultiPoint:
		return orb.MultiPolygon{{orb.Ring(g)}}, true
	case orb.LineString:
		return orb.MultiPolygon{{orb.Ring(g)}}, true
	case orb.MultiLineString:
		p := orb.Polygon{}
		for _, l := range g {
			p = append(p, orb.Ring(l))
		}
		return orb.MultiPolygon{p}, true
	}
	return nil, false
}

// asPolygons is the same of a feature.
func asPolygons(f *Feature) orb.MultiPolygon {
	switch {
	case f.Lines != nil:
		mp, _ := polygonsOf(f.Lines)
		return mp
	case f.Points != nil:
		mp, _ := polygonsOf(f.Points)
		return mp
	}
	return f.Polygons
}

// lax reports whether a geometry is one that orb/geojson takes and RFC 7946 does
// not: member names in capitals, null for a list, positions that are not two
// numbers or more.
func lax(geometry json.RawMessage) bool {
	var exact map[string]json.RawMessage
	var coordinates any
	_ = json.Unmarshal(geometry, &exact)
	if exact["TYPE"] != nil || exact["COORDINATES"] != nil || json.Unmarshal(exact["coordinates"], &coordinates) != nil {
		return true
	}
	lists := map[string]int{"MultiPolygon": 3, "Polygon": 2, "MultiLineString": 2, "LineString": 1, "MultiPoint": 1} // around each position
	return !sound(coordinates, lists[text(exact["type"])])
}

// sound reports whether v is positions in so many lists.
func sound(v any, lists int) bool {
	list, ok := v.([]any)
	if !ok || lists == 0 && len(list) < 2 {
		return false
	}
	for _, e := range list {
		if _, number := e.(float64); lists == 0 && !number || lists > 0 && !sound(e, lists-1) {
			return false
		}
	}
	return true
}

// Geometries: the same polygons to the bit, or both refuse; what orb/geojson
// takes beyond RFC 7946 is refused.
func TestGeometryAgainstOrb(t *testing.T) {
	read, refused := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		doc := drawn{rt}.geometry()
		var f Feature
		err := f.shapes([]byte(doc))
		got := asPolygons(&f)
		want, wantOK := orb.MultiPolygon(nil), false
		if g, orbErr := reference.UnmarshalGeometry([]byte(doc)); orbErr == nil {
			want, wantOK = polygonsOf(g.Geometry())
		}
		switch {
		case err == nil && !wantOK:
			rt.Fatalf("%s: read as %v; orb/geojson refuses it", doc, got)
		case err == nil && !same(got, want):
			rt.Fatalf("%s: read as %v; orb/geojson %v", doc, got, want)
		case err != nil && wantOK && !lax(json.RawMessage(doc)):
			rt.Fatalf("%s: %v; orb/geojson reads %v", doc, err, want)
		case err == nil:
			read++
		default:
			refused++
		}
	})
	if read == 0 || refused == 0 {
		t.Errorf("%d geometries were read, %d refused; want some of each", read, refused)
	}
	t.Logf("%d geometries were read, %d refused", read, refused)
}

// Features of a collection: polygons, properties and name are those that
// orb/geojson reads.
func TestFeaturesAgainstOrb(t *testing.T) {
	read, refused := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		d := drawn{rt}
		doc := `{"type":"FeatureCollection","features":` + d.list("features", 1, 3, d.feature) + `}`
		got, err := Decode([]byte(doc))
		fc, orbErr := reference.UnmarshalFeatureCollection([]byte(doc))
		if err != nil {
			refused++
			return
		}
		read++
		if orbErr != nil || len(fc.Features) != len(got) {
			rt.Fatalf("%s: %d features; orb/geojson %v", doc, len(got), orbErr)
		}
		for i, f := range fc.Features {
			name, _ := f.Properties["name"].(string)
			want, ok := polygonsOf(f.Geometry)
			sameProperties := len(got[i].Properties) == 0 && len(f.Properties) == 0 || reflect.DeepEqual(got[i].Properties, map[string]any(f.Properties))
			if !ok || !same(asPolygons(&got[i]), want) || !sameProperties || got[i].Name != name {
				rt.Fatalf("%s: feature %d is %+v; orb/geojson %+v", doc, i+1, got[i], f)
			}
		}
	})
	if !testing.Short() && (read == 0 || refused == 0) { // one in ten is read, and -short draws 20
		t.Errorf("%d collections were read, %d refused; want some of each", read, refused)
	}
	t.Logf("%d collections were read, %d refused", read, refused)
}

// What RFC 7946 does not allow is refused, and what is wrong is said.
func TestGeoJSONIsExact(t *testing.T) {
	const rings = "coordinates are not those of a Polygon; expected rings of [longitude, latitude], in numbers"
	for doc, want := range map[string]string{
		`[1]`: "not GeoJSON: found a JSON array; expected an object with a type",
		`"a"`: "not GeoJSON: found a JSON string; expected an object with a type",
		`{"Type":"Polygon","coordinates":[[[10,52],[11,52],[11,53]]]}`:      `GeoJSON type ""; expected FeatureCollection, Feature, Polygon or MultiPolygon`,
		`{"type":"Polygon","Coordinates":[[[10,52],[11,52],[11,53]]]}`:      "Polygon without coordinates; expected rings of [longitude, latitude]",
		`{"type":"Polygon","coordinates":null}`:                             "Polygon without coordinates; expected rings of [longitude, latitude]",
		`{"type":"Polygon","coordinates":[[[10,52],[11],[11,53]]]}`:         rings,
		`{"type":"Polygon","coordinates":[[[10,52],[],[11,53]]]}`:           rings,
		`{"type":"Polygon","coordinates":[[[10,52],[11,null],[11,53]]]}`:    rings,
		`{"type":"Polygon","coordinates":[null]}`:                           rings,
		`{"type":"Polygon","coordinates":[[[10,52],[1e400,52],[11,53]]]}`:   rings,
		`{"type":"Polygon","coordinates":[[[10,52],[11,52],[11,53]]],"x":}`: "not GeoJSON: line 1 column 65: invalid character '}' looking for beginning of value",
	} {
		if _, err := Decode([]byte(doc)); fmt.Sprint(err) != want {
			t.Errorf("%s: %v\nwant %s", doc, err, want)
		}
	}
}
