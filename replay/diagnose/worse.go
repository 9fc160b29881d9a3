// Poor reception: whether crossings just after old, less accurate or missing fixes are
// further off than the others.

package diagnose

import (
	"math"

	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
)

const (
	leastPoor = 3
	leastGood = 5
)

// worseReception compares the residuals of crossings with poor reception, in s without
// their signs, with those of the others. It returns by how much they are larger, nil if
// they are not. The test is Student's t on their logarithms, which a single outlier
// does not decide.
func worseReception(bad, good []float64) *found {
	n, m := float64(len(bad)), float64(len(good))
	if n < leastPoor || m < leastGood {
		return nil
	}
	lb, sb := regress.MeanVariance(logs(bad))
	lg, sg := regress.MeanVariance(logs(good))
	df := int(n + m - 2)
	se := math.Sqrt(((n-1)*sb + (m-1)*sg) / (n + m - 2) * (1/n + 1/m))
	times := regress.Around(lb-lg, se, df)
	more := func(log float64) float64 { return math.Exp(lg) * (math.Exp(log) - 1) }
	size := more(lb - lg)
	if !(lb > lg && regress.TwoSided((lb-lg)/se, df) < regress.Alpha) || size < evidence.LeastS || size < math.Exp(lg)/2 {
		return nil
	}
	return &found{
		term: term{cause: PoorReception, leastSize: evidence.LeastS},
		size: size, ci: Interval{more(times[0]), more(times[1])}, crossings: len(bad),
	}
}

// logs returns the logarithms of times in s, with a millisecond added.
func logs(list []float64) []float64 {
	out := make([]float64, len(list))
	for i, x := range list {
		out[i] = math.Log(x + 1e-3)
	}
	return out
}
