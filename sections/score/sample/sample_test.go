package sample

import (
	"fmt"
	"math"
	"testing"
)

func TestMedian(t *testing.T) {
	for _, c := range []struct {
		list []float64
		want float64
	}{{nil, 0}, {[]float64{7}, 7}, {[]float64{4, 1}, 2.5}, {[]float64{3, 1, 2}, 2}, {[]float64{9, -1, 4, 2}, 3}, {[]float64{5, 5, 1, 9, 7}, 5}} {
		if got := Median(c.list); got != c.want {
			t.Errorf("%v: %g; want %g", c.list, got, c.want)
		}
	}
}

// Newcombe 1998 (Statist. Med. 17:857-872), table I, gives for the Wilson
// score method without continuity correction: 81/263: 0.2553 to 0.3662, 15/148:
// 0.0624 to 0.1605, 0/20: 0 to 0.1611, 1/29: 0.0061 to 0.1718. From memory.
func TestWilson(t *testing.T) {
	for _, c := range []struct{ hits, n, lo, hi float64 }{
		{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718}, {29, 29, 0.8830, 1},
	} {
		lo, hi := Wilson(c.hits/c.n, c.n, Z95)
		if !(math.Abs(lo-c.lo) <= 5e-5) || !(math.Abs(hi-c.hi) <= 5e-5) {
			t.Errorf("%g of %g: %.4f to %.4f; want %.4f to %.4f", c.hits, c.n, lo, hi, c.lo, c.hi)
		}
	}
	for _, n := range []float64{0, -1, math.NaN()} {
		if lo, hi := Wilson(0.5, n, Z95); !math.IsNaN(lo) || !math.IsNaN(hi) {
			t.Errorf("of %g trials: %g to %g; want no interval", n, lo, hi)
		}
	}
}

// The interval ends where the share is z standard deviations of the end away:
// (p - share)² = z²·p·(1-p)/n.
func TestWilsonSolvesItsEquation(t *testing.T) {
	for _, z := range []float64{1, Z95, 4.303} {
		for _, share := range []float64{0, 0.04, 0.3, 0.5, 0.9, 1} {
			for _, n := range []float64{0.5, 3, 20, 400} {
				lo, hi := Wilson(share, n, z)
				if lo > share+1e-12 || hi < share-1e-12 || lo < 0 || hi > 1 {
					t.Errorf("share %g of %g: %g to %g", share, n, lo, hi)
				}
				for _, p := range []float64{lo, hi} {
					if d := (p-share)*(p-share) - z*z*p*(1-p)/n; !(math.Abs(d) <= 1e-9) {
						t.Errorf("share %g of %g: the end %g is off by %g", share, n, p, d)
					}
				}
			}
		}
	}
}

func ExampleWilson() {
	lo, hi := Wilson(45.0/50, 50, Z95)
	fmt.Printf("90 %% (%.1f to %.1f %%)\n", lo*100, hi*100)
	// Output: 90 % (78.6 to 95.7 %)
}
