// This file measures area.

package polygon

import (
	"math"

	"github.com/paulmach/orb"

	"liftbench/sections/exact"
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

// Centroid returns the centre of gravity of polygons less their holes, and their
// area in m²; the area is 0 where they have none.
//
// Each ring is triangles from its first point; a triangle's centre is the mean of its
// corners, its weight its area, with the sign of the way round.
func Centroid(mp orb.MultiPolygon) (c orb.Point, areaM2 float64) {
	var east, north float64
	for _, p := range mp {
		for i, r := range p {
			if len(r) < 3 {
				continue // a file may hold such a ring; it has no area
			}
			var a, e, n float64 // twice the area, six times its moments about the first point
			for k := 1; k+1 < len(r); k++ {
				x, y := r[k][0]-r[0][0], r[k][1]-r[0][1]
				u, v := r[k+1][0]-r[0][0], r[k+1][1]-r[0][1]
				cross := float64(x*v) - float64(u*y)
				a += cross
				e += float64((x + u) * cross)
				n += float64((y + v) * cross)
			}
			sign := 0.5
			if (a < 0) != (i > 0) {
				sign = -0.5
			}
			areaM2 += float64(sign * a)
			east += float64(sign * (float64(e/3) + float64(a*r[0][0])))
			north += float64(sign * (float64(n/3) + float64(a*r[0][1])))
		}
	}
	if areaM2 == 0 {
		return orb.Point{}, 0
	}
	return orb.Point{east / areaM2, north / areaM2}, areaM2
}

// BorderM is the length of all rings.
func BorderM(mp orb.MultiPolygon) float64 {
	sum := 0.0
	for _, p := range mp {
		for _, r := range p {
			for i := 1; i < len(r); i++ {
				sum += exact.Hypot(r[i][0]-r[i-1][0], r[i][1]-r[i-1][1])
			}
		}
	}
	return sum
}
