// Poor reception: old, less accurate and missing fixes just before a crossing.

package evidence

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"liftbench/nmea"
	"liftbench/sections/score/sample"
)

const (
	// beforeNs is how long before a command reception matters: about as long as the
	// controller's estimate of the motion depends on a fix.
	beforeNs = 1.5e9
	// A gap is longer than gapTimes the median interval, and longer than it by more
	// than leastGapNs.
	gapTimes   = 2.5
	leastGapNs = 300e6
	// An old fix is more than oldNs older than the median.
	oldNs = 300e6
)

// Reception is the fixes of a day and what is usual among them.
type Reception struct {
	fixes      []Fix
	quality    nmea.Quality // the most frequent one
	IntervalNs int64        // median time between two
	ageNs      int64        // median of the measured ages
}

// NewReception finds what is usual among a day's fixes, which must be in order of time.
func NewReception(fixes []Fix) Reception {
	r := Reception{fixes: fixes}
	var count [256]int
	var intervals, ages []float64
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
	r.IntervalNs = int64(sample.Median(intervals))
	r.ageNs = int64(sample.Median(ages))
	return r
}

// ScatterM is the scatter of crossings, standard deviation in m, above which reception
// does not explain it: of RTK fixed several times 1.43 cm (Carballido et al. 2014, Appl.
// Eng. Agric. 30(3):361-366), because a heading and a driver who brakes add to it; of
// others the usual accuracy of such positions (from memory); +Inf if nothing is known.
func (r *Reception) ScatterM() float64 {
	switch rank := r.quality.Rank(); {
	case len(r.fixes) == 0:
		return math.Inf(1)
	case rank >= nmea.RTKFixed.Rank():
		return 0.10
	case rank == nmea.RTKFloat.Rank():
		return 0.5
	case rank == nmea.Differential.Rank():
		return 1
	}
	return 3
}

// Poor counts faults of reception: less accurate solutions, gaps, old fixes.
type Poor struct{ Worse, Gaps, Old int }

// Any reports whether there was any fault.
func (p Poor) Any() bool { return p.Worse+p.Gaps+p.Old > 0 }

// Between counts the faults among the fixes of [from, to], in ns UTC. A gap that
// reaches into that time counts.
func (r *Reception) Between(from, to int64) (p Poor) {
	if len(r.fixes) == 0 {
		return p
	}
	i, _ := slices.BinarySearchFunc(r.fixes, from, func(h Fix, t int64) int { return cmp.Compare(h.TimeNs, t) })
	for ; i < len(r.fixes); i++ {
		h := &r.fixes[i]
		if i > 0 {
			if gap := h.TimeNs - r.fixes[i-1].TimeNs; float64(gap) > gapTimes*float64(r.IntervalNs) && gap > r.IntervalNs+leastGapNs {
				p.Gaps++
			}
		}
		if h.TimeNs > to {
			break
		}
		if h.Quality.Rank() < r.quality.Rank() {
			p.Worse++
		}
		if h.AgeNs > r.ageNs+oldNs {
			p.Old++
		}
	}
	return p
}

// Mark sets on each crossing whether reception was poor, from a while before its first
// command, leadNs before the border, until its last section has crossed. total counts
// the crossings with each kind of fault.
func (r *Reception) Mark(list []Crossing, leadNs int64) (total Poor) {
	for k := range list {
		c := &list[k]
		p := r.Between(c.FromNs-leadNs-int64(beforeNs), c.UntilNs)
		c.Poor = p.Any()
		if p.Worse > 0 {
			total.Worse++
		}
		if p.Gaps > 0 {
			total.Gaps++
		}
		if p.Old > 0 {
			total.Old++
		}
	}
	return total
}

// String says at how many crossings there was which fault.
func (p Poor) String() string {
	var list []string
	for _, c := range []struct {
		n    int
		what string
	}{{p.Worse, "a less accurate solution at %d"}, {p.Gaps, "a gap at %d"}, {p.Old, "old fixes at %d"}} {
		if c.n > 0 {
			list = append(list, fmt.Sprintf(c.what, c.n))
		}
	}
	return strings.Join(list, ", ")
}
