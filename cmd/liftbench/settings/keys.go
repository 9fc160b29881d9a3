// Every key of every file that liftbench reads, as tables for people. The rows
// of machine, scenario, study and sheet come from the struct tags from which the
// decoder and the JSON Schema are made.

package settings

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"unicode/utf8"

	"liftbench/cmd/liftbench/settings/bind"
)

// FileKind is one kind of file that liftbench reads.
type FileKind struct {
	Name, Short string
	Write       func(b *strings.Builder)
}

// FileKinds are all kinds, in the order in which they are printed.
var FileKinds = []FileKind{
	{"machine", "Keys of a machine file (YAML)", func(b *strings.Builder) { writeGroup(b, "", reflect.ValueOf(DefaultMachine()).Elem()) }},
	{"scenario", "Keys of a scenario file (YAML)", func(b *strings.Builder) { writeGroup(b, "", reflect.ValueOf(DefaultScenario()).Elem()) }},
	{"study", "Keys of a study file (YAML)", func(b *strings.Builder) { writeGroup(b, "", reflect.ValueOf(DefaultStudy()).Elem()) }},
	{"sheet", "Keys of a sheet file (YAML)", func(b *strings.Builder) { writeGroup(b, "", reflect.ValueOf(DefaultAcceptance()).Elem()) }},
	{"field", "Properties of a field's features (GeoJSON, KML, KMZ, GPX or shapefile)", writeFieldKeys},
	{"states", "Columns of recorded work states (CSV)", writeStatesKeys},
}

// keyRow is a line of a table.
type keyRow struct{ key, unit, values, standard, doc string }

// writeGroup prints the keys of a struct, then each group of keys inside it
// under a heading that gives its path.
func writeGroup(b *strings.Builder, path string, v reflect.Value) {
	type group struct {
		path, doc string
		v         reflect.Value
	}
	var rows []keyRow
	var groups []group
	for i := range v.NumField() {
		f := v.Type().Field(i)
		key := f.Tag.Get("key")
		if key == "" {
			continue
		}
		s := bind.ValueSchema(v.Field(i), f.Tag)
		doc := f.Tag.Get("doc")
		if inner, list, ok := groupOf(v.Field(i), s); ok {
			at := path + key
			if list {
				at += "[]"
				doc += ", a list"
			}
			if f.Tag.Get("need") == "yes" {
				doc += " (must be given)"
			}
			groups = append(groups, group{at, doc, inner})
			continue
		}
		standard := "-"
		if d, ok := s["default"]; ok {
			standard = plainText(d)
		}
		if f.Tag.Get("need") == "yes" {
			standard = "must be given"
		}
		rows = append(rows, keyRow{key, f.Tag.Get("unit"), valuesText(s), standard, doc})
	}
	writeRows(b, rows)
	for _, g := range groups {
		fmt.Fprintf(b, "\n%s: %s\n", g.path, g.doc)
		writeGroup(b, g.path+".", g.v)
	}
}

// groupOf returns the struct whose keys stand below a key, with whether the
// key holds a list of them.
func groupOf(v reflect.Value, schema map[string]any) (inner reflect.Value, list, ok bool) {
	if schema["properties"] != nil {
		if v.Kind() == reflect.Pointer {
			v = reflect.New(v.Type().Elem()).Elem()
		}
		return v, false, true
	}
	if items, _ := schema["items"].(map[string]any); items["properties"] != nil {
		return reflect.New(v.Type().Elem()).Elem(), true, true
	}
	return v, false, false
}

// valuesText says which values a schema allows.
func valuesText(s map[string]any) string {
	if forms, ok := s["anyOf"].([]any); ok {
		var texts []string
		for _, f := range forms {
			texts = append(texts, valuesText(f.(map[string]any)))
		}
		return strings.Join(texts, " or ")
	}
	if words, ok := s["enum"].([]string); ok {
		return strings.Join(words, ", ")
	}
	if word, ok := s["const"]; ok {
		return plainText(word)
	}
	switch s["type"] {
	case "boolean":
		return "true, false"
	case "object":
		return "its content"
	case "array":
		return "list of " + valuesText(s["items"].(map[string]any))
	case "string":
		if s["format"] == "date-time" {
			return "time (RFC 3339)"
		}
		return "text"
	}
	kind := ""
	if s["type"] == "integer" {
		kind = "whole "
	}
	low, high := plainText(s["minimum"]), plainText(s["maximum"])
	if x, ok := s["exclusiveMinimum"]; ok {
		low = ">" + plainText(x)
	}
	if x, ok := s["exclusiveMaximum"]; ok {
		high = "<" + plainText(x)
	}
	switch {
	case low == "" && high == "":
		return kind + "number"
	case high == "":
		return kind + "from " + low
	case low == "":
		return kind + "up to " + high
	}
	return kind + low + " to " + high
}

// plainText prints a value as it would stand in a file; "" for none.
func plainText(v any) string {
	switch x := v.(type) {
	case nil:
		return ""
	case string:
		return x
	case float64:
		return bind.PlainNumber(x)
	}
	data, err := json.Marshal(v)
	if err != nil {
		return fmt.Sprint(v)
	}
	return strings.NewReplacer(`"`, "", ",", ", ").Replace(string(data))
}

// helpColumns is the width that tables keep; the meaning has at least
// leastDocColumns of it.
const (
	helpColumns     = 100
	leastDocColumns = 30
)

