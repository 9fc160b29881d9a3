// Sections that share the pump: when each begins to move, how long it takes, and how many
// others move at the same time.

package evidence

import (
	"math"
	"slices"

	"liftbench/replay/diagnose/pump"
	"liftbench/sections/score"
	"liftbench/sections/score/sample"
)

// pumpOf returns the pump that the lead of lifts or of drops assumes: one that moves all
// sections at full speed, unless the lead is flow-aware.
func (day *Day) pumpOf(on bool) pump.Pump {
	l, wholeNs := &day.Settings.LiftLead, day.LiftStrokeNs
	if on {
		l, wholeNs = &day.Settings.DropLead, day.Settings.DropLead.TravelNs
	}
	p := pump.Pump{MoveS: float64(max(l.MoveNs, 1e6)) * 1e-9, Fed: l.FedAtOnce}
	p.WholeS = max(p.MoveS, float64(wholeNs)*1e-9)
	if p.Fed <= 0 {
		p.Fed = math.Inf(1)
	}
	return p
}

// LiftMoveS is how long a section that lifts alone moves until it counts as lifted, in s.
func (day *Day) LiftMoveS() float64 { return day.pumpOf(false).MoveS }

// strokes are the ways of the lifts, or of the drops, of a list of events.
type strokes struct {
	pump   pump.Pump // as the lead assumes it
	events []int     // by index
	starts []float64 // s
	order  []int     // of the starts
	tookS  []float64 // up to the effective depth, as the lead assumes
}

// SlowS is how much later than told each section begins to move, in s: on lifts, and on
// drops; nil = none does.
type SlowS [2][]float64

// strokesOf returns the strokes of the lifts, or of the drops, among the events. If the
// events are setpoints, each begins a dead time after its setpoint; otherwise it begins in
// time for its ideal instant. Each section begins slowS later than that. Of setpoints only
// those that were answered take oil; nil = all. If the day says so, sections also moved where
// their change is missing.
func (day *Day) strokesOf(on bool, events []score.Event, setpoints bool, slowS SlowS, answered []bool) strokes {
	s := strokes{pump: day.pumpOf(on)}
	var usual []float64 // of setpoints, from the border on, s
	for i := range events {
		if e := &events[i]; setpoints && day.unseen && e.On == on && Measured(e) {
			usual = append(usual, e.TimeErrorS)
		}
	}
	for i := range events {
		e := &events[i]
		ns, unseen := e.IdealNs, day.unseen && e.Kind == score.Missed
		switch {
		case setpoints && unseen && len(usual) > 0: // told as early as the others usually are
			ns += int64(sample.Median(usual) * 1e9)
		case setpoints:
			ns = e.ActualNs
		}
		moves := e.Kind == score.Paired || setpoints && e.Kind == score.Spurious || unseen
		if e.On == on && moves && (day.unseen || answered == nil || answered[i]) {
			s.events, s.starts = append(s.events, i), append(s.starts, float64(ns-events[0].TimeNs())*1e-9)
		}
	}
	if !setpoints {
		s.tookS = s.pump.Planned(s.starts)
		for k := range s.starts {
			s.starts[k] -= s.tookS[k]
		}
	}
	for k, i := range s.events {
		if own := slowS[Way(on)]; own != nil {
			s.starts[k] += own[events[i].Section]
		}
	}
	s.order = pump.Order(s.starts)
	if setpoints {
		s.tookS, _ = s.pump.TookInOrder(s.starts, s.order)
	}
	return s
}

// answered reports for each setpoint whether a work state followed it. Setpoints away from
// any border count as answered.
func (day *Day) answered() []bool {
	out := make([]bool, len(day.Setpoint))
	for i := range out {
		out[i] = day.Setpoint[i].Kind != score.Paired
	}
	for _, i := range day.setpoints() {
		if i >= 0 {
			out[i] = true
		}
	}
	return out
}

// Unseen is the day with sections that take oil from the pump where their change is missing:
// it was not recorded, or the sensor stuck. Otherwise they stood still. missed are those of
// its borders.
func (day Day) Unseen(missed []score.Event) Day {
	day.unseen = true
	if len(day.Setpoint) == 0 {
		day.Actual = slices.Concat(day.Actual, missed)
	}
	return day
}

// Missed returns the borders at which a section's change is missing.
func (day *Day) Missed() []score.Event {
	return slices.DeleteFunc(slices.Clone(day.Actual), func(e score.Event) bool { return e.Kind != score.Missed })
}

// Sharing is the moves on a leg as one pump has to serve them.
type Sharing struct {
	ways [2]strokes // lifts, drops
	move [2][]int   // of each stroke, the index of its move; -1 = none

	lateS, beside []float64 // of LateS
	strokes       pump.Strokes
}

// Shortage is a pump that feeds fewer sections than the lead assumes.
type Shortage struct {
	Kind   Kind    // what it moves: lifts, drops or both
	Fed    float64 // sections that it moves at full speed at once
	StoreS float64 // accumulator, see pump.Pump
}

