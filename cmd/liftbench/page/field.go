// The page's own, invented field. A drive on it takes some ten minutes. Its
// headland in the south is square to the rows; the one in the north slants by
// as much as is set.

package page

import (
	"fmt"
	"math"
	"strconv"

	"liftbench/cmd/liftbench/report"
	"liftbench/sections/geodesy"
)

// The field's measures, along and across the rows.
const (
	pageRowsDeg    = 12.0
	pageWidthM     = 47.99 // eight passes, whatever rounding says
	pageLengthM    = 110.0 // in the middle
	pageHeadlandM  = 29.99 // five passes
	pageTrackM     = 10.0  // of grass all around, for the turns
	pageLatDeg     = 52.06
	pageLonDeg     = 11.14
	pageFieldTitle = "Beets at Quillmark"
	// pageFieldFile is its name in errors.
	pageFieldFile = "field.geojson"
)

// OwnField returns the field as GeoJSON; the north headland slants by so many
// degrees from square.
func OwnField(slantDeg float64) []byte {
	plane := geodesy.NewPlane(pageLatDeg, pageLonDeg)
	sin, cos := math.Sincos(pageRowsDeg * math.Pi / 180)
	slant := slantDeg * math.Pi / 180
	// u is along the rows, v across them to the right; north returns the
	// border's u at v.
	north := func(v float64) float64 { return pageLengthM/2 - v*math.Tan(slant) }
	deep := pageHeadlandM / math.Cos(slant)
	const half = pageWidthM / 2
	ring := func(uv ...[2]float64) string {
		text := ""
		for _, p := range append(uv, uv[0]) {
			lat, lon := plane.ToGeodetic(p[0]*sin+p[1]*cos, p[0]*cos-p[1]*sin)
			if text != "" {
				text += ", "
			}
			text += "[" + strconv.FormatFloat(lon, 'f', report.GroundDecimals, 64) + ", " + strconv.FormatFloat(lat, 'f', report.GroundDecimals, 64) + "]"
		}
		return text
	}
	south := -pageLengthM / 2
	feature := func(properties, coordinates string) string {
		return `{"type": "Feature", "properties": {` + properties + `}, "geometry": {"type": "Polygon", "coordinates": [[` + coordinates + `]]}}`
	}
	zone := func(kind, name string, bearing float64) string {
		return fmt.Sprintf(`"zone": %q, "name": %q, "row_bearing_deg": %g`, kind, name, bearing)
	}
	const outV, outS = half + pageTrackM, -pageLengthM/2 - pageHeadlandM - pageTrackM
	outN := deep + pageTrackM/math.Cos(slant)
	l, r := [2]float64{north(-half), -half}, [2]float64{north(half), half}
	return []byte(`{"type": "FeatureCollection", "features": [` +
		feature(`"name": "`+pageFieldTitle+`"`, ring([2]float64{outS, -outV}, [2]float64{outS, outV}, [2]float64{north(outV) + outN, outV}, [2]float64{north(-outV) + outN, -outV})) + ", " +
		feature(zone("body", "beets", pageRowsDeg), ring([2]float64{south, -half}, [2]float64{south, half}, r, l)) + ", " +
		feature(zone("headland", "south headland", pageRowsDeg+90), ring([2]float64{south - pageHeadlandM, -half}, [2]float64{south - pageHeadlandM, half}, [2]float64{south, half}, [2]float64{south, -half})) + ", " +
		feature(zone("headland", "north headland", pageRowsDeg+90+slantDeg), ring(l, r, [2]float64{r[0] + deep, half}, [2]float64{l[0] + deep, -half})) + "]}")
}
