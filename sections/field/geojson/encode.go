// This file writes features.

package geojson

import (
	"encoding/json"
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// Encode writes features as a FeatureCollection that Decode reads as the same, on one line, with
// every digit of the positions. A feature has shapes of one kind. Rings that are
// open are closed, as RFC 7946 asks.
func Encode(features []Feature) ([]byte, error) {
	type geometry struct {
		Type        string `json:"type"`
		Coordinates any    `json:"coordinates"`
	}
	type object struct {
		Type       string         `json:"type"`
		Properties map[string]any `json:"properties"`
		Geometry   geometry       `json:"geometry"`
	}
	list := make([]object, len(features))
	for i := range features {
		f := &features[i]
		g := geometry{}
		switch {
		case f.Polygons != nil && f.Lines == nil && f.Points == nil:
			g = geometry{"MultiPolygon", closed(f.Polygons)}
		case f.Lines != nil && f.Polygons == nil && f.Points == nil:
			g = geometry{"MultiLineString", f.Lines}
		case f.Points != nil && f.Polygons == nil && f.Lines == nil:
			g = geometry{"MultiPoint", f.Points}
		default:
			return nil, fmt.Errorf("%s: shapes of several kinds; expected polygons, lines or points alone", f)
		}
		if err := f.CheckPoints(); err != nil {
			return nil, fmt.Errorf("%s: %w", f, err)
		}
		list[i] = object{"Feature", f.Properties, g}
	}
	return json.Marshal(map[string]any{"type": "FeatureCollection", "features": list})
}

// closed returns polygons whose rings end where they begin.
func closed(mp orb.MultiPolygon) orb.MultiPolygon {
	mp = mp.Clone()
	for _, p := range mp {
		for i, r := range p {
			if n := len(r); n > 0 && (math.Float64bits(r[0][0]) != math.Float64bits(r[n-1][0]) || math.Float64bits(r[0][1]) != math.Float64bits(r[n-1][1])) {
				p[i] = append(r, r[0])
			}
		}
	}
	return mp
}
