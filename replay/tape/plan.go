// Which passes to drive before any is driven.

package tape

import (
	"math"

	"liftbench/sections/score/sample"
)

const (
	// mostPlanned is how many passes a plan has at most.
	mostPlanned = 60
	// leastAtSpeed is how many passes a speed needs, so that it shows which of them slipped.
	leastAtSpeed = 3
	// planStepKmh is between the speeds that are tried: as fine as a driver can hold.
	planStepKmh = 0.5
)

// Driving is what a pass costs: the time to stop, make safe, read the tape and go on, and the way that
// is driven at its speed (both common practice, no source).
type Driving struct {
	MeasureS, RunM float64
	BothWays       bool // passes go both ways, and a place that differs between them is taken out
}

// DefaultDriving is three minutes with the tape and 60 m at the speed of the pass.
func DefaultDriving() Driving { return Driving{MeasureS: 180, RunM: 60} }

// Leg is the passes at one speed, one way and the other.
type Leg struct {
	SpeedMps    float64
	There, Back int
}

// Passes is how many passes the leg has.
func (l *Leg) Passes() int { return l.There + l.Back }

// Plan is the passes to drive, slow first.
type Plan struct{ Legs []Leg }

// Passes is how many passes the plan has.
func (p *Plan) Passes() int {
	n := 0
	for i := range p.Legs {
		n += p.Legs[i].Passes()
	}
	return n
}

// CostS is how long the plan takes.
func (p *Plan) CostS(d Driving) float64 {
	s := 0.0
	for i := range p.Legs {
		s += float64(p.Legs[i].Passes()) * (d.MeasureS + d.RunM/p.Legs[i].SpeedMps)
	}
	return s
}

// HalfS is half of the 95 % interval of the lead that passes tell whose readings are known to scatter
// by sigmaM: 1.96·σ·√((XᵀX)⁻¹) of the slope. With ways the line has a place of its own each way.
func (p *Plan) HalfS(sigmaM float64, ways bool) float64 {
	// Sums about 0 of v and of the way w = ±1/2, over the passes.
	var n, v, vv, w, vw, ww float64
	for _, l := range p.Legs {
		k, x := float64(l.Passes()), l.SpeedMps
		n += k
		v += k * x
		vv += k * x * x
		w += float64(l.There-l.Back) / 2
		vw += x * float64(l.There-l.Back) / 2
		ww += k / 4
	}
	left := vv - v*v/n // what the place leaves of v
	if ways {
		both, own := vw-v*w/n, ww-w*w/n
		if own > 1e-9 {
			left -= both * both / own
		} else {
			left = 0
		}
	}
	if !(left > 1e-9) {
		return math.Inf(1)
	}
	return sample.Z95 * sigmaM / math.Sqrt(left)
}

// BestPlan finds the passes within the speeds of the wish that bring the lead to ± wantS with least
// driving, and of those that cost the same the most precise. Of two speeds as far apart as they can be,
// each driven equally often, a line is known best (the D-optimal design); where slow passes
// take long, fewer or less slow ones are worth more. ok is false if the most passes do not reach it.
func BestPlan(wantS float64, w Wish, d Driving) (best Plan, ok bool) {
	cheapest, closest := math.Inf(1), math.Inf(1)
	speeds := []float64{}
	for v := w.SlowMps; v < w.FastMps-1e-9; v += planStepKmh / 3.6 {
		speeds = append(speeds, v)
	}
	speeds = append(speeds, w.FastMps)
	for i, slow := range speeds {
		for _, fast := range speeds[i+1:] {
			if fast-slow < oneSpeedMps-1e-9 {
				continue
			}
			for a := leastAtSpeed; a <= mostPlanned-leastAtSpeed; a++ {
				for b := leastAtSpeed; a+b <= mostPlanned; b++ {
					p := Plan{Legs: []Leg{split(slow, a, false, d), split(fast, b, a%2 == 1, d)}}
					half, cost := p.HalfS(w.SigmaM, d.BothWays), p.CostS(d)
					if cost > cheapest+1e-9 {
						break // more passes cost more still
					}
					if half > wantS {
						continue
					}
					if cost < cheapest-1e-9 || half < closest {
						cheapest, closest, best, ok = cost, half, p, true
					}
				}
			}
		}
	}
	return best, ok
}

// split drives half of the passes each way; an odd one goes there, or back.
func split(v float64, n int, oddBack bool, d Driving) Leg {
	switch {
	case !d.BothWays:
		return Leg{v, n, 0}
	case oddBack:
		return Leg{v, n / 2, n - n/2}
	}
	return Leg{v, n - n/2, n / 2}
}
