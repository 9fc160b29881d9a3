// The effect of a deviation, a fault or a start alone, and at its limits.

package hydraulics

import (
	"math"
	"strings"
	"testing"

	"liftbench/sections"
)

// A deviation set alone, in mid-stroke too, changes the speed from then on.
func TestDeviationAlone(t *testing.T) {
	p := hoe()
	b := bank(t, 2)
	if err := b.SetDeviation(0, Deviation{Flow: 0.25}); err != nil {
		t.Fatal(err)
	}
	b.Command(sections.Setpoint{DueNs: 1e9, On: true})
	fall := float64(p.DropTimeNs() - p.DropDeadNs)
	got := b.Advance(20e9, nil)
	near(t, "drop, ns", float64(got[0].TimeNs-1e9), float64(p.DropDeadNs)+fall/1.25, 2)

	b = bank(t, 1)
	b.Start(0, false)
	b.Command(sections.Setpoint{DueNs: 0, On: true})
	half := p.DropDeadNs + int64(fall/2)
	b.Advance(half, nil)
	if err := b.SetDeviation(0, Deviation{Flow: -0.5}); err != nil {
		t.Fatal(err)
	}
	got = b.Advance(20e9, nil)
	near(t, "drop slowed half way, ns", float64(got[0].TimeNs), float64(half)+fall, 4)
}

// A value at its limit is accepted, one just beyond is refused.
func TestDeviationBounds(t *testing.T) {
	for _, tc := range []struct {
		d  Deviation
		ok bool
	}{
		{Deviation{LiftDeadNs: 10e9, DropDeadNs: -10e9, Flow: 9}, true}, {Deviation{LiftDeadNs: -10e9, DropDeadNs: 10e9, Flow: -0.9}, true},
		{Deviation{LiftDeadNs: 10e9 + 1}, false}, {Deviation{LiftDeadNs: -10e9 - 1}, false}, {Deviation{DropDeadNs: 10e9 + 1}, false}, {Deviation{DropDeadNs: -10e9 - 1}, false},
		{Deviation{Flow: 9.001}, false}, {Deviation{Flow: -0.901}, false},
	} {
		if err := bank(t, 1).SetDeviation(0, tc.d); (err == nil) != tc.ok {
			t.Errorf("%+v: %v", tc.d, err)
		}
	}
	for _, tc := range []struct {
		i  int
		f  Fault
		ok bool
	}{
		{0, Fault{ExtraDeadNs: 10e9, FlowLoss: 1}, true}, {1, Fault{}, true}, {2, Fault{}, false}, {-1, Fault{}, false},
		{0, Fault{ExtraDeadNs: 10e9 + 1}, false}, {0, Fault{ExtraDeadNs: -1}, false}, {0, Fault{FlowLoss: 1.001}, false}, {0, Fault{FlowLoss: -0.001}, false}, {0, Fault{FlowLoss: math.NaN()}, false},
	} {
		if err := bank(t, 2).SetFault(tc.i, tc.f); (err == nil) != tc.ok {
			t.Errorf("%+v of %d: %v", tc.f, tc.i, err)
		}
		if err := bank(t, 2).SetDeviation(tc.i, Deviation{}); (err == nil) != (tc.i == 0 || tc.i == 1) {
			t.Errorf("deviation of %d: %v", tc.i, err)
		}
	}
}

// The course of warming oil: after k of n steps of T∞ - (T∞ - T₀)·exp(-t/τ).
func TestWarmingSteps(t *testing.T) {
	for _, tc := range []struct{ from, to float64 }{{20, 21}, {45, 44.5}, {-10, 40}} {
		w := warming{Warming: Warming{FromDegC: tc.from, TimeConstantS: 600}, toDegC: tc.to, steps: int(math.Round(math.Abs(tc.to-tc.from) * 10))}
		w.begin(5e9)
		if w.nextNs != 5e9 {
			t.Errorf("the first step begins at %d", w.nextNs)
		}
		at := w.nextNs
		for k := 0; at != never; k++ {
			s := float64(at-5e9) * 1e-9
			begins := tc.to - (tc.to-tc.from)*math.Exp(-s/600)
			if want := tc.from + (tc.to-tc.from)*float64(k)/float64(w.steps); !(math.Abs(begins-want) <= 1e-6) {
				t.Fatalf("step %d begins at %g °C; want %g", k, begins, want)
			}
			got := w.step()
			if want := tc.from + (tc.to-tc.from)*(float64(k)+0.5)/float64(w.steps); !(math.Abs(got-want) <= 1e-9) {
				t.Fatalf("step %d is at %g °C; want %g", k, got, want)
			}
			at = w.nextNs
		}
		if w.begun != w.steps {
			t.Errorf("%d steps of %d", w.begun, w.steps)
		}
	}
	b := bank(t, 1)
	warm := b.params.OilTempDegC
	for belowK, steps := range map[float64]int{WarmingStepK: 1, 3 * WarmingStepK: 3, 10: int(math.Round(10 / WarmingStepK)), 2.5 * WarmingStepK: 3} {
		if err := b.Warm(Warming{FromDegC: warm - belowK, TimeConstantS: 600}); err != nil || b.oil.steps != steps {
			t.Errorf("from %g K below: %d steps, %v; want %d", belowK, b.oil.steps, err, steps)
		}
	}
	for c, ok := range map[float64]bool{1e6: true, 1e6 + 1: false, 0.001: true, 0: false, -1: false} {
		if err := b.Warm(Warming{FromDegC: 5, TimeConstantS: c}); (err == nil) != ok {
			t.Errorf("time constant %g s: %v", c, err)
		}
	}
}

