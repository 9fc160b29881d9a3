// Package pool reads and writes what an implement says of itself on the bus: the description
// of its elements (device descriptor object pool, ISO 11783-10), which it uploads to the task
// controller when it connects. A trace has it if it began before that.
//
// The layout of the objects is from memory of ISO 11783-10, annex A; no trace with one was
// at hand.
package pool

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"

	"go.einride.tech/can"

	"liftbench/nmea/bus"
	"liftbench/replay/taskdata/device"
)

const (
	processData = 0xCB00
	// objectPoolTransfer is the first byte of an upload: command 1, device descriptor, with
	// subcommand 6.
	objectPoolTransfer = 0x61
	commandValue       = 3

	mostPools  = 64
	mostValues = 100_000
)

// Recorder collects the descriptions on a bus. The zero value is ready.
type Recorder struct {
	transport transport
	pools     []described
	values    map[told][2]int32
	damage    []string
}

// described is a device at an address.
type described struct {
	node    bus.Node
	objects []byte
	device  *device.Device
}

// Add takes a frame: the bus it came on, counted from 0, and the frame.
func (r *Recorder) Add(channel uint8, f *can.Frame) {
	if !f.IsExtended || f.IsRemote {
		return
	}
	switch f.ID >> 8 & 0x3FF00 {
	case processData:
		r.value(channel, f)
		return
	case transportControl, transportData, extendedControl, extendedData:
	default:
		return
	}
	m, node, ok := r.transport.add(channel, f)
	if !ok || m.group != processData || m.bytes[0] != objectPoolTransfer {
		return
	}
	at := slices.IndexFunc(r.pools, func(d described) bool { return d.node == node })
	objects := m.bytes[1:]
	if at >= 0 && !bytes.HasPrefix(objects, []byte("DVC")) {
		// It goes on with what came before.
		if objects = slices.Concat(r.pools[at].objects, objects); len(objects) > mostMessageBytes {
			return
		}
	}
	elements, err := elementsOf(node, objects)
	if err != nil {
		if len(r.damage) < mostPools {
			r.damage = append(r.damage, fmt.Sprintf("the description of the device at %s: %v", node, err))
		}
		return
	}
	d := described{node, objects, device.New("the device at "+node.String(), elements)}
	switch {
	case at >= 0:
		r.pools[at] = d
	case len(r.pools) < mostPools:
		r.pools = append(r.pools, d)
	}
}

// Devices returns all that described themselves, and the one at an address; nil if it is
// not among them.
func (r *Recorder) Devices(at bus.Node) (all []*device.Device, one *device.Device) {
	for _, p := range r.pools {
		all = append(all, p.device)
		if p.node == at {
			one = p.device
		}
	}
	return all, one
}

// Values returns what the elements of these devices told on the bus.
func (r *Recorder) Values() *Values {
	v := &Values{of: r.values, at: map[string]part{}}
	for _, p := range r.pools {
		for i := range p.device.Elements {
			v.at[p.device.Elements[i].ID] = part{p.node, uint16(p.device.Elements[i].Number)}
		}
	}
	return v
}

// Damage returns a sentence for each description that cannot be read.
func (r *Recorder) Damage() []string { return r.damage }

// ErrPool is wrapped where the bytes are no description.
var ErrPool = errors.New("not a description of a device")

// reader takes a description apart.
type reader struct {
	b     []byte
	at    int
	short bool
}

func (r *reader) take(n int) []byte {
	if r.short || n > len(r.b)-r.at {
		r.short = true
		return make([]byte, min(n, 8))
	}
	b := r.b[r.at : r.at+n]
	r.at += n
	return b
}

func (r *reader) u8() int    { return int(r.take(1)[0]) }
func (r *reader) u16() int   { return int(binary.LittleEndian.Uint16(r.take(2))) }
func (r *reader) i32() int32 { return int32(binary.LittleEndian.Uint32(r.take(4))) }
func (r *reader) text()      { r.take(r.u8()) } // a length, and so many bytes

// tag reports whether an object begins here.
func (r *reader) tag() bool {
	if len(r.b)-r.at < 3 {
		return false
	}
	switch string(r.b[r.at : r.at+3]) {
	case "DVC", "DET", "DPT", "DPD", "DVP":
		return true
	}
	return false
}

// elementsOf reads the objects of a description: DVC the device, DET its elements, DPT
// values that are fixed, DPD values that are told on the bus, DVP how they are shown.
func elementsOf(node bus.Node, b []byte) ([]device.Element, error) {
	type fixed struct {
		ddi   uint16
		value int32
	}
	properties := map[int]fixed{}
	refers := [][]int{}
	var elements []device.Element
	r := reader{b: b}
	for r.at < len(b) {
		if !r.tag() {
			return nil, fmt.Errorf("%w: found %q at byte %d; expected DVC, DET, DPT, DPD or DVP", ErrPool, b[r.at:min(r.at+3, len(b))], r.at)
		}
		begins := r.at
		kind := string(r.take(3))
		object := r.u16()
		switch kind {
		case "DVC":
			r.text()      // what it is called
			r.text()      // version of its software
			r.take(8)     // NAME
			r.text()      // serial number
			r.take(7 + 7) // labels of structure and language
			if r.at < len(b) && !r.tag() {
				r.text() // from the fourth version on, more of the structure's
			}
		case "DET":
			e := device.Element{ID: fmt.Sprintf("element %d of %s", object, node), Object: object, Type: device.Type(r.u8())}
			r.text()
			e.Number, e.Parent = r.u16(), r.u16()
			of := make([]int, 0, 8)
			for range r.u16() {
				if r.short {
					break
				}
				of = append(of, r.u16())
			}
			elements, refers = append(elements, e), append(refers, of)
		case "DPT":
			ddi := uint16(r.u16())
			properties[object] = fixed{ddi, r.i32()}
			r.text()
			r.u16()
		case "DPD":
			r.take(2 + 1 + 1) // what it tells, what it is for, and when
			r.text()
			r.u16()
		case "DVP":
			r.take(4 + 4 + 1) // offset, scale, decimals
			r.text()
		}
		if r.short {
			return nil, fmt.Errorf("%w: %s at byte %d ends after byte %d; expected more", ErrPool, kind, begins, len(b))
		}
	}
	if len(elements) == 0 {
		return nil, fmt.Errorf("%w: it has no element", ErrPool)
	}
	for i := range elements {
		elements[i].Properties = map[uint16]int32{}
		for _, object := range refers[i] {
			if p, ok := properties[object]; ok {
				if _, twice := elements[i].Properties[p.ddi]; !twice {
					elements[i].Properties[p.ddi] = p.value
				}
			}
		}
	}
	return elements, nil
}
