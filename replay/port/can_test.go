package port

import (
	"bytes"
	"context"
	"io"
	"net"
	"testing"

	"go.einride.tech/can/pkg/socketcan"
	"pgregory.net/rapid"

	"go.einride.tech/can"

	"liftbench/replay/trace"
	"liftbench/replay/wire"
)

// Frames leave as go.einride.tech/can, which shares nothing with this package,
// sends them.
func TestSocketCANFrames(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		frame := can.Frame{
			ID: rapid.Uint32Max(1<<29-1).Draw(t, "id"), IsExtended: true,
			IsRemote: rapid.Bool().Draw(t, "remote"), Length: uint8(rapid.IntRange(0, 8).Draw(t, "length")),
		}
		if rapid.Bool().Draw(t, "standard") {
			frame.ID, frame.IsExtended = frame.ID&0x7FF, false
		}
		copy(frame.Data[:frame.Length], rapid.SliceOfN(rapid.Byte(), 8, 8).Draw(t, "data"))
		if got, want := appendSocketCAN(nil, &frame), sentByPeer(t, frame); !bytes.Equal(got, want) {
			t.Fatalf("% x; the other library sends % x", got, want)
		}
	})
}

// Frames that go.einride.tech/can sends are read as lines that package trace, which
// reads candump's own, takes for the same frames. Frames without data are passed
// over.
func TestFramesRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var sent []can.Frame
		var raw []byte
		for range rapid.IntRange(1, 5).Draw(t, "frames") {
			frame := can.Frame{ID: rapid.Uint32Max(1<<29-1).Draw(t, "id"), IsExtended: true, Length: uint8(rapid.IntRange(0, 8).Draw(t, "length"))}
			if rapid.Bool().Draw(t, "standard") {
				frame.ID, frame.IsExtended = frame.ID&0x7FF, false
			}
			copy(frame.Data[:frame.Length], rapid.SliceOfN(rapid.Byte(), 8, 8).Draw(t, "data"))
			remote := can.Frame{ID: 1, IsRemote: true, Length: 8}
			raw = append(append(raw, sentByPeer(t, remote)...), sentByPeer(t, frame)...)
			sent = append(sent, frame)
		}
		f := frames{ReadWriteCloser: &given{Reader: bytes.NewReader(raw)}, name: "can1"}
		buf := make([]byte, 100)
		for i, want := range sent {
			n, err := f.Read(buf)
			if err != nil {
				t.Fatal(err)
			}
			var got trace.Frame
			name, ok := trace.ParseCandump(bytes.TrimSuffix(buf[:n], []byte("\n")), &got)
			if !ok || string(name) != "can1" || got.Frame != want {
				t.Fatalf("frame %d is read as %q; sent %v", i, buf[:n], want)
			}
		}
		if n, err := f.Read(buf); n != 0 || err != io.EOF {
			t.Fatalf("%d bytes, %v; expected the end", n, err)
		}
	})
}

// given gives what it holds.
type given struct {
	io.Reader
	io.WriteCloser
}

// sentByPeer returns the bytes that the reference library writes for a frame.
func sentByPeer(t *rapid.T, frame can.Frame) []byte {
	here, there := net.Pipe()
	defer there.Close()
	go func() {
		_ = socketcan.NewTransmitter(here).TransmitFrame(context.Background(), frame)
		here.Close()
	}()
	b, err := io.ReadAll(there)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Each line of candump's text is one write to the interface, since SocketCAN
// takes one frame a write.
func TestOneFrameAWrite(t *testing.T) {
	s := wire.NewState(40) // three words of 16 sections
	s.Set(0, true)
	s.Set(39, true)
	var bus wires
	f := frames{ReadWriteCloser: &bus}
	text := wire.AppendCandump(nil, "can0", &s)
	if n, err := f.Write(text); n != len(text) || err != nil {
		t.Fatalf("Write: %d, %v", n, err)
	}
	if len(bus.writes) != s.Frames() {
		t.Fatalf("%d writes; expected %d", len(bus.writes), s.Frames())
	}
	for w, got := range bus.writes {
		frame := s.Frame(w)
		if want := appendSocketCAN(nil, &frame); !bytes.Equal(got, want) {
			t.Errorf("write %d: % x; expected % x", w, got, want)
		}
	}
}

// wires records what is written to it, write by write.
type wires struct {
	io.ReadCloser
	writes [][]byte
}

func (w *wires) Write(b []byte) (int, error) {
	w.writes = append(w.writes, bytes.Clone(b))
	return len(b), nil
}
