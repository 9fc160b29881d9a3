// Package sample estimates from a sample: its median, and the interval of a share
// that was seen in it.
package sample

import (
	"math"
	"slices"
)

// Z95 is the quantile of the normal distribution for two-sided 95 %.
const Z95 = 1.959964

// Median returns the median of a list, which it sorts. The median of an even
// number of values is the mean of the middle two, that of an empty list 0.
func Median(list []float64) float64 {
	n := len(list)
	if n == 0 {
		return 0
	}
	slices.Sort(list)
	return (list[(n-1)/2] + list[n/2]) / 2
}

// Wilson returns the score interval of a share of hits (0 to 1) among n
// independent trials (Wilson 1927, J. Am. Stat. Assoc. 22:209-212). n need not
// be a whole number; without any trial both ends are NaN. z is Z95, another
// quantile of the normal distribution, or Student's t. With the share p:
//
//	(p + z²/2n ± z·√(p(1-p)/n + z²/4n²)) / (1 + z²/n)
func Wilson(share, n, z float64) (lo, hi float64) {
	if !(n > 0) {
		return math.NaN(), math.NaN()
	}
	zz := z * z / n
	mid, half := share+float64(zz/2), float64(z*math.Sqrt(share*(1-share)/n+zz/(4*n)))
	return max((mid-half)/(1+zz), 0), min((mid+half)/(1+zz), 1)
}
