// Package process reads the work of an implement from the frames of its bus:
// what its sections were told and did, by process data (ISO 11783-10), which way
// the tractor drove and where its hitch stood (ISO 11783-7). All of it is on one
// clock, that of the logger, with the positions.
package process

import (
	"encoding/binary"
	"fmt"
	"math"
	"sort"

	"go.einride.tech/can"

	"liftbench/nmea/bus"
	"liftbench/replay/poll"
)

// MostSections is how many sections condensed work states can hold: 16 words of
// 16 (ISO 11783-11).
const MostSections = 256

// State is a work state as it was reported.
type State uint8

const (
	Unknown State = iota // not reported yet, an error, or not installed
	Off
	On
)

// String returns the state in words.
func (s State) String() string { return [...]string{"unknown", "off", "on"}[min(s, On)] }

// Change is one change of a section's state. The first report of a section is
// no change.
type Change struct {
	TimeNs int64 // the logger's time of the frame that reported it
	// BeforeNs is the time of the report before: where reports come at intervals alone, see
	// Polls, an actual state changed between the two.
	BeforeNs int64
	Section  uint8 // from 0, leftmost first
	On       bool
}

// Device is one element of an implement that reports or is told work states.
type Device struct {
	Node    bus.Node
	Element uint16 // number of the device element, 0 to 4095
	// Actuals and Setpoints are the changes of its sections in the order of their
	// frames. A section is on where its own bits and the work state of the whole
	// element (DDI 141, 289) are, as far as that is reported.
	Actuals, Setpoints []Change
	// Reports and Orders are how many frames reported actual states and set
	// setpoints.
	Reports, Orders int64

	actual, setpoint states
}

// Initial returns the first reported actual states and setpoints of the first n
// sections, and the logger's times of those reports, 0 where there is none.
func (d *Device) Initial(n int) (actuals, setpoints []First) {
	return d.actual.first[:n], d.setpoint.first[:n]
}

// First is the first known state of a section.
type First struct {
	TimeNs int64
	State  State
}

// Sections returns the number of the last section that was ever on. The device
// may have more: only its description tells.
func (d *Device) Sections() int { return max(d.actual.sections, d.setpoint.sections) }

// Single reports whether the device has told one state for all its sections and
// none by section.
func (d *Device) Single() bool { return !d.actual.words && !d.setpoint.words }

// Polls reports whether actual states are reported at intervals alone. Otherwise they are
// reported when they change. A setpoint is the frame itself, however often it is said again.
func (d *Device) Polls() bool { return d.actual.habit.Polls() }

// states are the states of one kind, setpoint or actual.
type states struct {
	habit     poll.Habit
	own       [MostSections]State // by the section's bits
	ownNs     [MostSections / 16]int64
	whole     State
	wholeNs   int64
	effective [MostSections]State
	first     [MostSections]First
	sections  int
	words     bool
}

// Direction is a change of the direction of travel.
type Direction struct {
	TimeNs  int64
	Reverse bool
	PGN     bus.PGN // who says it: 61474 machine-selected, 65096 wheel-based, 65097 ground-based speed
}

// Hitch is a change of a hitch's indication of work. It is a guess at a work
// state: sources differ on its bits, and a lowered hitch may carry a lifted
// tool.
type Hitch struct {
	TimeNs   int64
	Front    bool
	InWork   bool
	Position float64 // 0 lowest to 1 highest, NaN where it is not told
}

// Recorder collects the work of the implements on a bus.
type Recorder struct {
	devices    []*Device
	directions [3]struct {
		list    []Direction
		reverse State
	}
	hitches   []Hitch
	hitch     [2]State
	Malformed int64 // frames of process data that are too short
	Dropped   int64 // changes beyond the most that are kept
}

// The numbers of the first words of condensed work states, of sections 1 to 16, in
// the data dictionary (ISO 11783-11).
const (
	ActualWord   = 161
	SetpointWord = 290
)

