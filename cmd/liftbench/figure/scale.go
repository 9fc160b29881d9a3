// A scale that a few wild values do not squeeze, and its ticks.

package figure

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// tick is a marked value of an axis.
type tick struct {
	value float64
	label string
}

// ticks marks multiples of 1, 2 or 5 times a power of ten, four to nine of them.
func ticks(lo, hi float64) []tick {
	step := math.Pow(10, math.Floor(math.Log10((hi-lo)/4)))
	for _, k := range []float64{5, 2} {
		if (hi-lo)/(step*k) >= 4 {
			step *= k
			break
		}
	}
	decimals := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	var out []tick
	// + 0 turns a negative zero into zero.
	for i := math.Ceil(lo/step-1e-9) + 0; i*step <= hi+1e-9*step; i++ {
		label := strings.Replace(strconv.FormatFloat(i*step, 'f', decimals, 64), "-", "−", 1)
		out = append(out, tick{i * step, label})
	}
	return out
}

// scale returns a range for values that holds 0, and at least least to both
// sides of it. A few values far from the others, at most one in fifty on
// either side, are left outside.
func scale(values []float64, least float64) (lo, hi float64) {
	lo, hi = -least, least
	if len(values) == 0 {
		return lo, hi
	}
	sorted := slices.Sorted(slices.Values(values))
	at := func(q float64) float64 { return sorted[int(q*float64(len(sorted)-1)+0.5)] }
	q1, q3 := at(0.25), at(0.75)
	// Twice Tukey's whiskers: what lies beyond is far out by any measure.
	fence := 3 * max(q3-q1, least)
	lo = min(lo, max(sorted[0], min(q1-fence, at(0.02))))
	hi = max(hi, min(sorted[len(sorted)-1], max(q3+fence, at(0.98))))
	margin := 0.06 * (hi - lo)
	return lo - margin, hi + margin
}
