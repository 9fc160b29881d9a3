// This file draws the outlines of the ground that each section swept, for maps.

package score

import (
	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/motion"
)

// strips draws the spans of all lanes.
func strips(track motion.Track, corners []int, m *sections.Machine, lanes []lane) []Strip {
	list := []Strip{}
	for i := range lanes {
		d := drawing{track: track, corners: corners, machine: m, section: i}
		for _, s := range lanes[i].spans {
			list = append(list, Strip{Section: int16(i), Ground: s.ground, FromNs: s.from, UntilNs: s.to, Ring: d.ring(s.from, s.to)})
		}
	}
	return list
}

// drawing draws the spans of one section in order of time.
type drawing struct {
	track   motion.Track
	corners []int
	machine *sections.Machine
	section int
	next    int // the first of corners after the start of the last span
	cursor  int
	right   []orb.Point // places of the section's right end in this span
}

// ring returns the outline of what the section swept: forward along its left end and back
// along its right end, straight from corner to corner.
func (d *drawing) ring(from, until int64) orb.Ring {
	for d.next < len(d.corners) && d.track[d.corners[d.next]].TimeNs <= from {
		d.next++
	}
	last := d.next
	for last < len(d.corners) && d.track[d.corners[last]].TimeNs < until {
		last++
	}
	inside := d.corners[d.next:last]
	ring := make(orb.Ring, 0, 2*len(inside)+5)
	d.right = d.right[:0]
	add := func(p motion.Pose) {
		f := d.machine.Frame(&p)
		le, ln, re, rn := d.machine.Line(d.section, &f)
		ring = append(ring, orb.Point{le, ln})
		d.right = append(d.right, orb.Point{re, rn})
	}
	add(d.track.At(from, &d.cursor))
	for _, k := range inside {
		add(d.track[k])
	}
	add(d.track.At(until, &d.cursor))
	for k := len(d.right) - 1; k >= 0; k-- {
		ring = append(ring, d.right[k])
	}
	return append(ring, ring[0])
}
