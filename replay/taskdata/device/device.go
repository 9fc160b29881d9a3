// Package device reads what ISO 11783-10 says about a machine: the tree of its
// elements, the sections among them from left to right, and where they are.
package device

import "sort"

// Type is the type of a device element, DET attribute C.
type Type uint8

// The types by their numbers in ISO 11783-10.
const (
	Whole Type = iota + 1
	Function
	Bin
	Section
	Unit
	Connector
	Navigation
)

// Numbers of ISO 11783-11 that geometry and work states are told by.
const (
	DefaultWidth  = 68
	Width         = 67
	MaximumWidth  = 70
	OffsetX       = 134 // mm forward
	OffsetY       = 135 // mm right
	OffsetZ       = 136 // mm down
	ActualState   = 141 // of an element
	ConnectorType = 157
	OnTime        = 205 // ms from the command to the effect, dropping
	OffTime       = 206 // lifting
	ActualWord    = 161 // to 176: 16 sections each, two bits a section
	SetpointState = 289
	SetpointWord  = 290 // to 305
	Words         = 16  // of either
	MaxSections   = 16 * Words
	SetpointDelay = 142 // ms, latency of setpoints
	ActualDelay   = 143 // ms, latency of actual states
)

// Element is an element of a device, DET.
type Element struct {
	ID     string // unique in its set, as DET-12
	Object int    // id within the device
	Parent int    // object id of its parent
	Type   Type
	Number int // 0 to 4095, the one used on the bus
	// Properties are the values that the description itself gives, by DDI.
	Properties map[uint16]int32

	up int // index of the parent; -1: none
}

// Device is one machine, DVC.
type Device struct {
	ID       string
	Kind     string // what it is, as its NAME tells; "" = not told
	Elements []Element

	byID map[string]int
	down [][]int // children of each element, in the order of the file
}

// Values tells values of elements that a log recorded, by element and DDI.
type Values interface {
	// First is the value that was recorded first.
	First(element string, ddi uint16) (int32, bool)
	// Most is the largest.
	Most(element string, ddi uint16) (int32, bool)
}

// New returns a device of these elements, of which it keeps the slice. A parent
// that is not there, or that is among its own descendants, counts for nothing.
func New(id string, elements []Element) *Device {
	d := &Device{ID: id, Elements: elements, byID: make(map[string]int, len(elements)), down: make([][]int, len(elements))}
	object := make(map[int]int, len(elements))
	for i := range elements {
		e := &elements[i]
		if _, ok := object[e.Object]; !ok {
			object[e.Object] = i
		}
		if _, ok := d.byID[e.ID]; !ok {
			d.byID[e.ID] = i
		}
	}
	for i := range elements {
		e := &elements[i]
		e.up = -1
		if p, ok := object[e.Parent]; ok && p != i {
			e.up = p
		}
	}
	// Cut rings. Each element is stamped with the walk that came by first, so that all walks
	// together visit it once.
	walk := make([]int, len(elements))
	for i := range elements {
		for k := i; k >= 0 && walk[k] == 0; k = elements[k].up {
			walk[k] = i + 1
			if up := elements[k].up; up >= 0 && walk[up] == i+1 {
				cutRing(elements, k)
				break
			}
		}
	}
	for i := range elements {
		if up := elements[i].up; up >= 0 {
			d.down[up] = append(d.down[up], i)
		}
	}
	return d
}

// cutRing takes the parent from one element of the ring that k is in: the one that is the
// whole device, else k.
func cutRing(elements []Element, k int) {
	for i := elements[k].up; i != k; i = elements[i].up {
		if elements[i].Type == Whole {
			k = i
			break
		}
	}
	elements[k].up = -1
}

// Has reports whether the device has an element of that id.
func (d *Device) Has(id string) bool { _, ok := d.byID[id]; return ok }

// Find returns the element of that id; nil if there is none.
func (d *Device) Find(id string) *Element {
	if i, ok := d.byID[id]; ok {
		return &d.Elements[i]
	}
	return nil
}

// Root returns the element that stands for the device as a whole; nil if it
// has none.
func (d *Device) Root() *Element {
	for i := range d.Elements {
		if d.Elements[i].Type == Whole && d.Elements[i].up < 0 {
			return &d.Elements[i]
		}
	}
	if len(d.Elements) > 0 {
		return &d.Elements[0]
	}
	return nil
}

// maxDepth is how far up the tree is climbed. ISO 11783-10 asks for no depth;
// real devices have five levels.
const maxDepth = 16

// Above returns the ids of an element and of those above it, from it upwards.
func (d *Device) Above(id string) []string {
	var ids []string
	i, ok := d.byID[id]
	for ok && i >= 0 && len(ids) < maxDepth {
		ids = append(ids, d.Elements[i].ID)
		i = d.Elements[i].up
	}
	return ids
}

// value returns a value of element i: what the description says, else what was
// recorded first.
func (d *Device) value(i int, ddi uint16, v Values) (int32, bool) {
	e := &d.Elements[i]
	if x, ok := e.Properties[ddi]; ok {
		return x, true
	}
	if v == nil {
		return 0, false
	}
	return v.First(e.ID, ddi)
}

// OffsetMm returns where an element is from the device's own reference point, in
// mm along ddi, OffsetX, OffsetY or OffsetZ. Offsets are absolute; a missing one is that
// of the parent.
func (d *Device) OffsetMm(id string, ddi uint16, v Values) (int32, bool) {
	i, ok := d.byID[id]
	for depth := 0; ok && i >= 0 && depth < maxDepth; depth++ {
		if x, found := d.value(i, ddi, v); found {
			return x, true
		}
		i = d.Elements[i].up
	}
	return 0, false
}

// Number returns a value of the element itself or the nearest above it that has
// one.
func (d *Device) Number(id string, ddi uint16, v Values) (int32, bool) { return d.OffsetMm(id, ddi, v) }

// WidthMm returns the width of an element: the largest actual width, which is 0
// while it is off, else the maximum, else the default.
func (d *Device) WidthMm(id string, v Values) (int32, bool) {
	i, ok := d.byID[id]
	if !ok {
		return 0, false
	}
	for _, ddi := range []uint16{Width, MaximumWidth, DefaultWidth} {
		x, found := d.Elements[i].Properties[ddi]
		if !found && v != nil {
			x, found = v.Most(id, ddi)
		}
		if found && x > 0 {
			return x, true
		}
	}
	return 0, false
}

// Sections returns the ids of the section elements below an element, from left to
// right. Element numbers say nothing about their order. Sections without an offset to the right keep the
// order of the file.
func (d *Device) Sections(below string, v Values) []string {
	i, ok := d.byID[below]
	if !ok {
		return nil
	}
	type at struct {
		id string
		y  int32
	}
	var found []at
	stack := []int{i}
	for len(stack) > 0 {
		k := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if d.Elements[k].Type == Section {
			y, _ := d.OffsetMm(d.Elements[k].ID, OffsetY, v)
			found = append(found, at{d.Elements[k].ID, y})
		}
		for c := len(d.down[k]) - 1; c >= 0; c-- {
			stack = append(stack, d.down[k][c])
		}
	}
	sort.SliceStable(found, func(a, b int) bool { return found[a].y < found[b].y })
	ids := make([]string, len(found))
	for k := range found {
		ids[k] = found[k].id
	}
	return ids
}

// Of returns the ids of the elements of a type, in the order of the file.
func (d *Device) Of(t Type) []string {
	var ids []string
	for i := range d.Elements {
		if d.Elements[i].Type == t {
			ids = append(ids, d.Elements[i].ID)
		}
	}
	return ids
}
