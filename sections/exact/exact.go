// Package exact computes elementary functions with the same bits on every
// processor.
//
// Those of package math differ in the last bit: in assembly on some processors,
// and on others with products and sums that the compiler makes one instruction
// which rounds once. Here every product that goes into a sum is rounded by an
// explicit conversion, which the language forbids to fuse, and nothing is used
// but + - * / and math's Sqrt, Abs, Mod, Floor, Copysign, Frexp and FMA, whose results
// are exact or rounded once by definition.
//
// Results are within 2 units in the last place of the true value, for arguments
// that a bench has: the ranges stand at each function.
package exact

import "math"

// Hypot returns √(x² + y²). Squares must not overflow: |x|, |y| < 10¹⁵⁰.
func Hypot(x, y float64) float64 { return math.Sqrt(float64(x*x) + float64(y*y)) }

const (
	ln2     = math.Ln2
	ln2High = 0x1.62e42fee00000p-1 // 32 bits: k·ln2High is exact for |k| < 2²⁰
	ln2Low  = 0x1.a39ef35793c76p-33
)

// Exp returns eˣ, for |x| < 700.
func Exp(x float64) float64 {
	less1, scale := reduced(x)
	return float64(scale * (1 + less1))
}

// Expm1 returns eˣ - 1, accurate near 0 too, for |x| < 700.
func Expm1(x float64) float64 {
	less1, scale := reduced(x)
	return float64(scale*less1) + (scale - 1)
}

// reduced returns eʳ - 1 and 2ᵏ with eˣ = 2ᵏ·eʳ, |r| ≤ ln 2 / 2.
func reduced(x float64) (less1, scale float64) {
	k := math.Floor(x/ln2 + 0.5)
	low := float64(k * ln2Low)
	high := x - float64(k*ln2High)
	r := high - low
	// What rounding took from r, times eʳ ≈ 1 + r, is added back.
	lost := (high - r) - low
	return series(r) + float64(lost*(1+r)), math.Float64frombits(uint64(1023+int64(k)) << 52)
}

// series is the power series of eˣ - 1 for |x| ≤ ln 2 / 2: the terms left out are
// below 10⁻²⁰.
func series(x float64) float64 {
	p := 1.0 / 1307674368000           // 1/15!
	p = float64(p*x) + 1.0/87178291200 // 1/14!
	p = float64(p*x) + 1.0/6227020800  // 1/13!
	p = float64(p*x) + 1.0/479001600   // 1/12!
	p = float64(p*x) + 1.0/39916800    // 1/11!
	p = float64(p*x) + 1.0/3628800     // 1/10!
	p = float64(p*x) + 1.0/362880      // 1/9!
	p = float64(p*x) + 1.0/40320       // 1/8!
	p = float64(p*x) + 1.0/5040        // 1/7!
	p = float64(p*x) + 1.0/720         // 1/6!
	p = float64(p*x) + 1.0/120         // 1/5!
	p = float64(p*x) + 1.0/24          // 1/4!
	p = float64(p*x) + 1.0/6           // 1/3!
	half := float64(x * x / 2)         // of the second term, 1/2!
	return x + (half + float64(float64(x*x*x)*p))
}

// Log returns the natural logarithm of x > 0, NaN below 0 and -Inf at 0.
//
// x = 2ᵏ·m with √½ ≤ m < √2, and ln m = 2·artanh f with f = (m-1)/(m+1), |f| < 0.172,
// by its power series.
func Log(x float64) float64 {
	switch {
	case x < 0 || math.IsNaN(x):
		return math.NaN()
	case x == 0:
		return math.Inf(-1)
	case math.IsInf(x, 1):
		return x
	}
	m, k := math.Frexp(x)
	if m < math.Sqrt2/2 {
		m, k = m*2, k-1
	}
	d := m - 1
	f := d / (2 + d)
	z := float64(f * f)
	p := 1.0 / 21
	p = float64(p*z) + 1.0/19
	p = float64(p*z) + 1.0/17
	p = float64(p*z) + 1.0/15
	p = float64(p*z) + 1.0/13
	p = float64(p*z) + 1.0/11
	p = float64(p*z) + 1.0/9
	p = float64(p*z) + 1.0/7
	p = float64(p*z) + 1.0/5
	p = float64(p*z) + 1.0/3
	// 2·f = d - f·d, so that the sum begins with a term that is exact.
	rest := float64(f * (float64(2*float64(z*p)) - d))
	n := float64(k)
	return float64(n*ln2High) + (d + (rest + float64(n*ln2Low)))
}

// Log10 returns the logarithm of x > 0 to the base 10.
func Log10(x float64) float64 { return Log(x) / math.Ln10 }
