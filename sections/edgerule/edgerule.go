// Package edgerule says how much of a section has to be inside for it to work.
package edgerule

import "liftbench/sections/enum"

// Rule says which part of a section decides at a slanting border.
type Rule uint8

const (
	CropFirst Rule = iota // lift when the first part would leave, drop when all is inside
	WeedFirst             // lift when the last part leaves, drop when the first part enters
	Even                  // half the section
)

var names = []string{CropFirst: "crop-first", WeedFirst: "weed-first", Even: "even"}

// String returns the name that files and messages use: crop-first, weed-first or even.
func (r Rule) String() string { return enum.Name(names, r) }

// MarshalText returns the same name, or an error for a value that has none.
func (r Rule) MarshalText() ([]byte, error) { return enum.Text(names, r) }

// UnmarshalText sets r to the value of that name.
func (r *Rule) UnmarshalText(text []byte) error { return enum.Set(r, names, text) }

// InWork reports whether a section of which share (0 to 1) lies inside the
// zone is to be in work. A part of it up to slack (0 to 1) decides nothing.
func (r Rule) InWork(share, slack float64) bool {
	least := r.least(slack)
	return share > least || r != WeedFirst && share >= least
}

// least is the share from which on, or with WeedFirst beyond which, a section is to
// be in work.
func (r Rule) least(slack float64) float64 {
	slack = max(min(slack, 0.5), shareEpsilon)
	switch r {
	case CropFirst:
		return 1 - slack
	case WeedFirst:
		return slack
	}
	return 0.5
}

// Sure reports whether share is past the share that decides, on the side where a
// section ought to be in work (on) or up (not on), by a margin of graze. The margin
// is at most half the distance from the deciding share to 0 or 1. All are shares of
// the section's width. A section that turns back before it is sure has only grazed
// the border, and neither lifts nor drops for it.
func (r Rule) Sure(on bool, share, slack, graze float64) bool {
	least := r.least(slack)
	if on {
		return share >= least+min(graze, (1-least)/2)
	}
	return share <= least-min(graze, least/2)
}

// shareEpsilon absorbs rounding where a section lies on a border: a millionth
// of a section's width.
const shareEpsilon = 1e-6
