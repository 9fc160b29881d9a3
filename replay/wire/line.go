// The compact line: the state of all sections that holds from an instant on.

package wire

import (
	"errors"

	"liftbench/sections"
)

// State is the setpoints of all sections from DueNs on: what the compact line
// and the CAN frames carry.
type State struct {
	Seq      uint32 // counts up by one a line, from 0; wraps
	DueNs    int64  // UTC, ns since 1970; on the line in whole microseconds, rounded down
	Sections int    // 1 to sections.MaxSections
	Words    [sections.MaxSections / 16]uint32
}

// Set sets section i, from 0.
func (s *State) Set(i int, on bool) {}

// On reports whether section i, from 0, is on.
func (s *State) On(i int) bool { return false }

// AppendLine appends the line with CR LF:
//
//	$PLBS,seq,sections,due,word,word...*hh
func AppendLine(b []byte, s *State) []byte { return b }

// ParseLine reads a line, as nmea.Scanner frames it or with its line end.
func ParseLine(line []byte, s *State) error { return errors.New("wire: not built yet") }
