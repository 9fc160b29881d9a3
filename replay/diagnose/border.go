// A wrong piece of boundary: crossings that are off and lie together on the map.

package diagnose

import (
	"math"
	"slices"
	"sort"

	"liftbench/replay/diagnose/regress"
)

// stretch is a piece of the border: the crossings within radiusM of a place.
type borderPiece struct {
	eastM, northM, radiusM float64
	crossings              int
	// belowM and aboveM are how far from the best disc's size the interval must
	// reach for what other discs would say.
	belowM, aboveM float64
}

// disc is one that was looked at: what it takes off RSS, its size, and the
// information on it.
type disc struct {
	gain, sizeM, den float64
	centre, k        int
}

const (
	leastStretch = 3 // crossings: fewer are outliers
	// sureStretch is how many crossings are judged like any other cause; of fewer
	// the chance must be a tenth of that: a position error that wanders may
	// well cover three.
	sureStretch = 4
	mostStretch = 128 // crossings: more are the whole border
	mostCentres = 300
)

// places are the middles of crossings.
type point struct{ eastM, northM float64 }

// scan looks for the disc of crossings around a crossing that, shifted outward
// together (lifts late, drops early), takes the most off the residuals r that
// the fit of the columns in f leaves. It returns the term and its column, with
// how many discs were looked at; ok is false where none is above chance.
//
// This is the spatial scan of Kulldorff (A spatial scan statistic, Commun.
// Stat. Theory Methods 26(6):1481-1496, 1997; from memory) with a normal
// response, Bonferroni in place of its Monte Carlo. The gain of a column x
// over those of the fit, Z, is (xᵀr)²/(xᵀx - xᵀZ(ZᵀZ)⁻¹Zᵀx).
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
	// The interval of a size whose disc was searched for is every size that some
	// disc makes as likely as t allows: RSS of disc and size no more than t²·σ²
	// above the least (profile likelihood).
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

// nearest appends to order[:0] the k places that are nearest to the c-th, in order,
// of equals the first, and fills in how far away each is.
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
