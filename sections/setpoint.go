// What the controller commands, and what the tools then do.

package sections

import "liftbench/sections/enum"

// Reason says why a setpoint was given.
type Reason uint8

const (
	AtBorder   Reason = iota // the edge rule at a zone's border
	LostFix                  // no fix for longer than allowed
	LowQuality               // quality below the set minimum for longer than allowed
	Reversed                 // reversing with tools in work
	HeldUp                   // held up by the operator
	HeldDown                 // held in work by the operator
	FrozenFix                // position in contradiction to speed and course for longer than allowed
)

var reasonNames = []string{AtBorder: "border", LostFix: "lost-fix", LowQuality: "low-quality", Reversed: "reversed", HeldUp: "held-up", HeldDown: "held-down", FrozenFix: "frozen-fix"}

// String returns the name that files and messages use: border, lost-fix, low-quality, reversed, held-up, held-down or
// frozen-fix.
func (r Reason) String() string { return enum.Name(reasonNames, r) }

// MarshalText returns the same name, or an error for a value that has none.
func (r Reason) MarshalText() ([]byte, error) { return enum.Text(reasonNames, r) }

// UnmarshalText sets r to the value of that name.
func (r *Reason) UnmarshalText(text []byte) error { return enum.Set(r, reasonNames, text) }

// Setpoint is one command to one section: ISO 11783-11 DDI 289, 0 = off
// (lift), 1 = on (drop). It takes effect at the valve at DueNs.
type Setpoint struct {
	DueNs   int64 // UTC, ns since 1970
	Section int16 // index from 0; printed from 1
	On      bool
	Reason  Reason
}

// WorkChange is one change of a section's actual work state, ISO 11783-11
// DDI 141: the tool went into work (On) or out of it at TimeNs.
type WorkChange struct {
	TimeNs  int64 // UTC, ns since 1970
	Section int16 // index from 0; printed from 1
	On      bool
}
