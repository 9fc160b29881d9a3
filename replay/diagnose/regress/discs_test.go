// The search on the map beside a slow one that fits every disc anew.

package regress

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// scanSlowly is a second way to compute Scan: for each disc it fits the columns and the disc's
// part of x by least squares, and takes the disc whose fit leaves the least. alike are the discs that
// hold the same rows.
func scanSlowly(at []Point, x, y []float64, cols [][]float64, floorM, least float64) (p *Piece, alike []Piece, column []float64, ok bool) {
	n := len(at)
	most := min(n/2, 128)
	if most < 3 || n-len(cols) < 3 {
		return nil, nil, nil, false
	}
	type fitted struct {
		fit     Fit
		piece   Piece
		column  []float64
		sizeM   float64
		perSize float64 // what the square of a change of size adds to the residuals
	}
	var all []fitted
	best := -1
	last := len(cols)
	set := make([]int, last+1)
	for i := range set {
		set[i] = i
	}
	for c := 0; c < n; c += max(1, n/300) {
		away, order := make([]float64, n), make([]int, n)
		for i := range n {
			away[i], order[i] = math.Hypot(at[i].EastM-at[c].EastM, at[i].NorthM-at[c].NorthM), i
		}
		slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(away[a], away[b]) })
		column := make([]float64, n)
		next := 3
		for k := 1; k <= most; k++ {
			column[order[k-1]] = x[order[k-1]]
			if k < next || away[order[k]] == away[order[k-1]] {
				continue // of points at one distance all belong to it or none
			}
			next = max(next+1, next*5/4)
			own := slices.Clone(column)
			f, ok := NewGram(append(slices.Clone(cols), own), y, 0).Fit(set...)
			if !ok {
				continue
			}
			all = append(all, fitted{f, Piece{Point: at[c], RadiusM: away[order[k-1]], Rows: k}, own, f.Beta[last], 1 / f.Inv.At(last, last)})
			if best < 0 || f.RSS < all[best].fit.RSS*(1-1e-9) {
				best = len(all) - 1
			}
		}
	}
	if best < 0 {
		return nil, nil, nil, false
	}
	b := &all[best]
	sigma := max(b.fit.Sigma, floorM)
	limit := 0.02 / 4 / float64(len(all))
	if b.piece.Rows < 4 {
		limit /= 10
	}
	if !(TwoSided(b.sizeM*math.Sqrt(b.perSize)/sigma, b.fit.DF) < limit) || math.Abs(b.sizeM) < least {
		return nil, nil, nil, false
	}
	b.piece.Tried = float64(len(all))
	t := Quantile(0.05, b.fit.DF)
	for i := range all {
		d := &all[i]
		if slices.Equal(d.column, b.column) {
			alike = append(alike, d.piece)
		}
		if left := t*t*sigma*sigma + b.fit.RSS - d.fit.RSS; left > 0 {
			half := math.Sqrt(left / d.perSize)
			b.piece.BelowM = max(b.piece.BelowM, b.sizeM-d.sizeM+half)
			b.piece.AboveM = max(b.piece.AboveM, d.sizeM-b.sizeM+half)
		}
	}
	return &b.piece, alike, b.column, true
}

// TestScanSlowly compares both on fields of all sizes, with rows side by side at equal distances,
// with and without something that was fitted before, and shifts from none to certain.
func TestScanSlowly(t *testing.T) {
	for _, tc := range []struct {
		name         string
		n, wide      int
		columns      int // that were fitted before
		shifted      int // rows
		fields       int
		floorM       float64
		least, mostM float64 // shifts
	}{
		{"too few", 5, 3, 0, 3, 3, 0.001, 0.1, 0.2},
		{"six", 6, 6, 0, 3, 20, 0.001, 0, 0.4},
		{"seven", 7, 6, 1, 3, 20, 0.001, 0, 0.4},
		{"eight", 8, 8, 2, 3, 40, 0.001, 0.1, 0.5},
		{"few, three degrees of freedom", 6, 6, 3, 3, 40, 0.0001, 0, 0.5},
		{"a small field", 24, 6, 1, 4, 60, 0.001, 0, 0.06},
		{"a row", 24, 24, 0, 3, 60, 0.001, 0.01, 0.06},
		{"a row and a slope", 24, 24, 2, 5, 60, 0.001, 0, 0.05},
		{"scatter below the floor", 24, 6, 1, 4, 60, 0.012, 0, 0.06},
		{"half of the field", 40, 8, 0, 20, 20, 0.001, 0.01, 0.02},
		{"many rows", 290, 30, 1, 140, 2, 0.001, 0.01, 0.02},
		{"more rows than centres", 610, 30, 1, 9, 2, 0.001, 0.01, 0.03},
	} {
		t.Run(tc.name, func(t *testing.T) {
			found := 0
			for field := range tc.fields {
				rng := rand.New(rand.NewPCG(uint64(field), 17))
				at, x, y := make([]Point, tc.n), make([]float64, tc.n), make([]float64, tc.n)
				cols := [][]float64{make([]float64, tc.n), make([]float64, tc.n), make([]float64, tc.n)}
				shiftM := tc.least + (tc.mostM-tc.least)*float64(field)/float64(max(1, tc.fields-1))
				begin := rng.IntN(tc.n - tc.shifted + 1)
				for i := range tc.n {
					at[i] = Point{EastM: 300 + 10*float64(i%tc.wide), NorthM: -200 + 25*float64(i/tc.wide)}
					x[i] = (0.5 + rng.Float64()) * float64(1-2*rng.IntN(2))
					cols[0][i], cols[1][i], cols[2][i] = 1.5, 0.25+float64(i%tc.wide), rng.NormFloat64()
					y[i] = 0.004 * rng.NormFloat64()
					for c := range tc.columns {
						y[i] += (0.3 + 0.2*float64(c)) * cols[c][i]
					}
					if i >= begin && i < begin+tc.shifted {
						y[i] += shiftM * x[i]
					}
				}
				before, set := cols[:tc.columns], []int{0, 1, 2}[:tc.columns]
				f, ok := NewGram(before, y, 0.001).Fit(set...)
				if !ok {
					t.Fatalf("field %d: the columns before cannot be fitted", field)
				}
				r := slices.Clone(y)
				for i, fit := range Predict(&f, before, tc.n) {
					r[i] -= fit
				}
				got, column, ok := Scan(at, x, r, &f, before, tc.floorM, 0.015)
				want, alike, wantColumn, wantOK := scanSlowly(at, x, y, before, tc.floorM, 0.015)
				if ok != wantOK {
					t.Fatalf("field %d, shift %g m: found %v; want %v", field, shiftM, got, want)
				}
				if !ok {
					continue
				}
				found++
				same := slices.ContainsFunc(alike, func(p Piece) bool { return p.Point == got.Point && p.RadiusM == got.RadiusM })
				if !same || got.Rows != want.Rows || got.Tried != want.Tried || !slices.Equal(column, wantColumn) ||
					!(math.Abs(got.BelowM-want.BelowM) <= 1e-7) || !(math.Abs(got.AboveM-want.AboveM) <= 1e-7) {
					t.Fatalf("field %d, shift %g m: %+v; want %+v", field, shiftM, got, want)
				}
			}
			t.Logf("found in %d of %d fields", found, tc.fields)
		})
	}
}
