// Package geojson decodes GeoJSON (RFC 7946) into shapes and properties, and writes
// it. It is exact about the names of members, and says what is wrong where it finds
// something else.
package geojson

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"
)

// Feature is a feature of a file, of this form or of another that holds the same.
type Feature struct {
	Index int    // in the file, from 0
	Kind  string // what its form calls it, as "placemark"; "" = feature
	Line  int    // where it begins in a file of text, from 1; 0 = not known
	Name  string // the property of that name, if it is a text
	// Polygons, Lines and Points are the feature's geometry, in degrees: longitude
	// first, on WGS 84, within ±180 and ±90. Heights are left out. Rings and lines
	// are as they stand in the file, closed or not.
	Polygons orb.MultiPolygon
	Lines    orb.MultiLineString
	Points   orb.MultiPoint
	// Properties are as encoding/json decodes an object; nil without any.
	Properties map[string]any
}

// String names the feature in errors. Features are counted from 1.
func (f *Feature) String() string {
	text := fmt.Sprintf("%s %d", cmp.Or(f.Kind, "feature"), f.Index+1)
	if f.Name != "" {
		text += fmt.Sprintf(" (%q)", f.Name)
	}
	if f.Line > 0 {
		text += fmt.Sprintf(", line %d", f.Line)
	}
	return text
}

// Put sets a property whose value a file holds as text: a number, a list or an object
// of JSON is taken as such, anything else as the text that it is. An empty text sets nothing.
// The property name becomes the feature's name.
func (f *Feature) Put(key, text string) {
	text = strings.TrimSpace(text)
	if key == "" || text == "" {
		return
	}
	if f.Properties == nil {
		f.Properties = map[string]any{}
	}
	var value any
	switch {
	case key == "name":
		f.Name, value = text, text
	case !strings.ContainsAny(text[:1], "-0123456789[{") || json.Unmarshal([]byte(text), &value) != nil:
		value = text
	}
	f.Properties[key] = value
}

// Limits of a file, each far above those of any field. What a decoder makes of a
// file takes many times its bytes in memory.
const (
	MaxBytes    = 16 << 20
	maxPoints   = 500_000 // lists, most of which are points
	maxParts    = 2_000_000
	maxFeatures = 10_000
)

// admitted returns the JSON of a file of UTF-8 within the limits. Its mark may stand
// at the beginning.
func admitted(data []byte) ([]byte, error) {
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("holds more than %d MiB; expected the GeoJSON of one field", MaxBytes>>20)
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) || len(data) > 1 && (data[0] == 0) != (data[1] == 0) {
		return nil, errors.New("is in UTF-16; expected UTF-8: save it anew in that encoding")
	}
	if len(bytes.TrimSpace(data)) == 0 {
		return nil, errors.New("empty file; expected GeoJSON")
	}
	if n := bytes.Count(data, []byte("[")); n > maxPoints {
		return nil, fmt.Errorf("has %d points and lists; expected one field, of at most %d: thin out its borders", n, maxPoints)
	}
	if n := bytes.Count(data, []byte(",")) + bytes.Count(data, []byte("{")); n > maxParts {
		return nil, fmt.Errorf("has %d numbers, texts and objects; expected one field, of at most %d", n, maxParts)
	}
	return data, nil
}

// Decode decodes a whole file: a FeatureCollection, a Feature, or a bare Polygon
// or MultiPolygon, which is one feature without properties. There is at least
// one feature. The error says which feature is wrong, what was found and what
// was expected; where the file is no JSON at all, line and column.
func Decode(data []byte) ([]Feature, error) {
	data, err := admitted(data)
	if err != nil {
		return nil, err
	}
	doc, err := members(data)
	if err != nil {
		return nil, fmt.Errorf("not GeoJSON: %w", placed(data, err))
	}
	if err := checkReference(doc["crs"]); err != nil {
		return nil, err
	}
	switch kind := text(doc["type"]); kind {
	case "FeatureCollection":
		return collection(doc["features"])
	case "Feature":
		var f Feature
		if err := f.decode(data); err != nil {
			return nil, fmt.Errorf("%s: %w", &f, err)
		}
		return []Feature{f}, nil
	case "Polygon", "MultiPolygon":
		var f Feature
		if err := f.shapes(data); err != nil {
			return nil, err
		}
		if err := f.CheckPoints(); err != nil {
			return nil, fmt.Errorf("%s: %w", &f, err)
		}
		return []Feature{f}, nil
	default:
		return nil, fmt.Errorf("GeoJSON type %q; expected FeatureCollection, Feature, Polygon or MultiPolygon", kind)
	}
}

// collection decodes the features of a FeatureCollection.
func collection(list json.RawMessage) ([]Feature, error) {
	var texts []json.RawMessage
	if len(list) > 0 && json.Unmarshal(list, &texts) != nil {
		return nil, errors.New("features is no list; expected a boundary or zones")
	}
	if len(texts) == 0 {
		return nil, errors.New("FeatureCollection without features; expected a boundary or zones")
	}
	if len(texts) > maxFeatures {
		return nil, fmt.Errorf("FeatureCollection of %d features; expected one field, of at most %d", len(texts), maxFeatures)
	}
	features := make([]Feature, len(texts))
	for i := range features {
		f := &features[i]
		f.Index = i
		if err := f.decode(texts[i]); err != nil {
			return nil, fmt.Errorf("%s: %w", f, err)
		}
	}
	return features, nil
}

