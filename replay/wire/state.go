// Condensed work states: what the compact line and the CAN frames carry.

package wire

import "liftbench/sections"

// PerWord is how many sections one 32-bit word holds, two bits each.
const PerWord = 16

// WorkState is the two bits of one section, as ISO 11783-11 gives them for the
// condensed work states (from memory).
type WorkState uint8

const (
	Off      WorkState = iota // 00: up
	On                        // 01: in work
	Error                     // 10
	NoAction                  // 11: not installed; as a setpoint: no action
)

// State is the setpoints of all sections from DueNs on. Sections are numbered
// from the left in the driving direction; the leftmost has the lowest bits of
// the first word (ISO 11783-11 DDI 290 for sections 1 to 16, 291 for 17 to 32,
// up to 305). Bits beyond the last section are 11.
type State struct {
	Seq      uint32 // counts up by one a line, from 0; wraps
	DueNs    int64  // UTC, ns since 1970
	Sections int    // 1 to sections.MaxSections
	Words    [sections.MaxSections / PerWord]uint32
}

// NewState returns n sections (1 to sections.MaxSections), all off.
func NewState(n int) State {
	s := State{Sections: n}
	for i := range s.Words {
		s.Words[i] = s.unused(i)
	}
	return s
}

// unused returns word i with 11 in every place beyond the last section, 0
// elsewhere.
func (s *State) unused(i int) uint32 {
	used := s.Sections - i*PerWord
	if used >= PerWord {
		return 0
	}
	return ^uint32(0) << (2 * max(used, 0))
}

// words is how many words n sections take.
func words(n int) int { return (n + PerWord - 1) / PerWord }

// Set sets section i, from 0.
func (s *State) Set(i int, on bool) {
	v := Off
	if on {
		v = On
	}
	shift := 2 * (i % PerWord)
	w := &s.Words[i/PerWord]
	*w = *w&^(3<<shift) | uint32(v)<<shift
}

// At returns the two bits of section i, from 0.
func (s *State) At(i int) WorkState {
	return WorkState(s.Words[i/PerWord] >> (2 * (i % PerWord)) & 3)
}

// On reports whether section i, from 0, is to be in work.
func (s *State) On(i int) bool { return s.At(i) == On }
