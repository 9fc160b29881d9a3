// This file is the bank of sections as its caller sees it: setpoints in, work
// changes out.

package hydraulics

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"liftbench/sections"
)

// Bank is the lift of one machine in motion. It has no clock of its own:
// Advance moves it on. The same setpoints give the same output bit for bit,
// however the time is split into calls of Advance. After New nothing allocates
// but Record, and Command when more than four setpoints of a section wait.
//
// Valve: a setpoint that takes effect at DueNs moves the valve one dead time
// later; until then the oil flows as it did, so a tool that is reversed in
// mid-stroke keeps its old direction for the dead time. A setpoint reversed
// within its own dead time never reaches the valve: both fall away. At the
// end of its stroke a tool rests and takes no oil.
type Bank struct {
	nowNs  int64
	nextNs int64 // earliest event of any section

	travelM, edgeM float64 // heights of a raised tool and of one at effective depth
	speedPerFlow   float64 // tool speed of one m³/s
	pumpM3PerS     float64
	params         Params

	liftCap, dropFlow float64 // of a sound section that is as Params say, m³/s
	oil               warming

	sections []section
	byCap    []int16 // sections by rising liftCap
	profiles []Profile
}

// Fault is what is wrong with one section; the zero value is a sound one.
type Fault struct {
	ExtraDeadNs int64   // on top of both dead times, 0 to 10 s
	FlowLoss    float64 // share of the flow lost both ways: 0 none, 1 blocked
}

// New returns a bank of the given number of sections (1 to
// sections.MaxSections) at time 0, all raised, at rest and sound.
func New(p Params, n int) (*Bank, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if n < 1 || n > sections.MaxSections {
		return nil, fmt.Errorf("%d sections; expected 1 to %d", n, sections.MaxSections)
	}
	b := &Bank{
		travelM:      p.TravelM(),
		edgeM:        p.edgeM(),
		speedPerFlow: p.toolSpeedMps(1),
		pumpM3PerS:   p.PumpFlowM3PerS,
		params:       p,
		sections:     make([]section, n),
		byCap:        make([]int16, n),
	}
	const waiting = 4
	turns := make([]turn, n*waiting)
	for i := range b.sections {
		b.sections[i].turns = turns[i*waiting : i*waiting : (i+1)*waiting]
		b.byCap[i] = int16(i)
	}
	b.takeOil(&b.params)
	b.Start(0, false)
	return b, nil
}

// Start sets the clock to atNs and every tool at rest, all in work or all
// raised, without a WorkChange. Setpoints that wait and recorded knots are
// forgotten; faults and deviations stay; oil that warms is at its first
// temperature again.
func (b *Bank) Start(atNs int64, inWork bool) {
	h := b.travelM
	if inWork {
		h = 0
	}
	b.nowNs = atNs
	b.oil.begin(atNs)
	b.nextNs = b.oil.nextNs
	for i := range b.sections {
		s := &b.sections[i]
		s.on, s.inWork = inWork, inWork
		s.lastOn, s.lastDueNs = inWork, math.MinInt64
		s.turns = s.turns[:0]
		if b.profiles != nil {
			b.profiles[i] = b.profiles[i][:0]
		}
		b.move(i, atNs, h, 0)
		s.plan()
	}
}

// SetFault makes section i suffer f from now on; setpoints that already wait
// keep their dead time.
func (b *Bank) SetFault(i int, f Fault) error {
	if i < 0 || i >= len(b.sections) {
		return fmt.Errorf("fault of section %d; expected 1 to %d", i+1, len(b.sections))
	}
	if f.ExtraDeadNs < 0 || f.ExtraDeadNs > 10_000*ms {
		return fmt.Errorf("extra dead time %.6g ms of section %d; expected 0 to 10000", float64(f.ExtraDeadNs)/ms, i+1)
	}
	if !(f.FlowLoss >= 0 && f.FlowLoss <= 1) {
		return fmt.Errorf("flow loss %.6g of section %d; expected 0 to 1", f.FlowLoss, i+1)
	}
	b.sections[i].fault = f
	b.refit(i)
	return nil
}

// refit lets what was set of section i take effect now.
func (b *Bank) refit(i int) {
	b.fit(i)
	slices.SortStableFunc(b.byCap, func(x, y int16) int {
		return cmp.Compare(b.sections[x].liftCap, b.sections[y].liftCap)
	})
	b.share(b.nowNs)
}

// Command takes a setpoint, early or at latest when the bank stands at its
// DueNs. A later one moves the valve when it would have, but not in the past.
// Due times of one section do not decrease: an earlier one counts as the last
// one given. A setpoint that repeats the last one, and one for a section that
// the bank does not have, is ignored.
func (b *Bank) Command(sp sections.Setpoint) {
	i := int(sp.Section)
	if i < 0 || i >= len(b.sections) {
		return
	}
	s := &b.sections[i]
	if sp.On == s.lastOn {
		return
	}
	due := max(sp.DueNs, s.lastDueNs)
	s.lastOn, s.lastDueNs = sp.On, due
	if n := len(s.turns); n > 0 && due < s.turns[n-1].atNs {
		s.turns = s.turns[:n-1] // reversed within its own dead time
	} else {
		dead := s.liftDeadNs
		if sp.On {
			dead = s.dropDeadNs
		}
		at := max(due+dead, b.nowNs)
		if due > never-dead {
			at = never
		}
		s.turns = append(s.turns, turn{at, sp.On})
	}
	s.plan()
	b.nextNs = min(b.nextNs, s.nextNs)
}

// Advance moves the bank on to toNs and appends the work changes since the
// last call to out, in order of time, of section where times are equal. What
// happens at toNs itself belongs to the next call, so that setpoints due at
// toNs can still be given: calls cover [from, to). A toNs before the bank's
// time does nothing.
func (b *Bank) Advance(toNs int64, out []sections.WorkChange) []sections.WorkChange {
	if b.nextNs < toNs {
		out = b.run(toNs, out)
	}
	b.nowNs = max(b.nowNs, toNs)
	return out
}

// NowNs returns the time to which the bank has been advanced.
func (b *Bank) NowNs() int64 { return b.nowNs }

// HeightM returns the height of tool i above its lowest place, now: 0 at
// working depth, Params.TravelM when raised.
func (b *Bank) HeightM(i int) float64 { return b.heightM(i, b.nowNs) }

// InWork reports the actual work state of section i, up to now.
func (b *Bank) InWork(i int) bool { return b.sections[i].inWork }