// writeRows prints aligned columns; a long meaning goes on below itself.
func writeRows(b *strings.Builder, rows []keyRow) {
	if len(rows) == 0 {
		return
	}
	rows = append([]keyRow{{"key", "unit", "values", "default", "meaning"}}, rows...)
	cells := func(r keyRow) [4]string { return [4]string{r.key, r.unit, r.values, r.standard} }
	var width [4]int
	for _, r := range rows {
		for i, c := range cells(r) {
			width[i] = max(width[i], utf8.RuneCountInString(c))
		}
	}
	for _, r := range rows {
		line := ""
		for i, c := range cells(r) {
			line += "  " + c + strings.Repeat(" ", width[i]-utf8.RuneCountInString(c))
		}
		line += "  "
		indent := utf8.RuneCountInString(line)
		room := max(helpColumns-indent, leastDocColumns)
		used := 0
		for _, word := range strings.Fields(r.doc) {
			n := utf8.RuneCountInString(word)
			if used > 0 && used+1+n > room {
				line += "\n" + strings.Repeat(" ", indent)
				used = 0
			}
			if used > 0 {
				line += " "
				used++
			}
			line += word
			used += n
		}
		b.WriteString(line + "\n")
	}
}

// writeFieldKeys prints what sections/field reads of a feature.
func writeFieldKeys(b *strings.Builder) {
	writeRows(b, []keyRow{
		{"zone", "", "body, headland, keep-out, row, row-line", "-", "which part of the field the polygon is; a polygon without it is the field's boundary. row: a line along a row of the zone in which it lies, as an AB line, which gives the rows' direction and where one lies. row-line: a line along a row that bends, as a contour or a circle"},
		{"rows_of", "", "text", "-", "of a row-line: the name of the zone whose rows are its parallels, or body or headland for all of that kind; without it the zone in which most of the line lies"},
		{"buffer_m", "m", ">0 to 100", "-", "how far around a point (a pole) or on either side of a line (a ditch) is kept out of; needs no zone"},
		{"row_bearing_deg", "°", "-360 to 360", "-", "direction of the crop rows, clockwise from north; a zone without it takes part at any heading"},
		{"row_a", "°", "[longitude, latitude]", "-", "a point on the leftmost row of a drill pass, seen along the rows: where the rows lie"},
		{"row_b", "°", "[longitude, latitude]", "-", "another point on that row, in place of row_bearing_deg"},
		{"drill_width_m", "m", "0.25 to 50", "-", "width of the drill, from whose passes the hoe's begin"},
		{"rows_left_out", "", "list of whole from 1", "-", "rows that a drill pass leaves out, as tramlines, from 1 at its left"},
		{"name", "", "text", "-", "what the polygon is called in messages"},
	})
	b.WriteString(`
The form is told by the content, never by the name:

GeoJSON    RFC 7946: a FeatureCollection, a Feature, or a bare Polygon or
           MultiPolygon, holes included; degrees on WGS 84, longitude first
KML, KMZ   placemarks with polygons, lines, tracks and points; properties in
           ExtendedData. Files that a KMZ links to are read if it holds them
GPX        tracks and routes; waypoints need buffer_m. Properties in extensions
shapefile  the .shp, with its .dbf (properties; the first ten letters of a name
           are enough) and .prj beside it; or a zip of them. Longitude and
           latitude, or a transverse Mercator grid as UTM, on WGS 84 or ETRS89;
           any other .prj is refused by name. Without .prj: degrees on WGS 84

A line whose ends meet, or lie apart by a tenth of its length at most, is the ring
around a polygon. A boundary inside another is a hole in it, as a pond. A point
without buffer_m, or an open line without buffer_m or zone row, is refused.

A row-line needs a point wherever it bends: the row runs smoothly through its
points, and straight on beyond its ends. Points less than 4 m from the one before
are left out. Ends no further apart than that make it a closed line: the zone is
worked in rounds. A headland that headland_m makes, of which a row-line is
(rows_of headland), is one zone and not cut into strips.
`)
}

// writeStatesKeys prints what package states reads of recorded work states.
func writeStatesKeys(b *strings.Builder) {
	writeRows(b, []keyRow{
		{"time", "", "time (RFC 3339)", "must be given", "when the state was recorded; or a place's time, as 2031-05-09 14:03:07,25 or 09.05.2031 14:03:07, with --zone; or the time of day, beside date"},
		{"date", "", "day", "-", "the day, where time is the time of day alone"},
		{"section", "", "whole from 1", "must be given", "the section, counted from the left in driving direction"},
		{"setpoint", "", "0, 1", "-", "what the section was told: 0, off, false = up; 1, on, true = in work"},
		{"actual", "", "0, 1", "-", "what the tool did: 0, off, false = up; 1, on, true = in work"},
		{"section 1", "", "0, 1", "-", "in place of the last three, one column for each section: its actual state; setpoint 1 or section 1 setpoint: what it was told"},
		{"within_ms", "", "0 to 3600000", "-", "how long before its time a change may have happened, as where states are polled; where rows repeat states at intervals, these tell it"},
		{"clock", "", "text", "-", "the name of the clock that stamped the row: where all rows name the same one, the time from setpoint to actual has no error of a clock"},
	})
	b.WriteString(`
Columns and rows stand in any order; at least one of setpoint and actual must be
there, both are better. A file that names section 1 alone stands for the whole
machine. Any other file names the last section too, with 0 where it stayed up.
Columns are separated by commas, semicolons or tabs, as the heading line shows;
decimals have a point or a comma. The file is not compressed.

--zone Europe/Berlin (or +02:00; states_zone in a scenario) is for times that say
no offset. The hour that clocks go through twice in autumn is told by the order
of the rows: a time that comes after a later one is of the second run. What was
taken is said as a warning.
`)
}
