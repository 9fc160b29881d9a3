// Symmetric matrices of a few rows: inverse and condition.

package regress

import "math"

// Symmetric is a symmetric matrix of Rows × Rows numbers.
type Symmetric struct {
	Rows int
	v    []float64
}

// NewSymmetric returns a matrix of zeros.
func NewSymmetric(rows int) *Symmetric {
	return &Symmetric{Rows: rows, v: make([]float64, rows*rows)}
}

// At returns the element of row i and column j.
func (a *Symmetric) At(i, j int) float64 { return a.v[i*a.Rows+j] }

// Set sets the element of row i and column j, and of row j and column i.
func (a *Symmetric) Set(i, j int, x float64) {
	a.v[i*a.Rows+j], a.v[j*a.Rows+i] = x, x
}

// norm is the largest sum of absolute values in a column.
func (a *Symmetric) norm() float64 {
	largest := 0.0
	for j := range a.Rows {
		sum := 0.0
		for i := range a.Rows {
			sum += math.Abs(a.At(i, j))
		}
		largest = max(largest, sum)
	}
	return largest
}

// inverse returns A⁻¹ and the condition number ‖A‖₁·‖A⁻¹‖₁ of a positive definite matrix;
// ok is false if it is not positive definite. A = L·Lᵀ (Cholesky), and the
// columns of A⁻¹ are solved for with L and Lᵀ one by one.
func (a *Symmetric) inverse() (inv *Symmetric, condition float64, ok bool) {
	n := a.Rows
	l := make([]float64, n*n) // row by row, lower triangle
	for j := range n {
		for i := j; i < n; i++ {
			sum := a.At(i, j)
			for k := range j {
				sum -= l[i*n+k] * l[j*n+k]
			}
			if i > j {
				l[i*n+j] = sum / l[j*n+j]
				continue
			}
			if !(sum > 0) {
				return nil, math.Inf(1), false
			}
			l[j*n+j] = math.Sqrt(sum)
		}
	}
	inv = NewSymmetric(n)
	x := make([]float64, n)
	for c := range n {
		for i := range n { // L·y = e_c
			x[i] = 0
			if i == c {
				x[i] = 1
			}
			for k := range i {
				x[i] -= l[i*n+k] * x[k]
			}
			x[i] /= l[i*n+i]
		}
		for i := n - 1; i >= c; i-- { // Lᵀ·x = y
			for k := i + 1; k < n; k++ {
				x[i] -= l[k*n+i] * x[k]
			}
			x[i] /= l[i*n+i]
			inv.Set(i, c, x[i])
		}
	}
	return inv, a.norm() * inv.norm(), true
}

// Quadratic is zᵀ·A·z.
func Quadratic(a *Symmetric, z []float64) float64 {
	sum := 0.0
	for i := range z {
		for j := range z {
			sum += z[i] * z[j] * a.At(i, j)
		}
	}
	return sum
}
