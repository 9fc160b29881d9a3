// This file makes the sections of one machine differ from each other, as real
// ones do by manufacture and wear.

package hydraulics

import (
	"fmt"
	"math/rand/v2"

	"liftbench/sim/chance"
)

// Deviation is how one section differs from the machine's Params.
type Deviation struct {
	LiftDeadNs, DropDeadNs int64   // added to the dead times, -10 to 10 s; a negative sum counts as 0
	Flow                   float64 // relative change of both flows, -0.9 to 9: 0.1 = a tenth more
}

// Spread holds the standard deviations of the sections' Deviations. With the
// zero value all sections are alike.
type Spread struct {
	LiftDeadNs, DropDeadNs int64   // 0 to 2 s
	Flow                   float64 // 0 to 0.3
	Seed                   uint64
}

// Draw returns the deviations of n sections. They are normally distributed, cut
// off at chance.Limit standard deviations, and independent of each other:
// changing one number of Spread leaves the other deviations as they are, and a
// larger n leaves those of the first sections as they are.
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

// SetDeviation makes section i differ by d from now on; its fault, if any, acts
// in addition. Setpoints that are already waiting keep their dead time.
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
