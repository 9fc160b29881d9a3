// This file writes setpoints as CAN frames with ISO 11783 process data, and reads
// and writes such frames in the text form of candump.

package wire

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"

	"go.einride.tech/can"
)

// The parts of a frame (ISO 11783-10 and -11, ISO 11783-3; all from memory). The
// identifier is 0x0CCBddss: priority 3, the parameter group number (PGN) 0xCB00
// of process data, the destination address dd and the source address ss.
const (
	priority       = 3
	processDataPGN = 0xCB00
	toAll          = 0xFF // destination: every device on the bus
	fromControl    = 0xF7 // source: the preferred address of a task controller
	// FrameID is the identifier of every frame sent.
	FrameID = priority<<26 | processDataPGN<<8 | toAll<<8 | fromControl

	commandValue = 3   // low nibble of the first byte: the frame sets a value
	element      = 0   // device element number, twelve bits: 0 is the device itself
	firstDDI     = 290 // data dictionary identifier: setpoint condensed work state of sections 1 to 16
)

// ErrFrame is wrapped by the errors of AddFrame and ParseCandump.
var ErrFrame = errors.New("not a frame of setpoint work states")

// Frame returns the frame with the setpoints of sections 16·word+1 to
// 16·word+16. Its eight bytes are the command nibble with the element number,
// DDI 290 + word, and the 32-bit word; low bytes come first.
func (s *State) Frame(word int) can.Frame {
	f := can.Frame{ID: FrameID, Length: 8, IsExtended: true}
	f.Data[0] = element<<4&0xF0 | commandValue
	f.Data[1] = element >> 4
	binary.LittleEndian.PutUint16(f.Data[2:], uint16(firstDDI+word))
	binary.LittleEndian.PutUint32(f.Data[4:], s.Words[word])
	return f
}

// Frames returns how many frames the state needs.
func (s *State) Frames() int { return words(s.Sections) }

// AddFrame copies the word in a frame into s. It ignores the frame's source and
// destination addresses. Its errors wrap ErrFrame.
func (s *State) AddFrame(f can.Frame) error {
	if !f.IsExtended || f.IsRemote || f.Length != 8 || f.ID>>8&0x3FF00 != processDataPGN {
		return fmt.Errorf("%w: %s; expected an extended data frame of PGN 0xCB00 with 8 bytes", ErrFrame, f)
	}
	if c := f.Data[0] & 0x0F; c != commandValue {
		return fmt.Errorf("%w: command %d; expected %d, value", ErrFrame, c, commandValue)
	}
	ddi := int(binary.LittleEndian.Uint16(f.Data[2:]))
	if ddi < firstDDI || ddi >= firstDDI+len(s.Words) {
		return fmt.Errorf("%w: DDI %d; expected %d to %d", ErrFrame, ddi, firstDDI, firstDDI+len(s.Words)-1)
	}
	s.Words[ddi-firstDDI] = binary.LittleEndian.Uint32(f.Data[4:])
	return nil
}

// AppendCandump appends the frames of s in the text form of candump, one on each
// line. ifname is the name of the CAN interface:
//
//	can0  0CCBFFF7   [8]  03 00 22 01 55 55 00 00
func AppendCandump(b []byte, ifname string, s *State) []byte {
	for w := range s.Frames() {
		f := s.Frame(w)
		b = append(b, "  "...)
		b = append(b, ifname...)
		b = append(b, "  "...)
		b = appendHex(b, f.ID, 8)
		b = append(b, "   [8] "...)
		for _, v := range f.Data {
			b = append(b, ' ')
			b = appendHex(b, uint32(v), 2)
		}
		b = append(b, '\n')
	}
	return b
}

// ParseCandump parses one line of candump that holds an extended data frame. Its
// errors wrap ErrFrame.
func ParseCandump(line []byte) (ifname string, f can.Frame, err error) {
	var fields [12][]byte
	n := split(trimLineEnd(line), &fields)
	if n < 3 || n > 11 || bytes.IndexByte(fields[0], '\n') >= 0 {
		return "", f, fmt.Errorf("%w: %q; expected one line of interface, identifier, [length] and the bytes", ErrFrame, line)
	}
	id, ok := parseHex(fields[1])
	if !ok || len(fields[1]) != 8 || id > can.MaxExtendedID {
		return "", f, fmt.Errorf("%w: identifier %q; expected eight hexadecimal digits up to 1FFFFFFF", ErrFrame, fields[1])
	}
	if l := fields[2]; len(l) != 3 || l[0] != '[' || l[2] != ']' || int(l[1]-'0') != n-3 {
		return "", f, fmt.Errorf("%w: length %q before %d bytes; expected [%d]", ErrFrame, l, n-3, n-3)
	}
	f = can.Frame{ID: id, Length: uint8(n - 3), IsExtended: true}
	for i, t := range fields[3:n] {
		v, ok := parseHex(t)
		if !ok || len(t) != 2 {
			return "", can.Frame{}, fmt.Errorf("%w: byte %q; expected two hexadecimal digits", ErrFrame, t)
		}
		f.Data[i] = byte(v)
	}
	return string(fields[0]), f, nil
}

// split splits b at blanks into fields and returns their number; it ignores any
// beyond the length of fields.
func split(b []byte, fields *[12][]byte) (n int) {
	start := -1
	for i := 0; i <= len(b); i++ {
		blank := i == len(b) || b[i] == ' '
		switch {
		case !blank && start < 0:
			start = i
		case blank && start >= 0:
			if n == len(fields) {
				return n
			}
			fields[n] = b[start:i]
			n++
			start = -1
		}
	}
	return n
}
