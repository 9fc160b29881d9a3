// This file makes zones for a field of which only the boundary is known: a body, and
// a headland around it.

package field

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/field/headland"
)

const (
	// maxHeadlandClasses leaves room for body and keep-out zones in a Mask. If there
	// are more strips, their bearings are rounded to roundRad: then 36 are possible.
	maxHeadlandClasses = maxClasses - 8
	roundRad           = 5 * radPerDeg
)

// zonesFrom returns a body with rows along bodyBearingRad (NaN = any heading), and
// the strips of a headland of widthM around it, in order along the boundary. The
// boundary must be clean (polygon.Clean). stop may end it, as in headland.Cut.
func zonesFrom(boundary orb.MultiPolygon, widthM, bodyBearingRad float64, stop func() error) ([]Zone, error) {
	body, strips, err := headland.Cut(boundary, widthM, stop)
	if err != nil {
		return nil, err
	}
	zones := []Zone{{Name: "body", Kind: Body, RowBearingRad: bodyBearingRad, Polygons: body}}
	for i, s := range strips {
		if len(strips) > maxHeadlandClasses {
			s.BearingRad = math.Round(s.BearingRad/roundRad) * roundRad
		}
		zones = append(zones, Zone{
			Name: fmt.Sprintf("headland %d", i+1), Kind: Headland,
			RowBearingRad: s.BearingRad, Polygons: s.Polygons,
		})
	}
	return zones, nil
}
