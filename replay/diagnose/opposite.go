// What a wrong lead on file may hide on one of two legs.

package diagnose

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/cause"
	"liftbench/replay/diagnose/evidence"
	"liftbench/replay/diagnose/regress"
	"liftbench/replay/diagnose/terms"
)

// orFileLead returns the doubts of what is found on one of two legs where the other one may
// hide as much of the opposite sign: both together would be a wrong lead on file. The
// commands are known no better than unsureS.
func orFileLead(list []found, legs []*analysis, unsureS float64) (doubts []Doubt) {
	if len(legs) != 2 {
		return nil
	}
	other := map[Cause]struct {
		leg  *analysis
		name Cause
	}{CommandTiming: {legs[1], MachineSlow}, MachineSlow: {legs[0], CommandTiming}}
	for i := range list {
		f := &list[i]
		o, ok := other[f.Cause]
		if !ok || f.Moves == evidence.Both || !o.leg.mayHide(o.name, f.Moves, -f.Size, math.Hypot((f.CI95[1]-f.CI95[0])/2, unsureS)) {
			continue
		}
		q := Doubt{Between: []Cause{f.Cause, FileLead}}
		q.Why, q.Drive = cause.OrFileLead(f.Cause, f.Moves, f.Size)
		doubts = append(doubts, q)
	}
	return doubts
}

// mayHide reports whether a cause of a size, known to half, may be there beside what was
// chosen, or is what was chosen and not told from other causes.
func (a *analysis) mayHide(c Cause, of evidence.Kind, size, half float64) bool {
	q := slices.IndexFunc(a.terms, func(t terms.Term) bool { return t.Cause == c && t.Moves == of })
	if q < 0 || !slices.Contains(a.chosen.Set, q) && slices.ContainsFunc(a.chosen.Set, func(p int) bool { return a.terms[p].Cause == c }) {
		return false
	}
	set := append(slices.DeleteFunc(slices.Clone(a.chosen.Set), func(p int) bool { return p == q }), q)
	f, ok := a.gram().Fit(set...)
	if !ok {
		return true
	}
	i := len(f.Beta) - 1
	return math.Abs(f.Beta[i]-size) < math.Hypot(regress.Quantile(mistakenlyApart, f.DF)*f.SE(i), half)
}
