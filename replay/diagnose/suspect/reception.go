// Crossings with poor reception.

package suspect

import (
	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/terms"
)

// WorseReception compares the residuals of crossings with poor reception, in s without
// their signs, with those of the others; nil if they are not worse.
func WorseReception(bad, good []float64) *Suspect {
	size, ci, ok := regress.Worse(bad, good, evidence.LeastS)
	if !ok {
		return nil
	}
	return &Suspect{Term: terms.Term{Cause: cause.PoorReception, LeastSize: evidence.LeastS}, Size: size, CI95: ci, Crossings: len(bad)}
}
