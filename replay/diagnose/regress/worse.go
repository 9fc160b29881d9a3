// Two samples of errors, one of which may be worse.

package regress

import "math"

// The fewest errors that are compared, and the share by which one sample must be worse.
const (
	leastWorse  = 3
	LeastUsual  = 5
	worseByHalf = 0.5
)

// Worse returns by how much the errors in bad, in s without their signs, are larger than
// those in good, with its 95 % interval; ok is false if they are not by half and by leastS,
// beyond chance. The test is Student's t on their logarithms, which a single outlier does
// not decide.
func Worse(bad, good []float64, leastS float64) (size float64, ci [2]float64, ok bool) {
	n, m := float64(len(bad)), float64(len(good))
	if n < leastWorse || m < LeastUsual {
		return 0, ci, false
	}
	lb, sb := MeanVariance(logs(bad))
	lg, sg := MeanVariance(logs(good))
	df := int(n + m - 2)
	se := math.Sqrt(((n-1)*sb + (m-1)*sg) / (n + m - 2) * (1/n + 1/m))
	times := Around(lb-lg, se, df)
	more := func(log float64) float64 { return math.Exp(lg) * (math.Exp(log) - 1) }
	size = more(lb - lg)
	if !(lb > lg && TwoSided((lb-lg)/se, df) < Alpha) || size < leastS || size < math.Exp(lg)*worseByHalf {
		return 0, ci, false
	}
	return size, [2]float64{more(times[0]), more(times[1])}, true
}

// logs returns the logarithms of times in s, with a millisecond added.
func logs(list []float64) []float64 {
	out := make([]float64, len(list))
	for i, x := range list {
		out[i] = math.Log(x + 1e-3)
	}
	return out
}
