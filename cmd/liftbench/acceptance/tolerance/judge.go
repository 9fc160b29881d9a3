// Whether crossings that were driven show that the agreed share of all crossings keeps
// the agreed tolerance.
//
// The unit is the crossing: all sections of the bar move at one border, on one position
// and one pump, so that their errors are not independent. A crossing is within the
// tolerance if each of its sections is.
//
// Which statement is made depends on the number of crossings, and not on their errors,
// so that choosing it favours no result. Where there are enough for counting, they are
// counted (one-sided Clopper and Pearson; with all within, shareⁿ ≤ 1 − confidence),
// whatever the distribution. Where there are fewer, counting shows nothing, and each
// section has to keep its own two-sided tolerance interval of a normal sample. That
// every one does is then shown with the same confidence, as all must pass. Where the
// sample does not look normal nothing is stated.

package tolerance

import (
	"math"
	"sort"

	"liftbench/sections/score/sample"
)

// Reading is how far from its place one section lifted or dropped.
type Reading struct {
	Section int     // from 1; 0 = the whole bar
	ErrorM  float64 // positive = late
}

// Crossing is the bar going over one border: lifts, or else drops.
type Crossing struct {
	Readings []Reading
	Missed   int // sections that should have moved and did not
	Extra    int // sections that moved where none was due
}

// Within reports whether every section moved within limitM of its place, and none other.
func (c *Crossing) Within(limitM float64) bool {
	for _, r := range c.Readings {
		if !(math.Abs(r.ErrorM) <= limitM) {
			return false
		}
	}
	return c.Missed == 0 && c.Extra == 0 && len(c.Readings) > 0
}

// Agreed is what the two sides agreed on.
type Agreed struct {
	LimitM     float64 // to either side
	Share      float64 // of crossings that keep it, above 0 and below 1
	Confidence float64 // above 0 and below 1
}

// Finding is what crossings show.
type Finding uint8

const (
	NotShown Finding = iota // neither that the share is kept nor that it is not
	Shown                   // at least the agreed share keeps the tolerance
	Exceeded                // less than the agreed share does
)

// Basis is the statement by which a finding was made, or why none can be.
type Basis uint8

const (
	Counted    Basis = iota // enough crossings to count
	Interval                // fewer: a tolerance interval of a normal sample for each section
	NotNormal               // fewer, and a sample does not look normal
	Incomplete              // fewer, and a section did not move, or moved where it should not
	TooFew                  // fewer than FewestForNormal of some section
)

// SectionSample are the errors of one section.
type SectionSample struct {
	Section      int
	Count        int
	MeanM, SDM   float64
	Factor       float64 // of ToleranceFactor
	LowM, HighM  float64 // mean ± factor·deviation
	NormalPValue float64 // NaN where that is not known
}

// reachM is how far the interval reaches from 0.
func (s *SectionSample) reachM() float64 { return max(math.Abs(s.LowM), math.Abs(s.HighM)) }

// Statement is what crossings show, and how.
type Statement struct {
	Finding
	Basis
	Agreed
	Crossings, Within int
	AtLeast, AtMost   float64         // bounds of the share within, each with the agreed confidence
	Needed            int             // crossings for which counting shows the share where all are within
	Sections          []SectionSample // by section
	Worst             int             // of Sections: the interval that reaches farthest
	// Serial is the correlation of neighbouring crossings' mean errors; NaN of few.
	Serial float64
}

// shapeLevel is how rarely normal samples are taken for others: 1 in 20, over all
// sections together (Bonferroni).
const shapeLevel = 0.05

// Judge says what the crossings, in order of time, show.
func Judge(list []Crossing, a Agreed) Statement {
	s := Statement{Agreed: a, Crossings: len(list), Needed: AllOf(a.Share, a.Confidence), Serial: serial(list)}
	complete := true
	for i := range list {
		c := &list[i]
		if c.Within(a.LimitM) {
			s.Within++
		}
		complete = complete && c.Missed == 0 && c.Extra == 0
	}
	s.AtLeast, s.AtMost = ShareAtLeast(s.Within, s.Crossings, a.Confidence), 1
	if s.Crossings > 0 {
		s.AtMost = ShareAtMost(s.Within, s.Crossings, a.Confidence)
	}
	s.sample(list)
	s.Basis = s.basis(complete)
	switch {
	case s.AtMost < a.Share:
		s.Finding = Exceeded
	case s.Basis == Counted && s.enough(s.Crossings):
		s.Finding = Shown
	case s.Basis == Interval && s.Sections[s.Worst].reachM() <= a.LimitM:
		s.Finding = Shown
	}
	return s
}

