// Sizes that are averaged over the choice of causes.

package diagnose

import (
	"math"
	"testing"
)

// Choices that agree are one; choices that do not widen the interval as far as
// they are likely.
func TestAveraged(t *testing.T) {
	one := guess{size: 0.3, se: 0.01, df: 1000, weight: 1}
	if got := averaged([]guess{one}, 1, 0.975) - 0.3; math.Abs(got-0.0196) > 1e-4 {
		t.Errorf("half width %g; want Student's t times the standard error", got)
	}
	if got := averaged([]guess{one}, 2, 0.975) - 0.3; math.Abs(got-0.0392) > 1e-4 {
		t.Errorf("half width %g; want it twice as wide", got)
	}
	half := func(weight, size float64) []guess {
		return []guess{{0.3, 0.01, 1000, 1 - weight}, {size, 0.01, 1000, weight}}
	}
	if a, b := averaged(half(0.2, 0.3), 1, 0.025), averaged([]guess{one}, 1, 0.025); math.Abs(a-b) > 1e-9 {
		t.Errorf("two that agree give %g; want %g", a, b)
	}
	for _, c := range []struct{ weight, below, above float64 }{{0.5, 0.1, 0.3}, {0.2, 0.1, 0.3}, {0.001, 0.28, 0.3}} {
		lo, hi := averaged(half(c.weight, 0.1), 1, 0.025), averaged(half(c.weight, 0.1), 1, 0.975)
		if math.Abs(lo-c.below) > 0.03 || math.Abs(hi-c.above) > 0.03 {
			t.Errorf("another choice of weight %g: %g to %g; want %g to %g", c.weight, lo, hi, c.below, c.above)
		}
	}
}

// A weak cause that is not sure enough to be named is in the interval of the one
// that is.
func TestWeakSecondCause(t *testing.T) {
	inside := 0
	const drives = 40
	for seed := range uint64(drives) {
		s := usual(seed)
		s.spreadKmh, s.transitions = 2, 60
		d, err := Run(closedForm(s, fault{latencyS: 0.3, liftM: 0.03}))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range d.Causes {
			if f.Cause == Latency && f.CI95[0] <= 0.3 && f.CI95[1] >= 0.3 {
				inside++
			}
		}
	}
	if inside < drives*7/10 { // one fit alone: 15
		t.Errorf("the latency is inside its interval in %d of %d drives", inside, drives)
	}
}

func TestDecimals(t *testing.T) {
	for _, c := range []struct {
		ci      Interval
		unit    float64
		atLeast int
		want    int
	}{
		{Interval{0.17, 0.19}, 1e-3, 0, 0},
		{Interval{0.1798, 0.1802}, 1e-3, 0, 1},
		{Interval{0.297, 0.301}, 1e-2, 0, 1},
		{Interval{0.297, 0.301}, 1e-2, 1, 1},
		{Interval{0.18, 0.18}, 1e-3, 0, mostDecimals},
	} {
		if got := c.ci.Decimals(c.unit, c.atLeast); got != c.want {
			t.Errorf("%v in %g: %d decimals; want %d", c.ci, c.unit, got, c.want)
		}
	}
}
