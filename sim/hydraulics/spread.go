// This file is how the sections of one machine differ from each other, as
// they were built and as they have worn.

package hydraulics

import (
	"fmt"
	"math/rand/v2"

	"liftbench/sim/chance"
)

// Deviation is how one section differs from what Params say of all of them.
type Deviation struct {
	LiftDeadNs, DropDeadNs int64   // on top of the dead times; what is left is not below 0
	Flow                   float64 // share of the flow on top, both ways: 0.1 = a tenth more; -0.9 to 9
}

// Spread is how large deviations are: the standard deviation of each, between
// the sections of a machine. The zero value is a machine whose sections are
// alike.
type Spread struct {
	LiftDeadNs, DropDeadNs int64   // 0 to 2 s
	Flow                   float64 // 0 to 0.3
	Seed                   uint64
}

// Draw returns deviations of n sections. Each is normal, but at most
// chance.Limit standard deviations, and all of its own: the size of one of
// Spread changes nothing of another, and more sections nothing of the first.
func (s *Spread) Draw(n int) []Deviation {
	stream := func(i uint64) *rand.Rand { return rand.New(rand.NewPCG(s.Seed, 0x737072656164+i)) }
	lift, drop, flow := stream(0), stream(1), stream(2)
	out := make([]Deviation, n)
	for i := range out {
		out[i] = Deviation{
			LiftDeadNs: int64(float64(s.LiftDeadNs) * chance.Vary(lift)),
			DropDeadNs: int64(float64(s.DropDeadNs) * chance.Vary(drop)),
			Flow:       s.Flow * chance.Vary(flow),
		}
	}
	return out
}

// SetDeviation makes section i differ by d from now on, faults on top of it;
// setpoints that already wait keep their dead time.
func (b *Bank) SetDeviation(i int, d Deviation) error {
	if i < 0 || i >= len(b.sections) {
		return fmt.Errorf("deviation of section %d; expected 1 to %d", i+1, len(b.sections))
	}
	for _, c := range [...]struct {
		what string
		ns   int64
	}{{"lift", d.LiftDeadNs}, {"drop", d.DropDeadNs}} {
		if c.ns < -10_000*ms || c.ns > 10_000*ms {
			return fmt.Errorf("%s dead time of section %d off by %.6g ms; expected -10000 to 10000", c.what, i+1, float64(c.ns)/ms)
		}
	}
	if !(d.Flow >= -0.9 && d.Flow <= 9) {
		return fmt.Errorf("flow of section %d off by a share of %.6g; expected -0.9 to 9", i+1, d.Flow)
	}
	b.sections[i].deviation = d
	b.refit(i)
	return nil
}
