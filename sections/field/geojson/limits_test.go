// Files made to take memory, and encodings.

package geojson

import (
	"fmt"
	"runtime"
	"strings"
	"testing"
	"unicode/utf16"
)

// Whatever a file holds, decoding it takes some hundred megabytes at most over
// its whole course, garbage included: each of these is just within the limits,
// or just beyond them.
func TestHostileFiles(t *testing.T) {
	const mostMB = 300
	const ring, triangle = `{"type":"Polygon","coordinates":[[`, `"geometry":{"type":"Polygon","coordinates":[[[1,1],[1,2],[2,1]]]}`
	for _, c := range []struct {
		name, before, middle, after string
		times                       int
	}{
		{"points", ring, "[0,0],", "[0,0]]]}", maxPoints - 10},
		{"points with heights", ring, "[11.123456789,52.123456789,1],", "[0,0]]]}", maxPoints - 10},
		{"too many points", ring, "[0,0],", "[0,0]]]}", MaxBytes/6 - 10},
		{"empty lists", ring, "[],", "[]]]}", maxPoints - 10},
		{"numbers", ring + "[", "0,", "0]]]}", maxParts - 10},
		{"brackets", "", "[", "", maxPoints},
		{"brackets, closed", `{"type":"Polygon","coordinates":`, "[", strings.Repeat("]", 9000) + "}", 9000},
		{"null features", `{"type":"FeatureCollection","features":[`, "null,", "null]}", maxParts - 10},
		{"empty features", `{"type":"FeatureCollection","features":[`, "{},", "{}]}", maxParts/2 - 10},
		{"features", `{"type":"FeatureCollection","features":[`, `{"type":"Feature","properties":{},` + triangle + `},`, `{}]}`, maxFeatures - 10},
		{"properties", `{"type":"Feature",` + triangle + `,"properties":{"a":[`, "0,", "0]}}", maxParts - 20},
		{"lists in properties", `{"type":"Feature",` + triangle + `,"properties":{"a":[`, "[],", "0]}}", maxPoints - 20},
		{"objects in properties", `{"type":"Feature",` + triangle + `,"properties":{"a":[`, "{},", "0]}}", maxParts/2 - 20},
		{"keys", `{"type":"Polygon",`, `"a":0,`, `"b":1}`, maxParts - 10},
		{"text", `{"type":"Feature",` + triangle + `,"properties":{"a":"`, "x", `"}}`, MaxBytes - 200},
		{"spaces", "", " ", "1", MaxBytes - 1},
		{"NUL", "", "\x00", "", MaxBytes},
	} {
		t.Run(c.name, func(t *testing.T) {
			doc := []byte(c.before + strings.Repeat(c.middle, c.times) + c.after)
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			features, err := Decode(doc)
			runtime.ReadMemStats(&after)
			mb := (after.TotalAlloc - before.TotalAlloc) >> 20
			if mb > mostMB {
				t.Errorf("%d MB allocated; want %d at most", mb, mostMB)
			}
			t.Logf("%d MB of %d MB, %d features, %.100v", mb, len(doc)>>20, len(features), err)
		})
	}
}

func TestLimits(t *testing.T) {
	for _, c := range []struct{ doc, want string }{
		{strings.Repeat(" ", MaxBytes+1), "holds more than 16 MiB; expected the GeoJSON of one field"},
		{strings.Repeat("[", 500_001), "has 500001 points and lists; expected one field, of at most 500000: thin out its borders"},
		{strings.Repeat(",", 2_000_001), "has 2000001 numbers, texts and objects; expected one field, of at most 2000000"},
		{`{"type":"FeatureCollection","features":[` + strings.Repeat("null,", 10_000) + "null]}", "FeatureCollection of 10001 features; expected one field, of at most 10000"},
	} {
		if _, err := Decode([]byte(c.doc)); fmt.Sprint(err) != c.want {
			t.Errorf("%.40q: %v\nwant %s", c.doc, err, c.want)
		}
	}
}

// UTF-8 may begin with its mark; UTF-16 is named.
func TestEncodings(t *testing.T) {
	const doc = `{"type":"Polygon","coordinates":[[[10,52],[11,52],[11,53]]]}`
	wide := func(first, second int, mark string) string {
		b := []byte(mark)
		for _, u := range utf16.Encode([]rune(doc)) {
			pair := [2]byte{}
			pair[first], pair[second] = byte(u>>8), byte(u)
			b = append(b, pair[:]...)
		}
		return string(b)
	}
	const refused = "is in UTF-16; expected UTF-8: save it anew in that encoding"
	for text, want := range map[string]string{
		doc:                       "<nil>",
		"\xef\xbb\xbf" + doc:      "<nil>",
		"\xef\xbb\xbf":            "empty file; expected GeoJSON",
		wide(1, 0, "\xff\xfe"):    refused,
		wide(0, 1, "\xfe\xff"):    refused,
		wide(1, 0, ""):            refused,
		wide(0, 1, ""):            refused,
		"\xef\xbb\xbf{\"type\":x": "not GeoJSON: line 1 column 9: invalid character 'x' looking for beginning of value",
	} {
		if _, err := Decode([]byte(text)); fmt.Sprint(err) != want {
			t.Errorf("%.20q: %v; want %s", text, err, want)
		}
	}
}
