// Oil that grows warm, in steps, against its exponential.

package hydraulics

import (
	"math"
	"strings"
	"testing"

	"liftbench/sections"
)

// The oil's temperature is off by at most half a step. The test computes how much
// that changes a tool's speed if only the hose resists the flow, which is where
// viscosity matters most.
func TestWarmingStep(t *testing.T) {
	for _, c := range []struct{ fromDegC, most float64 }{{-30, 0.008}, {20, 0.004}} {
		worst := 0.0
		for _, vg := range []int{32, 46, 68} {
			for at := c.fromDegC; at < 119; at++ {
				flow := func(degC float64) float64 {
					p := with(func(p *Params) { p.OilVG, p.OilTempDegC, p.HoseLengthM, p.OrificeM = vg, degC, 100, 0.1 })
					return p.DropFlowM3PerS()
				}
				worst = max(worst, flow(at+WarmingStepK/2)/flow(at)-1)
			}
		}
		t.Logf("from %g °C on: off by up to %.2f %%", c.fromDegC, 100*worst)
		if worst > c.most || worst < c.most/2 {
			t.Errorf("from %g °C on: off by %g; want up to %g", c.fromDegC, worst, c.most)
		}
	}
}

// The steps follow T∞ - (T∞ - T₀)·exp(-t/τ) within half a step, for oil that
// warms and oil that cools; the last step does not end.
func TestWarmingFollowsTheExponential(t *testing.T) {
	for _, c := range []Warming{{-10, 1200}, {49.97, 5}, {80, 600}, {-30, 1e6}} {
		const start = int64(7e9)
		w := warming{Warming: c, toDegC: 50, steps: int(math.Ceil(math.Abs(50-c.FromDegC) / WarmingStepK))}
		w.begin(start)
		course := func(ns int64) float64 {
			return 50 - (50-c.FromDegC)*math.Exp(-float64(ns-start)*1e-9/c.TimeConstantS)
		}
		n := 0
		for w.nextNs != never {
			from := w.nextNs
			degC := w.step()
			n++
			near(t, "when the step begins, off by", math.Abs(course(from)-degC), WarmingStepK/2, WarmingStepK/2+1e-6)
			end := 50.0
			if w.nextNs != never {
				end = course(w.nextNs - 1)
			}
			if off := math.Abs(end - degC); off > WarmingStepK/2+1e-6 {
				t.Fatalf("from %g °C: step %d ends %g K off", c.FromDegC, n, off)
			}
		}
		if n != w.steps {
			t.Errorf("%d steps begun of %d", n, w.steps)
		}
	}
}

// A tool's way in oil that warms is the integral of its speed: in small steps
// of time, with the temperature of each instant.
func TestLiftWhileTheOilWarms(t *testing.T) {
	p := with(func(p *Params) { p.ValveFlowM3PerS = 0 })
	w := Warming{FromDegC: -10, TimeConstantS: 400}
	b, err := New(p, 1)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Warm(w); err != nil {
		t.Fatal(err)
	}
	const start = int64(1000e9)
	b.Start(start, false)
	// arrives is when a tool that starts at ns has moved so far.
	arrives := func(ns int64, way float64, flow func(*Params) float64) int64 {
		const stepNs = 1e6
		for q := p; way > 0; ns += stepNs {
			q.OilTempDegC = p.OilTempDegC - (p.OilTempDegC-w.FromDegC)*math.Exp(-float64(ns-start)*1e-9/w.TimeConstantS)
			way -= q.toolSpeedMps(flow(&q)) * stepNs * 1e-9
		}
		return ns
	}
	first, last, fourth := int64(0), int64(0), int64(0)
	for _, minute := range []int64{0, 1, 2, 4, 7, 12, 20, 40, 90} {
		due := start + minute*60e9
		b.Command(sections.Setpoint{DueNs: due, On: true})
		b.Command(sections.Setpoint{DueNs: due + 30e9, On: false})
		got := b.Advance(due+59e9, nil)
		if len(got) != 2 {
			t.Fatalf("minute %d: %v", minute, got)
		}
		for i, c := range []struct {
			from int64
			way  float64
			flow func(*Params) float64
		}{
			{due + p.DropDeadNs, p.TravelM() - p.effectiveM(), (*Params).DropFlowM3PerS},
			{due + 30e9 + p.LiftDeadNs, p.effectiveM(), (*Params).liftCapM3PerS},
		} {
			took, want := got[i].TimeNs-c.from, arrives(c.from, c.way, c.flow)-c.from
			near(t, "ns of a stroke", float64(took), float64(want), 0.004*float64(want)+1e6)
			if i == 0 {
				switch last = took; minute {
				case 0:
					first = took
				case 4:
					fourth = took
				}
			}
		}
	}
	warm := float64(p.DropTimeNs() - p.DropDeadNs)
	near(t, "once warm", float64(last), warm, 0.002*warm)
	if first < 3*last {
		t.Errorf("a drop takes %d ns in cold oil, %d in warm", first, last)
	}
	for minute, want := range map[int64]int64{0: first, 4: fourth} {
		b.Start(start, false)
		due := start + minute*60e9
		b.Command(sections.Setpoint{DueNs: due, On: true})
		if got := b.Advance(due+59e9, nil); got[0].TimeNs-due-p.DropDeadNs != want {
			t.Errorf("started anew a drop takes %d ns after %d minutes; want %d", got[0].TimeNs-due-p.DropDeadNs, minute, want)
		}
	}
}

func TestWarmErrors(t *testing.T) {
	for _, c := range []struct {
		w    Warming
		want string
	}{
		{Warming{FromDegC: 5}, "oil warms with a time constant of 0 s; expected more than 0"},
		{Warming{FromDegC: 5, TimeConstantS: math.NaN()}, "oil warms with a time constant of NaN s"},
		{Warming{FromDegC: -40, TimeConstantS: 600}, "at the start: oil temperature -40 °C; expected -30 to 120"},
	} {
		if err := bank(t, 1).Warm(c.w); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%+v: error %v; want %q", c.w, err, c.want)
		}
	}
	b := bank(t, 1)
	if err := b.Warm(Warming{}); err != nil || b.oil.steps != 0 {
		t.Errorf("the zero value: error %v, %d steps", err, b.oil.steps)
	}
}
