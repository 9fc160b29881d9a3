// A place on the map where rows are off together.

package regress

import (
	"math"
	"slices"
	"sort"
)

// disc is one of the discs that were tried.
type disc struct {
	gain, sizeM, den float64
	centre, k        int
}

const (
	leastStretch = 3   // rows: fewer are outliers
	mostStretch  = 128 // rows: more are the whole map
	mostCentres  = 300
)

// SureStretch is how many rows of a disc are judged as any other cause is. With fewer, the
// probability of chance must be ten times smaller, because one slowly wandering position
// error may well cover three.
const SureStretch = 4

// Point is a place on the map.
type Point struct{ EastM, NorthM float64 }

// Piece is a disc on the map in which a column explains the rows.
type Piece struct {
	Point
	RadiusM float64
	Rows    int
	Tried   float64 // discs among which it is the best
	// BelowM and AboveM are how far the interval must reach from the best disc's size to
	// include what other discs would say.
	BelowM, AboveM float64
}

// Scan tries discs of rows around each row, which lie at the points. It returns the one in
// which the column x reduces the residuals r of the fit f the most, and x within it alone;
// ok is false if none is above chance or its size is below least. f is of the columns
// cols; floorM is as in NewGram.
//
// This is the spatial scan of Kulldorff (A spatial scan statistic, Commun. Stat. Theory
// Methods 26(6):1481-1496, 1997; from memory) with a normal response, and with
// Bonferroni over the discs in place of its Monte Carlo test. A column x beside the
// columns Z of the fit reduces the sum of squares by (xᵀr)²/(xᵀx - xᵀZ(ZᵀZ)⁻¹Zᵀx).
func Scan(at []Point, x, r []float64, f *Fit, cols [][]float64, floorM, least float64) (p *Piece, column []float64, ok bool) {
	n := len(at)
	most := min(n/2, mostStretch)
	if most < leastStretch || f.DF < 3 {
		return nil, nil, false
	}
	rr := Dot(r, r)
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
			xr += x[i] * r[i]
			xx += x[i] * x[i]
			for j, q := range f.Set {
				zx[j] += x[i] * cols[q][i]
			}
			if k+1 < next || away[order[k+1]] == away[i] {
				continue
			}
			next = max(next+1, next*5/4)
			den := xx - Quadratic(f.Inv, zx)
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
	chance := Alpha / 4
	if best.k < SureStretch {
		chance /= 10
	}
	if !(TwoSided(math.Sqrt(best.gain)/sigma, df)*looked < chance) || math.Abs(best.sizeM) < least {
		return nil, nil, false
	}
	order = nearest(order, away, at, best.centre, best.k)
	p = &Piece{Point: at[best.centre], RadiusM: away[order[best.k-1]], Rows: best.k, Tried: looked}
	// The disc was searched for, so the interval holds every size that some disc makes
	// likely enough: its sum of squares is no more than t²·σ² above the least (profile
	// likelihood).
	t := Quantile(0.05, df)
	for _, d := range discs {
		if left := t*t*sigma*sigma - (best.gain - d.gain); left > 0 {
			half := math.Sqrt(left / d.den)
			p.BelowM = max(p.BelowM, best.sizeM-(d.sizeM-half))
			p.AboveM = max(p.AboveM, d.sizeM+half-best.sizeM)
		}
	}
	column = make([]float64, n)
	for _, i := range order[:best.k] {
		column[i] = x[i]
	}
	return p, column, true
}

// nearest appends to order[:0] the k points nearest to point c, nearest first and in
// order of index where equal, and sets away to the distance of every point.
func nearest(order []int, away []float64, at []Point, c, k int) []int {
	order = order[:0]
	for i := range at {
		away[i] = math.Hypot(at[i].EastM-at[c].EastM, at[i].NorthM-at[c].NorthM)
		if len(order) == k && away[i] >= away[order[k-1]] {
			continue
		}
		to := sort.Search(len(order), func(q int) bool { return away[order[q]] > away[i] })
		order = slices.Insert(order, to, i)
		order = order[:min(len(order), k)]
	}
	return order
}
