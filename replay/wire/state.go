// This file defines condensed work states, which the compact line and the CAN
// frames hold.

package wire

import "liftbench/sections"

// PerWord is how many sections one 32-bit word holds, with two bits for each.
const PerWord = 16

// WorkState is the two bits of one section in a condensed work state (ISO
// 11783-11, from memory).
type WorkState uint8

const (
	Off      WorkState = iota // 00: up
	On                        // 01: in work
	Error                     // 10
	NoAction                  // 11: in a setpoint no action, in a state not installed
)

// State holds the setpoints of all sections from DueNs on. Sections are counted
// from the left in the driving direction; the leftmost has the lowest two bits of
// the first word. In ISO 11783-11 the first word has DDI 290, for sections 1 to
// 16, the second 291, for sections 17 to 32, and so on up to 305. The bits beyond
// the last section are 11.
type State struct {
	Seq      uint32 // from 0, one more for each line; wraps around
	DueNs    int64  // UTC, ns since 1970
	Sections int    // 1 to sections.MaxSections
	Words    [sections.MaxSections / PerWord]uint32
}

// NewState returns the State of n sections (1 to sections.MaxSections), all Off.
func NewState(n int) State {
	s := State{Sections: n}
	for i := range s.Words {
		s.Words[i] = s.unused(i)
	}
	return s
}

// unused returns word i with 11 for each place beyond the last section and 00 for
// each section.
func (s *State) unused(i int) uint32 {
	used := s.Sections - i*PerWord
	if used >= PerWord {
		return 0
	}
	return ^uint32(0) << (2 * max(used, 0))
}

// words returns how many words n sections need.
func words(n int) int { return (n + PerWord - 1) / PerWord }

// Set sets section i, counted from 0, to On or Off.
func (s *State) Set(i int, on bool) {
	v := Off
	if on {
		v = On
	}
	shift := 2 * (i % PerWord)
	w := &s.Words[i/PerWord]
	*w = *w&^(3<<shift) | uint32(v)<<shift
}

// At returns the two bits of section i, counted from 0.
func (s *State) At(i int) WorkState {
	return WorkState(s.Words[i/PerWord] >> (2 * (i % PerWord)) & 3)
}

// On reports whether section i, counted from 0, is to be in work.
func (s *State) On(i int) bool { return s.At(i) == On }
