// Whether one sample of sizes is larger than another.

package regress

import "math"

// Larger compares two samples of sizes, all positive, by Student's t on their logarithms,
// which a single outlier does not decide. least is a size that hardly matters; it is added
// to each. more is by how much a typical one of the first is larger than one of the
// others, which is usual; p is the probability of so much by chance.
func Larger(sizes, others []float64, least float64) (more, usual float64, ci95 [2]float64, p float64) {
	n, m := float64(len(sizes)), float64(len(others))
	lb, sb := MeanVariance(logs(sizes, least))
	lg, sg := MeanVariance(logs(others, least))
	df := int(n + m - 2)
	se := math.Sqrt(((n-1)*sb + (m-1)*sg) / (n + m - 2) * (1/n + 1/m))
	usual = math.Exp(lg)
	beyond := func(log float64) float64 { return usual * (math.Exp(log) - 1) }
	times := Around(lb-lg, se, df)
	return beyond(lb - lg), usual, [2]float64{beyond(times[0]), beyond(times[1])}, TwoSided((lb-lg)/se, df)
}

// logs returns the logarithms of a list with least added to each.
func logs(list []float64, least float64) []float64 {
	out := make([]float64, len(list))
	for i, x := range list {
		out[i] = math.Log(x + least)
	}
	return out
}
