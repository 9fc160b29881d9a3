// Lifts, drops or both, and how little of an error matters.

package evidence

// Kind is the kind of transition that a cause makes late.
type Kind uint8

const (
	Both Kind = iota
	Lifts
	Drops
)

// Applies is 1 for a transition of this kind, otherwise 0. on is into work.
func (k Kind) Applies(on bool) float64 {
	if k == Lifts && on || k == Drops && !on {
		return 0
	}
	return 1
}

// Name is lift, drop, or empty for both.
func (k Kind) Name() string { return [...]string{"", "lift", "drop"}[k] }

// Nothing smaller than this is called a cause, however sure it is. A valve does not
// repeat to 10 ms (common practice, no source). RTK repeats to 1.43 cm, one standard
// deviation, from row to row (Carballido et al. 2014, Appl. Eng. Agric. 30(3):361-366);
// part of that stays for hours, so many crossings do not average it out: hence 2 cm.
const (
	LeastS = 0.010
	LeastM = 0.020
)
