// What was found as GeoJSON that every command takes as a field.

package zones

import (
	"encoding/json"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/replay/zones/offset"
	"liftbench/sections/field/polygon"
	"liftbench/sections/geodesy"
)

// decimals of a degree: 1e-8 is a millimetre.
const decimals = 1e8

type featureJSON struct {
	Type       string         `json:"type"`
	Properties map[string]any `json:"properties"`
	Geometry   geometryJSON   `json:"geometry"`
}

type geometryJSON struct {
	Type        string           `json:"type"`
	Coordinates orb.MultiPolygon `json:"coordinates"`
}

// GeoJSON returns the zones as a FeatureCollection (RFC 7946). plane is the one
// that places are on. Beside the properties that field.Read knows each feature has
// found_from and border_interval_m: between which distances, outwards positive, the
// border lies with a probability of 95 %.
func (f *Found) GeoJSON(plane *geodesy.Plane) ([]byte, error) {
	var features []featureJSON
	add := func(mp orb.MultiPolygon, border Border, properties map[string]any) {
		out := make(orb.MultiPolygon, 0, len(mp))
		for _, p := range mp {
			var q orb.Polygon
			for i, r := range p {
				r = r.Clone()
				if (r.Orientation() == orb.CCW) != (i == 0) {
					r.Reverse()
				}
				for j, c := range r {
					lat, lon := plane.ToGeodetic(c[0], c[1])
					r[j] = orb.Point{math.Round(lon*decimals) / decimals, math.Round(lat*decimals) / decimals}
				}
				q = append(q, r)
			}
			out = append(out, q)
		}
		properties["found_from"] = border.From.String()
		if border.From != File {
			m := math.Ceil(border.SureM*100) / 100
			properties["border_interval_m"] = []float64{-m, m}
		}
		features = append(features, featureJSON{"Feature", properties, geometryJSON{"MultiPolygon", out}})
	}
	if f.Boundary != nil {
		add(f.Boundary, f.Outer, map[string]any{"name": "boundary"})
	}
	for i, b := range f.Blocks {
		name := "body"
		if len(f.Blocks) > 1 {
			name = fmt.Sprintf("body %d", i+1)
		}
		p := map[string]any{"name": name, "zone": "body", "passes": len(b.Passes)}
		bearing := math.Round(b.BearingRad/radPerDeg*100) / 100
		if b.Curved {
			p["rows"] = "curved"
			p["mean_bearing_deg"] = bearing
		} else {
			p["row_bearing_deg"] = bearing
			p["row_bearing_interval_deg"] = math.Ceil(b.SureRad/radPerDeg*100) / 100
		}
		add(b.Polygons, b.Border, p)
	}
	for i, s := range f.Strips {
		add(s.Polygons, Border{Rounds, f.Blocks[0].SureM}, map[string]any{
			"name": fmt.Sprintf("headland %d", i+1), "zone": "headland", "row_bearing_deg": math.Round(s.BearingRad/radPerDeg*100) / 100,
		})
	}
	for i, k := range f.KeepOuts {
		add(orb.MultiPolygon{k.Polygon}, k.Border, map[string]any{"name": fmt.Sprintf("keep-out %d", i+1), "zone": "keep-out"})
	}
	return json.MarshalIndent(map[string]any{"type": "FeatureCollection", "features": features}, "", " ")
}

// Agreement is the intersection over union of the boundary that the rounds tell
// and the registered one; NaN where one of them is missing.
func (f *Found) Agreement() (float64, error) {
	if f.Driven == nil || f.Outer.From != File {
		return math.NaN(), nil
	}
	both, err := offset.Common(f.Driven, f.Boundary)
	if err != nil {
		return 0, err
	}
	a := polygon.AreaM2(both)
	return a / (polygon.AreaM2(f.Driven) + polygon.AreaM2(f.Boundary) - a), nil
}
