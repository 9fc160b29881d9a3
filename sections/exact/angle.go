// Sines and cosines, and angles from them.

package exact

import "math"

// π/2 in three parts. The first two have 33 bits, so that their products with a
// whole number below 2²⁰ are exact.
const (
	quarter1 = 0x1.921fb54400000p+0
	quarter2 = 0x1.0b4611a600000p-34
	quarter3 = 0x1.3198a2e037073p-69

	piLow   = 1.2246467991473532e-16 // π less its nearest float64
	halfLow = 6.123233995736766e-17  // π/2 likewise

	furthestRad = 1e6 // an angle beyond is first brought into one turn
)

// Sincos returns the sine and cosine of an angle in radians, NaN for NaN and
// infinities. Beyond 10⁶ rad the angle is taken modulo the float64 nearest to 2π.
func Sincos(rad float64) (sin, cos float64) {
	if !(math.Abs(rad) <= furthestRad) {
		rad = math.Mod(rad, 2*math.Pi)
		if math.IsNaN(rad) {
			return rad, rad
		}
	}
	// rad = k·π/2 + r + low, |r| ≤ π/4.
	k := math.Floor(rad/(math.Pi/2) + 0.5)
	a, b := rad-float64(k*quarter1), float64(k*quarter2)
	r := a - b
	v := r - a
	lost := (a - (r - v)) - (b + v) // of a - b, exactly
	t := lost - float64(k*quarter3)
	x := r + t
	low := (r - x) + t

	z := float64(x * x)
	// Power series: the terms left out are below 10⁻¹⁹.
	p := 1.0 / 355687428096000           // 1/17!
	p = float64(p*z) - 1.0/1307674368000 // 1/15!
	p = float64(p*z) + 1.0/6227020800    // 1/13!
	p = float64(p*z) - 1.0/39916800      // 1/11!
	p = float64(p*z) + 1.0/362880        // 1/9!
	p = float64(p*z) - 1.0/5040          // 1/7!
	p = float64(p*z) + 1.0/120           // 1/5!
	p = float64(p*z) - 1.0/6             // 1/3!
	s := x + (float64(float64(x*z)*p) + float64(low*(1-float64(z/2))))

	q := -1.0 / 6402373705728000          // 1/18!
	q = float64(q*z) + 1.0/20922789888000 // 1/16!
	q = float64(q*z) - 1.0/87178291200    // 1/14!
	q = float64(q*z) + 1.0/479001600      // 1/12!
	q = float64(q*z) - 1.0/3628800        // 1/10!
	q = float64(q*z) + 1.0/40320          // 1/8!
	q = float64(q*z) - 1.0/720            // 1/6!
	q = float64(q*z) + 1.0/24             // 1/4!
	half := float64(z / 2)
	w := 1 - half
	c := w + (((1 - w) - half) + (float64(float64(z*z)*q) - float64(x*low)))

	switch int64(k) & 3 {
	case 0:
		return s, c
	case 1:
		return c, -s
	case 2:
		return -s, -c
	}
	return -c, s
}

// Sin returns the sine of an angle in radians, to the bit as Sincos does, and for half the
// price where nothing is to be taken off the angle: k = 0.
func Sin(rad float64) float64 {
	if !(math.Abs(rad) < 0.75) {
		s, _ := Sincos(rad)
		return s
	}
	z := float64(rad * rad)
	p := 1.0 / 355687428096000
	p = float64(p*z) - 1.0/1307674368000
	p = float64(p*z) + 1.0/6227020800
	p = float64(p*z) - 1.0/39916800
	p = float64(p*z) + 1.0/362880
	p = float64(p*z) - 1.0/5040
	p = float64(p*z) + 1.0/120
	p = float64(p*z) - 1.0/6
	return rad + (float64(float64(rad*z)*p) + 0)
}

// Cos returns the cosine of an angle in radians, as Sincos does.
func Cos(rad float64) float64 {
	_, c := Sincos(rad)
	return c
}

// Tan returns the tangent of an angle in radians.
func Tan(rad float64) float64 {
	s, c := Sincos(rad)
	return s / c
}

// Acos returns the angle, 0 to π, whose cosine is x, NaN beyond ±1. Near ±1 its
// error is that of √(1-x²).
func Acos(x float64) float64 { return Atan2(math.Sqrt(float64((1-x)*(1+x))), x) }

// atans are the angles whose tangents are 0, 1/16, … 1: the nearest float64 and the
// rest.
var atans = [17][2]float64{
	{0, 0},
	{0.06241880999595735, -1.5490756308295046e-18},
	{0.12435499454676144, -3.1253241424539383e-18},
	{0.18534794999569476, 4.180692268843079e-18},
	{0.24497866312686414, 1.0698755618734451e-17},
	{0.3028848683749714, -1.1010827903001369e-17},
	{0.35877067027057225, -2.4623815582638635e-17},
	{0.4124104415973873, -1.587652227770689e-17},
	{0.4636476090008061, 2.2698777452961687e-17},
	{0.5123894603107377, -2.5462781472855804e-17},
	{0.5585993153435624, -5.4556305485916264e-18},
	{0.6022873461349642, 2.950430737228402e-17},
	{0.6435011087932844, 1.5834785051444286e-17},
	{0.6823165548747481, 6.943223671560008e-18},
	{0.7188299996216245, -2.1478388444456983e-17},
	{0.7531512809621944, -2.4256934659182068e-17},
	{0.7853981633974483, 3.061616997868383e-17},
}

// Atan2 returns the angle of the point (x, y) from the x axis towards the y axis,
// -π to π: with (east, north) as (y, x), a bearing. It is 0 at (0, 0), and NaN where
// either is NaN or both are infinite.
//
// With b ≤ a the lengths of both and c the multiple of 1/16 nearest to b/a,
// arctan b/a = arctan c + arctan u, u = (b - c·a)/(a + c·b), |u| ≤ 1/32.
func Atan2(y, x float64) float64 {
	a, b := math.Abs(x), math.Abs(y)
	steep := b > a
	if steep {
		a, b = b, a
	}
	if math.IsNaN(x) || math.IsNaN(y) || math.IsInf(b, 1) {
		return math.NaN()
	}
	high, low := 0.0, 0.0
	if a > 0 && b > 0 && !math.IsInf(a, 1) {
		i := int(math.Floor(float64(b/a*16) + 0.5))
		c := float64(i) / 16
		u := math.FMA(-c, a, b) / (a + float64(c*b))
		z := float64(u * u)
		p := 1.0 / 13
		p = float64(p*z) - 1.0/11
		p = float64(p*z) + 1.0/9
		p = float64(p*z) - 1.0/7
		p = float64(p*z) + 1.0/5
		p = float64(p*z) - 1.0/3
		high = atans[i][0]
		low = u + (atans[i][1] + float64(float64(u*z)*p))
	}
	switch {
	case steep && x >= 0:
		high, low = math.Pi/2-high, halfLow-low
	case steep:
		high, low = math.Pi/2+high, halfLow+low
	case x < 0:
		high, low = math.Pi-high, piLow-low
	}
	return math.Copysign(high+low, y)
}
