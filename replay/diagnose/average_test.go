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
