// This file turns lines in the text form of candump into the frames that SocketCAN
// takes, and those that it gives into lines.

package port

import (
	"encoding/binary"
	"io"

	"go.einride.tech/can"

	"liftbench/replay/wire"
)

// The layout of a frame in SocketCAN: struct can_frame, 16 bytes in the byte
// order of the processor, and the flags in its identifier (Linux kernel
// documentation, "SocketCAN - Controller Area Network", and linux/can.h).
const (
	canFrameBytes = 16
	canExtended   = 1 << 31 // CAN_EFF_FLAG: the identifier has 29 bits
	canRemote     = 1 << 30 // CAN_RTR_FLAG: the frame asks for data and has none
	canError      = 1 << 29 // CAN_ERR_FLAG: the controller tells an error
)

// appendSocketCAN appends f as SocketCAN takes it: identifier and flags, number
// of data bytes, three bytes that are zero, eight bytes of data.
func appendSocketCAN(b []byte, f *can.Frame) []byte {
	id := f.ID
	if f.IsExtended {
		id |= canExtended
	}
	if f.IsRemote {
		id |= canRemote
	}
	b = binary.NativeEndian.AppendUint32(b, id)
	b = append(b, f.Length, 0, 0, 0)
	return append(b, f.Data[:]...)
}

// frames sends and receives CAN frames; they are written to it and read from it as
// the text of candump, one on each line.
type frames struct {
	io.ReadWriteCloser // a CAN interface: each write is one frame, and so is each read
	name               string
	buf                [canFrameBytes]byte // of Write
	in                 [canFrameBytes]byte // of Read
}

// longestLine is the length of a line of eight bytes without the interface's
// name.
const longestLine = 2 + 2 + 8 + 3 + 3 + 1 + 8*3 + 1

// Read waits for a frame and reads it as a line. It passes over remote and error
// frames, which carry no data.
func (f *frames) Read(b []byte) (int, error) {
	if len(b) < longestLine+len(f.name) {
		return 0, io.ErrShortBuffer
	}
	for {
		n, err := f.ReadWriteCloser.Read(f.in[:])
		if err != nil {
			return 0, err
		}
		id := binary.NativeEndian.Uint32(f.in[:])
		if n != canFrameBytes || id&(canRemote|canError) != 0 || f.in[4] > 8 {
			continue
		}
		return len(appendCandump(b[:0], f.name, id, f.in[8:8+f.in[4]])), nil
	}
}

// appendCandump appends a frame as candump shows it, with the identifier and
// flags of SocketCAN.
func appendCandump(b []byte, name string, id uint32, data []byte) []byte {
	const upperHex = "0123456789ABCDEF"
	b = append(b, "  "...)
	b = append(b, name...)
	b = append(b, "  "...)
	digits := 3
	if id&canExtended != 0 {
		digits = 8
		id &^= canExtended
	}
	for i := digits - 1; i >= 0; i-- {
		b = append(b, upperHex[id>>(4*i)&15])
	}
	b = append(b, "   ["...)
	b = append(b, '0'+byte(len(data)))
	b = append(b, "] "...)
	for _, v := range data {
		b = append(b, ' ', upperHex[v>>4], upperHex[v&15])
	}
	return append(b, '\n')
}

func (f *frames) Write(text []byte) (int, error) {
	for rest := text; len(rest) > 0; {
		n := 0
		for n < len(rest) && rest[n] != '\n' {
			n++
		}
		_, frame, err := wire.ParseCandump(rest[:n])
		if err != nil {
			return 0, err
		}
		if _, err := f.ReadWriteCloser.Write(appendSocketCAN(f.buf[:0], &frame)); err != nil {
			return 0, err
		}
		rest = rest[min(n+1, len(rest)):]
	}
	return len(text), nil
}
