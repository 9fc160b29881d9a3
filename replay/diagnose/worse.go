// Poor reception: whether crossings just after old, less accurate or missing fixes are
// further off than the others.

package diagnose

import (
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
)

const (
	leastPoor = 3
	leastGood = 5
)

// worseReception compares the residuals of crossings with poor reception, in s without
// their signs, with those of the others. It returns by how much they are larger, nil if
// they are not.
func worseReception(bad, good []float64) *found {
	if len(bad) < leastPoor || len(good) < leastGood {
		return nil
	}
	more, usual, ci, p := regress.Larger(bad, good, 1e-3)
	if !(more > 0 && p < regress.Alpha) || more < evidence.LeastS || more < usual/2 {
		return nil
	}
	return &found{term: term{cause: PoorReception, leastSize: evidence.LeastS}, size: more, ci: ci, crossings: len(bad)}
}
