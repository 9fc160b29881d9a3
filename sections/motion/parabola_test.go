// The window of a fit, moved along, beside each window computed anew.

package motion

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestWindow(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	kept, all := 0, 0
	for range 200 {
		samples := make([]Sample, 120)
		now, stepNs := int64(1e18), int64(100e6)
		like := Sample{VelocityE: 1, VelocityN: 2, SigmaM: 0.014}
		for i := range samples {
			switch rng.IntN(60) {
			case 0:
				stepNs = int64(50e6 * float64(1+rng.IntN(20)))
			case 1:
				like.SigmaM = 0.014 * float32(1+rng.IntN(3))
			case 2:
				like.VelocityE = float32(math.NaN())
			case 3:
				like.VelocityE = 1
			case 4:
				now += rng.Int64N(5) // a clock that is off for one sample, and after it
			}
			now += stepNs
			samples[i] = like
			samples[i].TimeNs = now
		}
		// Windows as wide as they come: one neighbour at least, else what lies within.
		var w window
		lo, hi := 0, 0
		for i := range samples {
			for samples[lo].TimeNs < samples[i].TimeNs-smoothHalfNs {
				lo++
			}
			for hi < len(samples) && samples[hi].TimeNs <= samples[i].TimeNs+smoothHalfNs {
				hi++
			}
			from, until := min(lo, max(i-1, 0)), max(hi, min(i+2, len(samples)))
			before := w
			w.moveTo(samples, from, until, i)
			if want := normalOf(samples[from:until], samples[i].TimeNs); w.normal != want {
				t.Fatalf("sample %d, window %d to %d: %+v; computed anew %+v", i, from, until, w.normal, want)
			}
			if all++; before.normal == w.normal {
				kept++
			}
		}
	}
	if kept < all/4 || kept > all*3/4 {
		t.Errorf("%d of %d windows were as the one before; the test should see both", kept, all)
	}
}
