package sections

// Reason says why a setpoint was given.
type Reason uint8

const (
	AtBorder   Reason = iota // the edge rule at a zone's border
	LostFix                  // no fix for longer than allowed
	LowQuality               // quality below the set minimum for longer than allowed
	Reversed                 // reversing with tools in work
	HeldUp                   // held up by the operator
	HeldDown                 // held in work by the operator
)

// Setpoint is one command to one section: ISO 11783-11 DDI 289, 0 = off
// (lift), 1 = on (drop). It takes effect at the valve at DueNs.
type Setpoint struct {
	DueNs   int64 // UTC, ns since 1970
	Section int16 // index from 0; printed from 1
	On      bool
	Reason  Reason
}

// EdgeRule says which part of a section decides at a slanting border.
type EdgeRule uint8

const (
	CropFirst EdgeRule = iota // lift when the first part would leave, drop when all is inside
	WeedFirst                 // lift when the last part leaves, drop when the first part enters
	Even                      // half the section
)

// InWork reports whether a section of which share (0 to 1) lies inside the
// zone is to be in work. A part of it up to slack (0 to 1) decides nothing.
func (r EdgeRule) InWork(share, slack float64) bool {
	slack = max(min(slack, 0.5), shareEpsilon)
	switch r {
	case CropFirst:
		return share >= 1-slack
	case WeedFirst:
		return share > slack
	}
	return share >= 0.5
}

// shareEpsilon absorbs rounding where a section lies on a border: a millionth
// of a section's width.
const shareEpsilon = 1e-6

// WorkChange is one change of a section's actual work state, ISO 11783-11
// DDI 141: the tool went into work (On) or out of it at TimeNs.
type WorkChange struct {
	TimeNs  int64 // UTC, ns since 1970
	Section int16 // index from 0; printed from 1
	On      bool
}
