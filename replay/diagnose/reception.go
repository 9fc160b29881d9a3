// Poor reception: whether the crossings just after old, less accurate or missing
// fixes are further off than the others.

package diagnose

import (
	"math"
	"slices"

	"liftbench/nmea"
)

const (
	// beforeNs is how long before the command reception counts: about as long as
	// the controller's idea of the motion lasts.
	beforeNs = 1.5e9
	// A gap is gapTimes the usual interval and at least leastGapNs longer.
	gapTimes   = 2.5
	leastGapNs = 300e6
	// An old fix is oldNs older than is usual.
	oldNs = 300e6
)

// reception is what is usual on a day.
type reception struct {
	fixes      []Heard
	quality    nmea.Quality // the most frequent
	intervalNs int64        // median
	ageNs      int64        // median of those measured; -1 = none
}

func receptionOf(fixes []Heard) reception {
	r := reception{fixes: fixes, ageNs: -1}
	var count [256]int
	intervals, ages := make([]float64, 0, len(fixes)), make([]float64, 0, len(fixes))
	for i := range fixes {
		count[fixes[i].Quality]++
		if i > 0 {
			intervals = append(intervals, float64(fixes[i].TimeNs-fixes[i-1].TimeNs))
		}
		if fixes[i].AgeNs >= 0 {
			ages = append(ages, float64(fixes[i].AgeNs))
		}
	}
	for q := range count {
		if count[q] > count[r.quality] {
			r.quality = nmea.Quality(q)
		}
	}
	r.intervalNs = int64(median(intervals))
	if len(ages) > 0 {
		r.ageNs = int64(median(ages))
	}
	return r
}

// poor counts what was wrong with reception between two instants.
type poor struct{ worse, gaps, old int }

func (p poor) any() bool { return p.worse+p.gaps+p.old > 0 }

// between looks at the fixes of [from, to].
func (r *reception) between(from, to int64) (p poor) {
	if len(r.fixes) == 0 {
		return p
	}
	i, _ := slices.BinarySearchFunc(r.fixes, from, func(h Heard, t int64) int {
		switch {
		case h.TimeNs < t:
			return -1
		case h.TimeNs > t:
			return 1
		}
		return 0
	})
	for ; i < len(r.fixes); i++ {
		h := &r.fixes[i]
		if i > 0 {
			if gap := h.TimeNs - r.fixes[i-1].TimeNs; float64(gap) > gapTimes*float64(r.intervalNs) && gap > r.intervalNs+leastGapNs {
				p.gaps++
			}
		}
		if h.TimeNs > to {
			break
		}
		if h.Quality.Rank() < r.quality.Rank() {
			p.worse++
		}
		if r.ageNs >= 0 && h.AgeNs > r.ageNs+oldNs {
			p.old++
		}
	}
	return p
}

// mark notes on each crossing whether reception around its commands was poor.
func (r *reception) mark(list []crossing, leadNs int64) (total poor) {
	for k := range list {
		c := &list[k]
		p := r.between(c.from-leadNs-int64(beforeNs), c.to)
		c.poor = p.any()
		if p.worse > 0 {
			total.worse++
		}
		if p.gaps > 0 {
			total.gaps++
		}
		if p.old > 0 {
			total.old++
		}
	}
	return total
}

const (
	leastPoor = 3
	leastGood = 5
)

// worse compares the sizes of the residuals, in seconds, of crossings with poor
// reception with those of the others, by Student's t on their logarithms, which
// one wild crossing does not decide: how many times as large they are, and by how
// much that is more. Nil where they are not.
func worse(bad, good []float64) *found {
	n, m := float64(len(bad)), float64(len(good))
	if n < leastPoor || m < leastGood {
		return nil
	}
	lb, sb := meanVar(logs(bad))
	lg, sg := meanVar(logs(good))
	df := int(n + m - 2)
	se := math.Sqrt(((n-1)*sb + (m-1)*sg) / (n + m - 2) * (1/n + 1/m))
	times := around(lb-lg, se, df)
	more := func(log float64) float64 { return math.Exp(lg) * (math.Exp(log) - 1) }
	size := more(lb - lg)
	if !(lb > lg && twoSided((lb-lg)/se, df) < alpha) || size < leastS || size < math.Exp(lg)/2 {
		return nil
	}
	return &found{
		term: term{cause: PoorReception, least: leastS},
		size: size, ci: Interval{more(times[0]), more(times[1])}, n: len(bad),
	}
}

// logs are the logarithms of times, a millisecond added.
func logs(list []float64) []float64 {
	out := make([]float64, len(list))
	for i, x := range list {
		out[i] = math.Log(x + 1e-3)
	}
	return out
}

func meanVar(list []float64) (mean, variance float64) {
	n := float64(len(list))
	for _, x := range list {
		mean += x / n
	}
	for _, x := range list {
		variance += (x - mean) * (x - mean) / (n - 1)
	}
	return mean, variance
}
