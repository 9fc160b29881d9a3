// The bank with every effect against the plant, which integrates in small steps.

package hydraulics

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
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

// However the time is split into calls, the same comes of it, and once built a bank with every effect allocates nothing.
func TestEffectsInAnySplit(t *testing.T) {
	for seed := range uint64(campaign.Times(10, 40, 400)) {
		rng := rand.New(rand.NewPCG(seed, 22))
		n := 1 + rng.IntN(5)
		p := drawEffects(rng, n)
		var banks [2]*Bank
		for k := range banks {
			b, err := New(p, n)
			if err != nil {
				t.Fatal(err)
			}
			b.Start(0, true)
			b.Forward(1.5)
			for i := range n {
				b.Command(sections.Setpoint{DueNs: int64(i) * 100e6, Section: int16(i)})
				b.Command(sections.Setpoint{DueNs: 3e9 + int64(i)*100e6, Section: int16(i), On: true})
			}
			banks[k] = b
		}
		whole := banks[0].Advance(15e9, nil)
		split := make([]sections.WorkChange, 0, 64)
		allocated := testing.AllocsPerRun(1, func() {
			for to := banks[1].NowNs(); to < 15e9 && len(split) < 64; to += 1e6 + rng.Int64N(200e6) {
				split = banks[1].Advance(to, split)
			}
			split = banks[1].Advance(15e9, split)
		})
		if allocated != 0 {
			t.Errorf("machine %d: %g allocations", seed, allocated)
		}
		if !slices.Equal(whole, split) || len(whole) == 0 {
			t.Errorf("machine %d: at once\n%v, in parts\n%v", seed, whole, split)
		}
		for i := range n {
			if a, b := banks[0].HeightM(i), banks[1].HeightM(i); a != b || a < 0 {
				t.Errorf("machine %d, section %d: height %g at once, %g in parts", seed, i+1, a, b)
			}
		}
	}
}

func TestEffectsRefused(t *testing.T) {
	for want, change := range map[string]func(*Params){
		"slot -5 mm":                             func(p *Params) { p.SlotM = -0.005 },
		"piston rod 40 mm; expected less":        func(p *Params) { p.RodM = 0.04 },
		"a tool is left with":                    func(p *Params) { p.BackPressurePa = 30 * bar },
		"65 cylinders of section 1":              func(p *Params) { p.Cylinders = []Cylinder{{Count: 65}} },
		"section 1: 180 bar on a 9 mm bore":      func(p *Params) { p.Cylinders = []Cylinder{{BoreM: 0.009}} },
		"oil of 60 mm²/s at 40 °C and 0":         func(p *Params) { p.At40Mm2PerS = 60 },
		"accumulator filled to 200 bar":          func(p *Params) { p.AccumulatorM3, p.PrechargePa = 1e-3, 200*bar },
		"which lifts 804.248 N":                  func(p *Params) { p.AccumulatorM3, p.PrechargePa = 1e-3, 10*bar },
		"air of 70 °C":                           func(p *Params) { p.Tank = Tank{VolumeM3: 0.01, AirDegC: 70} },
		"passes the orifice one way and no hose": func(p *Params) { p.HoseLengthM, p.Throttle = 0, WhenLowering },
	} {
		p := with(change)
		if _, err := New(p, 1); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v; expected an error with %q", err, want)
		}
	}
	p := with(func(p *Params) { p.Cylinders = make([]Cylinder, 2) })
	if _, err := New(p, 3); err == nil {
		t.Error("cylinders of two sections are taken for three")
	}
	b, err := New(with(func(p *Params) { p.Tank.VolumeM3 = 0.01 }), 1)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Warm(Warming{FromDegC: 5, TimeConstantS: 60}); err == nil {
		t.Error("oil warms by the clock and by work")
	}
}
