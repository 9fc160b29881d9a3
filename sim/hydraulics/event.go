// This file computes a Bank from event to event. Events are: a valve moves, a
// tool passes the effective depth, a tool reaches the end of its stroke, the
// oil gets a step warmer. After each event that changes a flow, the pump's oil
// is divided among the rising sections again (pump.go).

package hydraulics

import (
	"math"

	"liftbench/sections"
)

// never is the time of an event that does not happen.
const never = math.MaxInt64

// after returns the time that lies the given seconds after t, rounded to 1 ns;
// never if that is more than 31 years.
func after(t int64, seconds float64) int64 {
	const longest = 1e9 // s, 31 years; keeps t + seconds within int64
	if !(seconds < longest) {
		return never
	}
	return t + int64(math.Round(seconds*1e9))
}

// valveMove is a future change of a valve's position.
type valveMove struct {
	atNs int64
	on   bool // true: to drop the tool
}

// section is one tool with its cylinder and valve. From sinceNs on its height
// is sinceM + speedMps·(t − sinceNs). Only events change these three numbers,
// so the result does not depend on how often the height is read.
type section struct {
	sinceNs  int64
	sinceM   float64
	speedMps float64 // positive = rising

	nextNs  int64 // earliest of crossNs, stopNs, edgeNs and the first of moves
	crossNs int64 // the tool passes the effective depth
	stopNs  int64 // the tool reaches the end of its stroke
	edgeNs  int64 // it comes to the end of a piece of its way, at edgeM
	edgeM   float64

	on     bool // valve position: true drops the tool, false lifts it
	inWork bool

	lastOn    bool // of the last setpoint that was not ignored
	lastDueNs int64
	moves     []valveMove // ordered by time

	deviation Deviation
	fault     Fault

	kind *kind

	// With deviation and fault applied; see fit.
	liftCap                float64 // most it takes when lifting, m³/s
	flow, asks             float64 // what moves it unless the pump gives less, and what it asks of the pump, m³/s
	flowBeside, asksBeside float64 // the same at another pressure
	liftDeadNs, dropDeadNs int64
}

// fit computes the flows and dead times of section i from those of a normal
// section and this section's deviation and fault.
func (b *Bank) fit(i int) {
	s := &b.sections[i]
	d, f := &s.deviation, &s.fault
	s.liftCap = s.kind.lift * (1 + d.Flow) * (1 - f.FlowLoss)
	s.liftDeadNs = max(b.params.LiftDeadNs+d.LiftDeadNs, 0) + f.ExtraDeadNs
	s.dropDeadNs = max(b.params.DropDeadNs+d.DropDeadNs, 0) + f.ExtraDeadNs
}

// plan finds the time of the section's next event.
func (s *section) plan() {
	s.nextNs = min(s.crossNs, s.stopNs, s.edgeNs)
	if len(s.moves) > 0 {
		s.nextNs = min(s.nextNs, s.moves[0].atNs)
	}
}

// run handles all events before toNs.
func (b *Bank) run(toNs int64, out []sections.WorkChange) []sections.WorkChange {
	for b.nextNs < toNs {
		out = b.step(b.nextNs, out)
	}
	return out
}

// step handles all events at t, which is the time of the bank's next event.
func (b *Bank) step(t int64, out []sections.WorkChange) []sections.WorkChange {
	flowsChange := false
	if b.oil.nextNs <= t {
		b.heat()
		flowsChange = true
	}
	if b.tank.nextNs <= t {
		b.takeOil(b.tank.step(t))
		flowsChange = true
	}
	if b.gas.nextNs <= t {
		flowsChange = true
	}
	if b.pump.wakesNs <= t {
		b.pump.wakesNs = never
		flowsChange = true
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
			end := b.bottomM
			if s.speedMps > 0 {
				end = b.travelM
			}
			b.move(i, t, end, 0)
			flowsChange = true
		}
		if s.edgeNs <= t {
			b.move(i, t, s.edgeM, s.speedMps)
			flowsChange = true
		}
		for len(s.moves) > 0 && s.moves[0].atNs <= t {
			s.on = s.moves[0].on
			s.moves = s.moves[:copy(s.moves, s.moves[1:])]
			flowsChange = true
		}
		s.plan()
	}
	if flowsChange {
		b.share(t)
		return out
	}
	b.plan()
	return out
}

// plan finds the time of the bank's next event.
func (b *Bank) plan() {
	b.nextNs = min(b.oil.nextNs, b.pump.wakesNs, b.tank.nextNs, b.gas.nextNs)
	for i := range b.sections {
		b.nextNs = min(b.nextNs, b.sections[i].nextNs)
	}
}

// heightM returns the height of tool i at t, below 0 how far the rod is in its slot. Rounding cannot
// put it outside bottomM to travelM.
func (b *Bank) heightM(i int, t int64) float64 {
	s := &b.sections[i]
	if s.speedMps == 0 {
		return s.sinceM
	}
	h := s.sinceM + float64(s.speedMps*(float64(t-s.sinceNs)*1e-9))
	return min(max(h, b.bottomM), b.travelM)
}

// move lets tool i go on from height h at time t with speed v (m/s, positive =
// rising), and computes when it passes the effective depth and when it reaches
// the end of its stroke.
func (b *Bank) move(i int, t int64, h, v float64) {
	s := &b.sections[i]
	s.sinceNs, s.sinceM, s.speedMps = t, h, v
	s.crossNs, s.stopNs, s.edgeNs = never, never, never
	// Only a crossNs event changes inWork, so rounding can neither report a
	// change twice nor lose one. max(0, …) is for a tool that rounding has
	// already put just past the effective depth.
	switch {
	case v > 0:
		s.stopNs = after(t, (b.travelM-h)/v)
		if s.inWork {
			s.crossNs = after(t, max(0, b.effectiveM-h)/v)
		}
		if h < 0 {
			s.edgeNs, s.edgeM = after(t, -h/v), 0
		}
	case v < 0:
		s.stopNs = after(t, (h-b.bottomM)/-v)
		if !s.inWork {
			s.crossNs = after(t, max(0, h-b.effectiveM)/-v)
		}
		if k := b.piece(h); k > 0 {
			s.edgeNs, s.edgeM = after(t, (h-b.ends[k])/-v), b.ends[k]
		}
	case s.inWork != (h <= b.effectiveM):
		s.crossNs = t
	}
	b.knot(i, t, max(h, 0))
}
