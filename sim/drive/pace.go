// The driver's foot: a speed of his own, and one of each pass.

package drive

import (
	"math/rand/v2"

	"liftbench/sim/chance"
)

// pace is the speed of one pass after the other, as a share of what the driver
// is to drive: normal, within chance.Limit standard deviations.
type pace struct {
	drive, sigma float64
	passes       *rand.Rand
}

func newPace(p *Params) pace {
	stream := func(i uint64) *rand.Rand { return rand.New(rand.NewPCG(p.Seed, 0x70616365+i)) }
	return pace{
		drive: 1 + float64(p.DriveSpeedSigma*chance.Vary(stream(0))),
		sigma: p.PassSpeedSigma, passes: stream(1),
	}
}

func (p *pace) next() float64 { return p.drive * (1 + float64(p.sigma*chance.Vary(p.passes))) }
