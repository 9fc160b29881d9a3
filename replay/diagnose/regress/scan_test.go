// The search on the map, beside a shift that is put there.

package regress

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// A shift of the rows within 25 m of a point is found there, with its size, and the column
// is x within it alone; elsewhere and in noise nothing is found.
func TestScan(t *testing.T) {
	for _, tc := range []struct {
		name    string
		shift   float64
		rows    int
		found   bool
		meanToo bool
	}{{"nothing", 0, 0, false, false}, {"eight rows", 0.3, 8, true, false}, {"eight rows beside a mean", 0.3, 8, true, true}, {"three rows", 0.3, 3, true, false}, {"less than counts", 0.015, 8, false, false}} {
		rng := rand.New(rand.NewPCG(7, 7))
		const n = 120
		at, x, y, ones := make([]Point, n), make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range n {
			at[i] = Point{EastM: 1000 + 10*float64(i%30), NorthM: 200 * float64(i/30)}
			x[i], ones[i] = float64(1-2*(i%2)), 1
			y[i] = 0.004 * rng.NormFloat64()
			if tc.meanToo {
				y[i] += 0.5
			}
			if i >= 40 && i < 40+tc.rows {
				y[i] += tc.shift * x[i]
			}
		}
		f, cols := Fit{DF: n}, [][]float64{ones}
		if tc.meanToo {
			f, _ = NewGram(cols, y, 0.001).Fit(0)
			for i := range y {
				y[i] -= f.Beta[0]
			}
		}
		p, column, ok := Scan(at, x, y, &f, cols, 0.001, 0.02)
		if ok != tc.found {
			t.Errorf("%s: %+v, %v", tc.name, p, ok)
			continue
		}
		if !ok {
			continue
		}
		var in []int
		for i := range column {
			if column[i] != 0 {
				in = append(in, i)
				if column[i] != x[i] {
					t.Errorf("%s: column %g in row %d; want %g", tc.name, column[i], i, x[i])
				}
			}
		}
		if len(in) != p.Rows || in[0] < 39 || in[len(in)-1] > 40+tc.rows || p.Rows < tc.rows-1 || p.NorthM != 200 || p.EastM < 1100 || p.EastM > 1180 ||
			!(p.RadiusM >= 10 && p.RadiusM <= 10*float64(tc.rows)) || !(p.BelowM > 0 && p.BelowM < 0.1 && p.AboveM > 0 && p.AboveM < 0.1) || !(p.Tried > 1000 && p.Tried < n*20) {
			t.Errorf("%s: %+v in rows %v", tc.name, p, in)
		}
	}
}

// The nearest points come in order of distance, of equal ones the first.
func TestNearest(t *testing.T) {
	at := []Point{{0, 0}, {3, 4}, {-1, 0}, {1, 0}, {0, 9}}
	away := make([]float64, 5)
	if got := nearest(nil, away, at, 0, 4); !slices.Equal(got, []int{0, 2, 3, 1}) || away[1] != 5 || !(math.Abs(away[4]-9) <= 0) {
		t.Errorf("%v, %v", got, away)
	}
	if got := nearest(nil, away, at, 4, 9); !slices.Equal(got, []int{4, 1, 0, 2, 3}) {
		t.Errorf("all: %v", got)
	}
}