const (
	processData = 0xCB00
	// Commands in the low nibble of the first byte that carry a value: 3 value,
	// 10 set value and acknowledge. The others ask, or set intervals and
	// thresholds (ISO 11783-10).
	commandValue  = 3
	commandSetAck = 10

	ddiActual        = 141
	ddiSetpoint      = 289
	wordsOfCondensed = 16

	machineSpeed = 61474
	wheelSpeed   = 65096
	groundSpeed  = 65097
	rearHitch    = 65093
	frontHitch   = 65094

	mostDevices = 64
	mostChanges = 4_000_000
)

// Add takes a frame: the logger's time in nanoseconds, the bus it came on,
// counted from 0, and the frame.
func (r *Recorder) Add(timeNs int64, channel uint8, f *can.Frame) {
	if !f.IsExtended || f.IsRemote {
		return
	}
	p, source, destination := bus.Identify(f.ID)
	switch p {
	case processData:
		r.process(timeNs, channel, source, destination, f)
	case machineSpeed, wheelSpeed, groundSpeed:
		r.direction(timeNs, p, f)
	case rearHitch, frontHitch:
		r.hitchAt(timeNs, p == frontHitch, f)
	}
}

// Frame returns the frame that tells a value of process data (command 3): from
// a source to a destination address, of an element (0 to 4095), by its number in
// the data dictionary.
func Frame(source, destination uint8, element, ddi uint16, value uint32) can.Frame {
	f := can.Frame{ID: 3<<26 | processData<<8 | uint32(destination)<<8 | uint32(source), Length: 8, IsExtended: true}
	f.Data[0] = byte(element&15)<<4 | commandValue
	f.Data[1] = byte(element >> 4)
	binary.LittleEndian.PutUint16(f.Data[2:], ddi)
	binary.LittleEndian.PutUint32(f.Data[4:], value)
	return f
}

func (r *Recorder) process(timeNs int64, channel, source, destination uint8, f *can.Frame) {
	if f.Length < 8 {
		r.Malformed++
		return
	}
	if c := f.Data[0] & 0x0F; c != commandValue && c != commandSetAck {
		return
	}
	element := uint16(f.Data[0]>>4) | uint16(f.Data[1])<<4
	ddi := int(binary.LittleEndian.Uint16(f.Data[2:]))
	value := binary.LittleEndian.Uint32(f.Data[4:])
	switch {
	case ddi == ddiActual, ddi >= ActualWord && ddi < ActualWord+wordsOfCondensed:
		d := r.device(bus.Node{Channel: channel, Address: source}, element)
		if d == nil {
			return
		}
		d.Reports++
		r.apply(&d.actual, &d.Actuals, timeNs, ddi-ActualWord, ddi == ddiActual, value)
	case ddi == ddiSetpoint, ddi >= SetpointWord && ddi < SetpointWord+wordsOfCondensed:
		// The device that is told is the destination. A device that reports its
		// setpoints back sends them to the controller: no order.
		if r.reports(channel, source) {
			return
		}
		d := r.device(bus.Node{Channel: channel, Address: destination}, element)
		if d == nil {
			return
		}
		d.Orders++
		r.apply(&d.setpoint, &d.Setpoints, timeNs, ddi-SetpointWord, ddi == ddiSetpoint, value)
	}
}

// reports reports whether an address has reported actual states.
func (r *Recorder) reports(channel, address uint8) bool {
	for _, d := range r.devices {
		if d.Node.Channel == channel && d.Node.Address == address && d.Reports > 0 {
			return true
		}
	}
	return false
}

// device returns the device of a node and element, a new one at its first frame,
// nil where there are too many.
func (r *Recorder) device(n bus.Node, element uint16) *Device {
	for _, d := range r.devices {
		if d.Node == n && d.Element == element {
			return d
		}
	}
	if len(r.devices) == mostDevices {
		r.Dropped++
		return nil
	}
	d := &Device{Node: n, Element: element}
	r.devices = append(r.devices, d)
	return d
}

