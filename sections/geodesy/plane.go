// Package geodesy converts latitude and longitude to metres east and north of an origin,
// and back. Positions are on WGS 84 at height 0; the metres are on the plane that touches
// the ellipsoid at the origin.
package geodesy

import (
	"math"

	"liftbench/sections/exact"
)

// WGS 84 (NIMA TR8350.2, table 3.1).
const (
	semiMajorM   = 6378137.0
	flattening   = 1 / 298.257223563
	eccentricity = flattening * (2 - flattening) // e², the first eccentricity squared
	radPerDeg    = math.Pi / 180
)

// Plane is the plane that touches the WGS 84 ellipsoid at one point, its origin. Other
// points are projected onto it along the normal at the origin, which makes a distance r
// from the origin too short by about r³/6R²: 1 mm at 6 km. The zero value is the plane at
// latitude 0, longitude 0.
type Plane struct {
	latDeg, lonDeg float64
	sinLat         float64
	cosLatLess1    float64 // cos φ₀ - 1, which is 0 in the zero value
	northM         float64 // e² N₀ sin φ₀ cos φ₀, see ToPlane
}

// NewPlane returns the plane with its origin at a latitude and longitude in degrees.
func NewPlane(latDeg, lonDeg float64) Plane {
	s, c := exact.Sincos(latDeg * radPerDeg)
	n := semiMajorM / math.Sqrt(1-float64(eccentricity*s*s))
	return Plane{
		latDeg: latDeg, lonDeg: lonDeg,
		sinLat: s, cosLatLess1: c - 1,
		northM: eccentricity * n * s * c,
	}
}

// Origin returns the origin's latitude and longitude in degrees.
func (p *Plane) Origin() (latDeg, lonDeg float64) { return p.latDeg, p.lonDeg }

// ToPlane returns how far a position is east and north of the origin, in metres.
func (p *Plane) ToPlane(latDeg, lonDeg float64) (eastM, northM float64) {
	s, c := exact.Sincos(latDeg * radPerDeg)
	sl, cl := exact.Sincos((lonDeg - p.lonDeg) * radPerDeg)
	s0, c0 := p.sinLat, 1+p.cosLatLess1
	// Earth-centred, in the frame turned to the origin's meridian:
	//   X = N cos φ cos Δλ,  Y = N cos φ sin Δλ,  Z = (1 - e²) N sin φ,
	//   N = a / √(1 - e² sin² φ).
	n := semiMajorM / math.Sqrt(1-float64(eccentricity*s*s))
	x, y, z := n*c*cl, n*c*sl, (1-eccentricity)*n*s
	// East is Y; north is the difference to the origin along (-sin φ₀, cos φ₀):
	//   -sin φ₀ (X - X₀) + cos φ₀ (Z - Z₀), in which the origin's own part is
	//   N₀ sin φ₀ cos φ₀ - (1 - e²) N₀ sin φ₀ cos φ₀ = e² N₀ sin φ₀ cos φ₀.
	return y, float64(c0*z) - float64(s0*x) + p.northM
}

// ToGeodetic is the inverse of ToPlane. It returns degrees, the longitude from -180 to
// 180. Both are NaN for points farther from the origin than the ellipsoid reaches, some
// 6370 km.
func (p *Plane) ToGeodetic(eastM, northM float64) (latDeg, lonDeg float64) {
	s0, c0 := p.sinLat, 1+p.cosLatLess1
	n0 := semiMajorM / math.Sqrt(1-float64(eccentricity*s0*s0))
	// In units of the half axes the ellipsoid is |P| = 1, and P = O + d + u U:
	// origin O, the offset d on the plane, u along the normal U. As O ⟂ d,
	//   |U|² u² + 2 B u + |d|² = 0,  B = U · (O + d).
	const b = semiMajorM * (1 - flattening)
	ox, oz := n0*c0/semiMajorM, (1-eccentricity)*n0*s0/b
	dx, dy, dz := -s0*northM/semiMajorM, eastM/semiMajorM, c0*northM/b
	ux, uz := c0/semiMajorM, s0/b
	d2 := float64(dx*dx) + float64(dy*dy) + float64(dz*dz)
	half := float64(ux*(ox+dx)) + float64(uz*(oz+dz))
	u := -d2 / (half + math.Sqrt(float64(half*half)-float64((float64(ux*ux)+float64(uz*uz))*d2)))
	x := (ox + dx + float64(u*ux)) * semiMajorM
	y := eastM
	z := (oz + dz + float64(u*uz)) * b
	// On the surface tan φ = Z / ((1 - e²) √(X² + Y²)).
	latDeg = exact.Atan2(z, (1-eccentricity)*exact.Hypot(x, y)) / radPerDeg
	lonDeg = p.lonDeg + exact.Atan2(y, x)/radPerDeg
	if lonDeg > 180 {
		lonDeg -= 360
	} else if lonDeg < -180 {
		lonDeg += 360
	}
	return latDeg, lonDeg
}
