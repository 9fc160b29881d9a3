// This file is the part of Bank that callers use: they give it setpoints and
// read the work changes and tool heights that follow.

package hydraulics

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"liftbench/sections"
)

// Bank simulates the lift of all sections of one machine. It has no clock of
// its own: Advance moves its time forward. The same setpoints give the same
// output bit for bit, however the time is split into calls of Advance. After
// New only two methods allocate: Record, and Command when more than four
// setpoints of one section are waiting.
//
// A setpoint moves the valve one dead time after its DueNs. Until then the oil
// flows as before, so a tool that is reversed in mid-stroke keeps its old
// direction for the dead time. If a setpoint is reversed before its dead time
// has passed, the valve moves for neither of the two. At the end of its stroke
// a tool stops and takes no oil.
type Bank struct {
	nowNs  int64
	nextNs int64 // earliest event of any section

	travelM, effectiveM float64   // heights of a raised tool and of one at effective depth
	bottomM             float64   // 0, or how far below it the slot would take the tool
	ends                []float64 // heights between which a falling tool keeps its speed, rising
	params              Params
	kinds               []kind
	mixed               bool // sections ask by different measures, so that byCap is put in order anew
	oil                 warming
	pump                pump
	gas                 accumulator
	tank                warmed
	forwardMps          float64 // how fast the machine goes

	sections []section
	byCap    []int16 // sections by rising liftCap, or by what each cylinder asks
	profiles []Profile
}

// Fault describes a defect of one section; the zero value is no defect.
type Fault struct {
	ExtraDeadNs int64   // added to the lift and to the drop dead time, 0 to 10 s
	FlowLoss    float64 // share of the flow lost when lifting and dropping: 0 none, 1 blocked
}

// New returns a bank of n sections (1 to sections.MaxSections) at time 0, all
// raised, at rest and without faults.
func New(p Params, n int) (*Bank, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if p.Cylinders != nil && len(p.Cylinders) != n {
		return nil, fmt.Errorf("cylinders of %d sections; expected those of each of %d", len(p.Cylinders), n)
	}
	if n < 1 || n > sections.MaxSections {
		return nil, fmt.Errorf("%d sections; expected 1 to %d", n, sections.MaxSections)
	}
	b := &Bank{
		travelM:    p.TravelM(),
		effectiveM: p.effectiveM(),
		bottomM:    p.bottomM(),
		ends:       p.heights(),
		params:     p,
		kinds:      p.kinds(n),
		mixed:      p.Cylinders != nil || p.RodM > 0,
		pump:       pump{flowM3PerS: p.PumpFlowM3PerS, wakeNs: p.PumpWakeNs},
		tank:       warmed{Tank: p.Tank},
		sections:   make([]section, n),
		byCap:      make([]int16, n),
	}
	const waiting = 4
	moves := make([]valveMove, n*waiting)
	for i := range b.sections {
		b.sections[i].moves = moves[i*waiting : i*waiting : (i+1)*waiting]
		b.byCap[i] = int16(i)
		b.sections[i].kind = &b.kinds[min(i, len(b.kinds)-1)]
	}
	b.gas = newAccumulator(&p)
	b.takeOil(p.OilTempDegC)
	b.Start(0, false)
	return b, nil
}

// Start sets the bank's time to atNs and puts every tool at rest, all at working
// depth or all raised, without reporting a WorkChange. Waiting setpoints and
// recorded profiles are discarded; faults and deviations stay; oil that warms
// starts again at its first temperature.
func (b *Bank) Start(atNs int64, inWork bool) {
	h := b.travelM
	if inWork {
		h = b.bottomM
	}
	b.nowNs = atNs
	b.oil.begin(atNs)
	b.pump.asleep, b.pump.wakesNs = true, never
	b.tank.begin(atNs, b.params.OilTempDegC)
	b.gas.begin(atNs)
	if b.tank.VolumeM3 > 0 || b.gas.fullM3 > 0 {
		b.takeOil(b.params.OilTempDegC)
	}
	b.nextNs = b.oil.nextNs
	for i := range b.sections {
		s := &b.sections[i]
		s.on, s.inWork = inWork, inWork
		s.lastOn, s.lastDueNs = inWork, math.MinInt64
		s.moves = s.moves[:0]
		if b.profiles != nil {
			b.profiles[i] = b.profiles[i][:0]
		}
		b.move(i, atNs, h, 0)
		s.plan()
	}
}

// SetFault gives section i the fault f from now on, in place of an earlier one.
// Setpoints that are already waiting keep their dead time.
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

// refit applies a fault or deviation that was just set for section i.
func (b *Bank) refit(i int) {
	b.fit(i)
	slices.SortStableFunc(b.byCap, func(x, y int16) int {
		return cmp.Compare(b.sections[x].liftCap, b.sections[y].liftCap)
	})
	b.share(b.nowNs)
}

// Command takes a setpoint. It should be called before Advance passes DueNs. If
// it comes later, the valve still moves one dead time after DueNs, or at once
// if that time has passed. The due times of one section must not decrease: an
// earlier one is replaced by that of the setpoint before it. A setpoint that
// repeats the last one is ignored, and so is one for a section that the bank
// does not have.
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
	if n := len(s.moves); n > 0 && due < s.moves[n-1].atNs {
		s.moves = s.moves[:n-1] // reversed before its dead time had passed
	} else {
		dead := s.liftDeadNs
		if sp.On {
			dead = s.dropDeadNs
		}
		at := max(due+dead, b.nowNs)
		if due > never-dead {
			at = never
		}
		s.moves = append(s.moves, valveMove{at, sp.On})
	}
	s.plan()
	b.nextNs = min(b.nextNs, s.nextNs)
}

// Advance moves the bank's time to toNs and appends the work changes since the
// last call to out, ordered by time, then by section. A call covers the
// half-open interval [from, to): what happens at toNs itself is reported by the
// next call, so that setpoints due at toNs can still be given. A toNs before
// the bank's time does nothing.
func (b *Bank) Advance(toNs int64, out []sections.WorkChange) []sections.WorkChange {
	if b.nextNs < toNs {
		out = b.run(toNs, out)
	}
	b.nowNs = max(b.nowNs, toNs)
	return out
}

// Forward tells how fast the machine goes from now on, which decides how fast tools bite (Effects.BiteM).
// Before it is told, they come into the soil as fast as they can.
func (b *Bank) Forward(mps float64) {
	if b.params.BiteM == 0 || mps == b.forwardMps {
		return
	}
	b.forwardMps = mps
	b.share(b.nowNs)
}

// NowNs returns the time to which the bank has been advanced.
func (b *Bank) NowNs() int64 { return b.nowNs }

// HeightM returns the present height of tool i: 0 m at working depth,
// Params.TravelM when raised.
func (b *Bank) HeightM(i int) float64 { return max(b.heightM(i, b.nowNs), 0) }

// InWork reports whether tool i is at present at its effective depth or deeper.
func (b *Bank) InWork(i int) bool { return b.sections[i].inWork }
