package regress

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// TestInverse compares inverse and condition of drawn matrices with gonum's.
func TestInverse(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 1))
	for range 500 {
		n := 1 + rng.IntN(6)
		x := mat.NewDense(n+2, n, nil)
		for i := range n + 2 {
			for j := range n {
				x.Set(i, j, rng.NormFloat64()*math.Pow(10, rng.Float64()))
			}
		}
		var g mat.SymDense
		g.SymOuterK(1, x.T())
		a := NewSymmetric(n)
		for i := range n {
			for j := range n {
				a.Set(i, j, g.At(i, j))
			}
		}
		inv, condition, ok := a.inverse()
		var want mat.Dense
		if err := want.Inverse(&g); err != nil || !ok {
			t.Fatalf("inverse: %v, %v", ok, err)
		}
		for i := range n {
			for j := range n {
				if d := math.Abs(inv.At(i, j) - want.At(i, j)); d > 1e-15*condition*inv.norm() {
					t.Fatalf("element %d, %d of an inverse of %d rows: %g; want %g", i, j, n, inv.At(i, j), want.At(i, j))
				}
			}
		}
		if c := mat.Norm(&g, 1) * mat.Norm(&want, 1); math.Abs(condition/c-1) > 1e-6 {
			t.Errorf("condition %g; want %g", condition, c)
		}
	}
}

// TestInverseRefuses: a matrix that is not positive definite has no inverse here.
func TestInverseRefuses(t *testing.T) {
	for _, v := range [][3]float64{{1, 2, 1}, {0, 0, 1}, {-1, 0, 1}, {1, 0, math.NaN()}} {
		a := NewSymmetric(2)
		a.Set(0, 0, v[0])
		a.Set(0, 1, v[1])
		a.Set(1, 1, v[2])
		if _, _, ok := a.inverse(); ok {
			t.Errorf("%v has an inverse", v)
		}
	}
}
