// Package kml decodes KML (OGC 12-007r2, KML 2.3) into the same features as package
// geojson: placemarks with their polygons, lines, tracks and points. What is
// in ExtendedData becomes the feature's properties.
package kml

import (
	"encoding/xml"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"liftbench/sections/field/geojson"
	"liftbench/sections/field/markup"
)

// Decode decodes a whole file. There is at least one feature. Placemarks without a
// shape are left out. linked returns the file of a NetworkLink, which holds further placemarks;
// nil where a file stands alone. The error says the line, what was found and what was expected.
func Decode(data []byte, linked func(href string) ([]byte, error)) ([]geojson.Feature, error) {
	r := reader{linked: linked}
	if err := markup.Walk(data, &r); err != nil {
		return nil, err
	}
	if len(r.features) == 0 {
		return nil, errors.New("no Placemark with a Polygon, a LineString or a Point; expected a boundary or zones")
	}
	for i := range r.features {
		if err := r.features[i].CheckPoints(); err != nil {
			return nil, fmt.Errorf("%s: %w", &r.features[i], err)
		}
	}
	return r.features, nil
}

const (
	maxFeatures = 10_000
	maxLinks    = 4 // one within the other
)

type reader struct {
	features []geojson.Feature
	marks    int // placemarks so far
	points   int
	mark     *geojson.Feature // the one that is being read; nil outside of any
	polygon  orb.Polygon      // of the Polygon that is being read
	outer    bool             // and whether it has its outer ring
	track    orb.LineString
	key      string // of the Data or SimpleData that is being read
	linked   func(href string) ([]byte, error)
	links    int // that led here
}

// at returns the name so many elements further out than the last; "" beyond the root.
func at(path []string, out int) string {
	if out >= len(path) {
		return ""
	}
	return path[len(path)-1-out]
}

func (r *reader) Start(path []string, attributes []xml.Attr, line int) error {
	name := at(path, 0)
	if name == "Placemark" {
		if r.mark != nil {
			return errors.New("a Placemark within another; expected them one after the other")
		}
		r.mark = &geojson.Feature{Index: r.marks, Kind: "placemark", Line: line}
		r.marks++
		return nil
	}
	if r.mark == nil {
		return nil
	}
	switch name {
	case "Polygon":
		r.polygon, r.outer = nil, false
	case "Track":
		r.track = nil
	case "Data", "SimpleData":
		r.key = ""
		for _, a := range attributes {
			if a.Name.Local == "name" {
				r.key = a.Value
			}
		}
	}
	return nil
}

func (r *reader) End(path []string, text string, line int) error {
	if at(path, 0) == "href" && at(path, 2) == "NetworkLink" {
		return r.follow(text)
	}
	if r.mark == nil {
		return nil
	}
	switch name, in := at(path, 0), at(path, 1); {
	case name == "Placemark":
		if m := r.mark; m.Polygons != nil || m.Lines != nil || m.Points != nil {
			if len(r.features) == maxFeatures {
				return fmt.Errorf("more than %d placemarks; expected one field", maxFeatures)
			}
			r.features = append(r.features, *m)
		}
		r.mark = nil
	case name == "name" && in == "Placemark":
		r.mark.Put("name", text)
	case name == "value" && in == "Data", name == "SimpleData":
		if r.key != "name" || r.mark.Name == "" {
			r.mark.Put(r.key, text)
		}
	case name == "coord" && in == "Track":
		p, err := point(strings.Fields(text), text)
		if err != nil {
			return err
		}
		r.track = append(r.track, p)
		return r.count(1)
	case name == "Track" && r.track != nil:
		r.mark.Lines = append(r.mark.Lines, r.track)
		r.track = nil
	case name == "Polygon":
		if !r.outer {
			return errors.New("a Polygon without outerBoundaryIs; expected the outer ring")
		}
		r.mark.Polygons = append(r.mark.Polygons, r.polygon)
		r.polygon = nil
	case name == "coordinates":
		return r.coordinates(in, at(path, 2), text)
	}
	return nil
}

// follow reads the file of a link in the place of the link.
func (r *reader) follow(href string) error {
	if r.linked == nil {
		return fmt.Errorf("NetworkLink to %.100q: the shapes are in another file; expected that file, or a KMZ that holds it", href)
	}
	if r.links == maxLinks {
		return fmt.Errorf("NetworkLink to %.100q from a file that is linked itself, and so on; expected one field", href)
	}
	data, err := r.linked(href)
	if err != nil {
		return err
	}
	r.links++
	err = markup.Walk(data, r)
	r.links--
	if err != nil {
		return fmt.Errorf("%.100q: %w", href, err)
	}
	return nil
}

// count counts points.
func (r *reader) count(n int) error {
	if r.points += n; r.points > markup.MaxPoints {
		return fmt.Errorf("more than %d points; expected one field: thin out its borders", markup.MaxPoints)
	}
	return nil
}

// coordinates takes the positions of a shape; in is what they stand in, and role what
// that stands in.
func (r *reader) coordinates(in, role, text string) error {
	var list []orb.Point
	for word := range strings.FieldsSeq(text) {
		p, err := point(strings.Split(word, ","), word)
		if err != nil {
			return err
		}
		if err := r.count(1); err != nil {
			return err
		}
		list = append(list, p)
	}
	switch {
	case in == "LinearRing" && role == "outerBoundaryIs":
		if r.outer {
			return errors.New("a Polygon with two outer rings; expected a Polygon for each")
		}
		r.outer = true
		r.polygon = append(orb.Polygon{list}, r.polygon...)
	case in == "LinearRing" && role == "innerBoundaryIs":
		r.polygon = append(r.polygon, list)
	case in == "LineString" || in == "LinearRing":
		r.mark.Lines = append(r.mark.Lines, list)
	case in == "Point":
		if len(list) != 1 {
			return fmt.Errorf("a Point of %d positions; expected longitude,latitude", len(list))
		}
		r.mark.Points = append(r.mark.Points, list...)
	}
	return nil
}

// point takes longitude and latitude; a height behind them is left out.
func point(numbers []string, text string) (orb.Point, error) {
	var p orb.Point
	ok := len(numbers) == 2 || len(numbers) == 3
	for i := 0; ok && i < 2; i++ {
		var err error
		p[i], err = strconv.ParseFloat(numbers[i], 64)
		ok = err == nil && !math.IsInf(p[i], 0) && !math.IsNaN(p[i])
	}
	if !ok {
		return p, fmt.Errorf("position %.60q; expected longitude,latitude in degrees, without spaces between them", text)
	}
	return p, nil
}
