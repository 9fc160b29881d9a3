// The transverse Mercator projection, backwards: from the grid of a map, as UTM, to
// latitude and longitude.

package geodesy

import (
	"fmt"
	"math"

	"liftbench/sections/exact"
)

// Transverse is a transverse Mercator projection, whose origin lies on the equator, of an ellipsoid as large as
// that of WGS 84. UTM, zone z, has the central meridian 6z − 183, the scale 0.9996 and the
// false easting 500 000 m; in the south its false northing is 10 000 000 m.
type Transverse struct {
	CentralMeridianDeg         float64 // -180 to 180
	Scale                      float64 // on the central meridian
	FalseEastingM, FalseNorthM float64
	// InverseFlattening is 298.257222101 of GRS 1980, on which ETRS89 is based: there latitudes are 0.1 mm from
	// those of WGS 84. 0 = that of WGS 84.
	InverseFlattening float64
}

// mostOffDeg is how far from its central meridian a grid is used. Up to there the series
// is good to some nanometres (Karney 2011, section 5).
const mostOffDeg = 25

// krueger are the coefficients β of the series from the grid to the conformal sphere, by
// powers of the third flattening n from the power of the row on: C. F. F. Karney, Transverse
// Mercator with an accuracy of a few nanometers, J. Geodesy 85(8), 475-485 (2011), equation 36.
var krueger = [6][]float64{
	{1.0 / 2, -2.0 / 3, 37.0 / 96, -1.0 / 360, -81.0 / 512, 96199.0 / 604800},
	{1.0 / 48, 1.0 / 15, -437.0 / 1440, 46.0 / 105, -1118711.0 / 3870720},
	{17.0 / 480, -37.0 / 840, -209.0 / 4480, 5569.0 / 90720},
	{4397.0 / 161280, -11.0 / 504, -830251.0 / 7257600},
	{4583.0 / 161280, -108847.0 / 3991680},
	{20648693.0 / 638668800},
}

// ToGeodetic returns the latitude and longitude in degrees of a point of the grid, in
// metres, or an error where it lies too far from the central meridian or beyond a pole.
func (p Transverse) ToGeodetic(eastM, northM float64) (latDeg, lonDeg float64, err error) {
	f := flattening
	if p.InverseFlattening != 0 {
		f = 1 / p.InverseFlattening
	}
	n := f / (2 - f) // the third flattening
	n2 := n * n
	// The meridian's quarter is a·π/2 (Karney 2011, equation 14).
	a := semiMajorM / (1 + n) * (1 + float64(n2/4) + float64(n2*n2/64) + float64(n2*n2*n2/256))
	xi, eta := (northM-p.FalseNorthM)/(p.Scale*a), (eastM-p.FalseEastingM)/(p.Scale*a)
	if !(math.Abs(xi) <= math.Pi/2) || !(math.Abs(eta) <= 0.5) {
		return 0, 0, fmt.Errorf("east %.3f north %.3f m is not on this grid; expected a point within %d degrees of the meridian of %g", eastM, northM, mostOffDeg, p.CentralMeridianDeg)
	}
	// Equation 11.
	xi1, eta1 := xi, eta
	power := 1.0
	for j, row := range krueger {
		power *= n
		beta := 0.0
		for i := len(row) - 1; i >= 0; i-- {
			beta = row[i] + float64(beta*n)
		}
		beta *= power
		k := 2 * float64(j+1)
		sin, cos := exact.Sincos(k * xi)
		sinh, cosh := hyperbolic(k * eta)
		xi1 -= float64(beta * float64(sin*cosh))
		eta1 -= float64(beta * float64(cos*sinh))
	}
	sin, cos := exact.Sincos(xi1)
	sinh, _ := hyperbolic(eta1)
	lon := exact.Atan2(sinh, cos) * 180 / math.Pi
	if !(math.Abs(lon) <= mostOffDeg) {
		return 0, 0, fmt.Errorf("east %.3f north %.3f m is %.0f degrees from the meridian of %g; expected %d at most", eastM, northM, lon, p.CentralMeridianDeg, mostOffDeg)
	}
	lonDeg = p.CentralMeridianDeg + lon
	if lonDeg > 180 {
		lonDeg -= 360
	}
	if lonDeg < -180 {
		lonDeg += 360
	}
	return exact.Atan2(tauOf(sin/exact.Hypot(sinh, cos), float64(f*(2-f))), 1) * 180 / math.Pi, lonDeg, nil
}

// tauOf returns the tangent of the latitude whose conformal latitude has the tangent tau1, on an ellipsoid of the
// squared eccentricity e2, by Newton's method (Karney 2011, equations 7 to 9 and 19 to 21).
func tauOf(tau1, e2 float64) float64 {
	e := math.Sqrt(e2)
	tau := tau1 / (1 - e2)
	for range 5 {
		secant := exact.Hypot(1, tau)
		x := e * tau / secant
		sigma, _ := hyperbolic(e * exact.Log((1+x)/(1-x)) / 2)
		at := float64(tau*exact.Hypot(1, sigma)) - float64(sigma*secant)
		tau += (tau1 - at) / exact.Hypot(1, at) * (1 + float64((1-e2)*float64(tau*tau))) / (float64((1 - e2) * secant))
	}
	return tau
}

// hyperbolic returns the hyperbolic sine and cosine.
func hyperbolic(x float64) (sinh, cosh float64) {
	m := exact.Expm1(x)
	return (m + m/(1+m)) / 2, 1 + float64(m*m)/(2*(1+m))
}
