// The bank with every effect against the plant, which integrates in small steps.

package hydraulics

import (
	"math"
	"math/rand/v2"
	"testing"

	"liftbench/sections"
	"liftbench/sim/campaign"
)

// plantOf writes Params down in the plant's own words.
func plantOf(p *Params, n int, forwardMps float64) *plant {
	e := &p.Effects
	out := &plant{stroke: p.StrokeM, travel: p.RaisedM + p.WorkingDepthM, working: p.WorkingDepthM, effective: p.EffectiveDepthM,
		pump: p.PumpFlowM3PerS, valve: p.ValveFlowM3PerS, pressure: p.PressurePa, hose: p.HoseLengthM, hoseBore: p.HoseBoreM,
		orifice: p.OrificeM, cd: p.OrificeCd, at40: float64(p.OilVG), at100: map[int]float64{32: 5.4, 46: 6.8, 68: 8.7}[p.OilVG], degC: p.OilTempDegC,
		slot: e.SlotM, wake: float64(e.PumpWakeNs) * 1e-9, back: e.BackPressurePa, piston: e.RodM,
		freeUp: e.Throttle.String() == "lowering", freeDown: e.Throttle.String() == "lifting",
		oneUp: e.Sequence.String() == "lifting" || e.Sequence.String() == "both", oneDown: e.Sequence.String() == "lowering" || e.Sequence.String() == "both",
		gas: e.AccumulatorM3, precharge: e.PrechargePa, soil: e.SoilForceN, bite: e.BiteM, speed: forwardMps,
		tank: e.Tank.VolumeM3, loss: e.Tank.LossWPerK, air: e.Tank.AirDegC}
	if e.At40Mm2PerS > 0 {
		out.at40, out.at100 = e.At40Mm2PerS, e.At100Mm2PerS
	}
	for i := range n {
		r := rod{cylinders: 1, bore: p.BoreM, lift: p.LiftForceN, raisedN: p.DropForceN, workingN: p.DropForceN,
			deadUp: float64(p.LiftDeadNs) * 1e-9, deadDown: float64(p.DropDeadNs) * 1e-9}
		if e.WorkingForceN > 0 {
			r.workingN = e.WorkingForceN
		}
		if e.Cylinders != nil {
			r.cylinders, r.bore = float64(e.Cylinders[i].Count), e.Cylinders[i].BoreM
		}
		out.rods = append(out.rods, r)
	}
	return out
}

// drawEffects draws a lift with each effect at even chance.
func drawEffects(rng *rand.Rand, n int) Params {
	p := hoe()
	some := func(low, high float64) float64 { return low + (high-low)*rng.Float64() }
	maybe := func() bool { return rng.IntN(2) == 0 }
	p.OilTempDegC = some(0, 60)
	p.PumpFlowM3PerS = some(6, 50) * litrePerMin
	p.LiftForceN, p.DropForceN = some(800, 2500), some(1500, 2500)
	p.OrificeM = some(1.8, 3) * mm
	p.EffectiveDepthM = some(0.1, 0.9) * p.WorkingDepthM
	if maybe() {
		p.ValveFlowM3PerS = 0
	}
	if maybe() {
		p.SlotM = some(5, 40) * mm
	}
	if maybe() {
		for range n {
			p.Cylinders = append(p.Cylinders, Cylinder{Count: 1 + rng.IntN(4), BoreM: some(28, 40) * mm})
		}
	}
	if maybe() {
		p.PumpWakeNs = int64(some(50, 300)) * 1e6
	}
	if maybe() {
		p.BackPressurePa = some(1, 4) * bar
	}
	if maybe() {
		p.WorkingForceN = p.DropForceN * some(0.6, 1)
	}
	if rng.IntN(3) == 0 {
		p.RodM = some(12, 20) * mm
	}
	p.Throttle = Throttle(rng.IntN(3))
	if rng.IntN(3) == 0 {
		p.Sequence = Sequence(1 + rng.IntN(3))
	}
	if maybe() {
		p.At40Mm2PerS, p.At100Mm2PerS = some(50, 70), some(7, 11)
	}
	if maybe() {
		p.SoilForceN = some(50, 300)
	}
	if maybe() {
		p.BiteM = some(0.2, 2)
	}
	if maybe() {
		p.AccumulatorM3, p.PrechargePa = some(0.1, 1.5)*1e-3, some(70, 150)*bar
	}
	if maybe() {
		p.Tank = Tank{VolumeM3: some(2, 60) * 1e-3, LossWPerK: some(0, 100), AirDegC: some(-10, 30)}
	}
	return p
}

