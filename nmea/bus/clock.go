// This file finds UTC behind the times of a logger: what its clock is ahead, as a
// line through the quickest of many messages, and how much later others came.

package bus

import (
	"math"
	"sort"
)

// sample is one message that tells UTC: when the logger saw it, and by how much
// that is more than the UTC it tells.
type sample struct{ hostNs, lessNs int64 }

// mostSamples bounds the memory: when it is full, neighbours are joined.
const mostSamples = 512

// samples keeps the least of each group of neighbours, and one of each group as
// it came.
type samples struct {
	least, plain []sample
	group        int // messages in a group
	inGroup      int // messages in the last group
	count        int64
}

func (s *samples) add(x sample) {
	s.count++
	if s.group == 0 {
		s.group = 1
		s.least = make([]sample, 0, mostSamples)
		s.plain = make([]sample, 0, mostSamples)
	}
	if n := len(s.least); n > 0 && s.inGroup < s.group {
		if x.lessNs < s.least[n-1].lessNs {
			s.least[n-1] = x
		}
		s.inGroup++
		return
	}
	if len(s.least) == mostSamples {
		for i := range mostSamples / 2 {
			a, b := s.least[2*i], s.least[2*i+1]
			if b.lessNs < a.lessNs {
				a = b
			}
			s.least[i], s.plain[i] = a, s.plain[2*i]
		}
		s.least, s.plain = s.least[:mostSamples/2], s.plain[:mostSamples/2]
		s.group *= 2
	}
	s.least, s.plain = append(s.least, x), append(s.plain, x)
	s.inGroup = 1
}

// Offset is what the logger's clock was ahead of UTC, with the least delay of
// any message in it: LessNs at FromNs, and Drift more for each nanosecond since.
type Offset struct {
	Known          bool
	FromNs, LessNs int64
	Drift          float64
}

// At returns the offset at a time of the logger, in nanoseconds.
func (o Offset) At(hostNs int64) int64 {
	return o.LessNs + int64(math.Round(o.Drift*float64(hostNs-o.FromNs)))
}

// Age is how much older than the quickest messages were when the logger saw
// them: the logger's time less UTC, less its least value.
type Age struct {
	Messages                int64
	MedianNs, P95Ns, MostNs int64
}

const (
	// A message whose UTC is this far from the others was sent before the
	// receiver knew the time, or by a clock that was then set.
	farNs = 10e9
	// nearNs is what delays on a bus may scatter.
	nearNs = 200e6
	// steadyNs is the time after which a drift can be told from scatter.
	steadyNs = 60e9
	// mostDrift is more than any logger's clock drifts.
	mostDrift = 500e-6
)

// fit returns the offset, as a line through the least, and the ages of the
// messages above it. The slope is the median of the slopes of all pairs
// (Theil 1950, Sen 1968, J. Am. Stat. Assoc. 63:1379), 0 where it does not show
// above the scatter.
func (s *samples) fit() (Offset, Age) {
	var o Offset
	if s.count == 0 {
		return o, Age{}
	}
	middle := median(s.least, func(x sample) float64 { return float64(x.lessNs - s.least[0].lessNs) })
	keep := make([]sample, 0, len(s.least))
	for _, x := range s.least {
		if math.Abs(float64(x.lessNs-s.least[0].lessNs)-middle) < farNs {
			keep = append(keep, x)
		}
	}
	if len(keep)*2 < len(s.least) {
		return o, Age{} // clocks that agree with nothing for long
	}
	o.FromNs = keep[0].hostNs
	o.LessNs = keep[0].lessNs
	rest := func(x sample) float64 {
		return float64(x.lessNs-o.LessNs) - float64(o.Drift*float64(x.hostNs-o.FromNs))
	}
	if span := keep[len(keep)-1].hostNs - o.FromNs; span >= steadyNs && len(keep) >= 8 {
		var slopes []float64
		for i, a := range keep {
			for _, b := range keep[i+1:] {
				if b.hostNs-a.hostNs > span/4 {
					slopes = append(slopes, float64(b.lessNs-a.lessNs)/float64(b.hostNs-a.hostNs))
				}
			}
		}
		if len(slopes) > 0 {
			sort.Float64s(slopes)
			o.Drift = slopes[len(slopes)/2]
			scatter := deviation(keep, rest)
			if math.Abs(o.Drift) > mostDrift || math.Abs(o.Drift)*float64(span) < 2*scatter+1e6 {
				o.Drift = 0
			}
		}
	}
	middle = median(keep, rest)
	near := max(nearNs, 6*deviation(keep, rest))
	least := math.Inf(1)
	for _, x := range keep {
		if r := rest(x); math.Abs(r-middle) <= near && r < least {
			least = r
		}
	}
	o.LessNs += int64(math.Round(least))
	o.Known = true

	ages := make([]int64, 0, len(s.plain))
	for _, x := range s.plain {
		if a := x.lessNs - o.At(x.hostNs); a >= 0 && a < farNs {
			ages = append(ages, a)
		}
	}
	if len(ages) == 0 {
		return o, Age{}
	}
	sort.Slice(ages, func(i, k int) bool { return ages[i] < ages[k] })
	return o, Age{s.count, ages[len(ages)/2], ages[len(ages)*95/100], ages[len(ages)-1]}
}

func median(x []sample, of func(sample) float64) float64 {
	v := make([]float64, len(x))
	for i := range x {
		v[i] = of(x[i])
	}
	sort.Float64s(v)
	return v[len(v)/2]
}

// deviation returns the standard deviation that a normal sample of this median
// absolute deviation has.
func deviation(x []sample, of func(sample) float64) float64 {
	m := median(x, of)
	return 1.4826 * median(x, func(s sample) float64 { return math.Abs(of(s) - m) })
}

// following is the least of what came in the last half to whole minute, so that
// the drift of two clocks can be followed live.
type following struct {
	sinceNs     int64
	now, before int64
	known       bool // now
	hadOne      bool // before
	far         int  // messages in a row that were far from the least
}

const (
	followNs = 30e9
	// mostFar is how many messages in a row must agree on another clock before it
	// is believed that a clock was set.
	mostFar = 10
)

// add takes a message and reports whether with it another clock is believed.
func (l *following) add(x sample) (set bool) {
	if l.known || l.hadOne {
		if d := x.lessNs - l.least(); d > farNs || d < -farNs {
			if l.far++; l.far < mostFar {
				return false
			}
			*l = following{}
			set = true
		}
	}
	l.far = 0
	if l.known && x.hostNs-l.sinceNs > followNs {
		l.before, l.hadOne, l.known = l.now, true, false
	}
	if !l.known {
		l.sinceNs, l.now, l.known = x.hostNs, x.lessNs, true
		return set
	}
	l.now = min(l.now, x.lessNs)
	return set
}

func (l *following) least() int64 {
	switch {
	case !l.hadOne:
		return l.now
	case !l.known:
		return l.before
	}
	return min(l.now, l.before)
}
