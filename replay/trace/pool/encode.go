// This file writes descriptions, and uploads them as an implement does.

package pool

import (
	"encoding/binary"
	"sort"

	"go.einride.tech/can"

	"liftbench/replay/taskdata/device"
)

// Upload appends the frames by which the device at source describes itself to the task
// controller at destination, with what the controller answers. what names the device; the
// ids of its elements are not used.
func Upload(frames []can.Frame, source, destination uint8, what string, elements []device.Element) []can.Frame {
	return appendMessage(frames, source, destination, appendPool([]byte{objectPoolTransfer}, what, elements))
}

// appendPool appends the objects of a device.
func appendPool(b []byte, what string, elements []device.Element) []byte {
	object := 0
	for i := range elements {
		object = max(object, elements[i].Object)
	}
	u16 := func(v int) { b = binary.LittleEndian.AppendUint16(b, uint16(v)) }
	text := func(s string) { b = append(append(b, byte(len(s))), s...) }
	begin := func(tag string, id int) { b = append(b, tag...); u16(id) }

	begin("DVC", 0)
	text(what)
	text("1")                         // version of the software
	b = append(b, make([]byte, 8)...) // NAME: not told
	text("")                          // serial number
	b = append(b, "0000001"...)       // label of the structure
	b = append(b, "en\x00\x00\x00\x00\xff"...)
	for i := range elements {
		e := &elements[i]
		ddis := make([]int, 0, len(e.Properties))
		for ddi := range e.Properties {
			ddis = append(ddis, int(ddi))
		}
		sort.Ints(ddis)
		first := object + 1
		for _, ddi := range ddis {
			object++
			begin("DPT", object)
			u16(ddi)
			b = binary.LittleEndian.AppendUint32(b, uint32(e.Properties[uint16(ddi)]))
			text("")
			u16(0xFFFF) // shown as it is
		}
		begin("DET", e.Object)
		b = append(b, byte(e.Type))
		text("")
		u16(e.Number)
		u16(e.Parent)
		u16(len(ddis))
		for k := range ddis {
			u16(first + k)
		}
	}
	return b
}

// appendMessage appends the frames of a message of process data, by the transport protocol
// or its extension.
func appendMessage(frames []can.Frame, source, destination uint8, message []byte) []can.Frame {
	const (
		most         = 1785 // bytes without the extension
		clearToSend  = 17
		run          = 255 // packets at a time
		endOfMessage = 19
	)
	control, data, plus := transportControl, transportData, 0
	n := len(message)
	if n > most {
		control, data, plus = extendedControl, extendedData, extendedRequest-requestToSend
	}
	add := func(group int, from, to uint8, bytes ...byte) {
		f := can.Frame{ID: 7<<26 | uint32(group|int(to))<<8 | uint32(from), Length: 8, IsExtended: true}
		for i := copy(f.Data[:], bytes); i < 8; i++ {
			f.Data[i] = 0xFF
		}
		frames = append(frames, f)
	}
	say := func(from, to uint8, kind int, four ...byte) {
		add(control, from, to, append(append([]byte{byte(kind)}, four...), 0, processData>>8&0xFF, 0)...)
	}
	packets := (n + packetBytes - 1) / packetBytes
	if plus == 0 {
		say(source, destination, requestToSend, byte(n), byte(n>>8), byte(packets), 0xFF)
	} else {
		say(source, destination, extendedRequest, byte(n), byte(n>>8), byte(n>>16), byte(n>>24))
	}
	for first := 0; first < packets; first += run {
		now := min(run, packets-first)
		if plus == 0 {
			say(destination, source, clearToSend, byte(now), byte(first+1), 0xFF, 0xFF)
		} else {
			next := first + 1
			say(destination, source, clearToSend+plus, byte(now), byte(next), byte(next>>8), byte(next>>16))
			say(source, destination, dataPacketOffset, byte(now), byte(first), byte(first>>8), byte(first>>16))
		}
		for k := range now {
			sequence := first + k + 1
			if plus != 0 {
				sequence = k + 1
			}
			at := (first + k) * packetBytes
			add(data, source, destination, append([]byte{byte(sequence)}, message[at:min(at+packetBytes, n)]...)...)
		}
	}
	if plus == 0 {
		say(destination, source, endOfMessage, byte(n), byte(n>>8), byte(packets), 0xFF)
	} else {
		say(destination, source, endOfMessage+plus, byte(n), byte(n>>8), byte(n>>16), byte(n>>24))
	}
	return frames
}
