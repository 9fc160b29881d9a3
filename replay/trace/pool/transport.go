// This file puts long messages together: the transport protocol of ISO 11783-3 for up to
// 1785 bytes, and its extension for more.
//
// A message is announced (RTS), 16 in byte 0 of EC00 with its length in two bytes, or 20
// of C800 with four, and comes in packets of a number from 1 and 7 bytes (EB00, C700). The
// extended form sends before each run of packets by how many the numbers are to be raised
// (22, data packet offset). 255 ends a message early.

package pool

import (
	"encoding/binary"

	"go.einride.tech/can"

	"liftbench/nmea/bus"
)

const (
	transportControl  = 0xEC00
	transportData     = 0xEB00
	extendedControl   = 0xC800
	extendedData      = 0xC700
	requestToSend     = 16
	broadcast         = 32
	extendedRequest   = 20
	dataPacketOffset  = 22
	abort             = 255
	packetBytes       = 7
	mostMessageBytes  = 1 << 20 // a description of 256 sections has some 30 KB
	mostOpenMessages  = 64
	broadcastReceiver = 255
)

// route is who sends a message to whom, and in which of the two forms.
type route struct {
	node     bus.Node
	to       uint8
	extended bool
}

// open is a message of which not all has come.
type open struct {
	group  bus.PGN
	size   int
	offset int // of packets
	bytes  []byte
}

// transport puts messages together. The zero value is ready.
type transport struct {
	open map[route]*open
}

// add takes a frame and returns the message that it completes.
func (t *transport) add(channel uint8, f *can.Frame) (m *open, node bus.Node, ok bool) {
	p, source, to := bus.Identify(f.ID)
	extended := p == extendedControl || p == extendedData
	if p != transportControl && p != transportData && !extended || f.Length < 8 {
		return nil, bus.Node{}, false
	}
	r := route{bus.Node{Channel: channel, Address: source}, to, extended}
	if p == transportControl || p == extendedControl {
		t.control(r, f)
		return nil, bus.Node{}, false
	}
	m = t.open[r]
	if m == nil || f.Data[0] == 0 {
		return nil, bus.Node{}, false
	}
	at := (m.offset + int(f.Data[0]) - 1) * packetBytes
	if at > len(m.bytes) || at >= m.size {
		return nil, bus.Node{}, false // one was lost: the receiver asks for it again
	}
	had := copy(m.bytes[at:], f.Data[1:8])
	m.bytes = append(m.bytes, f.Data[1+had:8]...)
	if len(m.bytes) < m.size {
		return nil, bus.Node{}, false
	}
	m.bytes = m.bytes[:m.size]
	delete(t.open, r)
	return m, r.node, true
}

func (t *transport) control(r route, f *can.Frame) {
	group := bus.PGN(f.Data[5]) | bus.PGN(f.Data[6])<<8 | bus.PGN(f.Data[7])<<16
	size := 0
	switch c := f.Data[0]; {
	case !r.extended && (c == requestToSend || c == broadcast && r.to == broadcastReceiver):
		size = int(binary.LittleEndian.Uint16(f.Data[1:]))
	case r.extended && c == extendedRequest:
		size = int(min(binary.LittleEndian.Uint32(f.Data[1:]), mostMessageBytes+1))
	case r.extended && c == dataPacketOffset:
		if m := t.open[r]; m != nil {
			m.offset = int(f.Data[2]) | int(f.Data[3])<<8 | int(f.Data[4])<<16
		}
		return
	case c == abort:
		// Either side may end it.
		delete(t.open, r)
		delete(t.open, route{bus.Node{Channel: r.node.Channel, Address: r.to}, r.node.Address, r.extended})
		return
	default:
		return
	}
	delete(t.open, r)
	if size == 0 || size > mostMessageBytes || len(t.open) >= mostOpenMessages {
		return
	}
	if t.open == nil {
		t.open = map[route]*open{}
	}
	t.open[r] = &open{group: group, size: size}
}
