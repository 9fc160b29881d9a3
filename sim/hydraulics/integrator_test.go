// The bank against the same lift in small equal steps.

package hydraulics

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"liftbench/sections"
)

// integrator computes the same lift in small equal time steps. It shares only
// Params with the bank: it finds flows and the pump's level by bisection, and
// moves a valve by a timer that runs while the setpoint differs from it.
type integrator struct {
	p          Params
	stepNs     int64
	lift, drop []float64 // tool speeds at the cap, m/s
	dead       []int64   // extra, ns
}

func (in *integrator) run(points []sections.Setpoint, inWork bool, toNs int64) []sections.WorkChange {
	n := len(in.lift)
	setpoint, valve, work := make([]bool, n), make([]bool, n), make([]bool, n)
	height, speed, timer := make([]float64, n), make([]float64, n), make([]int64, n)
	top := in.p.RaisedM + in.p.WorkingDepthM
	for i := range n {
		setpoint[i], valve[i], work[i] = inWork, inWork, inWork
		if !inWork {
			height[i] = top
		}
	}
	var out []sections.WorkChange
	dt := float64(in.stepNs) * 1e-9
	for now := int64(0); now < toNs; now += in.stepNs {
		for i := range n {
			dead := in.p.LiftDeadNs + in.dead[i]
			if setpoint[i] {
				dead = in.p.DropDeadNs + in.dead[i]
			}
			if setpoint[i] != valve[i] && timer[i] >= dead {
				valve[i] = setpoint[i]
			}
		}
		for len(points) > 0 && points[0].DueNs <= now {
			i := points[0].Section
			setpoint[i], timer[i] = points[0].On, 0
			points = points[1:]
		}
		for i := range n {
			timer[i] += in.stepNs
		}
		// The level is a speed here: all cylinders are alike.
		pump := in.p.PumpFlowM3PerS / (math.Pi / 4 * in.p.BoreM * in.p.BoreM) * top / in.p.StrokeM
		takes := func(level float64) (sum float64) {
			for i := range n {
				if !valve[i] && height[i] < top {
					sum += min(in.lift[i], level)
				}
			}
			return sum
		}
		level := math.Inf(1)
		if takes(level) > pump {
			level = bisect(func(v float64) bool { return takes(v) < pump }, 0, pump)
		}
		for i := range n {
			speed[i] = min(in.lift[i], level)
			if valve[i] {
				speed[i] = -in.drop[i]
			}
		}
		for i := range n {
			height[i] = min(max(height[i]+speed[i]*dt, 0), top)
			// Slack: the tool may stop just at the effective depth.
			is := in.p.WorkingDepthM-height[i] >= in.p.EffectiveDepthM-1e-12
			if is != work[i] {
				work[i] = is
				out = append(out, sections.WorkChange{TimeNs: now + in.stepNs, Section: int16(i), On: is})
			}
		}
	}
	return out
}

// bisect returns the largest x of [lo, hi] for which below holds.
func bisect(below func(float64) bool, lo, hi float64) float64 {
	for range 60 {
		if mid := (lo + hi) / 2; below(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// speedAt is a tool's speed under a pressure, its flow by bisection.
func speedAt(p *Params, pa float64) float64 {
	area := math.Pi / 4 * p.BoreM * p.BoreM
	q := bisect(func(q float64) bool {
		mu := 870 * p.ViscosityMm2PerS() * 1e-6
		v := q / (p.OrificeCd * math.Pi / 4 * p.OrificeM * p.OrificeM)
		return 128*mu*p.HoseLengthM*q/(math.Pi*math.Pow(p.HoseBoreM, 4))+870.0/2*v*v < pa
	}, 0, 1)
	return q / area * (p.RaisedM + p.WorkingDepthM) / p.StrokeM
}

func TestAgainstSmallSteps(t *testing.T) {
	const toNs, stepNs = 16e9, 100e3
	for seed := range uint64(10) {
		t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(seed, 1))
			n := 2 + rng.IntN(7)
			inWork := seed%2 == 0
			p := with(func(p *Params) {
				p.OilTempDegC = -10 + 70*rng.Float64()
				p.PumpFlowM3PerS = (4 + 40*rng.Float64()) * litrePerMin
				if seed%3 == 0 {
					p.ValveFlowM3PerS = 0
				}
			})
			b, err := New(p, n)
			if err != nil {
				t.Fatal(err)
			}
			b.Start(0, inWork)

			area := math.Pi / 4 * p.BoreM * p.BoreM
			valve := math.Inf(1)
			if p.ValveFlowM3PerS > 0 {
				valve = p.ValveFlowM3PerS / area * (p.RaisedM + p.WorkingDepthM) / p.StrokeM
			}
			in := integrator{p: p, stepNs: stepNs}
			for i := range n {
				var f Fault
				if rng.IntN(3) == 0 {
					f = Fault{FlowLoss: 0.8 * rng.Float64(), ExtraDeadNs: rng.Int64N(100) * 1e6}
				}
				if err := b.SetFault(i, f); err != nil {
					t.Fatal(err)
				}
				in.lift = append(in.lift, (1-f.FlowLoss)*min(valve, speedAt(&p, p.PressurePa-p.LiftForceN/area)))
				in.drop = append(in.drop, (1-f.FlowLoss)*speedAt(&p, p.DropForceN/area))
				in.dead = append(in.dead, f.ExtraDeadNs)
			}

			// Staggered setpoints, some of them within dead times and strokes.
			var points []sections.Setpoint
			on := make([]bool, n)
			for i := range on {
				on[i] = inWork
			}
			for due := int64(0); due < 12e9; due += 1e6 * (1 + rng.Int64N(int64(2000/n))) {
				i := rng.IntN(n)
				on[i] = !on[i]
				points = append(points, sections.Setpoint{DueNs: due, Section: int16(i), On: on[i]})
			}

			for _, sp := range points {
				b.Command(sp)
			}
			got, want := b.Advance(toNs, nil), in.run(points, inWork, toNs)
			worst := int64(0)
			for i := range n {
				g, w := only(got, i), only(want, i)
				if len(g) != len(w) {
					t.Fatalf("section %d: %d changes, in small steps %d", i+1, len(g), len(w))
				}
				for k := range g {
					if g[k].On != w[k].On {
						t.Fatalf("section %d: %+v, in small steps %+v", i+1, g[k], w[k])
					}
					worst = max(worst, w[k].TimeNs-g[k].TimeNs, g[k].TimeNs-w[k].TimeNs)
				}
			}
			// Its stops are late by up to a step, which delays who shares the pump.
			if worst > 2*stepNs {
				t.Errorf("differs by %d ns; a step is %d", worst, int64(stepNs))
			}
			t.Logf("%d sections, %d setpoints, %d changes, worst %.2f steps", n, len(points), len(got), float64(worst)/stepNs)
		})
	}
}

func only(changes []sections.WorkChange, section int) []sections.WorkChange {
	var out []sections.WorkChange
	for _, c := range changes {
		if int(c.Section) == section {
			out = append(out, c)
		}
	}
	return out
}
