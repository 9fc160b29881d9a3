// Rows that scatter by a length or by a time.

package regress

import (
	"math"
	"slices"
)

// Inverse returns weights in inverse proportion to x, with Σ ln w = 0: likelihoods with
// them and without compare.
func Inverse(x []float64) []float64 {
	n, logMean := float64(len(x)), 0.0
	for _, v := range x {
		logMean += math.Log(v) / n
	}
	w := make([]float64, len(x))
	for i, v := range x {
		w[i] = math.Exp(logMean) / v
	}
	return w
}

// LogScatter is ln(RSS/n) of the fit of all columns, with rows weighted by w; nil means
// that all weigh the same. It is 0 if there is no such fit. The likelihood of normal
// residuals is -n/2·ln(RSS/n) + Σ ln w and a constant.
func LogScatter(cols [][]float64, y, w []float64, floorM float64) float64 {
	y, own, set := slices.Clone(y), make([][]float64, len(cols)), make([]int, len(cols))
	for i := range cols {
		own[i], set[i] = slices.Clone(cols[i]), i
	}
	if w != nil {
		Scale(y, w)
		for _, c := range own {
			Scale(c, w)
		}
	}
	f, ok := NewGram(own, y, floorM).Fit(set...)
	if !ok {
		return 0
	}
	return math.Log(max(f.RSS, 1e-12) / float64(len(y)))
}

// Scale multiplies x by w, row by row.
func Scale(x, w []float64) {
	for i := range x {
		x[i] *= w[i]
	}
}
