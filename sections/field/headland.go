// This file makes zones from a bare boundary: a headland of one width along
// it, in strips with rows along the border, and the body inside.

package field

import (
	"errors"

	"github.com/paulmach/orb"
)

// headland returns the body, and the strips of a headland of widthM around it.
func headland(boundary orb.MultiPolygon, widthM, bodyBearingRad float64) ([]Zone, error) {
	if widthM == 0 {
		return []Zone{{Name: "body", Kind: Body, RowBearingRad: bodyBearingRad, Polygons: boundary.Clone()}}, nil
	}
	return nil, errors.New("headland: not yet")
}
