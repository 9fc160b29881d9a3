// The variance of drawn values, and the limit at which they are cut off.

package chance

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Mean and variance are those of a normal distribution that is cut off on both
// sides, in closed form.
func TestVary(t *testing.T) {
	const n = 200_000
	rng := rand.New(rand.NewPCG(1, 2))
	var sum, squares, most float64
	for range n {
		x := Vary(rng)
		sum, squares, most = sum+x, squares+x*x, max(most, math.Abs(x))
	}
	density := math.Exp(-Limit*Limit/2) / math.Sqrt(2*math.Pi)
	want := 1 - 2*Limit*density/math.Erf(Limit/math.Sqrt2)
	if math.Abs(want-0.973) > 0.0005 {
		t.Errorf("variance %g in closed form; the comment says 0.973", want)
	}
	if got := squares / n; math.Abs(got-want) > 4*math.Sqrt(2.0/n) {
		t.Errorf("variance %g; want %g", got, want)
	}
	if mean := sum / n; math.Abs(mean) > 4/math.Sqrt(n) {
		t.Errorf("mean %g; want 0", mean)
	}
	if most > Limit || most < 0.99*Limit {
		t.Errorf("the farthest is %g; want just under %g", most, Limit)
	}
}
