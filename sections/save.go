// Saving and restoring a controller's state, for a restart in mid-field or a
// repeatable test from any point of a drive.

package sections

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
)

// ErrState is what Restore wraps when the bytes are not a saved state of a
// controller for this machine.
var ErrState = errors.New("not a saved state of this machine's controller")

// savedVersion changes whenever state or sectionState does.
const savedVersion = 11

// StateVersion is the semantic version of what AppendState gives: major, Restore refuses earlier
// states; minor, it takes them; patch, the bytes mean the same, but other decisions follow.
const StateVersion = "11.0.0"

// AppendState appends the whole changing state to b: what AppendBrief gives, and after
// it what AppendWorked does.
func (c *Controller) AppendState(b []byte) []byte { return c.AppendWorked(c.AppendBrief(b)) }

// AppendBrief appends all but worked ground: little-endian, a fixed number of bytes for a
// number of sections. With what AppendWorked gave then or earlier it is a state again.
func (c *Controller) AppendBrief(b []byte) []byte {
	b = binary.LittleEndian.AppendUint32(b, savedVersion)
	b = binary.LittleEndian.AppendUint32(b, uint32(len(c.section)))
	// Append fails only on types without a fixed size; there are none.
	b, _ = binary.Append(b, binary.LittleEndian, &c.s)
	b, _ = binary.Append(b, binary.LittleEndian, c.section)
	return b
}

// AppendWorked appends what is known of worked ground, at most 80 bytes for each row
// that was worked; nothing where none is left alone.
func (c *Controller) AppendWorked(b []byte) []byte {
	if c.worked != nil {
		b = c.worked.Append(b)
	}
	return b
}

// Restore loads what AppendState gave, on a controller of the same machine,
// field and settings. On an error, which wraps ErrState, nothing is changed.
func (c *Controller) Restore(b []byte) error {
	if len(b) < 8 {
		return fmt.Errorf("%w: %d bytes", ErrState, len(b))
	}
	version, n := binary.LittleEndian.Uint32(b), binary.LittleEndian.Uint32(b[4:])
	if version != savedVersion {
		return fmt.Errorf("%w: version %d; expected %d", ErrState, version, savedVersion)
	}
	if int64(n) != int64(len(c.section)) {
		return fmt.Errorf("%w: %d sections; the machine has %d", ErrState, n, len(c.section))
	}
	s, section := c.s, make([]sectionState, n)
	r := bytes.NewReader(b[8:])
	if err := errors.Join(binary.Read(r, binary.LittleEndian, &s), binary.Read(r, binary.LittleEndian, section)); err != nil {
		return fmt.Errorf("%w: %w", ErrState, err)
	}
	if c.worked != nil {
		record, err := c.worked.Restored(b[len(b)-r.Len():])
		if err != nil {
			return fmt.Errorf("%w: %w", ErrState, err)
		}
		c.worked = record
	} else if r.Len() != 0 {
		return fmt.Errorf("%w: %d bytes too many", ErrState, r.Len())
	}
	c.s = s
	copy(c.section, section)
	return nil
}
