// This file turns setpoints in the text form of candump into the frames that
// SocketCAN takes.

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

// frames sends CAN frames; they are written to it as the text of candump, one on
// each line.
type frames struct {
	io.ReadWriteCloser // a CAN interface: each write is one frame
	buf                [canFrameBytes]byte
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
