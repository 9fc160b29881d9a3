package taskdata

import (
	"sort"

	"liftbench/replay/taskdata/device"
	"liftbench/replay/taskdata/timelog"
	"liftbench/sections"
)

// Change is a change of one section's state. It happened after AfterNs and not after
// AtNs: the log tells when it was seen, not when it was. The two are one where the log was
// written when the state changed.
type Change struct {
	AfterNs, AtNs int64 // UTC, ns since 1970
	Section       int16 // index from 0, from the left; printed from 1
	On            bool
}

// States are the states of the sections of a bank.
type States struct {
	// First is what was known of each section first: no change. A section about which
	// nothing was ever said is not among them.
	First []Change
	// Changes are in order of time, then from the left.
	Changes []Change
	// Reports is how many rows said anything.
	Reports int
}

// Work returns first states and changes at the times at which they were seen, in
// order of time.
func (s *States) Work() []sections.WorkChange {
	all := make([]sections.WorkChange, 0, len(s.First)+len(s.Changes))
	for _, list := range [][]Change{s.First, s.Changes} {
		for _, c := range list {
			all = append(all, sections.WorkChange{TimeNs: c.AtNs, Section: c.Section, On: c.On})
		}
	}
	sort.SliceStable(all, func(i, k int) bool { return all[i].TimeNs < all[k].TimeNs })
	return all
}

// SetpointsUsable reports whether nearly every change of an actual state has its
// setpoint before it. Terminals log setpoints incompletely, some after the fact.
func (d *Day) SetpointsUsable() bool {
	told, of := d.told()
	return of > 0 && 10*told >= 9*of
}

// told returns how many changes of actual states have a setpoint before them, of all.
// A lift takes seconds; 10 s is beyond any lead.
func (d *Day) told() (told, of int) {
	last := map[int16]Change{}
	k := 0
	for _, a := range d.Actual.Changes {
		for ; k < len(d.Setpoint.Changes) && d.Setpoint.Changes[k].AfterNs < a.AtNs; k++ {
			last[d.Setpoint.Changes[k].Section] = d.Setpoint.Changes[k]
		}
		if s, ok := last[a.Section]; ok && s.On == a.On && a.AtNs-s.AfterNs <= sections.MaxLeadNs {
			told++
		}
	}
	return told, len(d.Actual.Changes)
}

// use says what a column is to the tracker.
type use struct {
	kind  kind
	which bool // true: setpoint
	index int  // word, or element
}

type kind uint8

const (
	unused kind = iota
	word        // of the bank
	own         // state of one element
)

// tracker follows the states of a bank's sections.
//
// A section works only if its two bits say so and the state of no element above it is
// off. Without condensed words its own state, or the nearest above it, stands for the bits.
type tracker struct {
	bank             *Bank
	words            bool
	elements         map[string]int // those whose state matters
	chains           [][]int        // of each section: elements from it upwards
	setpoint, actual half
}

// half are the setpoints or the actual states.
type half struct {
	States
	word           [device.Words]uint32
	known          [device.Words]bool
	state          []int8 // of each element: -1 not told
	now            []int8 // of each section
	touched, dirty bool
	afterNs        int64
}

func newTracker(d *device.Device, b *Bank) *tracker {
	t := &tracker{bank: b, words: b.words, elements: map[string]int{}}
	for _, id := range b.Sections {
		var chain []int
		for _, up := range d.Above(id) {
			k, ok := t.elements[up]
			if !ok {
				k = len(t.elements)
				t.elements[up] = k
			}
			chain = append(chain, k)
		}
		t.chains = append(t.chains, chain)
	}
	for _, h := range []*half{&t.setpoint, &t.actual} {
		h.state = unknown(len(t.elements))
		h.now = unknown(len(b.Sections))
	}
	return t
}

func unknown(n int) []int8 {
	s := make([]int8, n)
	for i := range s {
		s[i] = -1
	}
	return s
}

// wire notes what the columns of a log are, and takes those that are constant.
func (t *tracker) wire(c *cursor) {
	for k := range c.header.Columns {
		col := &c.header.Columns[k]
		u := use{}
		switch {
		case t.words && col.Element == t.bank.Element && col.DDI >= device.ActualWord && col.DDI < device.ActualWord+device.Words:
			u = use{kind: word, index: int(col.DDI - device.ActualWord)}
		case t.words && col.Element == t.bank.Element && col.DDI >= device.SetpointWord && col.DDI < device.SetpointWord+device.Words:
			u = use{kind: word, which: true, index: int(col.DDI - device.SetpointWord)}
		case col.DDI == device.ActualState || col.DDI == device.SetpointState:
			if e, ok := t.elements[col.Element]; ok {
				u = use{kind: own, which: col.DDI == device.SetpointState, index: e}
			}
		}
		c.use[k] = u
		if col.Constant && u.kind != unused {
			t.half(u).take(u, col.Value)
		}
	}
}

func (t *tracker) half(u use) *half {
	if u.which {
		return &t.setpoint
	}
	return &t.actual
}

// take notes a value, and reports whether it differs from the one before.
func (h *half) take(u use, v int32) (changed bool) {
	if u.kind == word {
		changed = !h.known[u.index] || h.word[u.index] != uint32(v)
		h.word[u.index], h.known[u.index] = uint32(v), true
		return changed
	}
	s := int8(v & 3)
	if s > 1 {
		return false // an error, or not installed: it stays as it was
	}
	changed = h.state[u.index] != s
	h.state[u.index] = s
	return changed
}

// row takes what a row says about states.
func (t *tracker) row(c *cursor, r *timelog.Row, utcNs int64) {
	for _, v := range r.Values {
		u := c.use[v.Column]
		if u.kind == unused {
			continue
		}
		h := t.half(u)
		after := utcNs
		if last := &c.told[v.Column]; c.polled[v.Column] && last.told {
			after = last.ns
		} else if c.seen && c.even {
			after = c.lastNs
			if after == utcNs {
				after = c.prevNs
			}
		}
		if c.told[v.Column].ns != utcNs || !c.told[v.Column].told {
			c.told[v.Column] = reportTime{utcNs, true}
		}
		h.touched = true
		if h.take(u, v.Value) {
			if !h.dirty || after < h.afterNs {
				h.afterNs = after
			}
			h.dirty = true
		}
	}
}

// flush ends the instant utcNs.
func (t *tracker) flush(utcNs int64) {
	for _, h := range []*half{&t.setpoint, &t.actual} {
		if h.touched {
			h.Reports++
		}
		if h.dirty {
			for i := range t.chains {
				t.section(h, i, utcNs)
			}
		}
		h.touched, h.dirty = false, false
	}
}

// section finds the state of section i.
func (t *tracker) section(h *half, i int, utcNs int64) {
	on := int8(-1)
	if t.words {
		if w := i / 16; h.known[w] {
			if b := int8(h.word[w] >> (2 * (i % 16)) & 3); b < 2 {
				on = b
			}
		}
	} else {
		for _, e := range t.chains[i] {
			if h.state[e] >= 0 {
				on = h.state[e]
				break
			}
		}
	}
	if on < 0 {
		return
	}
	for _, e := range t.chains[i] {
		if h.state[e] == 0 {
			on = 0
		}
	}
	if on == h.now[i] {
		return
	}
	c := Change{AfterNs: h.afterNs, AtNs: utcNs, Section: int16(i), On: on == 1}
	if h.now[i] < 0 {
		h.First = append(h.First, c)
	} else {
		h.Changes = append(h.Changes, c)
	}
	h.now[i] = on
}
