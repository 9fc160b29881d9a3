// Poor reception: whether the crossings just after old, less accurate or missing
// fixes are further off than the others.

package evidence

import (
	"fmt"
	"slices"
	"strings"

	"liftbench/nmea"
	"liftbench/replay/diagnose/regress"
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
type Reception struct {
	fixes      []Fix
	quality    nmea.Quality // the most frequent
	IntervalNs int64        // median
	ageNs      int64        // median of those measured; -1 = none
}

func NewReception(fixes []Fix) Reception {
	r := Reception{fixes: fixes, ageNs: -1}
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
	r.IntervalNs = int64(regress.Median(intervals))
	if len(ages) > 0 {
		r.ageNs = int64(regress.Median(ages))
	}
	return r
}

// poor counts what was wrong with reception between two instants.
type Poor struct{ Worse, Gaps, Old int }

func (p Poor) Any() bool { return p.Worse+p.Gaps+p.Old > 0 }

// between looks at the fixes of [from, to].
func (r *Reception) Between(from, to int64) (p Poor) {
	if len(r.fixes) == 0 {
		return p
	}
	i, _ := slices.BinarySearchFunc(r.fixes, from, func(h Fix, t int64) int {
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
		if r.ageNs >= 0 && h.AgeNs > r.ageNs+oldNs {
			p.Old++
		}
	}
	return p
}

// mark notes on each crossing whether reception around its commands was poor.
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

// words says what was wrong with reception.
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
