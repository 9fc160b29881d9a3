// Sizes that are averaged over the choice of causes.

package diagnose

import (
	"testing"
)

// A weak cause that is not sure enough to be named is in the interval of the one
// that is.
func TestWeakSecondCause(t *testing.T) {
	inside := 0
	const drives = 40
	for seed := range uint64(drives) {
		s := clearDay(seed)
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
		{Interval{0.1, 0.1182}, 1, 2, 3},
		{Interval{0.1, 0.1202}, 1, 2, 2},
	} {
		if got := c.ci.Decimals(c.unit, c.atLeast); got != c.want {
			t.Errorf("%v in %g: %d decimals; want %d", c.ci, c.unit, got, c.want)
		}
	}
}
