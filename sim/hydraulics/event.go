// This file goes from event to event: valves turn, tools cross the effective
// depth, tools reach their end, the oil is a step warmer, and each time it is
// shared anew.

package hydraulics

import (
	"math"

	"liftbench/sections"
)

// never is after every event.
const never = math.MaxInt64

// after returns the instant seconds after t, to the nearest ns.
func after(t int64, seconds float64) int64 {
	const generation = 1e9 // s; also keeps t + seconds within int64
	if !(seconds < generation) {
		return never
	}
	return t + int64(math.Round(seconds*1e9))
}

// turn is a valve's change of position, still to come.
type turn struct {
	atNs int64
	on   bool
}

// section is one tool with its cylinder and valve. From sinceNs on it is at
// sinceM + speedMps·(t − sinceNs); that line changes at events alone, so the
// result does not depend on when somebody looks.
type section struct {
	sinceNs  int64
	sinceM   float64
	speedMps float64 // positive = rising

	nextNs  int64 // earliest of the two below and the first turn
	crossNs int64 // passes the effective depth
	stopNs  int64 // reaches its end

	on     bool // valve: lets the tool drop, else lifts it
	inWork bool

	lastOn    bool // last setpoint taken
	lastDueNs int64
	turns     []turn // in order of time

	deviation Deviation
	fault     Fault

	liftCap                float64 // m³/s
	dropFlow               float64 // m³/s
	liftDeadNs, dropDeadNs int64
}

// fit sets what section i can do, from what a sound one can and what is
// different and wrong with this one.
func (b *Bank) fit(i int) {
	s := &b.sections[i]
	d, f := &s.deviation, &s.fault
	s.liftCap = b.liftCap * (1 + d.Flow) * (1 - f.FlowLoss)
	s.dropFlow = b.dropFlow * (1 + d.Flow) * (1 - f.FlowLoss)
	s.liftDeadNs = max(b.params.LiftDeadNs+d.LiftDeadNs, 0) + f.ExtraDeadNs
	s.dropDeadNs = max(b.params.DropDeadNs+d.DropDeadNs, 0) + f.ExtraDeadNs
}

// plan finds the section's next event.
func (s *section) plan() {
	s.nextNs = min(s.crossNs, s.stopNs)
	if len(s.turns) > 0 {
		s.nextNs = min(s.nextNs, s.turns[0].atNs)
	}
}

// run handles the events before toNs.
func (b *Bank) run(toNs int64, out []sections.WorkChange) []sections.WorkChange {
	for b.nextNs < toNs {
		out = b.step(b.nextNs, out)
	}
	return out
}

// step handles the events of instant t, the earliest.
func (b *Bank) step(t int64, out []sections.WorkChange) []sections.WorkChange {
	stirred := false
	if b.oil.nextNs <= t {
		b.heat()
		stirred = true
	}
	for i := range b.sections {
		s := &b.sections[i]
		if s.nextNs > t {
			continue
		}
		if s.crossNs <= t {
			s.inWork = !s.inWork
			s.crossNs = never
			out = append(out, sections.WorkChange{TimeNs: t, Section: int16(i), On: s.inWork})
		}
		if s.stopNs <= t {
			end := 0.0
			if s.speedMps > 0 {
				end = b.travelM
			}
			b.move(i, t, end, 0)
			stirred = true
		}
		for len(s.turns) > 0 && s.turns[0].atNs <= t {
			s.on = s.turns[0].on
			s.turns = s.turns[:copy(s.turns, s.turns[1:])]
			stirred = true
		}
		s.plan()
	}
	if stirred {
		b.share(t)
		return out
	}
	b.plan()
	return out
}

// plan finds the bank's next event.
func (b *Bank) plan() {
	b.nextNs = b.oil.nextNs
	for i := range b.sections {
		b.nextNs = min(b.nextNs, b.sections[i].nextNs)
	}
}

// share gives every section the speed that holds from t on.
func (b *Bank) share(t int64) {
	level := b.level(t)
	for i := range b.sections {
		s := &b.sections[i]
		h := b.heightM(i, t)
		v := 0.0
		switch {
		case s.on && h > 0:
			v = -s.dropFlow * b.speedPerFlow
		case !s.on && h < b.travelM:
			v = min(s.liftCap, level) * b.speedPerFlow
		}
		if v != s.speedMps {
			b.move(i, t, h, v)
			s.plan()
		}
	}
	b.plan()
}

// level returns the flow that no rising section exceeds at t: the level to
// which the pump fills their caps, as water fills vessels of unlike height.
// Those with the smaller caps are filled first and leave the rest to share.
func (b *Bank) level(t int64) float64 {
	left := 0
	for i := range b.sections {
		if b.rises(i, t) {
			left++
		}
	}
	rest := b.pumpM3PerS
	for _, i := range b.byCap {
		if !b.rises(int(i), t) {
			continue
		}
		if equal := rest / float64(left); b.sections[i].liftCap > equal {
			return equal
		}
		rest -= b.sections[i].liftCap
		left--
	}
	return math.Inf(1)
}

// rises reports whether tool i takes oil from t on.
func (b *Bank) rises(i int, t int64) bool {
	return !b.sections[i].on && b.heightM(i, t) < b.travelM
}

// heightM is where tool i is at t, within its stroke whatever rounding says.
func (b *Bank) heightM(i int, t int64) float64 {
	s := &b.sections[i]
	if s.speedMps == 0 {
		return s.sinceM
	}
	h := s.sinceM + s.speedMps*(float64(t-s.sinceNs)*1e-9)
	return min(max(h, 0), b.travelM)
}

// move puts tool i on the line that starts at (t, h) with speed v and finds
// where that crosses the effective depth and where it ends.
func (b *Bank) move(i int, t int64, h, v float64) {
	s := &b.sections[i]
	s.sinceNs, s.sinceM, s.speedMps = t, h, v
	s.crossNs, s.stopNs = never, never
	// inWork turns at crossings alone, so rounding can neither repeat nor
	// lose one; max(0, …) is a tool that rounding has put past the edge.
	switch {
	case v > 0:
		s.stopNs = after(t, (b.travelM-h)/v)
		if s.inWork {
			s.crossNs = after(t, max(0, b.edgeM-h)/v)
		}
	case v < 0:
		s.stopNs = after(t, h/-v)
		if !s.inWork {
			s.crossNs = after(t, max(0, h-b.edgeM)/-v)
		}
	case s.inWork != (h <= b.edgeM):
		s.crossNs = t
	}
	b.knot(i, t, h)
}