// Every effect at once: the bank's work changes against those of the plant, over drawn machines and setpoints.
func TestAgainstPlant(t *testing.T) {
	const worstMs, toS = 0.5, 30
	worst, refused, changes, byEffect := 0.0, 0, 0, map[string]float64{}
	machines := campaign.Times(25, 100, 1000)
	for seed := range uint64(machines) {
		rng := rand.New(rand.NewPCG(seed, 21))
		n := 1 + rng.IntN(5)
		p := drawEffects(rng, n)
		b, err := New(p, n)
		for err != nil {
			refused++
			p = drawEffects(rng, n)
			b, err = New(p, n)
		}
		inWork := rng.IntN(2) == 0
		const forwardMps = 2
		b.Start(0, inWork)
		b.Forward(forwardMps)
		var points []sections.Setpoint
		told := make([]bool, n)
		at := int64(0)
		for k := range 6 {
			// All, one after the other as at a slant, and the way back before all have come to rest.
			order := rng.Perm(n)
			for _, i := range order {
				told[i] = inWork != (k%2 == 0)
				points = append(points, sections.Setpoint{DueNs: at, Section: int16(i), On: told[i]})
				at += int64(rng.IntN(4)) * 40e6
			}
			at += 500e6 + rng.Int64N(3000)*1e6
		}
		for _, sp := range points {
			b.Command(sp)
		}
		got := b.Advance(toS*1e9, nil)
		want := plantOf(&p, n, forwardMps).run(inWork, points, toS, 2e-3)
		own := 0.0
		for i := range n {
			g, w := only(got, i), only(want, i)
			if len(g) != len(w) {
				t.Fatalf("machine %d, section %d: %d changes, integrated %d\n%v\n%v\n%+v", seed, i+1, len(g), len(w), g, w, p)
			}
			for k := range g {
				if g[k].On != w[k].On {
					t.Fatalf("machine %d, section %d: %+v, integrated %+v", seed, i+1, g[k], w[k])
				}
				changes++
				own = max(own, math.Abs(float64(g[k].TimeNs-w[k].TimeNs))*1e-6)
			}
		}
		if !(own <= worstMs) {
			t.Errorf("machine %d: off by %.3f ms; expected at most %g: %+v", seed, own, worstMs, p)
		}
		worst = max(worst, own)
		for name, on := range map[string]bool{"slot": p.SlotM > 0, "cylinders": p.Cylinders != nil, "wake": p.PumpWakeNs > 0, "back pressure": p.BackPressurePa > 0,
			"spring": p.WorkingForceN > 0, "both ways": p.RodM > 0, "one-way throttle": p.Throttle != BothWays, "sequence": p.Sequence != Together,
			"oil": p.At40Mm2PerS > 0, "accumulator": p.AccumulatorM3 > 0, "soil": p.SoilForceN > 0, "bite": p.BiteM > 0, "tank": p.Tank.VolumeM3 > 0} {
			if on {
				byEffect[name] = max(byEffect[name], own)
			}
		}
	}
	t.Logf("%d machines (%d more refused), %d changes, worst %.3f ms, by effect %v", machines, refused, changes, worst, byEffect)
	if changes < machines*4 {
		t.Errorf("%d changes of %d machines: they hardly move", changes, machines)
	}
}
