// A wrong piece of boundary: crossings that are off and lie together on the map.

package diagnose

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// stretch is a piece of the border: the crossings within radiusM of a place.
type stretch struct {
	eastM, northM, radiusM float64
	crossings              int
}

const (
	leastStretch = 4   // crossings: fewer are outliers
	mostStretch  = 128 // crossings: more are the whole border
	mostCentres  = 300
)

// places are the middles of crossings.
type place struct{ eastM, northM float64 }

// scan looks for the disc of crossings around a crossing that, shifted outward
// together (lifts late, drops early), takes the most off the residuals r that
// the fit of the columns in f leaves. It returns the term and its column, with
// how many discs were looked at; ok is false where none is above chance.
//
// This is the spatial scan of Kulldorff (A spatial scan statistic, Commun.
// Stat. Theory Methods 26(6):1481-1496, 1997; from memory) with a normal
// response, Bonferroni in place of its Monte Carlo. The gain of a column x
// over those of the fit, Z, is (xᵀr)²/(xᵀx - xᵀZ(ZᵀZ)⁻¹Zᵀx).
func scan(at []place, outward, r []float64, f *fitted, cols [][]float64, floorM float64) (*term, []float64, bool) {
	n := len(at)
	most := min(n/2, mostStretch)
	if most < leastStretch || f.df < 3 {
		return nil, nil, false
	}
	rr := dot(r, r)
	order := make([]int, n)
	away := make([]float64, n)
	zx := make([]float64, len(f.set))
	var best struct {
		gain, beta float64
		centre, k  int
	}
	looked := 0.0
	step := max(1, n/mostCentres)
	for c := 0; c < n; c += step {
		for i := range order {
			order[i] = i
			away[i] = math.Hypot(at[i].eastM-at[c].eastM, at[i].northM-at[c].northM)
		}
		nearest(order, away)
		clear(zx)
		xr, xx := 0.0, 0.0
		next := leastStretch
		for k, i := range order[:most] {
			xr += outward[i] * r[i]
			xx += outward[i] * outward[i]
			for j, p := range f.set {
				zx[j] += outward[i] * cols[p][i]
			}
			if k+1 < next || k+1 < n && away[order[k+1]] == away[i] {
				continue
			}
			next = max(next+1, next*5/4)
			looked++
			den := xx - quadratic(f.inv, zx)
			if den < 1e-6*xx {
				continue
			}
			if gain := xr * xr / den; gain > best.gain {
				best.gain, best.beta, best.centre, best.k = gain, xr/den, c, k+1
			}
		}
	}
	if best.gain == 0 {
		return nil, nil, false
	}
	df := f.df - 1
	sigma := max(math.Sqrt(max(0, rr-best.gain)/float64(df)), floorM)
	if !(twoSided(math.Sqrt(best.gain)/sigma, df)*looked < alpha/4) || math.Abs(best.beta) < leastM {
		return nil, nil, false
	}
	for i := range order {
		order[i] = i
		away[i] = math.Hypot(at[i].eastM-at[best.centre].eastM, at[i].northM-at[best.centre].northM)
	}
	nearest(order, away)
	s := &stretch{at[best.centre].eastM, at[best.centre].northM, away[order[best.k-1]], best.k}
	col := make([]float64, n)
	for _, i := range order[:best.k] {
		col[i] = outward[i]
	}
	return &term{cause: WrongBorder, tests: looked, least: leastM, arc: s}, col, true
}

// nearest sorts by distance, of equals the first.
func nearest(order []int, away []float64) {
	slices.SortFunc(order, func(a, b int) int {
		switch {
		case away[a] < away[b]:
			return -1
		case away[a] > away[b]:
			return 1
		}
		return a - b
	})
}

// quadratic is zᵀ·A·z.
func quadratic(a *mat.SymDense, z []float64) float64 {
	sum := 0.0
	for i := range z {
		for j := range z {
			sum += z[i] * z[j] * a.At(i, j)
		}
	}
	return sum
}
