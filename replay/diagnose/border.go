// A wrong piece of border: crossings that are off and lie close together.

package diagnose

import (
	"math"
	"slices"
	"sort"

	"liftbench/replay/diagnose/regress"
)

// borderPiece is a piece of the border: the crossings within radiusM of a point.
type borderPiece struct {
	eastM, northM, radiusM float64
	crossings              int
	// belowM and aboveM are how far the interval must reach from the best disc's size
	// to include what other discs would say.
	belowM, aboveM float64
}

// disc is one of the discs that were tried.
type disc struct {
	gain, sizeM, den float64
	centre, k        int
}

const (
	leastStretch = 3 // crossings: fewer are outliers
	// sureStretch is how many crossings are judged as any other cause is. With fewer,
	// the probability of chance must be ten times smaller, because one slowly wandering
	// position error may well cover three crossings.
	sureStretch = 4
	mostStretch = 128 // crossings: more are the whole border
	mostCentres = 300
)

// point is the middle of a crossing.
type point struct{ eastM, northM float64 }

// scan tries discs of crossings around each crossing. It returns the one whose border,
// shifted outward (lifts late, drops early), reduces the residuals r of the fit f the
// most, as a term with its column; ok is false if none is above chance.
//
// This is the spatial scan of Kulldorff (A spatial scan statistic, Commun. Stat. Theory
// Methods 26(6):1481-1496, 1997; from memory) with a normal response, and with
// Bonferroni over the discs in place of its Monte Carlo test. A column x beside the
// columns Z of the fit reduces the sum of squares by (xᵀr)²/(xᵀx - xᵀZ(ZᵀZ)⁻¹Zᵀx).
func scan(at []point, outward, r []float64, f *regress.Fit, cols [][]float64, floorM float64) (*term, []float64, bool) {
	n := len(at)
	most := min(n/2, mostStretch)
	if most < leastStretch || f.DF < 3 {
		return nil, nil, false
	}
	rr := regress.Dot(r, r)
	order := make([]int, 0, most+2)
	away := make([]float64, n)
	zx := make([]float64, len(f.Set))
	var best disc
	var discs []disc
	step := max(1, n/mostCentres)
	for c := 0; c < n; c += step {
		order = nearest(order, away, at, c, most+1)
		clear(zx)
		xr, xx := 0.0, 0.0
		next := leastStretch
		for k, i := range order[:most] {
			xr += outward[i] * r[i]
			xx += outward[i] * outward[i]
			for j, p := range f.Set {
				zx[j] += outward[i] * cols[p][i]
			}
			if k+1 < next || away[order[k+1]] == away[i] {
				continue
			}
			next = max(next+1, next*5/4)
			den := xx - regress.Quadratic(f.Inv, zx)
			if den < 1e-6*xx {
				continue
			}
			d := disc{xr * xr / den, xr / den, den, c, k + 1}
			discs = append(discs, d)
			if d.gain > best.gain {
				best = d
			}
		}
	}
	if best.gain == 0 {
		return nil, nil, false
	}
	df, looked := f.DF-1, float64(len(discs))
	sigma := max(math.Sqrt(max(0, rr-best.gain)/float64(df)), floorM)
	chance := alpha / 4
	if best.k < sureStretch {
		chance /= 10
	}
	if !(regress.TwoSided(math.Sqrt(best.gain)/sigma, df)*looked < chance) || math.Abs(best.sizeM) < leastM {
		return nil, nil, false
	}
	order = nearest(order, away, at, best.centre, best.k)
	s := &borderPiece{eastM: at[best.centre].eastM, northM: at[best.centre].northM, radiusM: away[order[best.k-1]], crossings: best.k}
	// The disc was searched for, so the interval holds every size that some disc makes
	// likely enough: its sum of squares is no more than t²·σ² above the least (profile
	// likelihood).
	t := regress.Quantile(0.05, df)
	for _, d := range discs {
		if left := t*t*sigma*sigma - (best.gain - d.gain); left > 0 {
			half := math.Sqrt(left / d.den)
			s.belowM = max(s.belowM, best.sizeM-(d.sizeM-half))
			s.aboveM = max(s.aboveM, d.sizeM+half-best.sizeM)
		}
	}
	col := make([]float64, n)
	for _, i := range order[:best.k] {
		col[i] = outward[i]
	}
	return &term{cause: WrongBorder, tried: looked, leastSize: leastM, piece: s}, col, true
}

// nearest appends to order[:0] the k points nearest to point c, nearest first and in
// order of index where equal, and sets away to the distance of every point.
func nearest(order []int, away []float64, at []point, c, k int) []int {
	order = order[:0]
	for i := range at {
		away[i] = math.Hypot(at[i].eastM-at[c].eastM, at[i].northM-at[c].northM)
		if len(order) == k && away[i] >= away[order[k-1]] {
			continue
		}
		to := sort.Search(len(order), func(q int) bool { return away[order[q]] > away[i] })
		order = slices.Insert(order, to, i)
		order = order[:min(len(order), k)]
	}
	return order
}
