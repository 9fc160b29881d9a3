// The grid on which recorded times lie: states that are polled, or times that are rounded.

package clock

import (
	"math"
	"slices"
)

// Kind says how times came onto a grid.
type Kind uint8

const (
	NoGrid  Kind = iota
	Sampled      // a change is seen at the next sample: half a step late on average
	Rounded      // to the nearest step: not late
	Polled       // a change lies within an interval that is known of each: half of it late on average
)

// String is as it stands in diagnosis.json.
func (k Kind) String() string { return [...]string{"none", "sampled", "rounded", "polled"}[k] }

// MarshalText is String.
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// Grid is the grid of a list of times: their differences are multiples of StepNs. The
// zero value is no grid.
type Grid struct {
	StepNs  int64
	Kind    Kind
	PhaseNs int64 // of the times above multiples of StepNs since 1970
	// Guessed is true if the Kind is the one that leaves changes the less late: then a
	// lateness of half a step is none.
	Guessed bool
}

// StepS is the step in s.
func (g *Grid) StepS() float64 { return float64(g.StepNs) * 1e-9 }

// UnsureS is by how much all times may be later or earlier than the kind says, s.
func (g *Grid) UnsureS() float64 {
	if g.Guessed {
		return g.StepS() / 2
	}
	return 0
}

// BiasS is by how much recorded times are late on average, s.
func (g *Grid) BiasS() float64 {
	if g.Kind == Sampled {
		return g.StepS() / 2
	}
	return 0
}

// ScatterS is the standard deviation that the grid gives to a time, s: that of an even
// distribution over one step, q/√12.
func (g *Grid) ScatterS() float64 { return g.StepS() / math.Sqrt(12) }

// onlySampled reports whether nothing but a poll makes this grid: times that are rounded
// lie on whole multiples of their step.
func (g *Grid) onlySampled() bool {
	return min(g.PhaseNs, g.StepNs-g.PhaseNs) > g.StepNs/50
}

const (
	// leastTimes is the fewest different times from which a grid is told, and onGrid the
	// share of them that must lie on it: polls may be late now and then.
	leastTimes = 20
	onGrid     = 0.95
	// A time may be this share of a step from the grid, and no further than mostOffNs; of
	// times that lie on no grid a tenth is as near as the first.
	nearGrid  = 0.05
	mostOffNs = 10e6
	// widestNs is the widest grid: no terminal polls more rarely (states are polled at 0.1
	// to 1 s; common practice, no source). Times on a wider one are of a schedule.
	widestNs = 2e9
)

// steps are the steps that are looked for, the widest first, in ms.
var steps = [...]int64{60_000, 45_000, 30_000, 15_000, 10_000, 5000, 4000, 3000, 2500, 2000, 1500, 1000, 800, 750, 600, 500, 400, 300, 250, 200, 150, 125, 120, 100, 80, 75, 60, 50, 40, 30, 25, 20, 15, 12, 10}

// GridOf returns the widest grid on which the times lie; its Kind is Sampled where nothing
// else makes such a grid, otherwise NoGrid until more is known.
func GridOf(timesNs []int64) Grid {
	times := slices.Compact(slices.Sorted(slices.Values(timesNs)))
	if len(times) < leastTimes {
		return Grid{}
	}
	for _, ms := range steps {
		q := ms * 1e6
		if phase, share := phaseOf(times, q); share >= onGrid {
			if q > widestNs {
				return Grid{}
			}
			g := Grid{StepNs: q, PhaseNs: phase}
			if g.onlySampled() {
				g.Kind = Sampled
			}
			return g
		}
	}
	return Grid{}
}

// phaseOf returns the direction of the mean of the times around a step, and the share of
// times that lie near it.
func phaseOf(times []int64, q int64) (phaseNs int64, share float64) {
	var sin, cos float64
	for _, t := range times {
		s, c := math.Sincos(2 * math.Pi * float64(t%q) / float64(q))
		sin, cos = sin+s, cos+c
	}
	phase := math.Atan2(sin, cos) / (2 * math.Pi)
	if phase < 0 {
		phase++
	}
	phaseNs = int64(math.Round(phase*float64(q))) % q
	near, most := 0, min(nearGrid*float64(q), mostOffNs)
	for _, t := range times {
		off := ((t-phaseNs)%q + q) % q
		if float64(min(off, q-off)) <= most {
			near++
		}
	}
	return phaseNs, float64(near) / float64(len(times))
}