// decode decodes one Feature of a file whose JSON is sound. Name is set if the
// feature has one, also where an error is returned.
func (f *Feature) decode(data []byte) error {
	if isNull(data) {
		return errors.New("null; expected a feature")
	}
	m, _ := members(data) // what is no object has no members, so no type
	noObject := len(m["properties"]) > 0 && json.Unmarshal(m["properties"], &f.Properties) != nil
	f.Name, _ = f.Properties["name"].(string)
	if kind := text(m["type"]); kind != "Feature" {
		return fmt.Errorf("type is %q; expected Feature", kind)
	}
	if err := checkReference(m["crs"]); err != nil {
		return err
	}
	for name := range m {
		if name != "properties" && strings.EqualFold(name, "properties") && m["properties"] == nil {
			return fmt.Errorf("member %q; expected it as \"properties\"", name)
		}
	}
	geometry := m["geometry"]
	none := len(geometry) == 0 || isNull(geometry)
	if !none {
		if err := f.shapes(geometry); err != nil {
			return err
		}
	}
	switch {
	case noObject:
		return errors.New("properties are no object; expected one that may hold name, zone and row_bearing_deg")
	case none:
		return errors.New("no geometry; expected Polygon or MultiPolygon, or LineString or Point with buffer_m")
	}
	return f.CheckPoints()
}

// CheckPoints checks that every point is on the Earth.
func (f *Feature) CheckPoints() error {
	check := func(list []orb.Point) error {
		for _, c := range list {
			if !(math.Abs(c[0]) <= 180 && math.Abs(c[1]) <= 90) {
				return fmt.Errorf("point [%g, %g]; expected [longitude, latitude] within ±180 and ±90", c[0], c[1])
			}
		}
		return nil
	}
	for _, p := range f.Polygons {
		for _, r := range p {
			if err := check(r); err != nil {
				return err
			}
		}
	}
	for _, l := range f.Lines {
		if err := check(l); err != nil {
			return err
		}
	}
	return check(f.Points)
}

// shapes decodes a geometry; a Polygon is a MultiPolygon of one, and so on.
func (f *Feature) shapes(geometry []byte) error {
	m, _ := members(geometry) // what is no object has no members, so no type
	if err := checkReference(m["crs"]); err != nil {
		return err
	}
	kind, coordinates := text(m["type"]), m["coordinates"]
	what := "positions [longitude, latitude]"
	// A shape is a part of polygons of rings of positions, the rest of which holds one each.
	numbers := [][][][]float64{{{nil}}}
	var part any
	switch kind {
	case "MultiPolygon":
		part, what = &numbers, "rings of [longitude, latitude]"
	case "Polygon":
		part, what = &numbers[0], "rings of [longitude, latitude]"
	case "MultiLineString":
		part = &numbers[0]
	case "LineString", "MultiPoint":
		part = &numbers[0][0]
	case "Point":
		part = &numbers[0][0][0]
	case "GeometryCollection":
		return errors.New("geometry is a GeometryCollection; expected its parts as features of their own")
	default:
		return fmt.Errorf("geometry is a %q; expected Polygon or MultiPolygon, or LineString or Point with buffer_m", kind)
	}
	if len(coordinates) == 0 || isNull(coordinates) {
		return fmt.Errorf("%s without coordinates; expected %s", kind, what)
	}
	err := json.Unmarshal(coordinates, part)
	mp, ok := positions(numbers)
	// encoding/json takes null for a number or a list; nothing of coordinates
	// may be null, and no text among them would get so far.
	if err != nil || !ok || bytes.Contains(coordinates, []byte("null")) {
		return fmt.Errorf("coordinates are not those of a %s; expected %s, in numbers", kind, what)
	}
	switch kind {
	case "MultiPolygon", "Polygon":
		f.Polygons = mp
	case "MultiLineString", "LineString":
		f.Lines = make(orb.MultiLineString, len(mp[0]))
		for i, r := range mp[0] {
			f.Lines[i] = orb.LineString(r)
		}
	default:
		f.Points = orb.MultiPoint(mp[0][0])
	}
	return nil
}

// positions makes points of positions. A position has two numbers or more; what
// follows longitude and latitude, such as a height, is left out.
func positions(numbers [][][][]float64) (orb.MultiPolygon, bool) {
	mp := make(orb.MultiPolygon, len(numbers))
	for i, polygon := range numbers {
		mp[i] = make(orb.Polygon, len(polygon))
		for k, ring := range polygon {
			r := make(orb.Ring, len(ring))
			for n, position := range ring {
				if len(position) < 2 {
					return nil, false
				}
				r[n] = orb.Point{position[0], position[1]}
			}
			mp[i][k] = r
		}
	}
	return mp, true
}

// members returns the members of a JSON object; those of null are none.
func members(data []byte) (map[string]json.RawMessage, error) {
	var m map[string]json.RawMessage
	return m, json.Unmarshal(data, &m)
}

// text returns a JSON text, "" for anything else.
func text(data json.RawMessage) string {
	var s string
	if json.Unmarshal(data, &s) != nil {
		return ""
	}
	return s
}

func isNull(data []byte) bool {
	return bytes.Equal(bytes.TrimSpace(data), []byte("null"))
}

// placed says where encoding/json found an error, in terms of the file.
func placed(data []byte, err error) error {
	var kind *json.UnmarshalTypeError
	if errors.As(err, &kind) {
		return fmt.Errorf("found a JSON %s; expected an object with a type", kind.Value)
	}
	var syntax *json.SyntaxError
	if !errors.As(err, &syntax) {
		return err
	}
	before := data[:min(max(syntax.Offset-1, 0), int64(len(data)))]
	line := 1 + bytes.Count(before, []byte{'\n'})
	column := len(before) - bytes.LastIndexByte(before, '\n')
	return fmt.Errorf("line %d column %d: %w", line, column, err)
}
