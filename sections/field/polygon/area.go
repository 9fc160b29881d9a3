// This file measures area.

package polygon

import (
	"math"

	"github.com/paulmach/orb"
)

// AreaM2 returns the sum of the polygons' areas, without their holes, in m².
func AreaM2(mp orb.MultiPolygon) float64 {
	var sum float64
	for _, p := range mp {
		for i, r := range p {
			a := math.Abs(ringAreaM2(r))
			if i > 0 {
				a = -a
			}
			sum += a
		}
	}
	return sum
}

// ringAreaM2 is half the sum of the cross products of neighbouring points (shoelace
// formula), positive for a counter-clockwise ring. Coordinates are taken from the
// ring's first point, so that few digits cancel.
func ringAreaM2(r orb.Ring) float64 {
	var sum float64
	for i := 1; i+1 < len(r); i++ {
		sum += float64((r[i][0]-r[0][0])*(r[i+1][1]-r[0][1])) - float64((r[i+1][0]-r[0][0])*(r[i][1]-r[0][1]))
	}
	return sum / 2
}