// OneFed is a pump that feeds one section.
var OneFed = Shortage{Kind: Lifts, Fed: 1}

// Sharing returns how the moves of a leg, as Moves returned them, share the pump.
func (day *Day) Sharing(leg Leg, slowS SlowS, moves []Move) *Sharing {
	events := day.Actual
	if leg != Whole { // the events that Moves took the strokes from
		events = day.Setpoint
	}
	of := make([]int, len(events))
	for i := range of {
		of[i] = -1
	}
	for i := range moves {
		of[moves[i].event] = i
	}
	var answered []bool
	if leg == Machine {
		answered = day.answered()
	}
	s := &Sharing{}
	for way := range s.ways {
		s.ways[way] = day.strokesOf(way == 1, events, leg == Machine, slowS, answered)
		for _, i := range s.ways[way].events {
			s.move[way] = append(s.move[way], of[i])
		}
	}
	return s
}

// only is the sharing of some moves, as though no other shared the pump.
func (s *Sharing) only(in map[int]bool) *Sharing {
	few := &Sharing{}
	for way := range s.ways {
		from, to := &s.ways[way], &few.ways[way]
		to.pump = from.pump
		for k, i := range s.move[way] {
			if in[i] {
				to.starts, to.tookS = append(to.starts, from.starts[k]), append(to.tookS, from.tookS[k])
				few.move[way] = append(few.move[way], i)
			}
		}
		to.order = pump.Order(to.starts)
	}
	return few
}

// LateS returns how much later than its lead says a shortage makes each move, in s, and
// how many other sections move at the same time. The next call overwrites both.
func (s *Sharing) LateS(moves int, x Shortage) (lateS, beside []float64) {
	s.lateS, s.beside = zeros(s.lateS, moves), zeros(s.beside, moves)
	lateS, beside = s.lateS, s.beside
	for way := range s.ways {
		if x.Kind.Applies(way == 1) == 0 {
			continue
		}
		w := &s.ways[way]
		p := w.pump
		p.Fed, p.StoreS = x.Fed, x.StoreS
		s.strokes.Move(p, w.starts, w.order)
		for k, i := range s.move[way] {
			if i >= 0 {
				lateS[i], beside[i] = s.strokes.TookS[k]-w.tookS[k], s.strokes.Others[k]
			}
		}
	}
	return lateS, beside
}

// zeros returns n zeros, in the room of x if they fit.
func zeros(x []float64, n int) []float64 {
	x = slices.Grow(x[:0], n)[:n]
	clear(x)
	return x
}

// SetOthers sets Others and Beside of the moves for a shortage. Others is the lateness that
// the shortage makes, scaled so that with a factor of x, in s, it is x for each other
// section that moves at the same time, on average over the moves (least squares, weighted by
// the square of the speed). A pump that feeds one makes each other section cost the same,
// and then Others is their number.
func (s *Sharing) SetOthers(moves []Move, x Shortage) {
	lateS, beside := s.LateS(len(moves), x)
	xy, xx := 0.0, 0.0
	for i := range moves {
		v := moves[i].SpeedMps
		xy += v * v * lateS[i] * beside[i]
		xx += v * v * beside[i] * beside[i]
	}
	for i := range moves {
		moves[i].Others, moves[i].Beside = 0, beside[i]
		if xy > 0 {
			moves[i].Others = lateS[i] * xx / xy
		}
	}
}

// LateByPump returns how much later a shortage makes each of the events, in s.
func (day *Day) LateByPump(events []score.Event, x Shortage) []float64 {
	out := make([]float64, len(events))
	for way := range 2 {
		if x.Kind.Applies(way == 1) == 0 {
			continue
		}
		s := day.strokesOf(way == 1, events, false, SlowS{}, nil)
		p := s.pump
		p.Fed, p.StoreS = x.Fed, x.StoreS
		took, _ := p.TookInOrder(s.starts, s.order)
		for k, i := range s.events {
			out[i] = took[k] - s.tookS[k]
		}
	}
	return out
}

// Leads returns how long the machine should take to follow each setpoint, in s: the
// dead time and the stroke. If the lead is flow-aware, a stroke takes longer while other
// sections rise.
func (day *Day) Leads() []float64 { return day.leads(day.Setpoint, true, SlowS{}) }

// leads returns the lead of each of the events, in s.
func (day *Day) leads(events []score.Event, setpoints bool, slowS SlowS) []float64 {
	out := make([]float64, len(events))
	for i := range events {
		l := &day.Settings.LiftLead
		if events[i].On {
			l = &day.Settings.DropLead
		}
		out[i] = float64(l.AloneNs()) * 1e-9
	}
	s := day.strokesOf(false, events, setpoints, slowS, nil)
	for k, i := range s.events {
		out[i] = float64(day.Settings.LiftLead.DeadNs)*1e-9 + s.tookS[k]
	}
	return out
}
