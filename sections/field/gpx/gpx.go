// Package gpx decodes GPX (version 1.1, www.topografix.com/GPX/1/1) into the same features as
// package geojson: tracks and routes are lines, waypoints are points. What is in
// extensions becomes the feature's properties.
package gpx

import (
	"encoding/xml"
	"errors"
	"fmt"
	"math"
	"strconv"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geo"

	"liftbench/sections/field/geojson"
	"liftbench/sections/field/markup"
)

// Decode decodes a whole file. There is at least one feature: waypoints first, as the
// schema has them, then routes and tracks. Each segment of a track is a line. A recorded
// point that lies less than NearM from the one before it is left out, since
// a receiver goes on recording while the vehicle stands. The error says the line, what was
// found and what was expected.
func Decode(data []byte) ([]geojson.Feature, error) {
	var r reader
	if err := markup.Walk(data, &r); err != nil {
		return nil, err
	}
	if len(r.features) == 0 {
		return nil, errors.New("no track, route or waypoint; expected the track of a drive around the field")
	}
	for i := range r.features {
		if err := r.features[i].CheckPoints(); err != nil {
			return nil, fmt.Errorf("%s: %w", &r.features[i], err)
		}
	}
	return r.features, nil
}

// NearM is the distance in metres below which a track's point says nothing new.
const NearM = 0.1

const maxFeatures = 10_000

// kinds are what the elements are called in messages.
var kinds = map[string]string{"wpt": "waypoint", "rte": "route", "trk": "track"}

type reader struct {
	features []geojson.Feature
	counts   map[string]int
	points   int
	line     orb.LineString // the track's segment, or the route, that is being read
}

// last is the feature that is being read.
func (r *reader) last() *geojson.Feature { return &r.features[len(r.features)-1] }

func (r *reader) Start(path []string, attributes []xml.Attr, line int) error {
	name := path[len(path)-1]
	switch len(path) {
	case 2: // in gpx
		if kinds[name] == "" {
			return nil
		}
		if len(r.features) == maxFeatures {
			return fmt.Errorf("more than %d waypoints, routes and tracks; expected one field", maxFeatures)
		}
		if r.counts == nil {
			r.counts = map[string]int{}
		}
		r.features = append(r.features, geojson.Feature{Index: r.counts[name], Kind: kinds[name], Line: line})
		r.counts[name]++
		r.line = nil
		if name == "wpt" {
			p, err := r.point(attributes)
			r.last().Points = orb.MultiPoint{p}
			return err
		}
	case 3:
		if name == "trkseg" && path[1] == "trk" {
			r.line = nil
		}
		if name == "rtept" && path[1] == "rte" {
			p, err := r.point(attributes)
			r.line = append(r.line, p)
			return err
		}
	case 4:
		if name == "trkpt" && path[2] == "trkseg" {
			p, err := r.point(attributes)
			if n := len(r.line); n > 0 && geo.DistanceHaversine(r.line[n-1], p) < NearM && p != r.line[0] {
				return err
			}
			r.line = append(r.line, p)
			return err
		}
	}
	return nil
}

func (r *reader) End(path []string, text string, _ int) error {
	name := path[len(path)-1]
	switch {
	case len(path) < 2 || kinds[path[1]] == "":
	case len(path) == 2 && name == "rte", len(path) == 3 && name == "trkseg":
		if r.line != nil {
			r.last().Lines = append(r.last().Lines, r.line)
			r.line = nil
		}
	case len(path) == 2 && name == "trk" && r.last().Lines == nil:
		r.features = r.features[:len(r.features)-1] // it has a name and nothing else
	case len(path) == 3 && name == "name":
		r.last().Put("name", text)
	case len(path) > 3 && path[2] == "extensions":
		if name != "name" || r.last().Name == "" {
			r.last().Put(name, text)
		}
	}
	if len(path) == 2 && name == "rte" && r.last().Lines == nil {
		r.features = r.features[:len(r.features)-1]
	}
	return nil
}

// point takes the attributes lat and lon.
func (r *reader) point(attributes []xml.Attr) (p orb.Point, err error) {
	if r.points++; r.points > markup.MaxPoints {
		return p, fmt.Errorf("more than %d points; expected one field: thin out its track", markup.MaxPoints)
	}
	said := 0
	for _, a := range attributes {
		i := 0
		switch a.Name.Local {
		case "lon":
		case "lat":
			i = 1
		default:
			continue
		}
		said++
		if p[i], err = strconv.ParseFloat(a.Value, 64); err != nil || math.IsNaN(p[i]) || math.IsInf(p[i], 0) {
			return p, fmt.Errorf("%s is %.40q; expected degrees", a.Name.Local, a.Value)
		}
	}
	if said != 2 {
		return p, errors.New("a point without lat and lon; expected both")
	}
	return p, nil
}
