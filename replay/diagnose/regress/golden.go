// The minimum of a function of one number.

package regress

import "math"

// Minimum returns where f is least in [lo, hi], within a thousandth, by golden section
// search. f must fall up to that place and rise beyond it.
func Minimum(f func(float64) float64, lo, hi float64) float64 {
	ratio := (math.Sqrt(5) - 1) / 2
	p, q := hi-ratio*(hi-lo), lo+ratio*(hi-lo)
	fp, fq := f(p), f(q)
	for hi-lo > 1e-3 {
		if fp <= fq {
			hi, q, fq = q, p, fp
			p = hi - ratio*(hi-lo)
			fp = f(p)
		} else {
			lo, p, fp = p, q, fq
			q = lo + ratio*(hi-lo)
			fq = f(q)
		}
	}
	return (lo + hi) / 2
}
