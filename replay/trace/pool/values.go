// This file keeps values that elements tell on the bus. Most machines tell offsets and
// widths so, as they can be changed at the terminal.

package pool

import (
	"encoding/binary"

	"go.einride.tech/can"

	"liftbench/nmea/bus"
	"liftbench/replay/taskdata/device"
)

// Values are those that the elements of one implement told, by the number of the element
// and the data dictionary (ISO 11783-11).
type Values struct {
	of     map[uint32][2]int32 // first and largest
	number map[string]uint32   // of an element, by its id
}

// wanted reports whether a value is one of geometry or of a lead.
func wanted(ddi uint16) bool {
	switch ddi {
	case device.DefaultWidth, device.Width, device.MaximumWidth, device.OffsetX, device.OffsetY, device.OffsetZ,
		device.ConnectorType, device.OnTime, device.OffTime, device.SetpointDelay, device.ActualDelay, device.PivotX:
		return true
	}
	return false
}

// value takes a frame of process data.
func (r *Recorder) value(channel uint8, f *can.Frame) {
	if f.Length < 8 || f.Data[0]&0x0F != commandValue {
		return
	}
	ddi := binary.LittleEndian.Uint16(f.Data[2:])
	if !wanted(ddi) {
		return
	}
	node := bus.Node{Channel: channel, Address: uint8(f.ID)}
	v := r.values[node]
	if v == nil {
		if len(r.values) == mostPools {
			return
		}
		if r.values == nil {
			r.values = map[bus.Node]*Values{}
		}
		v = &Values{of: map[uint32][2]int32{}}
		r.values[node] = v
	}
	element := uint32(f.Data[0]>>4) | uint32(f.Data[1])<<4
	key, x := element<<16|uint32(ddi), int32(binary.LittleEndian.Uint32(f.Data[4:]))
	had, ok := v.of[key]
	switch {
	case ok:
		v.of[key] = [2]int32{had[0], max(had[1], x)}
	case len(v.of) < mostValues:
		v.of[key] = [2]int32{x, x}
	}
}

// named returns the values by the ids of a device's elements.
func (v *Values) named(d *device.Device) *Values {
	n := &Values{number: map[string]uint32{}}
	if v != nil {
		n.of = v.of
	}
	for i := range d.Elements {
		n.number[d.Elements[i].ID] = uint32(d.Elements[i].Number)
	}
	return n
}

// First implements device.Values.
func (v *Values) First(element string, ddi uint16) (int32, bool) {
	number, known := v.number[element]
	x, ok := v.of[number<<16|uint32(ddi)]
	return x[0], known && ok
}

// Most implements device.Values.
func (v *Values) Most(element string, ddi uint16) (int32, bool) {
	number, known := v.number[element]
	x, ok := v.of[number<<16|uint32(ddi)]
	return x[1], known && ok
}