// enough reports whether n crossings would show the share, if no more were outside.
func (s *Statement) enough(n int) bool {
	outside := s.Crossings - s.Within
	return ShareAtLeast(n-outside, n, s.Confidence) >= s.Share*(1-1e-12)
}

// basis returns the statement that the crossings allow.
func (s *Statement) basis(complete bool) Basis {
	if s.Crossings >= s.Needed {
		return Counted
	}
	if !complete {
		return Incomplete
	}
	fewest, least := math.MaxInt, 1.0
	for i := range s.Sections {
		fewest = min(fewest, s.Sections[i].Count)
		if !(s.Sections[i].NormalPValue >= least) {
			least = s.Sections[i].NormalPValue // also where it is NaN, as of values all the same
		}
	}
	switch {
	case len(s.Sections) == 0 || fewest < FewestForNormal:
		return TooFew
	case !(float64(least*float64(len(s.Sections))) > shapeLevel):
		return NotNormal
	}
	return Interval
}

// sample fills in the errors of each section.
func (s *Statement) sample(list []Crossing) {
	of := map[int][]float64{}
	for i := range list {
		for _, r := range list[i].Readings {
			of[r.Section] = append(of[r.Section], r.ErrorM)
		}
	}
	factor := map[int]float64{} // by count: sections have as many crossings each, nearly always
	for section, errors := range of {
		n := len(errors)
		if _, ok := factor[n]; !ok {
			factor[n] = Factor(n, s.Share, s.Confidence)
		}
		x := SectionSample{Section: section, Count: n, Factor: factor[n], NormalPValue: NormalPValue(errors)}
		x.MeanM, x.SDM = sample.MeanSD(errors)
		x.LowM, x.HighM = x.MeanM-x.Factor*x.SDM, x.MeanM+x.Factor*x.SDM
		s.Sections = append(s.Sections, x)
	}
	sort.Slice(s.Sections, func(i, j int) bool { return s.Sections[i].Section < s.Sections[j].Section })
	for i := range s.Sections {
		if s.Sections[i].reachM() > s.Sections[s.Worst].reachM() {
			s.Worst = i
		}
	}
}

// More returns how many crossings more would show the share: if they turn out as these
// did (asThese) or, where that would not do or counting is all there is, if all of them
// are within. 0 where it is shown already, or exceeded.
func (s *Statement) More() (n int, asThese bool) {
	if s.Finding != NotShown {
		return 0, false
	}
	n = max(s.Needed, s.Crossings)
	for !s.enough(n) {
		n++
	}
	if s.Basis != Interval {
		return n - s.Crossings, false
	}
	// The narrowest that the interval can become before counting takes its place.
	reach := func(n int) float64 {
		k, most := Factor(n, s.Share, s.Confidence), 0.0
		for i := range s.Sections {
			most = max(most, math.Abs(s.Sections[i].MeanM)+float64(k*s.Sections[i].SDM))
		}
		return most
	}
	lo, hi := s.Crossings, s.Needed-1
	if reach(hi) > s.LimitM {
		return n - s.Crossings, false
	}
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; reach(mid) > s.LimitM {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi - s.Crossings, true
}

// serial returns the correlation of the mean errors of neighbouring crossings, NaN for
// fewer than FewestForNormal.
func serial(list []Crossing) float64 {
	var means []float64
	for i := range list {
		if n := len(list[i].Readings); n > 0 {
			sum := 0.0
			for _, r := range list[i].Readings {
				sum += r.ErrorM
			}
			means = append(means, sum/float64(n))
		}
	}
	if len(means) < FewestForNormal {
		return math.NaN()
	}
	mean, _ := sample.MeanSD(means)
	products, squares := 0.0, 0.0
	for i, x := range means {
		squares += float64((x - mean) * (x - mean))
		if i > 0 {
			products += float64((x - mean) * (means[i-1] - mean))
		}
	}
	return products / squares
}

// Alike reports whether neighbouring crossings resemble each other more than chance
// lets 1 in 20 samples do. Then so many crossings tell less than as many independent
// ones, and the statement is surer than it should be.
func (s *Statement) Alike() bool {
	return s.Serial > 1.645/math.Sqrt(float64(s.Crossings))
}
