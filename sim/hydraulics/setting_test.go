// A deviation, a fault or a start takes effect by itself, and at the bounds.

package hydraulics

import (
	"math"
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

// What is allowed reaches up to the bounds, and not beyond.
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
			if want := tc.from + (tc.to-tc.from)*float64(k)/float64(w.steps); math.Abs(begins-want) > 1e-6 {
				t.Fatalf("step %d begins at %g °C; want %g", k, begins, want)
			}
			got := w.step()
			if want := tc.from + (tc.to-tc.from)*(float64(k)+0.5)/float64(w.steps); math.Abs(got-want) > 1e-9 {
				t.Fatalf("step %d is at %g °C; want %g", k, got, want)
			}
			at = w.nextNs
		}
		if w.done != w.steps {
			t.Errorf("%d steps of %d", w.done, w.steps)
		}
	}
	b := bank(t, 1)
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
