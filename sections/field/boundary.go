// This file makes zones from a bare boundary: a body, and a headland around it.

package field

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/field/headland"
)

const (
	// maxHeadlandClasses leaves room for body and keep-out in a Mask; beyond it
	// bearings are rounded to roundRad, which leaves 36.
	maxHeadlandClasses = maxClasses - 8
	roundRad           = 5 * radPerDeg
)

// zonesFrom returns the body, with rows at a bearing, and the strips of a
// headland of widthM around it in order along the boundary, which is clean.
func zonesFrom(boundary orb.MultiPolygon, widthM, bodyBearingRad float64) ([]Zone, error) {
	body, strips, err := headland.Cut(boundary, widthM)
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