// Heights between knots are straight, before and after them those at the ends.
func TestProfileHeights(t *testing.T) {
	p := Profile{{100, 0.1}, {200, 0.3}, {400, 0.2}}
	for at, want := range map[int64]float64{0: 0.1, 100: 0.1, 150: 0.2, 175: 0.25, 200: 0.3, 300: 0.25, 350: 0.225, 400: 0.2, 900: 0.2} {
		near(t, "height", p.AtM(at), want, 1e-12)
	}
	if got := (Profile{}).AtM(5); got != 0 {
		t.Errorf("of none: %g", got)
	}
}

// never stays never, and times are rounded to the ns.
func TestAfter(t *testing.T) {
	for s, want := range map[float64]int64{0: 7, 1e-9: 8, 1.4e-9: 8, 1.6e-9: 9, 2: 7 + 2e9, 1e9: never, math.Inf(1): never} {
		if got := after(7, s); got != want {
			t.Errorf("%g s after 7 ns: %d; want %d", s, got, want)
		}
	}
	if after(7, math.NaN()) != never {
		t.Error("NaN is not never")
	}
}

// Every number of Params at its bounds and just beyond, in the user's units.
func TestParamsBounds(t *testing.T) {
	for _, tc := range []struct {
		name   string
		set    func(p *Params, v float64)
		lo, hi float64 // in the unit of the message
		unit   float64
		least  bool // lo itself is allowed
	}{
		{"lift dead time", func(p *Params, v float64) { p.LiftDeadNs = int64(v) }, 0, 10_000, 1e6, true},
		{"drop dead time", func(p *Params, v float64) { p.DropDeadNs = int64(v) }, 0, 10_000, 1e6, true},
		{"cylinder bore", func(p *Params, v float64) { p.BoreM = v }, 0, 500, 1e-3, false},
		{"cylinder stroke", func(p *Params, v float64) { p.StrokeM = v }, 0, 3000, 1e-3, false},
		{"raised height", func(p *Params, v float64) { p.RaisedM = v }, 0, 4000, 1e-3, false},
		{"working depth", func(p *Params, v float64) { p.WorkingDepthM = v }, 0, 500, 1e-3, false},
		{"effective depth", func(p *Params, v float64) { p.EffectiveDepthM = v }, 0, 40, 1e-3, true},
		{"pump flow", func(p *Params, v float64) { p.PumpFlowM3PerS = v }, 0, 1000, 1e-3 / 60, false},
		{"flow valve", func(p *Params, v float64) { p.ValveFlowM3PerS = v }, 0, 1000, 1e-3 / 60, true},
		{"available pressure", func(p *Params, v float64) { p.PressurePa = v }, 0, 700, 1e5, false},
		{"lifting force", func(p *Params, v float64) { p.LiftForceN = v }, 0, 1e6, 1, false},
		{"lowering force", func(p *Params, v float64) { p.DropForceN = v }, 0, 1e6, 1, false},
		{"hose length", func(p *Params, v float64) { p.HoseLengthM = v }, 0, 100, 1, true},
		{"hose inner diameter", func(p *Params, v float64) { p.HoseBoreM = v }, 0, 100, 1e-3, false},
		{"orifice", func(p *Params, v float64) { p.OrificeM = v }, 0, 100, 1e-3, false},
		{"discharge coefficient", func(p *Params, v float64) { p.OrificeCd = v }, 0, 1, 1, false},
		{"oil temperature", func(p *Params, v float64) { p.OilTempDegC = v }, -30, 120, 1, true},
	} {
		step := (tc.hi - tc.lo) * 2e-4
		for _, v := range []float64{tc.lo - step, tc.lo, tc.lo + step*1e-6, tc.lo + step, tc.hi - step, tc.hi - step/100, tc.hi + step} {
			p := hoe()
			if tc.name == "working depth" {
				p.EffectiveDepthM = 0
			}
			tc.set(&p, v*tc.unit)
			// Other rules may refuse it; they do not name it first.
			err := p.Validate()
			refused := err != nil && strings.HasPrefix(err.Error(), tc.name+" ") && strings.Contains(err.Error(), "expected")
			if want := v < tc.lo || v > tc.hi || v == tc.lo && !tc.least; refused != want {
				t.Errorf("%s of %g: %v; want it refused %v", tc.name, v, err, want)
			}
		}
	}
}

// A lift counts as moving when one section alone exceeds 0.1 mm/s.
func TestSlowestLift(t *testing.T) {
	p := hoe()
	travel, piston := 0.3, math.Pi/4*0.032*0.032
	for mps, ok := range map[float64]bool{1.1e-4: true, 0.9e-4: false} {
		p.PumpFlowM3PerS = mps * 0.160 / travel * piston
		if err := p.Validate(); (err == nil) != ok {
			t.Errorf("tools at %g m/s: %v", mps, err)
		}
	}
}

// Errors number sections from 1.
func TestFaultErrors(t *testing.T) {
	for _, tc := range []struct {
		i    int
		f    Fault
		says string
	}{
		{2, Fault{}, "fault of section 3; expected 1 to 2"},
		{1, Fault{ExtraDeadNs: 11e9}, "extra dead time 11000 ms of section 2; expected 0 to 10000"},
		{1, Fault{FlowLoss: 1.5}, "flow loss 1.5 of section 2; expected 0 to 1"},
	} {
		if err := bank(t, 2).SetFault(tc.i, tc.f); err == nil || err.Error() != tc.says {
			t.Errorf("%v; want %q", err, tc.says)
		}
	}
}