// stateOf decodes two bits (ISO 11783-11): 00 off, 01 on; 10 error and 11 not
// installed, or no change, leave the state as it is.
func stateOf(bits uint32) State {
	switch bits & 3 {
	case 0:
		return Off
	case 1:
		return On
	}
	return Unknown
}

// apply takes a word of 16 sections, or the state of the whole element, and
// appends the changes that follow.
func (r *Recorder) apply(s *states, changes *[]Change, timeNs int64, word int, whole bool, value uint32) {
	from, to, beforeNs := 0, MostSections, s.wholeNs
	if whole {
		if v := stateOf(value); v != Unknown {
			s.whole = v
		}
		s.wholeNs = timeNs
		if !s.words {
			to = 1 // one state stands for the machine
			s.own[0] = On
		}
	} else {
		if !s.words {
			// What was told of the whole before is no change of a section.
			s.words = true
			if s.whole != Unknown {
				s.own[0], s.effective[0], s.first[0] = Unknown, Unknown, First{}
				*changes = (*changes)[:0]
				s.sections = 0
			}
		}
		from, to, beforeNs = 16*word, 16*word+16, s.ownNs[word]
		s.ownNs[word] = timeNs
		for i := range 16 {
			if v := stateOf(value >> (2 * i)); v != Unknown {
				s.own[from+i] = v
			}
		}
	}
	changed := false
	for i := from; i < to; i++ {
		if s.own[i] == Unknown {
			continue
		}
		now := s.own[i]
		if s.whole == Off {
			now = Off
		}
		was := s.effective[i]
		if now == was {
			continue
		}
		s.effective[i], changed = now, true
		if now == On {
			s.sections = max(s.sections, i+1)
		}
		if was == Unknown {
			s.first[i] = First{timeNs, now}
			continue
		}
		if len(*changes) >= mostChanges {
			r.Dropped++
			continue
		}
		*changes = append(*changes, Change{timeNs, beforeNs, uint8(i), now == On})
	}
	if beforeNs != 0 {
		s.habit.Add(timeNs-beforeNs, changed)
	}
}

// direction takes bits 0 and 1 of the last byte: 00 reverse, 01 forward
// (ISO 11783-7, from memory).
func (r *Recorder) direction(timeNs int64, p bus.PGN, f *can.Frame) {
	if f.Length < 8 {
		return
	}
	v := stateOf(uint32(f.Data[7]))
	i := 0 // machine-selected
	switch p {
	case wheelSpeed:
		i = 1
	case groundSpeed:
		i = 2
	}
	d := &r.directions[i]
	if v == Unknown || v == d.reverse {
		return
	}
	d.reverse = v
	if len(d.list) < mostChanges {
		d.list = append(d.list, Direction{timeNs, v == Off, p})
	}
}

// SpeedMps returns the speed that a frame of PGN 61474, 65096 or 65097 tells, in
// m/s, negative in reverse, and whether it tells one.
func SpeedMps(f *can.Frame) (float64, bool) {
	p, _, _ := bus.Identify(f.ID)
	if !f.IsExtended || f.IsRemote || f.Length < 8 || p != machineSpeed && p != wheelSpeed && p != groundSpeed {
		return 0, false
	}
	v := binary.LittleEndian.Uint16(f.Data[:])
	if v > 0xFAFF {
		return 0, false
	}
	speed := float64(v) / 1000
	if f.Data[7]&3 == 0 {
		speed = -speed
	}
	return speed, true
}

// SpeedFrame is the inverse of SpeedMps, as the wheel-based speed, PGN 65096.
func SpeedFrame(source uint8, speedMps float64) can.Frame {
	f := can.Frame{ID: 3<<26 | wheelSpeed<<8 | uint32(source), Length: 8, IsExtended: true,
		Data: can.Data{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFD}} // forward; the rest not available
	if speedMps < 0 {
		f.Data[7] = 0xFC
	}
	if v := math.Round(math.Abs(speedMps) * 1000); v <= 0xFAFF {
		binary.LittleEndian.PutUint16(f.Data[:], uint16(v))
	}
	return f
}

