// This file keeps values that elements tell on the bus. Most machines tell offsets and
// widths so, as they can be changed at the terminal.

package pool

import (
	"encoding/binary"

	"go.einride.tech/can"

	"liftbench/nmea/bus"
	"liftbench/replay/taskdata/device"
)

// part is an element of the device at an address.
type part struct {
	node   bus.Node
	number uint16
}

// told is of what a value is; the numbers are those of the data dictionary (ISO 11783-11).
type told struct {
	part
	ddi uint16
}

// Values are those that the elements of all devices told. It implements device.Values.
type Values struct {
	of map[told][2]int32 // the first and the largest
	at map[string]part   // of an element's id
}

// geometric reports whether a value is one of geometry, or of time from command to effect.
func geometric(ddi uint16) bool {
	switch ddi {
	case device.DefaultWidth, device.Width, device.MaximumWidth, device.OffsetX, device.OffsetY, device.OffsetZ,
		device.ConnectorType, device.PivotX, device.OnTime, device.OffTime, device.SetpointDelay, device.ActualDelay:
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
	if !geometric(ddi) {
		return
	}
	if r.values == nil {
		r.values = map[told][2]int32{}
	}
	key := told{part{bus.Node{Channel: channel, Address: uint8(f.ID)}, uint16(f.Data[0]>>4) | uint16(f.Data[1])<<4}, ddi}
	x := int32(binary.LittleEndian.Uint32(f.Data[4:]))
	if had, ok := r.values[key]; ok {
		r.values[key] = [2]int32{had[0], max(had[1], x)}
	} else if len(r.values) < mostValues {
		r.values[key] = [2]int32{x, x}
	}
}

// First implements device.Values.
func (v *Values) First(element string, ddi uint16) (int32, bool) {
	p, known := v.at[element]
	x, ok := v.of[told{p, ddi}]
	return x[0], known && ok
}

// Most implements device.Values.
func (v *Values) Most(element string, ddi uint16) (int32, bool) {
	p, known := v.at[element]
	x, ok := v.of[told{p, ddi}]
	return x[1], known && ok
}
