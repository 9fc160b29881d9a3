// How much of a section has to be inside for it to work.

package sections

import "liftbench/sections/enum"

// EdgeRule says which part of a section decides at a slanting border.
type EdgeRule uint8

const (
	CropFirst EdgeRule = iota // lift when the first part would leave, drop when all is inside
	WeedFirst                 // lift when the last part leaves, drop when the first part enters
	Even                      // half the section
)

var edgeRuleNames = []string{CropFirst: "crop-first", WeedFirst: "weed-first", Even: "even"}

// String returns the name that files and messages use: crop-first, weed-first or even.
func (r EdgeRule) String() string { return enum.Name(edgeRuleNames, r) }

// MarshalText returns the same name, or an error for a value that has none.
func (r EdgeRule) MarshalText() ([]byte, error) { return enum.Text(edgeRuleNames, r) }

// UnmarshalText sets r to the value of that name.
func (r *EdgeRule) UnmarshalText(text []byte) error { return enum.Set(r, edgeRuleNames, text) }

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