// Directions returns the directions of travel in order of time, the first known
// one included: by the machine-selected speed where it tells one, otherwise by
// that of the wheels, otherwise by that over ground. It is empty where nobody
// tells it.
func (r *Recorder) Directions() []Direction {
	for i := range r.directions {
		if d := r.directions[i].list; len(d) > 0 {
			return d
		}
	}
	return nil
}

// hitchAt takes the position, 0.4 % a step, and the indication of work in bits 6
// and 7 of the second byte (ISO 11783-7, from memory).
func (r *Recorder) hitchAt(timeNs int64, front bool, f *can.Frame) {
	if f.Length < 2 {
		return
	}
	i := 0
	if front {
		i = 1
	}
	v := stateOf(uint32(f.Data[1] >> 6))
	if v == Unknown || v == r.hitch[i] {
		return
	}
	r.hitch[i] = v
	h := Hitch{TimeNs: timeNs, Front: front, InWork: v == On, Position: math.NaN()}
	if f.Data[0] <= 250 {
		h.Position = float64(f.Data[0]) * 0.004
	}
	if len(r.hitches) < mostChanges {
		r.hitches = append(r.hitches, h)
	}
}

// Hitches returns the changes of the hitches' indication of work in order of
// time, the first known state included.
func (r *Recorder) Hitches() []Hitch { return r.hitches }

// Devices returns the devices, the one with the most changes of actual states
// first. Setpoints that were sent to all are those of the device whose element
// has that number and got none of its own, if there is only one.
func (r *Recorder) Devices() []*Device {
	var list []*Device
	for _, d := range r.devices {
		if d.Node.Address == toAll {
			if heir := r.heir(d); heir != nil {
				heir.Setpoints, heir.setpoint, heir.Orders = d.Setpoints, d.setpoint, d.Orders
				continue
			}
		}
		list = append(list, d)
	}
	sort.SliceStable(list, func(i, k int) bool {
		a, b := list[i], list[k]
		if len(a.Actuals) != len(b.Actuals) {
			return len(a.Actuals) > len(b.Actuals)
		}
		return len(a.Setpoints) > len(b.Setpoints)
	})
	return list
}

const toAll = 0xFF

// heir returns the one device that setpoints sent to all are for.
func (r *Recorder) heir(all *Device) *Device {
	var found *Device
	for _, d := range r.devices {
		if d == all || d.Node.Channel != all.Node.Channel || d.Element != all.Element || d.Reports == 0 {
			continue
		}
		if found != nil {
			return nil
		}
		found = d
	}
	if found != nil && found.Orders > 0 && found.setpoint != all.setpoint {
		return nil
	}
	return found
}

// Lines say in words what was found, for the head of a report.
func (r *Recorder) Lines() []string {
	var lines []string
	for _, d := range r.Devices() {
		line := fmt.Sprintf("process data of %s, element %d: %d changes of actual work states (%s), %d of setpoints, in %d and %d frames; last section that was on: %d",
			d.Node, d.Element, len(d.Actuals), onOff(d.Actuals), len(d.Setpoints), d.Reports, d.Orders, d.Sections())
		if d.Single() {
			line += "; one state for the whole element"
		}
		lines = append(lines, line)
	}
	if d := r.Directions(); len(d) > 0 {
		n := 0
		for _, x := range d {
			if x.Reverse {
				n++
			}
		}
		lines = append(lines, fmt.Sprintf("direction of travel: by PGN %d; %d times in reverse", d[0].PGN, n))
	}
	if len(r.hitches) > 0 {
		lines = append(lines, fmt.Sprintf("hitch: %d changes of its indication of work, a guess at a work state only", len(r.hitches)))
	}
	return lines
}

func onOff(c []Change) string {
	on := 0
	for _, x := range c {
		if x.On {
			on++
		}
	}
	return fmt.Sprintf("%d on, %d off", on, len(c)-on)
}
